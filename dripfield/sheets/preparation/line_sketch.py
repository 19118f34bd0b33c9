"""The profile of a pipe: its elevations along its way, the ground over it, its fall."""

from __future__ import annotations

from typing import Any

import numpy as np

from dripfield.core.lines import stations_along
from dripfield.core.units import Unit
from dripfield.preparation.gather import Line
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    PALE,
    PENS,
    WASH,
    round_length,
    text_width,
    write_text,
)
from dripfield.sheets.preparation.sheet import Rectangle

_LEFT = 54.0  # for elevations [pt]
_FOOT = 30.0  # for stations [pt]


def draw_line(axes: Any, line: Line, unit: Unit, rectangle: Rectangle) -> None:
    """Draw a profile, its heights stretched as its foot says, into a rectangle [pt].

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    line : Line
    unit : Unit
    rectangle : (left, low, width, height)
        [pt]
    """
    left, low, width, height = rectangle
    station, pipe, ground = stations_along(line.xyz), line.xyz[:, 2], line.ground
    known = np.concatenate((pipe, ground[np.isfinite(ground)]))
    least, most = float(known.min()), float(known.max())
    rise = max(most - least, 1e-3)
    x0, x1 = left + _LEFT, left + width - 16.0
    y0, y1 = low + _FOOT + 6.0, low + height - 22.0
    across, up = (x1 - x0) / max(station[-1], 1e-9), (y1 - y0) / rise
    up = min(up, 20.0 * across)

    def place(s: Any, z: Any) -> tuple[Any, Any]:
        return x0 + across * np.asarray(s), y0 + up * (np.asarray(z) - least)

    _scales(axes, (x0, y0, x1, y1), (across, up), (float(station[-1]), least, most), unit)
    axes.plot(*place(station, ground), color=DIM, lw=PENS["medium"], ls=(0, (6, 2)), zorder=2)
    axes.plot(*place(station, pipe), color=INK, lw=PENS["bold"], marker="o", ms=3.0, zorder=3)
    if line.profile is not None:
        _falls(axes, line, place, unit)
    ends = ("pump", "field") if line.use == "supply" else ("field", "tank")
    for text, x, side in ((ends[0], x0, "left"), (ends[1], x1, "right")):
        if line.use in ("supply", "return"):
            write_text(axes, x, y1 + 8.0, text, 8.5, ha=side, bold=True)
    note = f"pipe: line with dots; ground: dashed; heights drawn {up / across:.1f} times as large"
    write_text(axes, x0, low + 2.0, note, 8.0)


def _scales(
    axes: Any,
    box: tuple[float, float, float, float],
    scale: tuple[float, float],
    extent: tuple[float, float, float],
    unit: Unit,
) -> None:
    x0, y0, x1, y1 = box
    across, up = scale
    length, least, most = extent
    axes.plot([x0, x0, x1], [y1, y0 - 4.0, y0 - 4.0], color=INK, lw=PENS["thin"])
    step = round_length(max(60.0 / across, 1e-6))
    for i in range(int(length / step) + 1):
        x = x0 + across * i * step
        axes.plot([x, x], [y0 - 4.0, y0 - 8.0], color=INK, lw=PENS["thin"])
        text = f"{i * step:g}" + (f" {unit.short}" if i == 0 else "")
        write_text(axes, x, y0 - 17.0, text, 8.0, ha="center")
    step = round_length(max(30.0 / up, 1e-6))
    for i in range(int(np.ceil(least / step - 1e-9)), int(np.floor(most / step + 1e-9)) + 1):
        y = y0 + up * (i * step - least)
        axes.plot([x0, x1], [y, y], color=PALE, lw=PENS["hair"], zorder=0.5)
        write_text(axes, x0 - 5.0, y - 3.0, f"{i * step:.{unit.places}f}", 8.0, ha="right")


def _falls(axes: Any, line: Line, place: Any, unit: Unit) -> None:
    """The fall of each stretch over it, and where water stands."""
    profile = line.profile
    assert profile is not None
    for start, end, _ in profile.bellies:
        xs, _ = place([start, end], [0.0, 0.0])
        _, ys = place(profile.station, profile.elevation)
        low, high = float(ys.min()) - 4.0, float(ys.max()) + 4.0
        axes.fill([xs[0], xs[1], xs[1], xs[0]], [low, low, high, high], fc=WASH, lw=0, zorder=0.4)
    for i, fall in enumerate(profile.fall):
        xs, ys = place(profile.station[i : i + 2], profile.elevation[i : i + 2])
        if not np.isfinite(fall):
            continue
        text = f"{fall:.1%}"
        if text_width(text, 8.0, bold=i in profile.flat) > xs[1] - xs[0]:
            continue
        x, y = 0.5 * (xs[0] + xs[1]), 0.5 * (ys[0] + ys[1])
        steep = abs(ys[1] - ys[0]) * 0.5 * text_width(text, 8.0) / max(xs[1] - xs[0], 1.0)
        write_text(axes, x, y + 4.0 + steep, text, 8.0, ha="center", bold=i in profile.flat)
