"""True engineer's scales, and how many sheets a bed takes at one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.layout.model import Lateral
from dripfield.sheets.kit.map_frame import MapFrame, fit_frame
from dripfield.sheets.kit.style import POINTS_PER_INCH, Paper, Scale, shorten

FEET_TO_THE_INCH = (5, 10, 20, 30, 40, 50, 60)  # the edges of an engineer's scale, and its half
METRIC_RATIOS = (50, 100, 200, 250, 500)
_LEGIBLE = 6.0  # laterals nearer to each other on paper cannot be told apart or named [pt]
_MOST_PARTS = 60
_BORDER = (44.0, 26.0)  # round the bed, for names, and beyond a match line [pt]

Rectangle = tuple[float, float, float, float]


@dataclass(frozen=True)
class Tile:
    """One plan sheet: what it shows, and which part of the bed it stands for.

    ``column`` and ``row`` count from the upper left; ``core`` is its part on the sheet [pt].
    """

    frame: MapFrame
    column: int
    row: int
    core: Polygon


@dataclass(frozen=True)
class Tiling:
    """The plan sheets of a bed: one tile, or several that meet at match lines."""

    paper: Paper
    scale: Scale
    tiles: tuple[Tile, ...]


def listed_scales(unit: Unit) -> tuple[Scale, ...]:
    """The scales that sheets are drawn at, largest first."""
    if unit.is_metric:
        return tuple(Scale(n * 0.0254 / POINTS_PER_INCH, f"1:{n}") for n in METRIC_RATIOS)
    return tuple(Scale(n / POINTS_PER_INCH, f"1 in = {n} ft") for n in FEET_TO_THE_INCH)


def tile_bed(
    unit: Unit,
    ground: Polygon,
    laterals: Sequence[Lateral],
    spacing: float,
    papers: Sequence[tuple[Paper, Rectangle]],
    *,
    wanted: float | None = None,
) -> Tiling:
    """Choose scale, orientation and number of plan sheets.

    Parameters
    ----------
    unit : Unit
    ground : Polygon
        What must be seen, in site coordinates.
    laterals : sequence of Lateral
        Any one of them must fit on a sheet.
    spacing : float
        On-centre distance [site unit].
    papers : sequence of (Paper, rectangle)
        A sheet each way round, with the room for the map (left, low, width, height) [pt].
    wanted : float, optional
        Feet to the inch, or N of 1:N, instead of the scale chosen to fit.

    Returns
    -------
    Tiling
        On one sheet at the largest listed scale that holds the bed with laterals far enough apart
        to be told from each other; else on several at the smallest such scale.

    Raises
    ------
    InputError
        A lateral is too long for the paper at every listed scale (or the one wanted), or the scale
        wanted is not listed.
    """
    options = [
        option
        for scale in _candidates(unit, wanted)
        for paper, rectangle in papers
        if (option := _tiling(unit, ground, laterals, paper, rectangle, scale)) is not None
    ]
    if not options:
        raise _too_small(unit, laterals, papers, wanted)
    legible = [one for one in options if one.scale.paper(spacing) >= _LEGIBLE] or options[:1]
    single = [one for one in legible if len(one.tiles) == 1]
    if single:
        return min(single, key=lambda one: one.scale.per_point)
    return min(legible, key=lambda one: (-one.scale.per_point, len(one.tiles)))


def _candidates(unit: Unit, wanted: float | None) -> tuple[Scale, ...]:
    scales = listed_scales(unit)
    if wanted is None:
        return scales
    numbers = METRIC_RATIOS if unit.is_metric else FEET_TO_THE_INCH
    if wanted not in numbers:
        what = "N of 1:N" if unit.is_metric else "feet to the inch"
        raise input_error(
            f"{wanted:g} is not a scale that sheets are drawn at",
            f"give one of {', '.join(str(n) for n in numbers)} ({what}), or leave it out",
            field="scale",
        )
    return (scales[numbers.index(int(wanted))],)


def _room(rectangle: Rectangle) -> tuple[float, float]:
    return rectangle[2] - 2.0 * _BORDER[0], rectangle[3] - 2.0 * _BORDER[1]


def _tiling(
    unit: Unit,
    ground: Polygon,
    laterals: Sequence[Lateral],
    paper: Paper,
    rectangle: Rectangle,
    scale: Scale,
) -> Tiling | None:
    """The sheets at one scale and orientation; None when a lateral does not fit on one."""
    room = _room(rectangle)
    turned = _turned(unit, ground, rectangle)
    for lateral in laterals:
        if any(
            scale.paper(size) > most
            for size, most in zip(_extent(turned, lateral), room, strict=True)
        ):
            return None
    return tiles_at(unit, ground, paper, rectangle, scale)


def _turned(unit: Unit, ground: Polygon, rectangle: Rectangle) -> MapFrame:
    """A frame about the middle of a piece of ground, turned as on the sheet, of scale 1."""
    best = fit_frame(unit, ground, rectangle, _BORDER)
    return MapFrame(0.0, 0.0, 0.0, 0.0, best.centre, Scale(1.0, ""), best.turn)


def tiles_at(
    unit: Unit,
    ground: Polygon,
    paper: Paper,
    rectangle: Rectangle,
    scale: Scale,
    *,
    needed: BaseGeometry | None = None,
) -> Tiling:
    """The sheets that a piece of ground takes at a scale; lines may run on from one to the next.

    Parameters
    ----------
    unit : Unit
    ground : Polygon
        What must be seen, in site coordinates.
    paper : Paper
    rectangle : (left, low, width, height)
        Room for the map [pt].
    scale : Scale
    needed : geometry, optional
        A part that shows none of it is left out; the ground unless given.

    Returns
    -------
    Tiling

    Raises
    ------
    InputError
        It takes too many sheets.
    """
    room = _room(rectangle)
    turned = _turned(unit, ground, rectangle)
    x0, y0, x1, y1 = turned.shape(ground).bounds
    columns = max(1, math.ceil(scale.paper(x1 - x0) / room[0] - 1e-9))
    rows = max(1, math.ceil(scale.paper(y1 - y0) / room[1] - 1e-9))
    if columns * rows > _MOST_PARTS:
        raise input_error(
            f"the plan at {scale.text} takes {columns * rows} sheets of {paper.label}",
            "take a smaller scale (a larger N) or larger paper",
            field="scale",
        )
    width, height = (x1 - x0) / columns, (y1 - y0) / rows
    tiles = []
    for row in range(rows):
        for column in range(columns):
            middle = np.array((x0 + (column + 0.5) * width, y1 - (row + 0.5) * height))
            frame = MapFrame(*rectangle, _site_place(turned, middle), scale, turned.turn)
            x, y = rectangle[0] + rectangle[2] / 2.0, rectangle[1] + rectangle[3] / 2.0
            half = scale.paper(width) / 2.0, scale.paper(height) / 2.0
            core = box(x - half[0], y - half[1], x + half[0], y + half[1])
            seen = ground if needed is None else needed
            if frame.shape(seen).intersects(core.buffer(-1.0)):
                tiles.append(Tile(frame, column, row, core))
    return Tiling(paper, scale, tuple(tiles))


def _extent(turned: MapFrame, lateral: Lateral) -> Floats:
    """Width and height of a lateral as it lies on the sheet [site unit]."""
    return np.asarray(np.ptp(turned.to_paper(lateral.xy), axis=0))


def _site_place(turned: MapFrame, place: Floats) -> tuple[float, float]:
    """Site coordinates of a place given in the turned ones."""
    cos, sin = math.cos(math.radians(turned.turn)), math.sin(math.radians(turned.turn))
    easting, northing = place @ np.array(((cos, -sin), (sin, cos))) + turned.centre
    return float(easting), float(northing)


def _too_small(
    unit: Unit,
    laterals: Sequence[Lateral],
    papers: Sequence[tuple[Paper, Rectangle]],
    wanted: float | None,
) -> Exception:
    longest = max(laterals, key=lambda one: float(np.ptp(one.xy, axis=0).max()))
    span = shapely.length(shapely.linestrings(longest.xy))
    paper, rectangle = papers[0]
    scale = _candidates(unit, wanted)[-1]
    width, height = (most * scale.per_point for most in _room(rectangle))
    even = "" if wanted is not None else "even "
    name = shorten(longest.name, 200.0, 8.0)
    larger = "tabloid" if not unit.is_metric else "A3"
    remedies = [] if paper.name == larger else [f"take larger paper (--paper {larger})"]
    if wanted is not None:
        remedies.append("leave the scale out")
    remedies.append("limit laterals with [layout] max_length")
    return input_error(
        f"{paper.label} cannot hold lateral {name}, {span:.0f} {unit.short} long, {even}at"
        f" {scale.text}, where its map is {width:.0f} x {height:.0f} {unit.short}",
        ", or ".join(remedies),
    )
