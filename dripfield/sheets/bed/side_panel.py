"""Words down the side of the bed's map sheets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dripfield.sheets.kit.blank import PANEL
from dripfield.sheets.kit.style import (
    DIM,
    MARGIN,
    Paper,
    shorten,
    text_width,
    wrap,
    write_text,
)

_SIZE = 8.0

Line = str | tuple[str, ...]


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

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    paper : Paper
    title, subtitle : str
    parts : sequence of (str, sequence of Line)
        Each a heading, empty for none, and its lines.
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
        room = column - 6.0 if number < len(rest) - 1 else PANEL
        size = _SIZE if text_width(cell, _SIZE) <= room else 0.85 * _SIZE
        write_text(axes, left + PANEL - number * column, y, cell, size, ha="right")
    return y
