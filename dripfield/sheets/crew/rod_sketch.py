"""Side sketch: the beam, the rod, and what the rod's foot stands on when a lateral is levelled."""

from __future__ import annotations

from typing import Any

from dripfield.core.words import length_text
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import Say
from dripfield.sheets.kit.style import DIM, INK, PALE, PENS, WASH, write_text

HEIGHT = 104.0
"""Of the sketch [pt]."""

_TYPE = 8.0  # [pt]
_DEEP = 24.0  # of the trench as drawn [pt]


def draw_sketch(axes: Any, work: CrewWork, say: Say, left: float, top: float, width: float) -> None:
    """Draw the sketch.

    Parameters
    ----------
    axes : Axes
        In points.
    work : CrewWork
    say : callable
        From :func:`dripfield.sheets.crew.language.speaking`.
    left, top, width : float
        Its corner and how wide it may be [pt].
    """
    foot, depth = work.settings.rod_foot, work.settings.rod_depth
    beam, ground = top - 16.0, top - HEIGHT + 40.0
    middle = left + 0.36 * width
    dug = _DEEP if depth > 0.0 else 0.0
    right = left + 0.78 * width
    half = 20.0
    line = [(left, ground)]
    if dug:
        line += [(middle - half, ground), (middle - half, ground - dug)]
        line += [(middle + half, ground - dug), (middle + half, ground)]
    line += [(right, ground)]
    x, y = zip(*line, strict=True)
    base = ground - _DEEP - 12.0
    axes.fill([*x, right, left], [*y, base, base], fc=WASH, ec="none", lw=0)
    axes.plot(x, y, color=INK, lw=PENS["bold"])
    stands = ground - dug
    if foot == "sand":
        low, high = (middle - half, middle + half) if dug else (left, right)
        axes.fill(
            [low, high, high, low],
            [stands - 7.0, stands - 7.0, stands, stands],
            fc="#ffffff",
            ec=INK,
            lw=PENS["thin"],
            hatch="...",
        )
    if foot == "tubing":
        axes.plot([middle], [stands + 3.0], marker="o", ms=6.0, mfc="#ffffff", mec=INK, mew=1.0)
        stands += 6.0
    axes.plot([left, right], [beam] * 2, color=INK, lw=PENS["medium"], ls=(0, (6, 3)))
    axes.fill(
        [middle - 3.0, middle + 3.0, middle + 3.0, middle - 3.0],
        [stands, stands, beam + 9.0, beam + 9.0],
        fc="#ffffff",
        ec=INK,
        lw=PENS["medium"],
    )
    for k in range(1, int((beam - stands) // 7.0) + 1):
        axes.plot([middle - 3.0, middle], [stands + 7.0 * k] * 2, color=INK, lw=PENS["thin"])
    over = middle + 14.0 if not dug else middle + half + 6.0
    arrow = {"arrowstyle": "<->", "color": INK, "lw": PENS["medium"]}
    axes.annotate("", xy=(over, beam), xytext=(over, stands), arrowprops=arrow)
    if dug:
        axes.plot([middle + 4.0, over + 4.0], [stands] * 2, color=PALE, lw=PENS["thin"])
        deep = left + 0.62 * width
        axes.annotate("", xy=(deep, ground), xytext=(deep, ground - dug), arrowprops=arrow)
        axes.plot([middle + half, deep + 4.0], [ground - dug] * 2, color=DIM, lw=PENS["thin"])
        words = length_text(depth, work.design.site.unit)
        write_text(axes, deep + 6.0, ground - 0.5 * dug - 3.0, words, _TYPE)
    write_text(axes, over + 6.0, 0.5 * (beam + ground), say("sketch_rod"), _TYPE)
    write_text(axes, right + 4.0, beam - 3.0, say("sketch_beam"), _TYPE)
    write_text(axes, right + 4.0, ground - 3.0, say("sketch_ground"), _TYPE)
    name = {"ground": "", "trench": "sketch_trench", "sand": "sketch_sand"}.get(foot)
    name = "sketch_tubing" if name is None else name
    if name:
        write_text(axes, middle, base - 9.0, say(name), _TYPE, ha="center")
