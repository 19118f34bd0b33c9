"""Where the first lateral goes: the start that lets the most tubing fit."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from dripfield.core.arrays import Floats

FEW = 20  # laterals: with so few the start matters more, and costs less to find
_EVEN = 2
_EVEN_OF_FEW = 4


def starts(events: Floats, period: float) -> Floats:
    """Starts worth trying: just where a line touches a corner of the area, and some even ones.

    Parameters
    ----------
    events : (k,) float array
        The lines' coordinate at the corners of the area.
    period : float
        Distance between lines in the same coordinate.

    Returns
    -------
    (n,) float array
        Rising, from 0 to the period.
    """
    even = _EVEN_OF_FEW if np.ptp(events) < FEW * period else _EVEN
    spread = period * np.arange(even) / even
    return np.unique(np.round(np.mod(np.concatenate((events, spread)), period), 9))


def best_start(candidates: Floats, lengths_from: Callable[[float], Floats], least: float) -> float:
    """The start with the most tubing, the first of equals.

    Parameters
    ----------
    candidates : (k,) float array
    lengths_from : callable
        Lengths of the pieces for a start.
    least : float
        Pieces shorter than this are not laid.

    Returns
    -------
    float
    """
    tubing = []
    for start in candidates:
        lengths = lengths_from(float(start))
        tubing.append(float(lengths[lengths >= least].sum()))
    return float(candidates[int(np.argmax(np.round(tubing, 6)))])
