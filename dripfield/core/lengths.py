"""Lengths as people type them: ``62'-4 1/2"``, ``1,234.5 LF``, ``EL. 101.25``, ``24" o.c.``"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

from dripfield.core.limits import most
from dripfield.core.units import Unit

System = Literal["feet", "metres"]

METRES = {
    "ft": 0.3048,
    "ftUS": 1200.0 / 3937.0,
    "in": 0.0254,
    "m": 1.0,
    "cm": 0.01,
    "mm": 0.001,
}
"""Units that a plan may be in, in metres (exact by definition, see :mod:`dripfield.core.units`)."""

UNIT_WORDS = {
    "ft": "feet",
    "ftUS": "US survey feet",
    "in": "inches",
    "m": "metres",
    "cm": "centimetres",
    "mm": "millimetres",
}

_UNIT_NAMES = {
    "in": {"in", "inch", "inches", '"'},
    "mm": {"mm"},
    "cm": {"cm"},
    "m": {"m", "metre", "metres", "meter", "meters"},
    "ft": {"ft", "feet", "foot", "lf", "ftus", "usft", "'"},
}
_NUMBER = r"(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?|\.\d+)"
_FRACTION = r"\d+\s*/\s*\d+"
_INCHES = rf"(?:\d+[\s-]+{_FRACTION}|{_FRACTION}|{_NUMBER})"
_FOOT_MARK = r"(?:'|ft\b\.?|feet\b|foot\b|l\.?f\b\.?)"
_INCH_MARK = r'(?:"|in\b\.?|inch(?:es)?\b)'
_QUANTITY = re.compile(
    rf"""(?<![\w.,/])(?P<sign>[-+])?(?:
        (?P<feet>{_NUMBER})\s*{_FOOT_MARK}\s*(?:-?\s*(?P<inches>{_INCHES})\s*{_INCH_MARK}
            |-\s*(?P<bare>{_INCHES})(?![\d./]))?
      | (?P<only>{_INCHES})\s*{_INCH_MARK}
      | (?P<metric>{_NUMBER})\s*(?P<unit>mm|cm|met(?:re|er)s?|m)\b
      | (?P<plain>{_INCHES})(?![\w./])
    )""",
    re.VERBOSE | re.IGNORECASE,
)
_BEFORE = {
    "el",
    "elev",
    "elevation",
    "l",
    "len",
    "length",
    "approx",
    "about",
    "ca",
    "at",
    "spacing",
}
_MARKS = str.maketrans(
    {
        "’": "'",
        "‘": "'",
        "′": "'",
        "´": "'",
        "`": "'",
        "”": '"',
        "“": '"',
        "″": '"',
        "–": "-",
        "—": "-",
        "−": "-",
        "\u00a0": " ",
        "\u202f": " ",
        "⁄": "/",
    }
)


@dataclass(frozen=True)
class TypedLength:
    """A length as typed: feet or metres where the text says so, else a bare number."""

    value: float
    system: System | None


def parse_length(text: str) -> TypedLength | None:
    """Read the one length in a text.

    Parameters
    ----------
    text : str
        What stands in a cell or beside a line. Words around the number are passed over; curly
        quotes, prime marks and vulgar fractions are understood.

    Returns
    -------
    TypedLength or None
        None when there is no number, a bare one behind words that do not go with a length, more
        than one that disagree (two that say the same in feet and metres do not), or inches of
        twelve and more after feet.
    """
    plain = _plain(text)
    matches = list(_QUANTITY.finditer(plain))
    found = [_value(match) for match in matches]
    if matches and matches[0]["plain"]:
        before = re.findall(r"[a-z]+", plain[: matches[0].start()].lower())
        if not _BEFORE.issuperset(before):
            return None  # "see sheet 4" is no length
    lengths = [one for one in found if one is not None]
    if not lengths or len(lengths) < len(found):
        return None
    first = lengths[0]
    return first if all(_agree(first, other) for other in lengths[1:]) else None


def unit_in(text: str) -> str | None:
    """The unit that a column's name gives, as in ``Length (ft)`` or ``elev, m``.

    ``ft-in`` is feet: a bare number in such a column is one of feet.

    Returns
    -------
    str or None
        A key of :data:`METRES`.
    """
    words = set(re.findall(r"[a-z]+|['\"]", _plain(text).lower()))
    found = [unit for unit, names in _UNIT_NAMES.items() if names & words]
    if found == ["in", "ft"]:
        return "ft"
    return found[0] if found else None


def system_of(unit: str) -> System:
    """The system of units that a unit belongs to: inches to feet, millimetres to metres."""
    return "metres" if unit in ("m", "cm", "mm") else "feet"


def into_unit(length: float, system: System, unit: Unit) -> float:
    """A length in feet or metres in a site's unit; feet on a site in feet are its own feet,
    whichever they are (2 in a million).

    Parameters
    ----------
    length : float
        [``system``]
    system : {'feet', 'metres'}
    unit : Unit
        The site's.

    Returns
    -------
    float
        [site unit]
    """
    if (system == "metres") == unit.is_metric:
        return length
    return length * METRES["m" if system == "metres" else "ft"] / unit.metres


def _plain(text: str) -> str:
    """Typographic quotes, dashes and vulgar fractions as a typewriter has them."""
    parts = []
    for letter in text.translate(_MARKS).replace("''", '"'):
        if unicodedata.category(letter) == "No" and unicodedata.decomposition(letter).startswith(
            "<fraction>"
        ):
            parts.append(" " + unicodedata.normalize("NFKD", letter).replace("⁄", "/"))
        else:
            parts.append(letter)
    return "".join(parts)


def _value(match: re.Match[str]) -> TypedLength | None:
    sign = -1.0 if match["sign"] == "-" else 1.0
    if match["feet"]:
        inches = match["inches"] or match["bare"]
        part = _number(inches) if inches else 0.0
        if part is None or part >= 12.0:
            return None
        return _typed(sign, match["feet"], 1.0, "feet", part / 12.0)
    if match["only"]:
        return _typed(sign, match["only"], 1.0 / 12.0, "feet")
    if match["metric"]:
        scale = {"mm": 0.001, "cm": 0.01}.get(match["unit"].lower(), 1.0)
        return _typed(sign, match["metric"], scale, "metres")
    return _typed(sign, match["plain"], 1.0, None)


def _typed(
    sign: float, text: str, scale: float, system: System | None, more: float = 0.0
) -> TypedLength | None:
    number = _number(text)
    return None if number is None else TypedLength(sign * (number * scale + more), system)


def _number(text: str) -> float | None:
    """``4 1/2``, ``3/8``, ``1,234.5`` or ``62,4`` as a number; None for a zero denominator and
    for digits without end."""
    if len(text) > most("digits"):
        return None
    if "/" in text:
        *whole, top, bottom = (int(part) for part in re.findall(r"\d+", text))
        return sum(whole) + top / bottom if bottom else None
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?", text):
        return float(text.replace(",", ""))
    return float(text.replace(",", "."))


def _agree(one: TypedLength, other: TypedLength) -> bool:
    metres = [
        length.value * (1.0 if length.system == "metres" else METRES["ft"])
        for length in (one, other)
    ]
    return {one.system, other.system} == {"feet", "metres"} and abs(metres[0] - metres[1]) <= (
        0.005 * abs(metres[0]) + 0.01
    )
