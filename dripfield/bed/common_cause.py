"""One cause for many differences: a shift, or a shift and a tilt, that takes them away.

Both are fitted so that a few blunders do not set them: the shift is the median, the tilt the plane
of least absolute deviations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats

_EXPLAINS = 0.9  # share of the shots that must be within tolerance once the cause is taken off
_LEAST_SHOTS = 5
_MOST_FITTED = 400


@dataclass(frozen=True)
class CommonCause:
    """What most differences have in common.

    Attributes
    ----------
    shift : float
        At the middle of the shots, positive where the work is high [site unit].
    tilt : (2,) float array
        Rise of the differences per unit of easting and of northing; zeros for a shift alone.
    within : int
        Shots within tolerance once it is taken off.
    count : int
    """

    shift: float
    tilt: Floats
    within: int
    count: int

    @property
    def tilts(self) -> bool:
        """Whether it is more than a shift."""
        return bool(np.any(self.tilt))


def common_cause(xy: Floats, difference: Floats, tolerance: float) -> CommonCause | None:
    """A shift, or else a shift and a tilt, that brings nine in ten shots within tolerance.

    Parameters
    ----------
    xy : (n, 2) float array
    difference : (n,) float array
        Measured less design [site unit].
    tolerance : float

    Returns
    -------
    CommonCause or None
        None where few shots are out, nothing explains them, or they are fewer than five.

    Notes
    -----
    The plane of least absolute deviations is a linear programme (H. M. Wagner, "Linear programming
    techniques for regression analysis", J. Am. Stat. Assoc. 54 (1959)).
    """
    count = len(difference)
    already = int((np.abs(difference) <= tolerance + 1e-9).sum())
    if count < _LEAST_SHOTS or already > 0.5 * count:
        return None
    middle = xy.mean(axis=0)
    shift = float(np.median(difference))
    for tilt in (np.zeros(2), None):
        if tilt is None:
            shift, tilt = _plane(xy - middle, difference)
        rest = difference - shift - (xy - middle) @ tilt
        within = int((np.abs(rest) <= tolerance + 1e-9).sum())
        if within >= _EXPLAINS * count:
            return CommonCause(shift, tilt, within, count)
    return None


def _plane(near: Floats, difference: Floats) -> tuple[float, Floats]:
    from scipy.optimize import linprog

    step = -(-len(near) // _MOST_FITTED)
    near, difference = near[::step], difference[::step]
    size = max(float(np.abs(near).max()), 1e-9)
    columns = np.column_stack((np.ones(len(near)), near / size))
    count = len(near)
    found = linprog(
        np.concatenate((np.zeros(3), np.ones(2 * count))),
        A_eq=np.column_stack((columns, np.eye(count), -np.eye(count))),
        b_eq=difference,
        bounds=[(None, None)] * 3 + [(0.0, None)] * (2 * count),
        method="highs",
    )
    if found.x is None:
        return float(np.median(difference)), np.zeros(2)
    return float(found.x[0]), np.asarray(found.x[1:3] / size)
