"""Axes with scales of their own in a rectangle of a sheet."""

from __future__ import annotations

from typing import Any

from dripfield.sheets.kit.style import PALE, PENS, font

TYPE = 8.0
"""Size of their type [pt]."""


def inset(axes: Any, rectangle: tuple[float, float, float, float]) -> Any:
    """Axes in a rectangle of the sheet, with small type and thin lines.

    Parameters
    ----------
    axes : matplotlib Axes
        In points of the sheet.
    rectangle : (left, low, width, height)
        [pt]

    Returns
    -------
    matplotlib Axes
    """
    right, top = axes.get_xlim()[1], axes.get_ylim()[1]
    left, low, width, height = rectangle
    part = axes.figure.add_axes((left / right, low / top, width / right, height / top))
    part.tick_params(labelsize=TYPE, width=PENS["thin"])
    part.ticklabel_format(useOffset=False, style="plain")
    for spine in part.spines.values():
        spine.set_linewidth(PENS["thin"])
    part.grid(color=PALE, lw=PENS["hair"])
    for label in (*part.get_xticklabels(), *part.get_yticklabels()):
        label.set_fontproperties(font(TYPE))
    return part
