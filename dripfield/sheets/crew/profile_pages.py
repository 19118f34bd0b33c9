"""Profiles: one section down the slope, then every lateral's ground against the elevation set."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from dripfield.core.errors import DripfieldError
from dripfield.core.words import number
from dripfield.measures.laterals import LateralMeasure
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import speaking
from dripfield.sheets.kit.furniture import box
from dripfield.sheets.kit.ink import ink_on
from dripfield.sheets.kit.page import Page, Rectangle, body
from dripfield.sheets.kit.style import (
    DIM,
    PALE,
    PENS,
    Paper,
    round_length,
    shorten,
    wrap,
    write_text,
)
from dripfield.sheets.plan.profile import draw_level, draw_slope_profile, fall_section, ground_name
from dripfield.site.model import Site

_CELL = (180.0, 65.0)  # of a sheet, at least, for one lateral [pt]
_NOTE_TYPE = 8.0  # [pt]
_NOTE_ROOM = 32.0  # over the plots [pt]
_TITLE_TYPE = 7.0  # [pt]
_TICK_TYPE = 6.0  # [pt]
_REACH = (1.5, 5.0)  # least and greatest height of the plots, in level tolerances


def profile_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """All laterals in small plots.

    All plots of laterals have the same height scale, so that a bump looks as large as it is.
    """
    site, laterals = work.design.site, work.design.measured.laterals
    say = speaking(work.settings.language)
    upright = paper.turned()
    _, _, width, height = body(upright)
    columns, rows = int(width // _CELL[0]), int((height - _NOTE_ROOM) // _CELL[1])
    reach = _reach(laterals, site.settings.level_tolerance)
    pages: list[Page] = []
    for first in range(0, len(laterals), columns * rows):
        shown = laterals[first : first + columns * rows]
        pages.append(
            Page(say("title_profiles"), upright, _drawer(site, shown, (columns, rows), reach))
        )
    return pages


def slope_section(work: CrewWork) -> Callable[[Any, Rectangle], None] | None:
    """What draws the section down the slope; None for a level bed, which has none."""
    site, surface = work.design.site, work.design.surface
    try:
        section = fall_section(site, surface)
    except DripfieldError:
        return None

    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, width, height = rectangle
        plot = _plot(axes, (left + 44.0, low + 34.0, width - 52.0, height - 60.0))
        draw_slope_profile(plot, site, surface, work.design.layout, section)

    return draw


def _reach(laterals: Sequence[LateralMeasure], tolerance: float) -> float:
    """How far the plots go above and below the elevation set [site unit]."""
    off = np.concatenate([np.abs(one.ground - one.elevation) for one in laterals])
    least, most = (share * tolerance for share in _REACH)
    return float(np.clip(1.1 * np.nanmax(off, initial=0.0), least, most))


def _drawer(
    site: Site, laterals: Sequence[LateralMeasure], grid: tuple[int, int], reach: float
) -> Any:
    """What draws a page of laterals, left to right and down."""

    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, width, height = rectangle
        columns, rows = grid
        y = low + height - 9.0
        for line in wrap(_note(site), width, _NOTE_TYPE, 2):
            write_text(axes, left, y, line, _NOTE_TYPE)
            y -= 1.3 * _NOTE_TYPE
        cell = (width / columns, (height - _NOTE_ROOM) / rows)
        for i, lateral in enumerate(laterals):
            x = left + (i % columns) * cell[0]
            top = low + height - _NOTE_ROOM - (i // columns) * cell[1]
            title = shorten(_title(site, lateral), cell[0] - 12.0, _TITLE_TYPE)
            write_text(axes, x, top - _TITLE_TYPE - 2.0, title, _TITLE_TYPE)
            room = (x + 28.0, top - cell[1] + 18.0, cell[0] - 40.0, cell[1] - 32.0)
            _draw_small(axes, room, site, lateral, reach)

    return draw


def _note(site: Site) -> str:
    short, tolerance = site.unit.short, site.settings.level_tolerance
    return (
        f"Solid: {ground_name(site)} along the lateral from its first stake, {short}, above or "
        "below the elevation that it is set to (dashed); heavy where it leaves the level "
        f"tolerance of ±{tolerance:g} {short} (dotted band). Heights are larger than lengths, and "
        "to one scale in all plots."
    )


def _title(site: Site, lateral: LateralMeasure) -> str:
    """Name, elevation set, and the range of the ground about it, which a plot may not reach."""
    unit = site.unit
    low, high = (
        f"{round(end - lateral.elevation, unit.places) + 0.0:+.{unit.places}f}"  # no -0.00
        for end in (lateral.elevation_min, lateral.elevation_max)
    )
    set_to = f"set to {number(lateral.elevation, unit.places)}"
    missed = "" if lateral.level_ok else ", out of level"
    return f"{lateral.name}: {set_to}, {low} to {high}{missed}"


def _plot(axes: Any, room: Rectangle) -> Any:
    """Axes of their own in a rectangle of the sheet [pt]."""
    left, low, width, height = room
    wide, high = axes.get_xlim()[1], axes.get_ylim()[1]
    return axes.figure.add_axes((left / wide, low / high, width / wide, height / high))


def _draw_small(
    axes: Any, room: Rectangle, site: Site, lateral: LateralMeasure, reach: float
) -> None:
    """One lateral in a rectangle of the sheet [pt], on the sheet's axes: new ones are slow."""
    from matplotlib.transforms import Affine2D, Bbox, TransformedBbox

    left, low, width, height = room
    length = float(lateral.station[-1])
    wide, high = width / length, height / (2.0 * reach)
    middle = low + 0.5 * height
    to = Affine2D().scale(wide, high).translate(left, middle) + axes.transData
    inside = TransformedBbox(Bbox.from_bounds(*room), axes.transData)
    for one in draw_level(axes, site, lateral, 0.0, to):
        one.set_clip_box(inside)
        one.set_gid(lateral.name)

    step = round_length(length / 3.0)
    count = int(length / step + 1e-9) + 1
    across = [left + k * step * wide for k in range(count)]
    grid = [((x, low - 2.0), (x, low + height), (np.nan, np.nan)) for x in across]
    axes.plot(*np.array(grid).reshape(-1, 2).T, color=PALE, lw=PENS["hair"], zorder=0.5)
    ink = ink_on(axes)
    for k, x in enumerate(across):
        ink.word(x, low - 2.5 - _TICK_TYPE, f"{k * step:g}", _TICK_TYPE, share=0.5)
    tolerance = site.settings.level_tolerance
    heights = {f"{-tolerance:g}": -tolerance, f"+{tolerance:g}": tolerance}
    if tolerance * high >= _TICK_TYPE:
        heights["0"] = 0.0
    up = [middle + level * high for level in heights.values()]
    for text, y in zip(heights, up, strict=True):
        ink.stroke(((left - 2.0, y), (left, y)), PENS["thin"], DIM)
        ink.word(left - 3.5, y - 0.36 * _TICK_TYPE, text, _TICK_TYPE, share=1.0)
    box(axes, room, "thin")
