"""What the crew's sheets, tables, files and phone page are made from, worked out once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.crew.choose import Choice, choose_method
from dripfield.crew.simulate import AsLaid
from dripfield.design.model import Design
from dripfield.sheets.crew.lateral_table import (
    LateralRow,
    RodRow,
    foot_elevations,
    lateral_rows,
    rod_rows,
)
from dripfield.staking.field_settings import field_settings
from dripfield.staking.levelling import Levelling, plan_levelling
from dripfield.staking.marking import Marking, markings
from dripfield.staking.method import WAYS, alternatives
from dripfield.staking.model import FieldMark, FieldPlan
from dripfield.staking.rod import Setup
from dripfield.staking.rods import own_ground, with_rods
from dripfield.staking.settings import CrewSettings

if TYPE_CHECKING:
    from dripfield.sheets.bed.write import BedReport


CREWS = 8
"""Simulated for each way of working."""


@dataclass(frozen=True)
class CrewWork:
    """A laid-out site as the crew works on it.

    Attributes
    ----------
    design : Design
    settings : CrewSettings
    field : FieldPlan
        Marks in the order of work, with the readings of ``setups``.
    choice : Choice
        The ways of working as simulated; ``field`` is the plan of the one taken.
    as_laid : AsLaid
        What crews are expected to make of ``field``.
    setups : tuple of Setup
        Of all sheets together; ``targets`` are numbers of laterals. Empty without a benchmark.
    laterals : tuple of LateralRow
        In the layout's order.
    rods : tuple of RodRow
        Empty without a benchmark.
    marking : tuple of Marking
        Flags, string and paint of each lateral, in the layout's order.
    bed : BedReport or None
        Of a site that describes how its bed is built, read from the same set-ups.
    """

    design: Design
    settings: CrewSettings
    field: FieldPlan
    choice: Choice
    as_laid: AsLaid
    setups: tuple[Setup, ...]
    laterals: tuple[LateralRow, ...]
    rods: tuple[RodRow, ...]
    marking: tuple[Marking, ...]
    bed: BedReport | None

    @property
    def way(self) -> str:
        """The way of working that ``field`` is the plan of."""
        return self.field.way

    @property
    def stakes(self) -> tuple[FieldMark, ...]:
        """The marks by number."""
        return self.field.stakes


def gather(design: Design, settings: CrewSettings, *, crews: int = CREWS) -> CrewWork:
    """Work out marks, way of working, set-ups, readings and tables of a layout.

    Parameters
    ----------
    design : Design
    settings : CrewSettings
    crews : int
        Simulated for each way of working.

    Returns
    -------
    CrewWork

    Raises
    ------
    InputError
        The layout has no lateral; the backsight puts every target off the rod; the base line's
        names are not points of the site.
    """
    if not design.layout.laterals:
        raise input_error(
            "no lateral fits this bed, so there is nothing to stake",
            "run dripfield layout and read its notes, then change [layout] or the bed",
            file="site.toml",
            field="[layout]",
        )
    base = replace(field_settings(design.ground), backsight=None, rod_length=settings.rod_length)
    choice = choose_method(alternatives(design, base), design, crews=crews)
    way = design.site.file.crew.set_by
    taken = choice.chosen
    if way in WAYS:
        taken = next(one for one in choice.ways if one.name == way)
    report = _bed_report(design)
    feet = foot_elevations(design, settings.rod_depth)
    read = [own_ground(taken.plan.rows), feet, *_bed_levels(report)]
    levelling = plan_levelling(design.site, read, settings.rod_length, settings.backsight)
    field = replace(taken.plan, rows=with_rods(taken.plan.rows, levelling))
    rows = lateral_rows(design, field, levelling, taken.as_laid, settings.rod_depth)
    setups = _for_laterals(levelling, feet)
    return CrewWork(
        design=design,
        settings=settings,
        field=field,
        choice=choice,
        as_laid=taken.as_laid,
        setups=setups,
        laterals=rows,
        rods=rod_rows(rows, field, setups, settings.rod_depth),
        marking=markings(design, field),
        bed=report if report is None else _read_from(report, levelling),
    )


def _bed_report(design: Design) -> BedReport | None:
    """The bed is dug from the ground as surveyed, whatever surface the laterals lie on."""
    if design.site.file.bed.section is None:
        return None
    from dripfield.sheets.bed.write import bed_report

    return bed_report(design.site, design.ground.surface)


def _bed_levels(report: BedReport | None) -> Sequence[Floats]:
    if report is None:
        return ()
    return report.stakes.levels["sand"], report.stakes.levels["finished"]


def _read_from(report: BedReport, levelling: Levelling) -> BedReport:
    """The bed's rod readings from the set-ups of the whole work."""
    from dripfield.sheets.bed.readings import readings_from

    return replace(report, readings=readings_from(levelling, report.stakes))


def _for_laterals(levelling: Levelling, feet: Floats) -> tuple[Setup, ...]:
    """The set-ups with the numbers of the laterals that each reads as its targets."""
    found: dict[int, list[int]] = {}
    for i, height in enumerate(feet.tolist()):
        setup = levelling.of(height)
        if setup is not None:
            found.setdefault(setup.number, []).append(i)
    return tuple(
        replace(one, targets=np.array(found.get(one.number, []), dtype=np.int64))
        for one in levelling.setups
    )
