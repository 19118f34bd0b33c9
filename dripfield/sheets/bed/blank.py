"""A blank sheet, a map on it, and words down its side: what the bed's sheets have in common."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from shapely.geometry.base import BaseGeometry

from dripfield.sheets.map_frame import MapFrame, fit_frame
from dripfield.sheets.plan_margin import north_arrow, scale_bar
from dripfield.sheets.style import (
    DIM,
    INK,
    MARGIN,
    PENS,
    POINTS_PER_INCH,
    Paper,
    drawing_defaults,
    shorten,
    text_width,
    usual_papers,
    wrap,
    write_text,
)
from dripfield.site.model import Site

if TYPE_CHECKING:
    from matplotlib.figure import Figure

STRIP = 44.0  # under the map, for north arrow, scale bar and legend [pt]
PANEL = 236.0  # words beside the map [pt]
_GUTTER = 12.0
_BORDER = (16.0, 16.0)  # round what the map must show [pt]
_SIZE = 7.0

Line = str | tuple[str, ...]


def blank_sheet(paper: Paper) -> tuple[Figure, Any]:
    """A figure of the paper's size with axes in points from its lower left corner."""
    from matplotlib.figure import Figure

    with drawing_defaults():
        figure = Figure(
            figsize=(paper.width / POINTS_PER_INCH, paper.height / POINTS_PER_INCH),
            facecolor="white",
        )
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_axis_off()
        axes.set_autoscale_on(False)
        axes.set_xlim(0.0, paper.width)
        axes.set_ylim(0.0, paper.height)
    return figure, axes


def map_sheet(site: Site, ground: BaseGeometry) -> tuple[Figure, Any, MapFrame, Paper]:
    """A blank sheet with a map frame that shows ``ground``, north arrow and scale bar.

    The smaller of the unit's two usual papers, upright or lying, whichever gives the larger scale.
    """
    small, _ = usual_papers(site.unit)
    frame, paper = min(
        ((_frame(site, ground, sheet), sheet) for sheet in (small, small.turned())),
        key=lambda option: option[0].scale.per_point,
    )
    figure, axes = blank_sheet(paper)
    left, low, right, top = frame.window.bounds
    axes.plot(
        (left, right, right, left, left), (low, low, top, top, low), color=INK, lw=PENS["thin"]
    )
    north_arrow(axes, frame.left + 16.0, low - 0.5 * STRIP - 3.0, frame.turn)
    scale_bar(axes, frame, paper, site, frame.left + 44.0, low - STRIP)
    return figure, axes, frame, paper


def _frame(site: Site, ground: BaseGeometry, paper: Paper) -> MapFrame:
    low = MARGIN + STRIP
    width = paper.width - 2.0 * MARGIN - PANEL - _GUTTER
    rectangle = (MARGIN, low, width, paper.height - MARGIN - low)
    return fit_frame(site.unit, ground.convex_hull, rectangle, _BORDER)


def write_panel(
    axes: Any,
    paper: Paper,
    title: str,
    subtitle: str,
    parts: Sequence[tuple[str, Sequence[Line]]],
) -> None:
    """Write headed lists down the right side of a map sheet.

    A line is text, wrapped, or cells: the first at the left, the rest flush right in even columns.
    What has no room is counted at the foot.
    """
    left = paper.width - MARGIN - PANEL
    y = paper.height - MARGIN
    for text in wrap(title, PANEL, 13.0, 2, bold=True):
        y -= 15.0
        write_text(axes, left, y, text, 13.0, bold=True)
    for text in wrap(subtitle, PANEL, _SIZE, 3):
        y -= 9.5
        write_text(axes, left, y, text, _SIZE, color=DIM)
    left_out = 0
    for head, lines in parts:
        if y < MARGIN + 40.0:
            left_out += len(lines)
            continue
        if head:
            y -= 17.0
            write_text(axes, left, y, head, 8.0, bold=True)
        for line in lines:
            if y < MARGIN + 20.0:
                left_out += 1
                continue
            y = _write_line(axes, left, y, line)
    if left_out:
        write_text(axes, left, MARGIN, f"and {left_out} more lines: see the tables", _SIZE)


def _write_line(axes: Any, left: float, y: float, line: Line) -> float:
    """Write one line under ``y``; returns its last base line."""
    if isinstance(line, str):
        for text in wrap(line, PANEL, _SIZE, 6):
            y -= 9.5
            write_text(axes, left, y, text, _SIZE)
        return y - 1.5
    y -= 10.0
    first, *rest = line
    column = 0.8 * PANEL / max(len(rest), 1)
    room = PANEL
    if rest:
        room -= column * (len(rest) - 1) + text_width(rest[0], _SIZE) + 4.0
    write_text(axes, left, y, shorten(first, room, _SIZE), _SIZE)
    for number, cell in enumerate(reversed(rest)):
        room = column if number < len(rest) - 1 else PANEL
        size = _SIZE if text_width(cell, _SIZE) <= room else 0.85 * _SIZE
        write_text(axes, left + PANEL - number * column, y, cell, size, ha="right")
    return y
