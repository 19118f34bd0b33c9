"""What many differences between a plan and a layout have in common."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from dripfield.design.model import Design
from dripfield.review.judge.distances import gaps_between
from dripfield.review.model.limits import Limits
from dripfield.review.model.plan import Plan
from dripfield.review.model.result import Line

_FEWEST = 3
_ALIKE = 0.8  # of the lines have a cause in common


def plan_causes(design: Design, plan: Plan, lines: Sequence[Line], limits: Limits) -> list[str]:
    """Name what most lines that differ have in common.

    Parameters
    ----------
    design : Design
    plan : Plan
        In site coordinates where it is drawn.
    lines : sequence of Line
    limits : Limits

    Returns
    -------
    list of str
        Another spacing, the whole plan moved, elevations from another benchmark.
    """
    said = _spacing(design, plan, limits)
    if not said:
        said = _shift(lines, limits, design)
    return [*said, *_height(lines, limits, design)]


def _spacing(design: Design, plan: Plan, limits: Limits) -> list[str]:
    site = design.site
    stated = [run.spacing for run in plan.runs if run.spacing is not None]
    places = site.unit.places
    if stated:
        own, how = float(np.median(stated)), "stated"
    elif plan.totals.spacing is not None:
        own, how = plan.totals.spacing, "stated"
    elif plan.is_drawn and len(plan.runs) > 2:
        apart = gaps_between([run.xy for run in plan.runs if run.xy is not None])
        np.fill_diagonal(apart, math.inf)
        own, how = float(np.median(apart.min(axis=1))), "drawn"
    else:
        return []
    if abs(own - site.settings.spacing) <= limits.spacing.limit + 1e-6:
        return []
    return [
        f"spacing {own:.{places}f} on the plan against {site.settings.spacing:.{places}f} ({how})"
    ]


def _shift(lines: Sequence[Line], limits: Limits, design: Design) -> list[str]:
    """All runs aside by one vector: their ends against the ends of their laterals."""
    ends, off = [], 0
    for line in lines:
        if line.run is None or line.lateral is None or line.run.xy is None:
            continue
        a, b = line.run.xy[[0, -1]], line.lateral.xy[[0, -1]]
        turned = np.hypot(*(a - b).T).sum() > np.hypot(*(a[::-1] - b).T).sum()
        ends.append((a[::-1] if turned else a) - b)
        off += bool(line.offset_max is not None and line.offset_max > limits.offset.same)
    if len(ends) < _FEWEST or off < _ALIKE * len(ends):
        return []
    east, north = np.median(np.concatenate(ends), axis=0)
    far = math.hypot(east, north)
    left = np.hypot(*(np.array(ends) - (east, north)).transpose(2, 0, 1)).max(axis=1)
    if far <= limits.offset.same or (left <= limits.offset.limit).mean() < _ALIKE:
        return []
    unit, places = design.site.unit.short, design.site.unit.places
    bearing = math.degrees(math.atan2(east, north)) % 360.0
    return [
        f"the whole plan lies {far:.{places}f} {unit} towards {bearing:.0f}° of the layout "
        f"({north:+.{places}f} north, {east:+.{places}f} east)"
    ]


def _height(lines: Sequence[Line], limits: Limits, design: Design) -> list[str]:
    off = np.array(
        [
            line.run.elevation - line.lateral.elevation
            for line in lines
            if line.run is not None and line.lateral is not None and line.run.elevation is not None
        ]
    )
    if len(off) < _FEWEST:
        return []
    middle = float(np.median(off))
    wrong = (np.abs(off) > limits.elevation.limit + 1e-6).sum()
    left = (np.abs(off - middle) <= limits.elevation.limit).sum()
    if wrong < _ALIKE * len(off) or left < _ALIKE * len(off):
        return []
    unit, places = design.site.unit.short, design.site.unit.places
    word = "higher" if middle > 0.0 else "lower"
    return [
        f"the plan's elevations are {abs(middle):.{places}f} {unit} {word} than the layout's "
        "(median): another benchmark or datum?"
    ]
