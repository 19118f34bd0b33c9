"""Lengths as crews read them: decimal feet, feet-inches-eighths, metres to the millimetre."""

from __future__ import annotations

import math

from dripfield.core.units import Unit

_EIGHTHS_A_FOOT = 96
_FRACTIONS = ("", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8")


def decimal(length: float, unit: Unit) -> str:
    """A length with the decimals that a crew reads: ``5.37`` in feet, ``1.637`` in metres.

    Parameters
    ----------
    length : float
        [unit]
    unit : Unit

    Returns
    -------
    str
        Without the unit; empty for NaN; never a negative zero.
    """
    if math.isnan(length):
        return ""
    return f"{round(length, unit.places) + 0.0:.{unit.places}f}"


def feet_inches(feet: float) -> str:
    """Feet, inches and eighths, rounded to the nearest eighth (halves away from zero).

    Parameters
    ----------
    feet : float
        A length in either foot [ft].

    Returns
    -------
    str
        ``5'-4 1/2"`` for 5.375; ``-0'-6"`` for minus half a foot; empty for NaN.
    """
    if math.isnan(feet):
        return ""
    # the tiny addition keeps a half eighth such as 1/192 ft, which binary cannot hold, a half
    eighths = math.floor(abs(feet) * _EIGHTHS_A_FOOT + 0.5 + 1e-9)
    whole, rest = divmod(eighths, _EIGHTHS_A_FOOT)
    inches, fraction = divmod(rest, 8)
    sign = "-" if feet < 0 and eighths else ""
    return f"{sign}{whole}'-{inches}{' ' if fraction else ''}{_FRACTIONS[fraction]}\""


def both(length: float, unit: Unit) -> str:
    """Decimal feet and feet-inches-eighths side by side; in metres the decimal alone."""
    if unit.is_metric or math.isnan(length):
        return decimal(length, unit)
    return f"{decimal(length, unit)}  {feet_inches(length)}"
