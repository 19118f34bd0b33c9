"""The crew's laterals, rod readings, flags and paint: worked out as rows, told as tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.feet_inches import feet_inches
from dripfield.core.table import Cell, Column, Table, figures, flag, text
from dripfield.core.units import Unit
from dripfield.crew.simulate import AsLaid
from dripfield.design.model import Design
from dripfield.sheets.kit.marks import mark
from dripfield.staking.levelling import Levelling
from dripfield.staking.marking import Marking
from dripfield.staking.model import FieldMark, FieldPlan
from dripfield.staking.rod import Setup
from dripfield.staking.uphill import laterals_above


@dataclass(frozen=True)
class LateralRow:
    """One line of the crew's table; lengths and elevations in the site's unit.

    Attributes
    ----------
    name, panel : str
    length, elevation : float
    above : str
        The lateral that lies beside it uphill along nearly all of it; empty where none does: the
        highest, beside rocks and seams.
    drop : float
        Fall from that lateral; NaN without one.
    bearing : float
        Of the first leg, mark to mark, degrees clockwise from grid north.
    setup : int or None
        The set-up of the laser that it is read from; None without a benchmark.
    rod, rod_low, rod_high : float
        Reading to look for with the rod's foot where ``[crew] rod_foot`` says, and the least and
        greatest allowed; NaN without a benchmark.
    emitters : int or None
        Whole emitter spacings in the length; None when no spacing is given.
    flow : float or None
        Of those emitters, in the unit of ``[emitters] flow``.
    level_ok, spacing_ok : bool
    mark : str
        ``L``, ``S``, ``L S`` or empty.
    marks : int
    expected : float
        Share of it expected within both tolerances as laid.
    """

    name: str
    panel: str
    length: float
    elevation: float
    above: str
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
    marks: int
    expected: float


@dataclass(frozen=True)
class RodRow:
    """A reading to look for: of a lateral (``point`` is None) or of one of its marks.

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
    design: Design, field: FieldPlan, levelling: Levelling, as_laid: AsLaid, depth: float = 0.0
) -> tuple[LateralRow, ...]:
    """The rows of the lateral table, in the layout's order.

    Parameters
    ----------
    design : Design
        Elevations are taken as the crew reads them, so that printed sums close.
    field : FieldPlan
        Marks of its laterals.
    levelling : Levelling
        Planned for :func:`foot_elevations` among others.
    as_laid : AsLaid
        What simulated crews make of it.
    depth : float
        Of the rod's foot below the surface laid on [site unit].

    Returns
    -------
    tuple of LateralRow

    Notes
    -----
    Emitters are counted as the whole spacings in the length: tubing is cut from a coil, so one
    more or less may fall on a lateral (common practice, no source).
    """
    unit, emitters = design.site.unit, design.site.file.emitters
    tolerance = design.site.settings.level_tolerance
    feet = foot_elevations(design, depth)
    elevations = {
        lateral.name: round(lateral.elevation, unit.places) for lateral in design.layout.laterals
    }
    beside = laterals_above(design.layout.laterals, design.site.settings.spacing)
    marks = field.of_lateral()
    expected = {one.name: one.share_laid for one in as_laid.laterals}
    rows: list[LateralRow] = []
    for i, (lateral, one) in enumerate(design.laterals.values()):
        setup = levelling.of(float(feet[i]))
        rod = levelling.reading(float(feet[i]))
        count = None if emitters is None else math.floor(one.length / emitters.spacing + 1e-9)
        flow = None if emitters is None or emitters.flow is None else emitters.flow
        elevation, above = elevations[lateral.name], beside[i]
        rows.append(
            LateralRow(
                name=lateral.name,
                panel=lateral.panel,
                length=one.length,
                elevation=elevation,
                above=above,
                drop=elevations[above] - elevation if above else math.nan,
                bearing=_bearing(marks[lateral.name]),
                setup=None if setup is None else setup.number,
                rod=rod,
                rod_low=rod - tolerance,
                rod_high=rod + tolerance,
                emitters=count,
                flow=None if flow is None or count is None else count * flow,
                level_ok=one.level_ok,
                spacing_ok=one.spacing_ok,
                mark=mark(one),
                marks=len(marks[lateral.name]),
                expected=expected[lateral.name],
            )
        )
    return tuple(rows)


