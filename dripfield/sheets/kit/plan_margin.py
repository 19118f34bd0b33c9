"""Round the map of a plan: north arrow, scale bar, legend, title block."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from dripfield.core.cautions import cautions
from dripfield.design.model import Design
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.marks import FAULT_MARKS, missed_parts
from dripfield.sheets.kit.notes import layout_facts, missed_facts, site_facts
from dripfield.sheets.kit.plan_map import (
    FAULT_DASHES,
    GAP_HATCH,
    KEEPOUT_HATCH,
    SEAM_DASHES,
    SETBACK_DASHES,
)
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PALE,
    PAPER_WHITE,
    PENS,
    WASH,
    Paper,
    round_length,
    text_width,
    wrap,
    write_text,
)
from dripfield.sheets.kit.suspects import SUSPECT_MARK
from dripfield.site.model import Site

_NOTE_SIZES = (7.6, 7.2, 6.8, 6.4, 6.0, 5.5, 5.0)  # the first with which the notes fit [pt]


STRIP_HEIGHT = 44.0  # on a small sheet [pt]


def strip_height(paper: Paper) -> float:
    """Height under the map for north arrow, scale bar and legend [pt]."""
    return STRIP_HEIGHT * paper.type_scale


def title_height(paper: Paper) -> float:
    """Height of the title block at the foot of the sheet [pt]."""
    return 112.0 * paper.type_scale


def draw_strip(axes: Any, frame: MapFrame, paper: Paper, design: Design, relief: Relief) -> None:
    """North arrow, scale bar and legend in the strip under the map."""
    height = strip_height(paper)
    middle = frame.low - 0.5 * height
    north_arrow(axes, frame.left + 16.0, middle - 3.0, frame.turn)
    right = scale_bar(
        axes, frame, paper, design.site, frame.left + 44.0, middle - 0.5 * STRIP_HEIGHT
    )
    entries = _legend_entries(design, relief)
    room = (right + 18.0, middle - 0.5 * height, paper.width - MARGIN, middle + 0.5 * height)
    _legend(axes, entries, room, paper.type_scale)


def north_arrow(axes: Any, x: float, y: float, turn: float) -> None:
    """An arrow to grid north about (x, y); the ground is turned ``turn`` degrees."""
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    spin = np.array(((cos, sin), (-sin, cos)))
    left = np.array([(0, 13), (-6, -11), (0, -6)]) @ spin + (x, y)
    right = np.array([(0, 13), (6, -11), (0, -6)]) @ spin + (x, y)
    axes.fill(*left.T, fc=PAPER_WHITE, ec=INK, lw=0.8, zorder=9)
    axes.fill(*right.T, fc=INK, ec=INK, lw=0.8, zorder=9)
    letter = np.array((0.0, 18.0)) @ spin + (x, y)
    write_text(
        axes, letter[0], letter[1], "N", 9.0, bold=True, ha="center", va="center_baseline", zorder=9
    )


def scale_bar(
    axes: Any, frame: MapFrame, paper: Paper, site: Site, left: float, low: float
) -> float:
    """Four divisions of a round length with the scale under them; returns its right edge."""
    step = round_length(36.0 * frame.scale.per_point)
    width = frame.scale.paper(step)
    y, thick = low + 0.5 * STRIP_HEIGHT, 4.0
    for i in range(4):
        x = left + i * width
        corners = [(x, y), (x + width, y), (x + width, y + thick), (x, y + thick)]
        fill = INK if i % 2 == 0 else PAPER_WHITE
        axes.fill(*np.array(corners).T, fc=fill, ec=INK, lw=0.6, zorder=9)
    for i in (0, 1, 2, 4):
        text = f"{i * step:g}" + (f" {site.unit.short}" if i == 4 else "")
        write_text(
            axes, left + i * width, y + thick + 2.5, text, 7.0 * paper.type_scale, ha="center"
        )
    note = f"{frame.scale.text} on {paper.label}"
    size = 7.5 * paper.type_scale
    write_text(axes, left, y - 3.0 - size, note, size, bold=True)
    return left + max(4.0 * width + 10.0, text_width(note, size, bold=True))


_Swatch = Callable[[Any, float, float], None]


def _legend_entries(design: Design, relief: Relief) -> list[tuple[str, _Swatch]]:
    """Only what the map shows, laterals first."""
    faults = {part.fault for one in design.measured.laterals for part in missed_parts(one)}
    entries: list[tuple[str, _Swatch]] = [("lateral", _stroke(lw=PENS["lateral"]))]
    for fault, dashes in FAULT_DASHES.items():
        if fault in faults:
            entries.append(
                (
                    f"out of {fault} ({FAULT_MARKS[fault]})",
                    _stroke(lw=PENS["lateral"], ls=dashes, band=True),
                )
            )
    entries.append(("bed", _stroke(lw=PENS["bold"])))
    if relief.levels:
        text = f"level line, every {relief.interval:g} {design.site.unit.short}"
        entries.append((text, _stroke(lw=PENS["hair"], color=DIM)))
    if design.layout.seams:
        entries.append(("seam of panels", _stroke(lw=PENS["medium"], ls=SEAM_DASHES)))
    if design.site.bed.setbacks:
        entries.append(("setback", _stroke(lw=0.7, ls=SETBACK_DASHES)))
    if design.site.bed.keepouts:
        entries.append(("keepout", _patch(KEEPOUT_HATCH, INK)))
    if relief.gaps is not None and not relief.gaps.is_empty:
        entries.append(("no survey", _patch(GAP_HATCH, DIM)))
    entries.append(("survey shot", _stroke(ls="none", marker="o", ms=2.0, mew=0, color=PALE)))
    if relief.suspects:
        entries.append(("suspect shot", _stroke(ms=7.0, **SUSPECT_MARK)))
    entries.append(("fall of ground", _arrow))
    return entries


def _stroke(*, band: bool = False, **look: Any) -> _Swatch:
    def draw(axes: Any, x: float, y: float) -> None:
        points = (x, x + 22.0) if look.get("marker") is None else (x + 11.0,)
        if band:
            axes.plot(points, [y] * len(points), lw=PENS["band"], color=WASH)
        axes.plot(points, [y] * len(points), **{"color": INK, **look})

    return draw


def _patch(hatch: str, colour: str) -> _Swatch:
    def draw(axes: Any, x: float, y: float) -> None:
        corners = np.array([(x, y - 3.5), (x + 22, y - 3.5), (x + 22, y + 3.5), (x, y + 3.5)])
        axes.fill(*corners.T, fc=PAPER_WHITE, ec=colour, hatch=hatch, lw=0.6)

    return draw


def _arrow(axes: Any, x: float, y: float) -> None:
    axes.annotate(
        "",
        xy=(x + 21.0, y),
        xytext=(x + 1.0, y),
        arrowprops={
            "arrowstyle": "-|>,head_width=0.18,head_length=0.36",
            "shrinkA": 0.0,
            "shrinkB": 0.0,
            "lw": 1.3,
            "color": DIM,
            "mutation_scale": 14.0,
        },
    )


def _legend(
    axes: Any,
    entries: Sequence[tuple[str, _Swatch]],
    room: tuple[float, float, float, float],
    type_scale: float,
) -> None:
    """Entries in as many columns as the room (left, low, right, top) has, read downwards."""
    left, low, right, top = room
    size = 6.8 * type_scale
    cell = max(text_width(text, size) for text, _ in entries) + 40.0
    columns = max(int((right - left) / cell), 1)
    rows = math.ceil(len(entries) / columns)
    step = min(1.9 * size, (top - low - 2.0) / rows)
    first = 0.5 * (low + top + rows * step)
    for i, (text, swatch) in enumerate(entries):
        x, y = left + (i // rows) * cell, first - (i % rows + 0.5) * step
        swatch(axes, x, y)
        write_text(axes, x + 27.0, y - 0.36 * size, text, min(size, step))


def draw_title(
    axes: Any,
    rectangle: tuple[float, float, float, float],
    design: Design,
    relief: Relief,
    *,
    extra: Sequence[str] = (),
    type_scale: float = 1.0,
) -> None:
    """The title block: site, layout, what is missed, cautions, side by side in a ruled box.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    rectangle : (left, low, width, height)
        [pt]
    site, relief, layout, measured
    extra : sequence of str
        Further notes, after what is missed.
    type_scale : float
        Of the type, :attr:`dripfield.sheets.kit.style.Paper.type_scale`.
    """
    left, low, width, height = rectangle
    right, top = left + width, low + height
    axes.plot(
        [left, right, right, left, left], [low, low, top, top, low], color=INK, lw=PENS["medium"]
    )
    gap_area = 0.0 if relief.gaps is None else float(relief.gaps.area)
    missed = [*missed_facts(design, gap_area), *extra]
    columns: tuple[tuple[float, str, Sequence[str]], ...] = (
        (0.27, "", site_facts(design.site, design.ground)),
        (0.25, "Layout", layout_facts(design)),
        (0.24, "To know", missed),
        (0.24, "Caution", cautions("utilities", "wastewater")),
    )
    x = left
    for share, head, facts in columns:
        if x > left:
            axes.plot([x, x], [low, top], color=INK, lw=PENS["thin"])
        room = share * width - 12.0
        y = top - 4.0
        if head:
            y -= 9.0 * type_scale
            write_text(axes, x + 6.0, y, head, 8.0 * type_scale, bold=True)
        else:
            y = _site_name(axes, design.site.name, x + 6.0, y, room, type_scale)
        _write_facts(axes, facts, (x + 6.0, low + 3.0, x + 6.0 + room, y - 2.0), type_scale)
        x += share * width


def _site_name(axes: Any, name: str, x: float, y: float, room: float, type_scale: float) -> float:
    """The name in one line or two of large type, or three of small; returns the last base line."""
    for size, most in ((14.0, 1), (11.0, 2), (8.5, 3)):
        size *= type_scale
        lines = wrap(name, room, size, most, bold=True)
        if not lines[-1].endswith("…"):
            break
    for line in lines:
        y -= 1.15 * size
        write_text(axes, x, y, line, size, bold=True)
    y -= 11.0 * type_scale
    write_text(axes, x, y, "Plan of laterals", 8.0 * type_scale)
    return y


def _write_facts(
    axes: Any,
    facts: Sequence[str],
    room: tuple[float, float, float, float],
    type_scale: float,
) -> None:
    """Facts, wrapped, in a room (left, low, right, top); in smaller type when they do not fit."""
    left, low, right, top = room
    sizes = {*_NOTE_SIZES, *(size * type_scale for size in _NOTE_SIZES)}
    for size in sorted(sizes, reverse=True):
        lines = [line for fact in facts for line in wrap(fact, right - left, size, 6)]
        if top - 1.3 * size * len(lines) >= low:
            break
    fitting = int((top - low) / (1.3 * size))
    if len(lines) > fitting:
        lines = [*lines[: fitting - 1], "… more in the run's summary"]
    for i, line in enumerate(lines):
        write_text(axes, left, top - 1.3 * size * (i + 1), line, size)
