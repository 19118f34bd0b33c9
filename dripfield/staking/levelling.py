"""The set-ups of one piece of work: every elevation that is to be read, planned together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.staking.rod import Setup, plan_setups, rod_reading

if TYPE_CHECKING:
    from dripfield.site.model import Site

MARGIN = 0.02
"""Of the rod: planned readings keep so far from its ends."""


@dataclass(frozen=True)
class Levelling:
    """Set-ups of the laser and what each reads.

    Attributes
    ----------
    setups : tuple of Setup
        In the order of work; empty without a benchmark.
    places : int
        Decimals that a crew reads.
    by_elevation : dict of float to Setup
        By the elevation as a crew reads it.
    """

    setups: tuple[Setup, ...]
    places: int
    by_elevation: dict[float, Setup]

    def of(self, elevation: float) -> Setup | None:
        """The set-up that an elevation is read from; None without a benchmark.

        Raises
        ------
        KeyError
            An elevation that was not planned.
        """
        return self.by_elevation[_rounded(elevation, self.places)] if self.setups else None

    def reading(self, elevation: float) -> float:
        """What the rod shows with its foot at an elevation, as printed; NaN without a benchmark."""
        setup = self.of(elevation)
        if setup is None:
            return float("nan")
        return round(float(rod_reading(setup.height, elevation)), self.places)


def plan_levelling(
    site: Site,
    elevations: Sequence[Floats],
    rod_length: float,
    backsight: float | None = None,
) -> Levelling:
    """Plan the set-ups for everything that is read in one piece of work.

    Parameters
    ----------
    site : Site
        Its benchmark; without one there are no set-ups.
    elevations : sequence of (n,) float arrays
        All that is to be read [site unit].
    rod_length : float
        Greatest reading of the rod [site unit].
    backsight : float, optional
        Reading on the benchmark from the first set-up.

    Returns
    -------
    Levelling

    Raises
    ------
    InputError
        The backsight puts everything off the rod.
    """
    mark, places = site.file.benchmark, site.unit.places
    wanted = np.unique(np.round(np.concatenate([*elevations, np.array([])]), places) + 0.0)
    if mark is None or not len(wanted):
        return Levelling((), places, {})
    setups = plan_setups(
        wanted,
        mark.elevation,
        rod_length,
        name=mark.name,
        backsight=backsight,
        margin=max(MARGIN * rod_length, site.settings.level_tolerance),
        unit=site.unit,
    )
    found = {
        _rounded(float(wanted[int(i)]), places): setup for setup in setups for i in setup.targets
    }
    return Levelling(setups, places, found)


def _rounded(elevation: float, places: int) -> float:
    return float(np.round(elevation, places) + 0.0)
