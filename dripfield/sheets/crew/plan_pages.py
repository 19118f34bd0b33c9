"""The plan at a true scale, on one sheet or on several that meet at match lines."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.design.model import Design
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import Say, speaking
from dripfield.sheets.crew.sheet import Page, Rectangle, body, draw_check_bar
from dripfield.sheets.kit.labels import CAPITAL, Label, Placer
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.paper import Tile, Tiling, tile_bed
from dripfield.sheets.kit.plan_map import draw_map
from dripfield.sheets.kit.plan_margin import draw_strip, strip_height
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import (
    INK,
    PAPER_WHITE,
    PENS,
    SURVEY_PINK,
    WASH,
    Paper,
    shorten,
    text_width,
    wrap,
    write_text,
)

_KEY = 96.0  # width of the key map [pt]
_BELOW = 20.0  # under the strip, for that bar [pt]
_NOTE_TYPE = 8.0  # [pt]
_CONTROL_TYPE = 8.0  # of the names of control points [pt]
_MATCH = (0.0, (14.0, 4.0, 2.0, 4.0))


def plan_pages(work: CrewWork, relief: Relief, paper: Paper) -> list[Page]:
    """The plan sheets.

    Raises
    ------
    InputError
        The paper cannot hold one lateral at any listed scale.
    """
    bed = work.design.site.bed
    ground = shapely.convex_hull(shapely.union_all([bed.boundary, *bed.keepouts]))
    tiling = tile_bed(
        work.design.site.unit,
        ground,
        work.design.layout.laterals,
        work.design.site.settings.spacing,
        [(sheet, _map_room(sheet)) for sheet in (paper, paper.turned())],
        wanted=work.settings.scale,
    )
    several, say = len(tiling.tiles) > 1, speaking(work.settings.language)
    return [
        Page(
            say("title_plan_part", scale=tiling.scale.text, part=i + 1)
            if several
            else say("title_plan", scale=tiling.scale.text),
            tiling.paper,
            _drawer(work, relief, tiling, tile),
        )
        for i, tile in enumerate(tiling.tiles)
    ]


def _map_room(paper: Paper) -> Rectangle:
    left, low, width, height = body(paper)
    below = strip_height(paper) + _BELOW
    return left, low + below, width, height - below


def _drawer(
    work: CrewWork, relief: Relief, tiling: Tiling, tile: Tile
) -> Callable[[Any, Rectangle], None]:
    def draw(axes: Any, _: Rectangle) -> None:
        frame = tile.frame
        part = _part(work.design, frame.ground)
        labels = draw_map(axes, frame, part, relief)
        _draw_marks(axes, frame, work)
        several = len(tiling.tiles) > 1
        strip = replace(frame, width=frame.width - _KEY - 10.0) if several else frame
        draw_strip(axes, strip, tiling.paper, work.design, relief)
        base = frame.low - strip_height(tiling.paper) - _BELOW
        say = speaking(work.settings.language)
        edge = draw_check_bar(axes, frame.left, base + 2.0, work.design.site, say)
        note = say("plan_note")
        if labels.unnamed:
            note = f"{note} {say('plan_unnamed', names=', '.join(labels.unnamed))}"
        room = frame.left + frame.width - edge - 24.0 - (_KEY if several else 0.0)
        for k, line in enumerate(wrap(note, room, _NOTE_TYPE, 2)):
            y = base + 12.0 - 1.25 * _NOTE_TYPE * k
            write_text(axes, edge + 14.0, y, line, _NOTE_TYPE)
        _border(axes, frame)
        if several:
            _match_lines(axes, tiling, tile, say)
            _key_map(axes, work, tiling, tile)

    return draw


def _part(design: Design, ground: Polygon) -> Design:
    """The design with the laterals alone that a sheet shows any of."""
    lines = [shapely.linestrings(lateral.xy) for lateral in design.layout.laterals]
    seen = np.asarray(shapely.intersects(ground, lines))
    shown = [pair for pair, here in zip(design.laterals.values(), seen, strict=True) if here]
    return replace(
        design,
        layout=replace(design.layout, laterals=tuple(lateral for lateral, _ in shown)),
        measured=replace(design.measured, laterals=tuple(measure for _, measure in shown)),
    )


def _draw_marks(axes: Any, frame: MapFrame, work: CrewWork) -> None:
    """Stakes, and what tapes run between."""
    look = {"ls": "none", "mec": SURVEY_PINK, "mfc": PAPER_WHITE, "zorder": 6.5}
    stakes = frame.to_paper(np.array([(s.easting, s.northing) for s in work.stakes]))
    inside = shapely.contains_xy(frame.window, stakes)
    axes.plot(*stakes[inside].T, marker="o", ms=2.6, mew=0.7, **look)
    _draw_base_line(axes, frame, work)
    for point in work.field.points:
        at = frame.to_paper(point.xy[None])[0]
        if not shapely.contains_xy(frame.window.buffer(-4.0), *at):
            continue
        permanent = point.kind in ("benchmark", "permanent")
        size = 6.0 if permanent else 4.0
        marker = "^" if permanent else "s"
        axes.plot(*at, marker=marker, ms=size, mew=1.2, **look)
        _name_beside(axes, frame, work, at, point.name)


def _draw_base_line(axes: Any, frame: MapFrame, work: CrewWork) -> None:
    """The line that tapes are laid along, dashed."""
    if work.field.base_line is None:
        return
    known = {point.name: point.xy for point in work.field.points}
    ends = frame.to_paper(np.array([known[name] for name in work.field.base_line]))
    shown = shapely.intersection(shapely.linestrings(ends), frame.window)
    if not shown.is_empty and shown.geom_type == "LineString":
        axes.plot(
            *shapely.get_coordinates(shown).T,
            color=SURVEY_PINK,
            lw=PENS["thin"],
            ls=(0, (2, 2)),
            zorder=4.5,
        )


def _name_beside(axes: Any, frame: MapFrame, work: CrewWork, end: Floats, name: str) -> None:
    """A control point's name where it covers no other text and, if it can, no line."""
    lines = [frame.to_paper(lateral.xy) for lateral in work.design.layout.laterals]
    edge = frame.to_paper(shapely.get_coordinates(work.design.site.bed.boundary.exterior))
    placer = Placer(frame.window.buffer(-2.0), [*lines, edge])
    for text in axes.texts:
        placer.take(_standing(text).box)
    name = shorten(name, 80.0, _CONTROL_TYPE, bold=True)
    away = 0.5 * text_width(name, _CONTROL_TYPE, bold=True) + 6.0
    places = [
        Label(name, end[0] + dx * far * away, end[1] + dy * far, 0.0, _CONTROL_TYPE, bold=True)
        for far in (1.0, 1.6, 2.4)
        for dx, dy in ((1, 8), (-1, 8), (1, -8), (-1, -8), (0, 11), (0, -11), (1, 0), (-1, 0))
    ]
    clear = [one for one in places if placer.free(one.box)]
    clear += [one for one in places if placer.free(one.box, over_lines=True)]
    label = [*clear, places[0]][0]
    label.draw(axes, over=9.5)


