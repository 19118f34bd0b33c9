"""What stands round every map on paper: north arrow, scale bar, legend, title block, cautions."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from dripfield.core.units import Unit
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    PAPER_WHITE,
    PENS,
    WASH,
    Paper,
    round_length,
    text_width,
    wrap,
    write_text,
)

STRIP_HEIGHT = 44.0  # under a map on a small sheet, for what stands there [pt]
_NOTE_SIZES = (8.0, 7.6, 7.2, 6.8, 6.4, 6.0, 5.5, 5.0)  # the first with which the notes fit [pt]

Swatch = Callable[[Any, float, float], None]
"""Draws a sample of a look on axes, 22 points wide, from its left end at the middle of a line."""

Entry = tuple[str, Swatch]
Room = tuple[float, float, float, float]
"""Left, low, right, top [pt]."""


def north_arrow(axes: Any, x: float, y: float, turn: float) -> None:
    """An arrow to grid north about (x, y); the ground is turned ``turn`` degrees.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    x, y : float
        Middle of the arrow [pt].
    turn : float
        Counter-clockwise on the sheet [degrees].
    """
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
    axes: Any, frame: MapFrame, paper: Paper, unit: Unit, left: float, low: float
) -> float:
    """Four divisions of a round length with the scale under them.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    frame : MapFrame
    paper : Paper
    unit : Unit
    left, low : float
        Corner of a strip of :data:`STRIP_HEIGHT` [pt].

    Returns
    -------
    float
        Its right edge [pt].
    """
    step = round_length(36.0 * frame.scale.per_point)
    width = frame.scale.paper(step)
    y, thick = low + 0.5 * STRIP_HEIGHT, 4.0
    for i in range(4):
        x = left + i * width
        corners = [(x, y), (x + width, y), (x + width, y + thick), (x, y + thick)]
        fill = INK if i % 2 == 0 else PAPER_WHITE
        axes.fill(*np.array(corners).T, fc=fill, ec=INK, lw=0.6, zorder=9)
    for i in (0, 1, 2, 4):
        text = f"{i * step:g}" + (f" {unit.short}" if i == 4 else "")
        write_text(
            axes, left + i * width, y + thick + 2.5, text, 7.0 * paper.type_scale, ha="center"
        )
    note = f"{frame.scale.text} on {paper.label}"
    size = 7.5 * paper.type_scale
    write_text(axes, left, y - 3.0 - size, note, size, bold=True)
    return left + max(4.0 * width + 10.0, text_width(note, size, bold=True))


def legend(
    axes: Any,
    entries: Sequence[Entry],
    room: Room,
    type_scale: float = 1.0,
) -> None:
    """Entries in as many columns as the room has, read downwards.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    entries : sequence of (str, Swatch)
    room : (left, low, right, top)
        [pt]
    type_scale : float
        Of the type, :attr:`dripfield.sheets.kit.style.Paper.type_scale`.
    """
    left, low, right, top = room
    size = 8.0 * type_scale
    need = [text_width(text, size) + 40.0 for text, _ in entries]
    rows, widths = 0, [math.inf]
    while rows < len(entries) and sum(widths) > right - left + 12.0:
        rows += 1
        widths = [max(need[i : i + rows]) for i in range(0, len(need), rows)]
    step = min(1.6 * size, (top - low - 2.0) / max(rows, 1))
    first = 0.5 * (low + top + rows * step)
    for i, (text, swatch) in enumerate(entries):
        x, y = left + sum(widths[: i // rows]), first - (i % rows + 0.5) * step
        swatch(axes, x, y)
        write_text(axes, x + 27.0, y - 0.36 * size, text, min(size, step))


def stroke(*, band: bool = False, **look: Any) -> Swatch:
    """A line, or a mark where the look has a marker; ``band`` is what lies under a faulty line."""

    def draw(axes: Any, x: float, y: float) -> None:
        points = (x, x + 22.0) if look.get("marker") is None else (x + 11.0,)
        if band:
            axes.plot(points, [y] * len(points), lw=PENS["band"], color=WASH)
        axes.plot(points, [y] * len(points), **{"color": INK, **look})

    return draw


def patch(colour: str = INK, hatch: str | None = None, face: str = PAPER_WHITE) -> Swatch:
    """A filled or hatched area.

    Parameters
    ----------
    colour : str
        Of outline and hatching.
    hatch : str or None
        Hatching as matplotlib writes it.
    face : str
        Colour of the filling.

    Returns
    -------
    Swatch
        Draws it in a legend.
    """

    def draw(axes: Any, x: float, y: float) -> None:
        corners = np.array([(x, y - 3.5), (x + 22, y - 3.5), (x + 22, y + 3.5), (x, y + 3.5)])
        axes.fill(*corners.T, fc=face, ec=colour, hatch=hatch, lw=0.6)

    return draw


def fall_arrow(axes: Any, x: float, y: float) -> None:
    """The arrow that shows the fall of the ground.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    x, y : float
        Left end, half way up [pt].
    """
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


@dataclass(frozen=True)
class Block:
    """A part of a title block: its share of the width, what heads it, and its facts.

    ``name`` is the site's, written large above ``head``, in the block that carries it.
    """

    share: float
    head: str
    facts: Sequence[str]
    name: str = ""


def title_block(
    axes: Any,
    rectangle: tuple[float, float, float, float],
    blocks: Sequence[Block],
    type_scale: float = 1.0,
    *,
    least: float = 0.0,
    more: str = "… more in the run's summary",
) -> None:
    """Blocks side by side in a ruled box.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    rectangle : (left, low, width, height)
        [pt]
    blocks : sequence of Block
        Their shares add up to 1.
    type_scale : float
        Of the type, :attr:`dripfield.sheets.kit.style.Paper.type_scale`.
    least : float
        Type that facts are not set smaller than [pt].
    more : str
        Stands where facts are left out.
    """
    left, low, width, height = rectangle
    right, top = left + width, low + height
    box(axes, rectangle, "medium")
    x = left
    for block in blocks:
        if x > left:
            axes.plot([x, x], [low, top], color=INK, lw=PENS["thin"])
        room = block.share * width - 12.0
        y = top - 4.0
        if block.name:
            y = _large_name(axes, block.name, x + 6.0, y, room, type_scale)
            y -= 11.0 * type_scale
            write_text(axes, x + 6.0, y, block.head, 8.0 * type_scale)
        else:
            y -= 9.0 * type_scale
            write_text(axes, x + 6.0, y, block.head, 8.0 * type_scale, bold=True)
        place = (x + 6.0, low + 3.0, x + 6.0 + room, y - 2.0)
        write_facts(axes, block.facts, place, type_scale, least=least, more=more)
        x += block.share * width
    if x < right - 1.0:
        axes.plot([x, x], [low, top], color=INK, lw=PENS["thin"])


def box(axes: Any, rectangle: tuple[float, float, float, float], pen: str = "thin") -> None:
    """A rectangle (left, low, width, height) [pt] drawn with a pen of :data:`PENS`.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    rectangle : (left, low, width, height)
        [pt]
    pen : str
        Name in :data:`PENS`.
    """
    left, low, width, height = rectangle
    right, top = left + width, low + height
    axes.plot([left, right, right, left, left], [low, low, top, top, low], color=INK, lw=PENS[pen])


def _large_name(axes: Any, name: str, x: float, y: float, room: float, type_scale: float) -> float:
    """The name in one line or two of large type, or three of small; returns the last base line."""
    for size, most in ((14.0, 1), (11.0, 2), (8.5, 3)):
        size *= type_scale
        lines = wrap(name, room, size, most, bold=True)
        if not lines[-1].endswith("…"):
            break
    for line in lines:
        y -= 1.15 * size
        write_text(axes, x, y, line, size, bold=True)
    return y


def write_facts(
    axes: Any,
    facts: Sequence[str],
    room: Room,
    type_scale: float = 1.0,
    *,
    least: float = 0.0,
    more: str = "… more in the run's summary",
) -> None:
    """Facts, wrapped; in smaller type when they do not fit.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    facts : sequence of str
    room : (left, low, right, top)
        [pt]
    type_scale : float
        Of the type, :attr:`dripfield.sheets.kit.style.Paper.type_scale`.
    least : float
        Type that they are not set smaller than [pt].
    more : str
        Stands where some are left out.
    """
    left, low, right, top = room
    sizes = {*_NOTE_SIZES, *(size * type_scale for size in _NOTE_SIZES)}
    for size in sorted((one for one in sizes if one >= least), reverse=True):
        lines = [line for fact in facts for line in wrap(fact, right - left, size, 6)]
        if top - 1.3 * size * len(lines) >= low:
            break
    fitting = int((top - low) / (1.3 * size))
    if len(lines) > fitting:
        lines = [*lines[: fitting - 1], more]
    for i, line in enumerate(lines):
        write_text(axes, left, top - 1.3 * size * (i + 1), line, size)


def caution_line(
    axes: Any, texts: Sequence[str], room: Room, size: float = 8.0, colour: str = DIM
) -> float:
    """Cautions in running text at the foot of a room.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    texts : sequence of str
    room : (left, low, right, top)
        [pt]
    size : float
        Of the type [pt].
    colour : str

    Returns
    -------
    float
        Their upper edge [pt].
    """
    left, low, right, _ = room
    lines = wrap(" ".join(texts), right - left, size, 4)
    for i, line in enumerate(reversed(lines)):
        write_text(axes, left, low + 1.25 * size * i, line, size, color=colour)
    return low + 1.25 * size * len(lines)
