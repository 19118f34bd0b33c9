"""The crew's laterals, rod readings, flags and paint: worked out as rows, told as tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.core.feet_inches import feet_inches
from dripfield.core.table import Cell, Column, Table, figures, flag, text
from dripfield.core.units import Unit
from dripfield.design.model import Design
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


def lateral_file(rows: Sequence[LateralRow], unit: Unit) -> Table:
    """``lateral_table.csv``; feet-inches columns for feet only, nothing where not known."""
    inches = not unit.is_metric
    columns = [
        *(text("lateral"), text("panel")),
        *(figures(key, unit.places) for key in ("length", "elevation", "drop")),
        *(figures("bearing", 1), figures("setup")),
        *(figures(key, unit.places) for key in ("rod", "rod_low", "rod_high")),
        *(figures("emitters"), figures("flow", 2), flag("level_ok"), flag("spacing_ok")),
        *(text("mark"), text("staked"), text("unit")),
    ]
    if inches:
        columns += [_feet_inches(key) for key in ("length", "rod", "rod_low", "rod_high")]
    lines: list[list[Cell]] = []
    for row in rows:
        line: list[Cell] = [row.name, row.panel, row.length, row.elevation, row.drop, row.bearing]
        line += [row.setup, row.rod, row.rod_low, row.rod_high, row.emitters, row.flow]
        line += [row.level_ok, row.spacing_ok, row.mark, None, unit.value]
        line += [row.length, row.rod, row.rod_low, row.rod_high] if inches else []
        lines.append(line)
    totals = frozenset({"length", "emitters", "flow"})
    return Table(columns, lines, "Lateral table", totals=totals)


def rod_file(rows: Sequence[RodRow], setups: Sequence[Setup], unit: Unit) -> Table:
    """``rod_readings.csv``: a row a lateral (without ``point``), then a row each of its stakes.

    ``backsight`` is planned unless the site or the command gave it; ``from_backsight`` is added to
    the backsight that is really read.
    """
    inches = not unit.is_metric
    places = unit.places
    columns = [
        *(text("lateral"), figures("point"), figures("elevation", places), figures("setup")),
        *(text("mark"), figures("mark_elevation", places), figures("backsight", places)),
        *(figures(key, places) for key in ("height_of_instrument", "from_backsight")),
        *(figures(key, places) for key in ("rod", "rod_low", "rod_high", "rod_on_ground")),
        text("unit"),
    ]
    if inches:
        columns += [_feet_inches(key) for key in ("rod", "rod_low", "rod_high")]
    by_number = {setup.number: setup for setup in setups}
    lines: list[list[Cell]] = []
    for row in rows:
        setup = by_number[row.setup]
        band = (row.rod, row.rod_low, row.rod_high)
        line: list[Cell] = [row.lateral, row.point, row.elevation, row.setup, setup.mark]
        line += [setup.mark_elevation, setup.backsight, row.height, row.from_backsight]
        line += [*band, row.ground, unit.value]
        lines.append([*line, *band] if inches else line)
    return Table(columns, lines, "Rod readings")


def flags_file(flags: FlagPlan, unit: Unit) -> Table:
    """``flags.csv``: a row a flag or paint mark, rounded to the tape's accuracy.

    Stations and offsets are from the base line, whose ends each row names; ``side`` is left or
    right as seen from its start. A flag of a pull also has its distance along an edge line.
    """
    columns = (
        *(text(key) for key in ("lateral", "lay", "mark", "from", "to")),
        *(figures("station", 3), figures("offset", 3), text("side"), text("edge")),
        *(figures("distance", 3), text("why_paint"), text("unit")),
    )
    lines = [
        (
            *(one.name, one.laying, spot.name, flags.base.start.name, flags.base.end.name),
            *(spot.station, abs(spot.offset)),
            "" if spot.offset == 0.0 else "right" if spot.offset > 0.0 else "left",
            *(spot.edge, spot.distance, one.why, unit.value),
        )
        for one in flags.laterals
        for spot in one.marks
    ]
    return Table(columns, lines, "Flags and paint")


def _feet_inches(key: str) -> Column:
    return figures(f"{key}_ft_in", 0, form=feet_inches)
