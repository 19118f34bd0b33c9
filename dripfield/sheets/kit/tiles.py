"""Plan sheets that meet: what each shows, match lines to its neighbours, the key of all parts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from dripfield.design.model import Design
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.paper import Rectangle, Tile, Tiling
from dripfield.sheets.kit.style import INK, PAPER_WHITE, PENS, WASH, write_text

_MATCH = (0.0, (14.0, 4.0, 2.0, 4.0))


def laterals_on(design: Design, ground: Polygon) -> Design:
    """The design with the laterals alone that a sheet shows any of."""
    lines = [shapely.linestrings(lateral.xy) for lateral in design.layout.laterals]
    seen = np.asarray(shapely.intersects(ground, lines))
    shown = [pair for pair, here in zip(design.laterals.values(), seen, strict=True) if here]
    return replace(
        design,
        layout=replace(design.layout, laterals=tuple(lateral for lateral, _ in shown)),
        measured=replace(design.measured, laterals=tuple(measure for _, measure in shown)),
    )


Side = tuple[int, tuple[float, float], tuple[float, float], float, tuple[float, float]]
"""Number of the part beyond a match line, its ends, its angle, which way its words stand off."""


def _match_sides(tiling: Tiling, tile: Tile) -> list[Side]:
    numbers = {(one.column, one.row): i + 1 for i, one in enumerate(tiling.tiles)}
    x0, y0, x1, y1 = tile.core.bounds
    left, low, right, top = tile.frame.window.bounds
    sides = (
        ((-1, 0), (x0, low), (x0, top), 90.0, (-4.0, 0.0)),
        ((1, 0), (x1, low), (x1, top), 90.0, (4.0, 0.0)),
        ((0, -1), (left, y1), (right, y1), 0.0, (0.0, 4.0)),
        ((0, 1), (left, y0), (right, y0), 0.0, (0.0, -4.0)),
    )
    return [
        (numbers[tile.column + dx, tile.row + dy], start, end, angle, away)
        for (dx, dy), start, end, angle, away in sides
        if (tile.column + dx, tile.row + dy) in numbers
    ]


def match_areas(tiling: Tiling, tile: Tile) -> list[Polygon]:
    """What match lines and their words take of a sheet [pt]."""
    areas = []
    for _, start, end, angle, away in _match_sides(tiling, tile):
        areas.append(shapely.linestrings([start, end]).buffer(1.5))
        x, y = 0.5 * (start[0] + end[0]) + 2.0 * away[0], 0.5 * (start[1] + end[1]) + 2.0 * away[1]
        half = (7.0, 62.0) if angle else (62.0, 7.0)
        areas.append(shapely.box(x - half[0], y - half[1], x + half[0], y + half[1]))
    return areas


def draw_match_lines(axes: Any, tiling: Tiling, tile: Tile) -> None:
    """Where the neighbouring sheets take over, with their part numbers.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    tiling : Tiling
    tile : Tile
        The one on this sheet.
    """
    for number, start, end, angle, away in _match_sides(tiling, tile):
        axes.plot(
            [start[0], end[0]], [start[1], end[1]], color=INK, lw=PENS["bold"], ls=_MATCH, zorder=9
        )
        write_text(
            axes,
            0.5 * (start[0] + end[0]) + 2.0 * away[0],
            0.5 * (start[1] + end[1]) + 2.0 * away[1],
            f"match line: see part {number}",
            8.0,
            bold=True,
            ha="center",
            va="center",
            rotation=angle,
            zorder=9.5,
            bbox={"fc": PAPER_WHITE, "ec": "none", "pad": 1.0},
        )


def draw_key_map(
    axes: Any, boundary: Polygon, tiling: Tiling, tile: Tile, rectangle: Rectangle
) -> None:
    """All parts in small, one shaded.

    Parameters
    ----------
    axes : matplotlib Axes
    boundary : Polygon
        Of the bed, in site coordinates.
    tiling : Tiling
    tile : Tile
        The part that is shaded.
    rectangle : (left, low, width, height)
        That the key may take [pt]; it stands at its left.
    """
    frame = tile.frame
    left, low, width, height = rectangle
    cores = cores_on(frame, tiling)
    bed = frame.shape(boundary)
    x0, y0, x1, y1 = shapely.union_all([*cores, bed]).bounds
    factor = min(width / (x1 - x0), height / (y1 - y0))

    def small(shape: Any) -> np.ndarray[Any, Any]:
        xy = shapely.get_coordinates(shape)
        return np.asarray((xy - (x0, y0)) * factor + (left, low))

    for i, (one, core) in enumerate(zip(tiling.tiles, cores, strict=True)):
        fill = WASH if one is tile else PAPER_WHITE
        axes.fill(*small(core).T, fc=fill, ec=INK, lw=PENS["thin"], zorder=9)
        x, y = small(core.centroid)[0]
        write_text(axes, x, y, str(i + 1), 8.0, bold=True, ha="center", va="center", zorder=9.6)
    axes.plot(*small(bed.exterior).T, color=INK, lw=PENS["medium"], zorder=9.3)


def cores_on(frame: MapFrame, tiling: Tiling) -> list[Polygon]:
    """Every part's core on the sheet of a frame [pt], whatever the frame's scale."""
    cores = []
    for one in tiling.tiles:
        middle = np.array(one.frame.window.centroid.coords[0])
        place = frame.to_paper(np.array((one.frame.centre,)))[0]
        factor = one.frame.scale.per_point / frame.scale.per_point
        cores.append(
            shapely.transform(one.core, lambda xy, m=middle, f=factor, at=place: (xy - m) * f + at)
        )
    return cores
