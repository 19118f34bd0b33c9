"""The plan in small for each number of panels, with what each gives and what each step costs."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.design.choice_notes import price_of_steps
from dripfield.design.model import Design
from dripfield.layout.model import Layout, PanelOption
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PAPER_WHITE,
    PENS,
    POINTS_PER_INCH,
    WASH,
    drawing_defaults,
    save_figure,
    shorten,
    text_width,
    usual_papers,
    wrap,
    write_text,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_HEAD = 44.0  # height of the title [pt]
_FOOT = 28.0  # height of the line at the foot [pt]
_GAP = 16.0  # between cells [pt]
_SIZE = 8.0  # of the figures' type [pt]
_LINE = 11.0  # from line to line [pt]
_LINES = 7  # of words under a plan
_MOST_COLUMNS = 4


def options_figure(design: Design) -> Figure:
    """Small multiples of the plan, one for each number of panels.

    Parameters
    ----------
    design : Design
        Its layout has options with their layouts.

    Returns
    -------
    Figure
    """
    from matplotlib.figure import Figure

    options = tuple(one for one in design.layout.options if one.layout is not None)
    paper = usual_papers(design.site.unit)[0]
    size = (paper.width / POINTS_PER_INCH, paper.height / POINTS_PER_INCH)
    short = design.site.unit.short
    with drawing_defaults():
        figure = Figure(figsize=size, facecolor=PAPER_WHITE)
        page = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        page.set_xlim(0.0, paper.width)
        page.set_ylim(0.0, paper.height)
        page.axis("off")
        title = f"{design.site.name}: panels to choose from"
        write_text(
            page,
            MARGIN,
            paper.height - MARGIN - 14.0,
            shorten(title, paper.width - 2.0 * MARGIN, 14.0, bold=True),
            14.0,
            bold=True,
        )
        write_text(
            page,
            MARGIN,
            paper.height - MARGIN - 28.0,
            "Short: tubing less than the most that would fit level and evenly spaced. Each lateral "
            "counts as one connection.",
            _SIZE,
            color=DIM,
        )
        write_text(
            page,
            MARGIN,
            MARGIN,
            "Another is taken with panels = N under [layout] in site.toml. Layout laid: code "
            f"{design.code}.",
            _SIZE,
            color=DIM,
        )
        room = (MARGIN, MARGIN + _FOOT, paper.width - MARGIN, paper.height - MARGIN - _HEAD)
        for (option, step, best), cell in zip(
            price_of_steps(options, short), _cells(design, len(options), room), strict=True
        ):
            _draw_cell(page, design, option, _words(option, step, best, short), cell)
    return figure


def write_options(design: Design, path: Path) -> None:
    """Write :func:`options_figure` as a picture."""
    save_figure(options_figure(design), path)


def _words(option: PanelOption, step: str, best: bool, short: str) -> list[str]:
    """What is said under one plan, a line each."""
    words = [
        f"merit {option.merit:.3f}, {option.laterals} connections",
        f"{option.tubing:,.0f} {short} of tubing, {option.short:,.0f} {short} short",
        f"runs: mean {option.mean:,.0f} {short}, shortest {option.shortest:,.0f} {short}",
    ]
    if step:
        words.append(f"this step: {step}")
    if not best:
        words.append("another has as much merit with as few connections")
    return words


def _cells(
    design: Design, count: int, room: tuple[float, float, float, float]
) -> list[tuple[float, float, float, float]]:
    """Cells (left, low, right, top), row by row, in the columns that let plans be largest."""
    left, low, right, top = room
    west, south, east, north = design.site.bed.boundary.bounds
    best, scale = 1, -1.0
    for columns in range(1, min(_MOST_COLUMNS, count) + 1):
        rows = math.ceil(count / columns)
        width = (right - left - (columns - 1) * _GAP) / columns
        height = (top - low - (rows - 1) * _GAP) / rows - _LINES * _LINE
        here = min(width / (east - west), height / (north - south))
        if here > scale and width > 150.0:
            best, scale = columns, here
    rows = math.ceil(count / best)
    width = (right - left - (best - 1) * _GAP) / best
    height = (top - low - (rows - 1) * _GAP) / rows
    return [
        (
            left + (k % best) * (width + _GAP),
            top - (k // best) * (height + _GAP) - height,
            left + (k % best) * (width + _GAP) + width,
            top - (k // best) * (height + _GAP),
        )
        for k in range(count)
    ]


def _draw_cell(
    page: Any,
    design: Design,
    option: PanelOption,
    words: list[str],
    cell: tuple[float, float, float, float],
) -> None:
    """One plan with its head and its words under it."""
    left, low, right, top = cell
    head = f"{option.panels} panel{'s' if option.panels > 1 else ''}"
    write_text(page, left, top - 10.0, head, 10.0, bold=True)
    if option.chosen:
        at = left + text_width(head, 10.0, bold=True) + 8.0
        write_text(page, at, top - 10.0, "laid", 10.0, bold=True, color=PAPER_WHITE, bbox=_badge())
    lines = [line for one in words for line in wrap(one, right - left, _SIZE, 2)]
    for k, line in enumerate(lines[: _LINES - 1]):
        write_text(page, left, low + (_LINES - 2.2 - k) * _LINE, line, _SIZE)
    if option.layout is not None:
        window = (left, low + (_LINES - 1) * _LINE, right, top - 15.0)
        _draw_plan(page, design, option.layout, window)


def _badge() -> dict[str, Any]:
    return {"boxstyle": "round,pad=0.25", "fc": INK, "ec": INK}


def _draw_plan(
    page: Any, design: Design, layout: Layout, window: tuple[float, float, float, float]
) -> None:
    """Bed, keepouts, panels and laterals in a window of the page, north up."""
    from matplotlib.collections import LineCollection

    left, low, right, top = window
    west, south, east, north = design.site.bed.boundary.bounds
    scale = min((right - left) / (east - west), (top - low) / (north - south))
    middle = np.array(((left + right) / 2.0, (low + top) / 2.0))
    centre = np.array(((west + east) / 2.0, (south + north) / 2.0))

    def on_page(xy: Any) -> Any:
        return (np.asarray(xy)[:, :2] - centre) * scale + middle

    for number, area in enumerate(layout.panels.values()):
        if number % 2:
            _fill(page, shapely.transform(area, on_page), fc=WASH, ec="none", alpha=0.55, zorder=1)
    for keepout in design.site.bed.keepouts:
        _fill(
            page, shapely.transform(keepout, on_page), fc=PAPER_WHITE, ec=DIM, lw=0.5, hatch="////"
        )
    lines = [on_page(one.xy) for one in layout.laterals]
    page.add_collection(LineCollection(lines, colors=INK, linewidths=PENS["thin"], zorder=3))
    for seam in layout.seams:
        page.plot(*on_page(seam).T, color=INK, lw=PENS["medium"], ls=(0.0, (6, 2, 1, 2)), zorder=4)
    edge = on_page(shapely.get_coordinates(design.site.bed.boundary.exterior))
    page.plot(*edge.T, color=INK, lw=PENS["medium"], zorder=5)


def _fill(page: Any, shape: BaseGeometry, **look: Any) -> None:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Outline

    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    if rings:
        paths = (Outline(np.asarray(ring.coords), closed=True) for ring in rings)
        page.add_patch(PathPatch(Outline.make_compound_path(*paths), **look))
