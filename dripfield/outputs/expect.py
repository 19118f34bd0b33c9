"""What to expect of a layout as laid, quickly: the plan of one way and a few simulated crews."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from dripfield.crew.choose import choose_method
from dripfield.crew.reserve import ReserveCost, reserve_cost
from dripfield.crew.say import as_laid_words
from dripfield.crew.simulate import AsLaid, simulate
from dripfield.design.lay_out import lay_out
from dripfield.staking.field_settings import field_settings
from dripfield.staking.method import WAYS, alternatives, field_method

if TYPE_CHECKING:
    from dripfield.design.model import Design
    from dripfield.staking.model import FieldPlan

FEW = 3
"""Simulated crews of a command that must be quick."""


@dataclass(frozen=True)
class Expected:
    """A field plan and what crews are expected to make of it.

    Attributes
    ----------
    way : str
    plan : FieldPlan
    as_laid : AsLaid
    reserve : ReserveCost or None
        Where the site keeps a share of its tolerances back.
    """

    way: str
    plan: FieldPlan
    as_laid: AsLaid
    reserve: ReserveCost | None

    @property
    def sentences(self) -> tuple[str, ...]:
        """The figures in words."""
        first = as_laid_words(self.as_laid, self.way)
        return (first,) if self.reserve is None else (first, self.reserve.sentence)


def plan_of(design: Design) -> FieldPlan:
    """The field plan of a layout, in the way that ``[crew] set_by`` names.

    Parameters
    ----------
    design : Design

    Returns
    -------
    FieldPlan
        With ``set_by = "cheapest"`` that of the way that
        :func:`dripfield.crew.choose.choose_method` takes.
    """
    way = design.site.file.crew.set_by
    if way == "cheapest":
        return choose_method(alternatives(design), design).chosen.plan
    tool, gauged = WAYS[way]
    return field_method(design, replace(field_settings(design.ground), tool=tool, gauged=gauged))


def expect(design: Design, crews: int = FEW) -> Expected:
    """Plan the field work of a layout and let a few crews lay it.

    Parameters
    ----------
    design : Design
        With at least one lateral.
    crews : int

    Returns
    -------
    Expected
    """
    plan = plan_of(design)
    return Expected(
        way=plan.way,
        plan=plan,
        as_laid=simulate(plan, design, crews=crews),
        reserve=cost_of_reserve(design, crews),
    )


def cost_of_reserve(design: Design, crews: int = FEW) -> ReserveCost | None:
    """What ``[layout] reserve`` costs and gains; None where the site keeps nothing back."""
    reserve = design.site.settings.reserve
    if reserve == 0.0:
        return None
    return reserve_cost(reserve, design, lay_out, plan_of, crews=crews)
