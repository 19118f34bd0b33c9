"""Elevations as lines across a side sketch, and their labels beside it, none over another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dripfield.sheets.kit.style import DIM, INK, PALE, PENS, wrap, write_text

TYPE = 8.5
_STEP = 11.5  # between lines of labels [pt]


@dataclass(frozen=True)
class Label:
    """What is said of a height; ``y`` is its place on the sheet [pt]."""

    y: float
    text: str
    bold: bool = False


def spread(
    heights: Sequence[float], sizes: Sequence[float], low: float, high: float
) -> list[float]:
    """Middles of labels as near to their heights as goes without one over another.

    Parameters
    ----------
    heights : sequence of float
        Wanted, from the lowest up [pt].
    sizes : sequence of float
        Height of each label [pt].
    low, high : float
        Between which they must lie [pt].

    Returns
    -------
    list of float
        [pt]
    """
    found: list[float] = []
    edge = low
    for wanted, size in zip(heights, sizes, strict=True):
        middle = max(wanted, edge + 0.5 * size)
        found.append(middle)
        edge = middle + 0.5 * size
    edge = high
    for i in range(len(found) - 1, -1, -1):
        found[i] = min(found[i], edge - 0.5 * sizes[i])
        edge = found[i] - 0.5 * sizes[i]
    return found


def write_labels(
    axes: Any,
    labels: Sequence[Label],
    edge: float,
    room: tuple[float, float, float, float],
) -> None:
    """Labels in a column beside a sketch, each tied to its height by a thin line.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    labels : sequence of Label
    edge : float
        Of the sketch, from which the lines start [pt].
    room : (left, low, right, top)
        That the labels may fill, right or left of the edge [pt].
    """
    left, low, right, top = room
    to_right = left >= edge
    ordered = sorted(labels, key=lambda one: one.y)
    texts = [wrap(one.text, right - left, TYPE, 3, bold=one.bold) for one in ordered]
    sizes = [_STEP * len(lines) for lines in texts]
    places = spread([one.y for one in ordered], sizes, low, top)
    for one, lines, y in zip(ordered, texts, places, strict=True):
        near = left - 3.0 if to_right else right + 3.0
        turn = near - 9.0 if to_right else near + 9.0
        axes.plot([edge, turn, near], [one.y, y, y], color=DIM, lw=PENS["hair"], zorder=2)
        for i, line in enumerate(lines):
            base = y + (0.5 * (len(lines) - 1) - i) * _STEP - 0.36 * TYPE
            write_text(
                axes,
                left if to_right else right,
                base,
                line,
                TYPE,
                bold=one.bold,
                ha="left" if to_right else "right",
            )


def ground_line(axes: Any, left: float, right: float, y: float) -> None:
    """Finished grade: a bold line with strokes of soil under it.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    left, right : float
        Ends of the line [pt].
    y : float
        [pt]
    """
    axes.plot([left, right], [y, y], color=INK, lw=PENS["bold"], zorder=3)
    x = left + 4.0
    while x < right - 4.0:
        axes.plot([x, x - 4.0], [y - 1.0, y - 6.0], color=DIM, lw=PENS["thin"], zorder=1)
        x += 9.0


def water_line(axes: Any, left: float, right: float, y: float) -> None:
    """Ground water: a dashed line with the usual triangle on it.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    left, right : float
        Ends of the line [pt].
    y : float
        [pt]
    """
    axes.plot([left, right], [y, y], color=INK, lw=PENS["thin"], ls=(0, (7, 3, 1, 3)), zorder=2.5)
    axes.fill(
        [left + 6.0, left + 16.0, left + 11.0], [y + 8.0, y + 8.0, y], fc=PALE, ec=INK, lw=0.5
    )
