"""Profile of the worst way from pump to tank: pipe, ground, and hydraulic grade lines."""

from __future__ import annotations

from typing import Any

import numpy as np

from dripfield.distribution.grade_line import PARTS, GradeLine, grade_line
from dripfield.distribution.system import FieldSystem
from dripfield.hydraulics.build import DOSE, FLUSH
from dripfield.sheets.kit.page import Page, Rectangle
from dripfield.sheets.kit.style import DIM, INK, PENS, Paper, text_width, write_text
from dripfield.sheets.zones.inset import TYPE, inset

_NAMES = {
    "supply": "supply line",
    "feed": "supply manifold",
    "tubing": "",
    "collect": "return manifold",
    "return": "return line",
}
_DASHES = {DOSE: "-", FLUSH: (0.0, (5.0, 2.0))}


def profile_pages(system: FieldSystem, paper: Paper) -> list[Page]:
    """The page of the profile; none where no state is solved."""
    found = None if system.simulation is None else grade_line(system.simulation)
    if found is None:
        return []
    title = f"Profile through {found.joined} of {found.zone}, which has the least pressure"
    return [Page(title, paper, lambda axes, room: _draw(axes, room, system, found))]


def _draw(axes: Any, room: Rectangle, system: FieldSystem, line: GradeLine) -> None:
    left, low, width, height = room
    unit = system.design.site.unit.short
    said = _said(system, line)
    x, wide = left + 46.0, width - 56.0
    tall = 0.5 * (height - 11.0 * len(said) - 96.0)
    upper_low, lower_low = low + 66.0 + tall, low + 34.0
    upper = inset(axes, (x, upper_low, wide, tall))
    lower = inset(axes, (x, lower_low, wide, tall))
    bounds = _bounds(line)
    for part in (upper, lower):
        for edge in sorted({edge for _, *edges in bounds for edge in edges}):
            part.axvline(edge, color=DIM, lw=PENS["medium"], zorder=0)
        part.set_xlim(line.station[0], line.station[-1])
    _heads(upper, line)
    _ground(lower, system, line)
    span = line.station[-1] - line.station[0]
    for name, start, end in bounds:
        text = _NAMES[name] or line.joined
        if (end - start) / span * wide > 0.9 * text_width(text, TYPE, bold=True):
            middle = x + (0.5 * (start + end) - line.station[0]) / span * wide
            write_text(axes, middle, upper_low + tall + 5.0, text, TYPE, ha="center", bold=True)
    for i, text in enumerate(said):
        write_text(axes, left, low + height - 11.0 * (i + 1), text, TYPE)
    for text, y in ((f"head [{unit}]", upper_low), (f"elevation [{unit}]", lower_low)):
        write_text(
            axes, left + 6.0, y + 0.5 * tall, text, TYPE, ha="center", va="center", rotation=90
        )
    write_text(
        axes, x + 0.5 * wide, low + 6.0, f"distance from the pump along the pipe, in plan [{unit}]",
        TYPE, ha="center",
    )  # fmt: skip


def _heads(part: Any, line: GradeLine) -> None:
    """Hydraulic grade line in each state over the pipe, and the water in the tank."""
    part.plot(line.station, line.xyz[:, 2], color=DIM, lw=PENS["medium"])
    for state, head in line.head.items():
        part.plot(line.station, head, color=INK, lw=1.4, ls=_DASHES[state])
    part.plot(
        [line.station[0]], [line.level], marker="v", color=INK, ms=5, ls="none", clip_on=False
    )
    low = min(line.level, float(line.xyz[:, 2].min()))
    top = max(float(head.max()) for head in line.head.values())
    part.set_ylim(low - 0.06 * (top - low), top + 0.1 * (top - low))


def _ground(part: Any, system: FieldSystem, line: GradeLine) -> None:
    """The pipe under the ground, drawn higher than it is long."""
    ground = np.asarray(system.design.ground.surface.elevation(line.xyz[:, :2]), dtype=float)
    part.plot(line.station, ground, color=DIM, lw=PENS["medium"], ls=(0.0, (1.5, 1.5)))
    part.plot(line.station, line.xyz[:, 2], color=INK, lw=PENS["bold"])
    known = np.concatenate((line.xyz[:, 2], ground[np.isfinite(ground)]))
    margin = 0.08 * float(np.ptp(known)) + 1e-6
    part.set_ylim(known.min() - margin, known.max() + margin)
    _air(part, system, line)


def _said(system: FieldSystem, line: GradeLine) -> list[str]:
    """Pressures at the test points of the way in each state, and what the lines mean."""
    figures = system.figures
    said = []
    tubing = [k for k, part in enumerate(line.part) if part == "tubing"]
    for state, head in line.head.items():
        if figures is None:
            continue
        q = figures.q
        pressure = (head - line.xyz[:, 2]) * q.pressures
        said.append(
            f"{state} ({'solid' if state == DOSE else 'dashed'}): {pressure[0]:.1f} {q.pressure} "
            f"after pump and filter, {pressure[max(tubing[0] - 1, 0)]:.1f} into {line.joined}, "
            f"{pressure[tubing[-1]]:.1f} at its far end; {head[0] - head[-1]:.1f} {q.head} of head "
            "lost along what is shown"
        )
    said.append(
        "pipe: thin above, bold below; ground as surveyed: dotted, where it is known; circle: air "
        "and vacuum release; triangle: water in the tank when the pump stops"
    )
    return said


def _air(axes: Any, system: FieldSystem, line: GradeLine) -> None:
    """Air releases that stand on the way."""
    reach = 0.5 * system.design.site.settings.spacing
    for one in system.zones.air:
        away = np.hypot(*(line.xyz[:, :2] - one.xyz[:2]).T)
        k = int(np.argmin(away))
        if away[k] <= reach and one.zone in ("", line.zone):
            axes.plot(
                [line.station[k]], [line.xyz[k, 2]], marker="o", mfc="white", mec=INK, ms=5,
                ls="none", zorder=5,
            )  # fmt: skip


def _bounds(line: GradeLine) -> list[tuple[str, float, float]]:
    """Where each part of the way begins and ends."""
    found = []
    for part in PARTS:
        mine = [k for k, name in enumerate(line.part) if name == part and k > 0]
        if mine:
            found.append((part, float(line.station[mine[0] - 1]), float(line.station[mine[-1]])))
    return found
