"""The crew's lateral table, rod readings, flags and paint, as rows and as CSV."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from dripfield.core.feet_inches import decimal, feet_inches
from dripfield.core.units import Unit
from dripfield.design.model import Design
from dripfield.files.csv import number, write_csv
from dripfield.sheets.kit.marks import mark
from dripfield.staking.flags import FlagPlan
from dripfield.staking.rod import Setup, rod_reading
from dripfield.staking.stakes import Stake


@dataclass(frozen=True)
class LateralRow:
    """One line of the crew's table; lengths and elevations in the site's unit.

    Attributes
    ----------
    name, panel : str
    length, elevation : float
    drop : float
        Fall from the lateral above in its panel; NaN for the highest.
    bearing : float
        Of the first leg, stake to stake, degrees clockwise from grid north.
    setup : int or None
        The set-up of the laser that it is read from; None without a benchmark.
    rod, rod_low, rod_high : float
        Reading to look for and the least and greatest allowed; NaN without a benchmark.
    emitters : int or None
        Whole emitter spacings in the length; None when no spacing is given.
    flow : float or None
        Of those emitters, in the unit of ``[emitters] flow``.
    level_ok, spacing_ok : bool
    mark : str
        ``L``, ``S``, ``L S`` or empty.
    """

    name: str
    panel: str
    length: float
    elevation: float
    drop: float
    bearing: float
    setup: int | None
    rod: float
    rod_low: float
    rod_high: float
    emitters: int | None
    flow: float | None
    level_ok: bool
    spacing_ok: bool
    mark: str


@dataclass(frozen=True)
class RodRow:
    """A reading to look for: of a lateral (``point`` is None) or of one of its stakes.

    ``from_backsight`` is what to add to the backsight read on the set-up's mark, whatever that
    turns out to be; ``ground`` is the reading expected with the rod on the ground as surveyed, NaN
    where the ground is not known [site unit].
    """

    setup: int
    lateral: str
    point: int | None
    elevation: float
    from_backsight: float
    backsight: float
    height: float
    rod: float
    rod_low: float
    rod_high: float
    ground: float


def lateral_rows(
    design: Design, stakes: Sequence[Stake], setups: Sequence[Setup]
) -> tuple[LateralRow, ...]:
    """The rows of the lateral table, in the layout's order.

    Parameters
    ----------
    design : Design
        Elevations are taken as the crew reads them, so that printed sums close.
    stakes : sequence of Stake
        Those of its laterals.
    setups : sequence of Setup
        Set-ups whose targets are lateral numbers; empty without a benchmark.

    Returns
    -------
    tuple of LateralRow

    Notes
    -----
    Emitters are counted as the whole spacings in the length: tubing is cut from a coil, so one
    more or less may fall on a lateral (common practice, no source).
    """
    unit, emitters = design.site.unit, design.site.file.emitters
    level_tolerance = design.site.settings.level_tolerance
    laterals = design.layout.laterals
    first_leg: dict[str, list[Stake]] = {}
    for stake in stakes:
        first_leg.setdefault(stake.lateral, []).append(stake)
    setup_of = {int(i): setup for setup in setups for i in setup.targets}
    elevations = [round(lateral.elevation, unit.places) for lateral in laterals]
    rows: list[LateralRow] = []
    for i, (lateral, one) in enumerate(design.laterals.values()):
        above = laterals[i - 1] if i else None
        same = above is not None and above.panel == lateral.panel
        setup = setup_of.get(i)
        rod = float(rod_reading(setup.height, elevations[i])) if setup is not None else math.nan
        count = None if emitters is None else math.floor(one.length / emitters.spacing + 1e-9)
        flow = None if emitters is None or emitters.flow is None else emitters.flow
        rows.append(
            LateralRow(
                name=lateral.name,
                panel=lateral.panel,
                length=one.length,
                elevation=elevations[i],
                drop=elevations[i - 1] - elevations[i] if same else math.nan,
                bearing=_bearing(first_leg[lateral.name]),
                setup=None if setup is None else setup.number,
                rod=rod,
                rod_low=rod - level_tolerance,
                rod_high=rod + level_tolerance,
                emitters=count,
                flow=None if flow is None or count is None else count * flow,
                level_ok=one.level_ok,
                spacing_ok=one.spacing_ok,
                mark=mark(one),
            )
        )
    return tuple(rows)


def rod_rows(
    rows: Sequence[LateralRow],
    stakes: Sequence[Stake],
    setups: Sequence[Setup],
    ground: Sequence[float],
) -> tuple[RodRow, ...]:
    """The readings of every lateral, each followed by its stakes.

    Parameters
    ----------
    rows : sequence of LateralRow
    stakes : sequence of Stake
    setups : sequence of Setup
        Not empty.
    ground : sequence of float
        Ground elevation at each stake, NaN where not known [site unit].

    Returns
    -------
    tuple of RodRow
    """
    by_number = {setup.number: setup for setup in setups}
    of_lateral: dict[str, list[tuple[int | None, float]]] = {}
    for stake, height in zip(stakes, ground, strict=True):
        of_lateral.setdefault(stake.lateral, []).append((stake.point, float(height)))
    result = []
    for row in rows:
        if row.setup is None:
            continue
        setup = by_number[row.setup]
        whole: tuple[int | None, float] = (None, math.nan)
        for point, ground_height in [whole, *of_lateral[row.name]]:
            result.append(
                RodRow(
                    setup=setup.number,
                    lateral=row.name,
                    point=point,
                    elevation=row.elevation,
                    from_backsight=setup.mark_elevation - row.elevation,
                    backsight=setup.backsight,
                    height=setup.height,
                    rod=row.rod,
                    rod_low=row.rod_low,
                    rod_high=row.rod_high,
                    ground=setup.height - ground_height,
                )
            )
    return tuple(result)


def _bearing(stakes: Sequence[Stake]) -> float:
    first, second = stakes[0], stakes[1]
    east, north = second.easting - first.easting, second.northing - first.northing
    return float(np.degrees(np.arctan2(east, north)) % 360.0)


def write_lateral_table(path: Path, rows: Sequence[LateralRow], unit: Unit) -> None:
    """Write ``lateral_table.csv``; feet-inches columns for feet only, empty where not known."""
    inches = not unit.is_metric
    columns = ["lateral", "panel", "length", "elevation", "drop", "bearing", "setup"]
    columns += ["rod", "rod_low", "rod_high", "emitters", "flow", "level_ok", "spacing_ok", "mark"]
    columns += ["staked", "unit"]
    if inches:
        columns += ["length_ft_in", "rod_ft_in", "rod_low_ft_in", "rod_high_ft_in"]
    lines = []
    for row in rows:
        line = [
            row.name,
            row.panel,
            *(decimal(value, unit) for value in (row.length, row.elevation, row.drop)),
            number(row.bearing, 1),
            "" if row.setup is None else str(row.setup),
            *(decimal(value, unit) for value in (row.rod, row.rod_low, row.rod_high)),
            "" if row.emitters is None else str(row.emitters),
            "" if row.flow is None else number(row.flow, 2),
            *(str(ok).lower() for ok in (row.level_ok, row.spacing_ok)),
            row.mark,
            "",
            unit.value,
        ]
        if inches:
            line += [
                feet_inches(value) for value in (row.length, row.rod, row.rod_low, row.rod_high)
            ]
        lines.append(line)
    write_csv(path, columns, lines)


def write_rod_readings(
    path: Path, rows: Sequence[RodRow], setups: Sequence[Setup], unit: Unit
) -> None:
    """Write ``rod_readings.csv``: a row a lateral (``point`` empty), then a row each of its stakes.

    ``backsight`` is planned unless the site or the command gave it; ``from_backsight`` is added to
    the backsight that is really read.
    """
    inches = not unit.is_metric
    columns = ["lateral", "point", "elevation", "setup", "mark", "mark_elevation", "backsight"]
    columns += ["height_of_instrument", "from_backsight", "rod", "rod_low", "rod_high"]
    columns += ["rod_on_ground", "unit"]
    if inches:
        columns += ["rod_ft_in", "rod_low_ft_in", "rod_high_ft_in"]
    by_number = {setup.number: setup for setup in setups}
    lines = []
    for row in rows:
        setup = by_number[row.setup]
        values = (setup.backsight, row.height, row.from_backsight)
        band = (row.rod, row.rod_low, row.rod_high)
        line = [
            row.lateral,
            "" if row.point is None else str(row.point),
            decimal(row.elevation, unit),
            str(row.setup),
            setup.mark,
            decimal(setup.mark_elevation, unit),
            *(decimal(value, unit) for value in (*values, *band, row.ground)),
            unit.value,
        ]
        if inches:
            line += [feet_inches(value) for value in band]
        lines.append(line)
    write_csv(path, columns, lines)


def write_flags(path: Path, flags: FlagPlan, unit: Unit) -> None:
    """Write ``flags.csv``: a row a flag or paint mark, rounded to the tape's accuracy.

    Stations and offsets are from the base line, whose ends each row names; ``side`` is left or
    right as seen from its start. A flag of a pull also has its distance along an edge line.
    """
    columns = ["lateral", "lay", "mark", "from", "to", "station", "offset", "side"]
    columns += ["edge", "distance", "why_paint", "unit"]
    lines = []
    for one in flags.laterals:
        for spot in one.marks:
            side = "" if spot.offset == 0.0 else "right" if spot.offset > 0.0 else "left"
            lines.append(
                [
                    one.name,
                    one.laying,
                    spot.name,
                    flags.base.start.name,
                    flags.base.end.name,
                    number(spot.station, 3),
                    number(abs(spot.offset), 3),
                    side,
                    spot.edge or "",
                    number(spot.distance, 3),
                    one.why,
                    unit.value,
                ]
            )
    write_csv(path, columns, lines)
