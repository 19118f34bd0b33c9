"""Numbers, lengths and lists as they are written: one form for sheets, tables and messages."""

from __future__ import annotations

import math
from collections.abc import Sequence

from dripfield.core.units import Unit

COORDINATE_PLACES = 4
"""Decimals of a coordinate in a file: joining stakes gives the drawn line back to 0.001 ft."""


def number(value: float, places: int) -> str:
    """A decimal with so many places; empty for NaN or infinity; never a negative zero."""
    if not math.isfinite(value):
        return ""
    return f"{round(value, places) + 0.0:.{places}f}"


def signed(value: float, places: int) -> str:
    """A number with its sign and so many decimals, none on what rounds to zero."""
    text = number(value, places)
    return f"+{text}" if value > 0.0 and float(text) else text


def number_range(low: float, high: float, places: int) -> str:
    """``1.92–2.10``; one figure when both are the same; a dash where there is none.

    Parameters
    ----------
    low, high : float
        In any unit; NaN where there is none.
    places : int
        Decimals.

    Returns
    -------
    str
    """
    least, greatest = number(low, places), number(high, places)
    if least == greatest:
        return least or "–"
    return "–".join(filter(None, (least, greatest)))


def length_text(length: float, unit: Unit, places: int | None = None) -> str:
    """A length with its unit: ``5.37 ft``, ``1.637 m``; empty for NaN.

    Parameters
    ----------
    length : float
        [unit]
    unit : Unit
    places : int, optional
        Decimals; those a crew reads unless given.

    Returns
    -------
    str
    """
    text = number(length, unit.places if places is None else places)
    return f"{text} {unit.short}" if text else ""


def counted(number: int, what: str, many: str | None = None) -> str:
    """``1 lateral``, ``2 laterals``; ``many`` is the plural where it takes more than an s.

    Parameters
    ----------
    number : int
    what : str
        The noun for one.
    many : str or None
        The noun for several; None adds an s.

    Returns
    -------
    str
    """
    return f"{number} {plural(number, what, many)}"


def plural(number: int, what: str, many: str | None = None) -> str:
    """The noun that goes with a number: ``lateral`` with 1, else ``laterals``.

    Parameters
    ----------
    number : int
    what : str
        The noun for one.
    many : str or None
        The noun for several; None adds an s.

    Returns
    -------
    str
    """
    return what if number == 1 else many or f"{what}s"


def joined(items: Sequence[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def first_few(items: Sequence[str], most: int = 12) -> str:
    """Names with commas between, those beyond ``most`` counted: ``a, b and 3 more``."""
    shown = ", ".join(items[:most])
    return f"{shown} and {len(items) - most} more" if len(items) > most else shown


def plain(text: str) -> str:
    """Text on one line: runs of white space and control characters become one space."""
    if not text.isprintable():
        text = "".join(c if c.isprintable() else " " for c in text)
    return " ".join(text.split())
