"""Rod readings to the top of sand and to the finished grade at the grade stakes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.bed.rake import GradeStakes
from dripfield.core.arrays import Floats, Ints
from dripfield.site.model import Site
from dripfield.staking.levelling import Levelling, plan_levelling
from dripfield.staking.rod import Setup
from dripfield.staking.settings import crew_settings


@dataclass(frozen=True)
class Readings:
    """Set-ups of the laser, and at each stake which one reads it and what the rod shows.

    Attributes
    ----------
    setups : tuple of Setup
    setup_sand, setup_finished : (n,) int array
        Number of the set-up.
    rod_sand, rod_finished : (n,) float array
        Reading with the rod's foot at the level [site unit].
    """

    setups: tuple[Setup, ...]
    setup_sand: Ints
    rod_sand: Floats
    setup_finished: Ints
    rod_finished: Floats


def rod_readings(site: Site, stakes: GradeStakes) -> Readings | None:
    """Rod readings from the site's benchmark; None where it has none.

    Raises
    ------
    InputError
        The backsight puts every stake off the rod.
    """
    settings = crew_settings(site)
    levels = (stakes.levels["sand"], stakes.levels["finished"])
    return readings_from(
        plan_levelling(site, levels, settings.rod_length, settings.backsight), stakes
    )


def readings_from(levelling: Levelling, stakes: GradeStakes) -> Readings | None:
    """Rod readings from set-ups that are planned for the stakes' levels among others.

    Parameters
    ----------
    levelling : Levelling
    stakes : GradeStakes

    Returns
    -------
    Readings or None
        None without a benchmark.
    """
    if not levelling.setups:
        return None
    found = []
    for level in ("sand", "finished"):
        heights = stakes.levels[level].tolist()
        setups = [levelling.of(height) for height in heights]
        found.append(np.array([0 if one is None else one.number for one in setups]))
        found.append(np.array([levelling.reading(height) for height in heights]))
    return Readings(levelling.setups, *found)