def _standing(text: Any) -> Label:
    """A text on the axes, written about its middle, as a label."""
    size, angle = text.get_fontsize(), text.get_rotation()
    x, y = text.get_position()
    up = 0.5 * CAPITAL * size
    lean = math.radians(angle)
    return Label(
        text.get_text(), x - up * math.sin(lean), y + up * math.cos(lean), angle, size, bold=True
    )


def _border(axes: Any, frame: MapFrame) -> None:
    x, y = frame.window.exterior.coords.xy
    axes.plot(x, y, color=INK, lw=PENS["thin"], zorder=9)


def _match_lines(axes: Any, tiling: Tiling, tile: Tile, say: Say) -> None:
    """Where the neighbouring sheets take over, with their part numbers."""
    numbers = {(one.column, one.row): i + 1 for i, one in enumerate(tiling.tiles)}
    x0, y0, x1, y1 = tile.core.bounds
    left, low, right, top = tile.frame.window.bounds
    sides = (
        ((-1, 0), (x0, low), (x0, top), 90.0, (-4.0, 0.0)),
        ((1, 0), (x1, low), (x1, top), 90.0, (4.0, 0.0)),
        ((0, -1), (left, y1), (right, y1), 0.0, (0.0, 4.0)),
        ((0, 1), (left, y0), (right, y0), 0.0, (0.0, -4.0)),
    )
    for (dx, dy), start, end, angle, away in sides:
        number = numbers.get((tile.column + dx, tile.row + dy))
        if number is None:
            continue
        axes.plot(
            [start[0], end[0]], [start[1], end[1]], color=INK, lw=PENS["bold"], ls=_MATCH, zorder=9
        )
        write_text(
            axes,
            0.5 * (start[0] + end[0]) + 2.0 * away[0],
            0.5 * (start[1] + end[1]) + 2.0 * away[1],
            say("match_line", part=number),
            8.0,
            bold=True,
            ha="center",
            va="center",
            rotation=angle,
            zorder=9.5,
            bbox={"fc": PAPER_WHITE, "ec": "none", "pad": 1.0},
        )


def _key_map(axes: Any, work: CrewWork, tiling: Tiling, tile: Tile) -> None:
    """All parts in small, this one shaded, right of the strip."""
    frame = tile.frame
    below = strip_height(tiling.paper) + _BELOW
    height = below - 6.0
    # every part's core in the coordinates of this sheet, and the bed with them
    cores = []
    for one in tiling.tiles:
        shift = (
            frame.to_paper(np.array((one.frame.centre,)))[0]
            - frame.to_paper(np.array((frame.centre,)))[0]
        )
        cores.append(shapely.transform(one.core, lambda xy, by=shift: xy + by))
    bed = frame.shape(work.design.site.bed.boundary)
    x0, y0, x1, y1 = shapely.union_all([*cores, bed]).bounds
    factor = min(_KEY / (x1 - x0), height / (y1 - y0))
    left = frame.left + frame.width - _KEY
    low = frame.low - below + 2.0

    def small(shape: Any) -> np.ndarray[Any, Any]:
        xy = shapely.get_coordinates(shape)
        return np.asarray((xy - (x0, y0)) * factor + (left, low))

    for i, (one, core) in enumerate(zip(tiling.tiles, cores, strict=True)):
        fill = WASH if one is tile else PAPER_WHITE
        axes.fill(*small(core).T, fc=fill, ec=INK, lw=PENS["thin"], zorder=9)
        x, y = small(core.centroid)[0]
        write_text(axes, x, y, str(i + 1), 7.0, bold=True, ha="center", va="center", zorder=9.6)
    axes.plot(*small(bed.exterior).T, color=INK, lw=PENS["medium"], zorder=9.3)
