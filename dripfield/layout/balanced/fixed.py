"""Seams that the site file fixes: two points each, carried on to the top and bottom of the bed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import InputError, input_error
from dripfield.layout.balanced.seams import LEFT, RIGHT, Seam, Seams

_STEEPEST = 4.0  # run to the side for one down: beyond it a seam runs along the laterals


def fixed_cuts(seams: Seams, given: Sequence[Floats]) -> tuple[Seam, ...]:
    """Fixed seams as cuts of the bed, from left to right.

    Parameters
    ----------
    seams : Seams
        Where seams can run in the bed.
    given : sequence of (2, 2) float arrays
        Two points of each in local coordinates.

    Returns
    -------
    tuple of Seam
        The bed's own ends first and last.

    Raises
    ------
    InputError
        A seam runs along the laterals, misses the bed, or two of them cross in it.
    """
    cuts = []
    for number, points in enumerate(given, 1):
        run, down = points[1] - points[0]
        if abs(run) > _STEEPEST * abs(down) or not np.hypot(run, down):
            raise _refused(number, "it runs along the laterals", "let it run down the slope")
        top, bottom = (
            float(points[0, 0] + run / down * (v - points[0, 1])) for v in (seams.top, seams.bottom)
        )
        cut = Seam(top, bottom)
        if seams.length(cut) <= 0.0:
            raise _refused(number, "it does not cross the bed", "check its points, northing first")
        cuts.append((cut, number))
    cuts.sort()
    for (left, one), (right, other) in pairwise(cuts):
        if right.bottom <= left.bottom or right.top <= left.top:
            raise _refused(one, f"it crosses seam {other}", "let seams run side by side")
    return (LEFT, *(cut for cut, _ in cuts), RIGHT)


def _refused(number: int, problem: str, remedy: str) -> InputError:
    return input_error(problem, remedy, file="site.toml", field=f"[[layout.seams]] {number}")
