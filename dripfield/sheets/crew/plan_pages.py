"""The plan at a true scale, on one sheet or on several that meet at match lines."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import speaking
from dripfield.sheets.crew.sheet import draw_check_bar
from dripfield.sheets.kit.labels import CAPITAL, Label, Placer
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.page import Page, Rectangle, body
from dripfield.sheets.kit.paper import Tile, Tiling, tile_bed
from dripfield.sheets.kit.plan_map import draw_map
from dripfield.sheets.kit.plan_margin import draw_strip, strip_height
from dripfield.sheets.kit.ramp import elevation_ramp
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import (
    INK,
    PAPER_WHITE,
    PENS,
    SURVEY_PINK,
    Paper,
    shorten,
    text_width,
    wrap,
    write_text,
)
from dripfield.sheets.kit.tiles import draw_key_map, draw_match_lines, laterals_on

_KEY = 96.0  # width of the key map [pt]
_BELOW = 20.0  # under the strip, for that bar [pt]
_NOTE_TYPE = 8.0  # [pt]
_CONTROL_TYPE = 8.0  # of the names of control points [pt]


def plan_pages(work: CrewWork, relief: Relief, paper: Paper) -> list[Page]:
    """The plan sheets.

    Parameters
    ----------
    work : CrewWork
    relief : Relief
    paper : Paper

    Returns
    -------
    list of Page

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
        part = laterals_on(work.design, frame.ground)
        labels = draw_map(axes, frame, part, relief, ramp=elevation_ramp(work.design))
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
            draw_match_lines(axes, tiling, tile)
            below = strip_height(tiling.paper) + _BELOW
            key = (frame.left + frame.width - _KEY, frame.low - below + 2.0, _KEY, below - 6.0)
            draw_key_map(axes, work.design.site.bed.boundary, tiling, tile, key)

    return draw


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
