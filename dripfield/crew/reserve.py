"""What it costs to keep a share of the tolerances back for laying."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from dripfield.crew.errors import CrewErrors
from dripfield.crew.simulate import CREWS, SEED, AsLaid, simulate
from dripfield.staking.model import FieldPlan

if TYPE_CHECKING:
    from dripfield.design.model import Design
    from dripfield.ground.ground import Ground
    from dripfield.site.model import Site


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
        With either: the other is laid out beside it.
    lay_out : callable
        Lays out a site on a ground that is there, to its tolerances less its reserve:
        :func:`dripfield.design.lay_out.lay_out`.
    mark : callable
        Gives the field plan of a design: :func:`dripfield.staking.method.field_method`.
    errors : CrewErrors, optional
        Those of the site's ``[crew]`` unless given.
    crews : int
        How many are simulated for each design.
    seed : int
        The same seed gives the same figures.

    Returns
    -------
    ReserveCost
    """
    settings = replace(design.site.settings, reserve=0.0)
    whole, reserved = (
        replace(
            lay_out(replace(design.site, settings=replace(settings, reserve=share)), design.ground),
            ground=design.ground,
        )
        if design.site.settings.reserve != share
        else design
        for share in (0.0, reserve)
    )
    laid = [
        simulate(mark(one), one, errors=errors, crews=crews, seed=seed) for one in (whole, reserved)
    ]
    return ReserveCost(reserve, laid[0], laid[1])
