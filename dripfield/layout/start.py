"""Where the first lateral goes: the start that lets the most tubing fit."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from dripfield.arrays import Floats
from dripfield.layout.laying import length_of

EVEN_STARTS = 6


def starts(events: Floats, period: float) -> Floats:
    """Starts worth trying: just where a line touches a corner of the area, and some even ones.

    Parameters
    ----------
    events : (k,) float array
        The lines' coordinate at the corners of the area.
    period : float
        Distance between lines in the same coordinate.
    """
    even = period * np.arange(EVEN_STARTS) / EVEN_STARTS
    return np.unique(np.round(np.mod(np.concatenate((events, even)), period), 9))


def tubing(lines: Sequence[Floats], least: float) -> float:
    """Length of the lines that are not too short to lay."""
    lengths = np.array([length_of(line) for line in lines])
    return float(lengths[lengths >= least].sum()) if len(lengths) else 0.0


def best_start(candidates: Floats, tubing_from: Callable[[float], float]) -> float:
    """The candidate with the most tubing, the first of equals."""
    lengths = [tubing_from(float(start)) for start in candidates]
    return float(candidates[int(np.argmax(np.round(lengths, 6)))])
