"""What it costs to keep a share of the tolerances back for laying."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from dripfield.core.errors import input_error
from dripfield.crew.errors import CrewErrors
from dripfield.crew.simulate import CREWS, SEED, AsLaid, simulate
from dripfield.staking.model import FieldPlan

if TYPE_CHECKING:
    from dripfield.design.model import Design
    from dripfield.ground.ground import Ground
    from dripfield.site.model import LayoutSettings, Site


@dataclass(frozen=True)
class ReserveCost:
    """A design to the whole tolerances beside one to a part of them, both judged by the whole.

    Attributes
    ----------
    reserve : float
        Share of both tolerances kept back.
    whole, reserved : AsLaid
    """

    reserve: float
    whole: AsLaid
    reserved: AsLaid

    @property
    def cost(self) -> float:
        """Merit that the design gives up; negative where it gains."""
        return self.whole.merit_designed - self.reserved.merit_designed

    @property
    def gain(self) -> float:
        """Expected merit as laid that is won by it; negative where it loses."""
        return self.reserved.merit - self.whole.merit

    @property
    def sentence(self) -> str:
        """The figures in words."""
        return (
            f"Keeping {self.reserve:.0%} of the tolerances back for laying costs"
            f" {self.cost:+.3f} of merit as designed ({self.whole.merit_designed:.3f} to"
            f" {self.reserved.merit_designed:.3f}) and changes the merit expected as laid by"
            f" {self.gain:+.3f} ({self.whole.merit:.3f} to {self.reserved.merit:.3f})."
        )


def reserved_settings(settings: LayoutSettings, reserve: float) -> LayoutSettings:
    """Settings to design by so that a share of both tolerances is left for laying.

    Parameters
    ----------
    settings : LayoutSettings
    reserve : float
        From 0 to under 1.

    Returns
    -------
    LayoutSettings

    Raises
    ------
    InputError
        A reserve that leaves nothing to design by.
    """
    if not 0.0 <= reserve < 1.0:
        raise input_error(
            f"reserve is {reserve:g}",
            "give the share of the tolerances kept back for laying, from 0 to under 1",
            file="site.toml",
            field="[layout] reserve",
        )
    return replace(
        settings,
        level_tolerance=settings.level_tolerance * (1.0 - reserve),
        spacing_tolerance=settings.spacing_tolerance * (1.0 - reserve),
    )


def reserve_cost(
    reserve: float,
    design: Design,
    lay_out: Callable[[Site, Ground], Design],
    mark: Callable[[Design], FieldPlan],
    *,
    errors: CrewErrors | None = None,
    crews: int = CREWS,
    seed: int = SEED,
) -> ReserveCost:
    """Design with and without a reserve, lay both, and judge both by the site's own tolerances.

    Parameters
    ----------
    reserve : float
        Share of both tolerances kept back, from 0 to under 1.
    design : Design
        To the whole tolerances.
    lay_out : callable
        Lays out a site with other settings on the same ground:
        :func:`dripfield.design.lay_out.lay_out`.
    mark : callable
        Gives the field plan of a design: :func:`dripfield.staking.method.field_method`.
    errors : CrewErrors, optional
        The defaults for the site's unit unless given.
    crews : int
        How many are simulated for each design.
    seed : int
        The same seed gives the same figures.

    Returns
    -------
    ReserveCost
    """
    site = design.site
    tight = lay_out(
        replace(site, settings=reserved_settings(site.settings, reserve)), design.ground
    )
    laid = []
    for one in (design, replace(tight, ground=design.ground)):
        laid.append(simulate(mark(one), one, errors=errors, crews=crews, seed=seed))
    return ReserveCost(reserve, laid[0], laid[1])
