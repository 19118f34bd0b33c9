"""What the crew's sheets, tables, files and phone page are made from, worked out once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.errors import input_error
from dripfield.design.model import Design
from dripfield.sheets.crew.lateral_table import LateralRow, RodRow, lateral_rows, rod_rows
from dripfield.staking.flags import FlagPlan, flag_plan
from dripfield.staking.rod import Setup, plan_setups
from dripfield.staking.settings import CrewSettings
from dripfield.staking.stakes import Stake, first_point_number, stakes


@dataclass(frozen=True)
class CrewWork:
    """A laid-out site as the crew works on it.

    ``setups`` and ``rods`` are empty without a benchmark; the rest is there for every site with a
    lateral. ``laterals`` and ``flags.laterals`` are in the order of the design's layout.
    """

    design: Design
    settings: CrewSettings
    stakes: tuple[Stake, ...]
    setups: tuple[Setup, ...]
    laterals: tuple[LateralRow, ...]
    rods: tuple[RodRow, ...]
    flags: FlagPlan


def gather(design: Design, settings: CrewSettings) -> CrewWork:
    """Work out stakes, set-ups, readings, flags and tables of a layout.

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
    placed = stakes(
        design.layout, design.site.settings, first=first_point_number(design.ground.read)
    )
    setups: tuple[Setup, ...] = ()
    if settings.benchmark is not None:
        setups = plan_setups(
            np.array([lateral.elevation for lateral in design.layout.laterals]),
            settings.benchmark.elevation,
            settings.rod_length,
            name=settings.benchmark.name,
            backsight=settings.backsight,
            margin=design.site.settings.level_tolerance,
            unit=design.site.unit,
        )
    rows = lateral_rows(design, placed, setups)
    ground = design.surface.elevation(np.array([(s.easting, s.northing) for s in placed]))
    return CrewWork(
        design=design,
        settings=settings,
        stakes=tuple(placed),
        setups=setups,
        laterals=rows,
        rods=rod_rows(rows, placed, setups, ground.tolist()),
        flags=flag_plan(
            design,
            placed,
            accuracy=settings.tape_accuracy,
            names=settings.base_line,
        ),
    )
