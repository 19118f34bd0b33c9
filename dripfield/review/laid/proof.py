"""What the shots prove: how near together they must be, and where more are needed."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.units import Unit
from dripfield.core.verdict import MeasureMore
from dripfield.review.laid.record_result import RecordLine
from dripfield.review.model.limits import Limits, LineVerdict

_STEP = 1.1  # a step of the person with the rod is no tape: a tenth more than asked for passes


def unproven(xyz: Floats, limits: Limits, unit: Unit) -> tuple[float, list[str]]:
    """What the shots of one lateral leave open.

    Parameters
    ----------
    xyz : (k, 3) float array
        Its shots, in order along it [site unit].
    limits : Limits
    unit : Unit

    Returns
    -------
    gap : float
        Greatest distance between two shots that follow each other [site unit]; infinite for one.
    said : list of str
        Why something is not proven; empty when all is.
    """
    said = []
    gaps = np.hypot(*np.diff(xyz[:, :2], axis=0).T)
    gap = float(gaps.max()) if len(gaps) else math.inf
    if len(xyz) == 1:
        said.append("one shot only: its length, its ends and what lies along it are not proven")
    elif gap > _STEP * limits.shot_spacing:
        wide = int((gaps > _STEP * limits.shot_spacing).sum())
        said.append(
            f"{wide} of {len(gaps)} stretches between shots are longer than "
            f"{limits.shot_spacing:g} {unit.short}, the longest {gap:.1f}: what lies between is "
            "not proven"
        )
    if not np.isfinite(xyz[:, 2]).all():
        said.append("shots without an elevation: its level is not proven")
    return gap, said


def measure_more(lines: Sequence[RecordLine], limits: Limits) -> list[MeasureMore]:
    """Where more shots are needed: in the middle of what is open, at ends, along what was not shot.

    Parameters
    ----------
    lines : sequence of RecordLine
    limits : Limits

    Returns
    -------
    list of MeasureMore
    """
    found = []
    for line in lines:
        if line.lateral is None:
            continue
        if line.verdict is LineVerdict.NOT_LAID:
            middle = line.lateral.xy[[0, -1]].mean(axis=0)
            found.append(_place(middle, f"{line.name}: no shot"))
            continue
        xy = line.xyz[:, :2]
        if len(xy) == 1:
            for end, word in ((0, "start"), (-1, "end")):
                place = line.lateral.xy[end]
                if np.hypot(*(place - xy[0])) > 1.0:
                    found.append(_place(place, f"{line.name}: its {word}"))
            continue
        gaps = np.hypot(*np.diff(xy, axis=0).T)
        for number in np.flatnonzero(gaps > _STEP * limits.shot_spacing):
            why = f"{line.name}: {gaps[number]:.1f} between shots"
            found.append(_place(xy[number : number + 2].mean(axis=0), why))
    return found


def _place(xy: Floats, why: str) -> MeasureMore:
    return MeasureMore(float(xy[1]), float(xy[0]), why)
