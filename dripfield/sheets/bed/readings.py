"""Rod readings to the top of sand and to the finished grade at the grade stakes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.bed.rake import GradeStakes
from dripfield.core.arrays import Floats, Ints
from dripfield.site.model import Site
from dripfield.staking.rod import Setup, plan_setups, rod_reading
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
    mark = settings.benchmark
    if mark is None:
        return None
    elevations = np.concatenate((stakes.levels["sand"], stakes.levels["finished"]))
    setups = plan_setups(
        elevations,
        mark.elevation,
        settings.rod_length,
        name=mark.name,
        backsight=settings.backsight,
        unit=site.unit,
    )
    number = np.zeros(len(elevations), dtype=np.int64)
    rod = np.zeros(len(elevations))
    for setup in setups:
        number[setup.targets] = setup.number
        rod[setup.targets] = rod_reading(setup.height, elevations[setup.targets])
    count = len(stakes.names)
    return Readings(setups, number[:count], rod[:count], number[count:], rod[count:])