def foot_elevations(design: Design, depth: float = 0.0) -> Floats:
    """Where the rod's foot stands when each lateral (n,) is level, as read [site unit].

    Parameters
    ----------
    design : Design
    depth : float
        Of the foot below the surface laid on [site unit].

    Returns
    -------
    (n,) float array
    """
    places = design.site.unit.places
    heights = [round(lateral.elevation, places) - depth for lateral in design.layout.laterals]
    return np.asarray(np.round(heights, places), dtype=np.float64)


def rod_rows(
    rows: Sequence[LateralRow], field: FieldPlan, setups: Sequence[Setup], depth: float = 0.0
) -> tuple[RodRow, ...]:
    """The readings of every lateral, each followed by its marks.

    Parameters
    ----------
    rows : sequence of LateralRow
    field : FieldPlan
    setups : sequence of Setup
        Empty without a benchmark.
    depth : float
        Of the rod's foot below the surface laid on [site unit].

    Returns
    -------
    tuple of RodRow
    """
    by_number = {setup.number: setup for setup in setups}
    marks = field.of_lateral()
    result = []
    for row in rows:
        if row.setup is None:
            continue
        setup = by_number[row.setup]
        whole: tuple[int | None, float] = (None, math.nan)
        own = [(mark.mark, mark.elevation) for mark in marks[row.name]]
        for point, ground in [whole, *own]:
            result.append(
                RodRow(
                    setup=setup.number,
                    lateral=row.name,
                    point=point,
                    elevation=row.elevation,
                    from_backsight=setup.mark_elevation - (row.elevation - depth),
                    backsight=setup.backsight,
                    height=setup.height,
                    rod=row.rod,
                    rod_low=row.rod_low,
                    rod_high=row.rod_high,
                    ground=setup.height - ground,
                )
            )
    return tuple(result)


def _bearing(marks: Sequence[FieldMark]) -> float:
    first, second = marks[0], marks[1]
    east, north = second.easting - first.easting, second.northing - first.northing
    return float(np.degrees(np.arctan2(east, north)) % 360.0)


def lateral_file(rows: Sequence[LateralRow], unit: Unit) -> Table:
    """``lateral_table.csv``; feet-inches columns for feet only, nothing where not known.

    ``drop`` is the fall from the lateral named in ``above``, which lies beside it uphill along
    nearly all of it.
    """
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
    columns += [text("above"), figures("marks"), figures("expected_as_laid", 3)]
    lines: list[list[Cell]] = []
    for row in rows:
        line: list[Cell] = [row.name, row.panel, row.length, row.elevation, row.drop, row.bearing]
        line += [row.setup, row.rod, row.rod_low, row.rod_high, row.emitters, row.flow]
        line += [row.level_ok, row.spacing_ok, row.mark, None, unit.value]
        line += [row.length, row.rod, row.rod_low, row.rod_high] if inches else []
        lines.append([*line, row.above, row.marks, row.expected])
    totals = frozenset({"length", "emitters", "flow"})
    return Table(columns, lines, "Lateral table", totals=totals)


def rod_file(rows: Sequence[RodRow], setups: Sequence[Setup], unit: Unit) -> Table:
    """``rod_readings.csv``: a row a lateral (without ``point``), then a row each of its marks.

    ``backsight`` is planned unless the site or the command gave it; ``from_backsight`` is added to
    the backsight that is really read.

    Parameters
    ----------
    rows : sequence of RodRow
    setups : sequence of Setup
    unit : Unit
        The site's.

    Returns
    -------
    Table
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


def flags_file(marks: Sequence[Marking], unit: Unit) -> Table:
    """``flags.csv``: how each lateral is marked, counts of flags, lengths of string and paint."""
    columns = (
        *(text(key) for key in ("lateral", "lay")),
        *(flag("guide"), figures("flags")),
        *(figures("string", unit.places), figures("paint", unit.places), text("unit")),
    )
    lines = [
        (
            *(one.lateral, one.lay, one.guide, one.flags),
            one.length if one.lay == "string" else 0.0,
            one.length if one.lay == "paint" else 0.0,
            unit.value,
        )
        for one in marks
    ]
    totals = frozenset({"flags", "string", "paint"})
    return Table(columns, lines, "Flags, string and paint", totals=totals)


def _feet_inches(key: str) -> Column:
    return figures(f"{key}_ft_in", 0, form=feet_inches)
