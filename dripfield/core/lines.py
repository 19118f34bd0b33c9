"""Lengths along lines: of their legs, up to each of their points, in all."""

from __future__ import annotations

import numpy as np

from dripfield.core.arrays import Floats


def leg_lengths(line: Floats) -> Floats:
    """Length in plan of each leg of a line: (k, 2 or more) -> (k - 1,) [unit of the line]."""
    return np.asarray(np.hypot(*np.diff(np.asarray(line)[:, :2], axis=0).T))


def stations_along(line: Floats) -> Floats:
    """Distance in plan along a line up to each of its points: (k, 2 or more) -> (k,)."""
    return np.concatenate(([0.0], np.cumsum(leg_lengths(line))))


def line_length(line: Floats) -> float:
    """Length in plan of a line (k, 2 or more) [unit of the line]."""
    return float(leg_lengths(line).sum())
