"""Which way of working a crew should take: the cheapest that keeps what the design holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from dripfield.core.cores import side_by_side
from dripfield.crew.errors import CrewErrors
from dripfield.crew.simulate import CREWS, SEED, AsLaid, measure_designed, simulate
from dripfield.staking.model import FieldPlan

if TYPE_CHECKING:
    from dripfield.design.model import Design

KEPT = 0.94
"""Share of the designed merit that a way of working must keep to be as good as the design."""

NEAR_BEST = 0.02
"""Where none keeps that much: what a cheaper way may fall short of the best one by."""


@dataclass(frozen=True)
class CrewTimes:
    """What a crew of two takes [min]; all are assumptions, common practice, no source.

    Attributes
    ----------
    instrument_setup : float
        To fetch, set up and check an instrument.
    instrument, tape, gauge : float
        To set one mark each way.
    """

    instrument_setup: float = 60.0
    instrument: float = 1.0
    tape: float = 3.0
    gauge: float = 0.75

    def of(self, plan: FieldPlan) -> float:
        """Time for all marks of a plan [min]."""
        by_instrument = plan.count("instrument")
        return (
            (self.instrument_setup if by_instrument else 0.0)
            + self.instrument * by_instrument
            + self.tape * plan.count("tape")
            + self.gauge * plan.count("gauge")
        )


@dataclass(frozen=True)
class Way:
    """One way of working, as simulated.

    ``minutes`` is what its marks take a crew of two.
    """

    name: str
    plan: FieldPlan
    as_laid: AsLaid
    minutes: float


@dataclass(frozen=True)
class Choice:
    """The way chosen, and all ways beside it.

    Attributes
    ----------
    chosen : Way
    ways : tuple of Way
        In the order given.
    reason : str
        One sentence with the figures.
    holds : bool
        Whether the way chosen keeps as much of the designed merit as was asked for.
    """

    chosen: Way
    ways: tuple[Way, ...]
    reason: str
    holds: bool


def choose_method(
    plans: Mapping[str, FieldPlan],
    design: Design,
    *,
    errors: CrewErrors | None = None,
    times: CrewTimes | None = None,
    kept: float = KEPT,
    crews: int = CREWS,
    seed: int = SEED,
) -> Choice:
    """Simulate every way of working and choose one.

    Parameters
    ----------
    plans : mapping of str to FieldPlan
        The ways, at least one: :func:`dripfield.staking.method.alternatives`.
    design : Design
    errors : CrewErrors, optional
        Those of the site's ``[crew]`` unless given.
    times : CrewTimes, optional
        What marks take.
    kept : float
        Share of the designed merit that must be kept on average.
    crews : int
        How many are simulated for each way.
    seed : int
        The same seed gives the same figures.

    Returns
    -------
    Choice
        The way that takes the least time of those that keep enough. Where none does, the quickest
        of those within two hundredths of the best, and ``holds`` is False.
    """
    used = CrewTimes() if times is None else times
    designed = measure_designed(design)
    run = partial(simulate, design=design, errors=errors, crews=crews, seed=seed, designed=designed)
    as_laid = side_by_side([partial(run, plan) for plan in plans.values()])
    ways = tuple(
        Way(name, plan, laid, used.of(plan))
        for (name, plan), laid in zip(plans.items(), as_laid, strict=True)
    )
    best = max(way.as_laid.kept for way in ways)
    holds = best >= kept
    least = kept if holds else best - NEAR_BEST
    chosen = min((way for way in ways if way.as_laid.kept >= least), key=lambda way: way.minutes)
    return Choice(chosen, ways, _reason(chosen, ways, kept, holds), holds)


def _reason(chosen: Way, ways: tuple[Way, ...], kept: float, holds: bool) -> str:
    figures = "; ".join(
        f"{way.name} {way.as_laid.kept:.2f} in {way.minutes / 60.0:.1f} h" for way in ways
    )
    if holds:
        why = f"the quickest that keeps {kept:.2f} of the designed merit as laid"
    else:
        why = (
            f"none keeps {kept:.2f} of the designed merit as laid; the quickest within"
            f" {NEAR_BEST:.2f} of the best"
        )
    return f"{chosen.name}: {why} ({figures})"
