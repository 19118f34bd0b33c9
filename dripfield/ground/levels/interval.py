"""Which elevations get a level line: an interval of the 1-2-5 series, every fifth line major."""

from __future__ import annotations

import math

import numpy as np

from dripfield.core.arrays import Bools, Floats

_MAJOR = 5


def auto_interval(relief: float, most_lines: int = 20) -> float:
    """The finest interval of the series 1, 2, 5, 10 … (or 0.5, 0.2, 0.1 …) with few enough lines.

    Parameters
    ----------
    relief : float
        Highest less lowest elevation [any unit].
    most_lines : int
        Lines across that relief at most.

    Returns
    -------
    float
        In the unit of the relief; 1 where there is no relief.
    """
    if not relief > 0.0:
        return 1.0
    least = relief / most_lines
    power = math.floor(math.log10(least))
    for exponent in (power, power + 1):
        for mantissa in (1, 2, 5):
            interval = float(f"{mantissa}e{exponent}")
            if interval >= least * (1.0 - 1e-12):
                return interval
    raise AssertionError("a decade holds a step of the series above any number below its end")


def levels_between(low: float, high: float, interval: float) -> tuple[Floats, Bools]:
    """Whole multiples of an interval from low to high, and which of them are major.

    Parameters
    ----------
    low, high : float
        Elevations [any unit].
    interval : float
        Greater than zero, same unit.

    Returns
    -------
    levels : (k,) float array
        Ascending, each the decimal number that its label shows.
    major : (k,) bool array
        Every fifth multiple, counted from elevation zero.
    """
    number = np.arange(math.ceil(low / interval - 1e-9), math.floor(high / interval + 1e-9) + 1)
    decimals = max(0, 9 - math.floor(math.log10(interval)))
    return np.round(number * interval, decimals), number % _MAJOR == 0
