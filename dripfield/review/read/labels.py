"""What the writing beside a run says: its name, its elevation, its length."""

from __future__ import annotations

import re
from dataclasses import dataclass

from dripfield.core.lengths import TypedLength, parse_length

_NAME = re.compile(
    r"(?:(?:lateral|lat|line|run|no|number)\b\.?|#)?\s*#?"
    r"(?P<name>(?:[A-Za-z]{1,3}[-_ ]?){0,2}\d{1,3}[A-Za-z]?)(?![\w.'/\"])",
    re.IGNORECASE,
)
_ELEVATION = re.compile(r"(?:\b(?:el|elev|elevation)\b\.?\s*[:=]?|@)\s*(?P<value>.+)", re.I)
_LENGTH = re.compile(r"\b(?:l|len|length)\b\.?\s*[:=]\s*(?P<value>.+)", re.I)
_DECIMAL = re.compile(r"(?<![\w.])-?\d+\.\d+(?![\w.'\"])")
_FOOTAGE = re.compile(r"(?<![\w.])[\d,.]+\s*(?:'|l\.?f\b|ft\b|feet\b|m\b)[-\d\s/\"']*", re.I)


@dataclass(frozen=True)
class Label:
    """What one line of writing says; None for what it does not say."""

    name: str | None = None
    elevation: TypedLength | None = None
    length: TypedLength | None = None


def read_label(text: str) -> Label:
    """Take a line of writing apart.

    ``L05  EL 101.25  L=62.4'`` gives all three; a bare decimal is an elevation where it stands
    behind a name; a whole number alone is a name of up to two digits. Words that are none of these
    give an empty label.
    """
    rest = text.strip()
    name = None
    match = _NAME.match(rest)
    if match and not _is_word(match["name"]):
        name = match["name"].strip()
        rest = rest[match.end() :]
    elif name is None and not _ELEVATION.match(rest) and not _LENGTH.match(rest):
        return Label()
    elevation = _part(_ELEVATION, rest)
    length = _part(_LENGTH, rest)
    if length is None and (footage := _FOOTAGE.search(rest)) and not _ELEVATION.search(rest):
        length = parse_length(footage[0])
    if name is not None and elevation is None:
        decimals = _DECIMAL.findall(rest)
        if len(decimals) == 1 and length is None:
            elevation = parse_length(decimals[0])
    return Label(name, elevation, length)


def _is_word(name: str) -> bool:
    """True for what looks like a name but is a number of more than two digits, or ``EL 101``."""
    return bool(re.fullmatch(r"\d{3,}", name)) or bool(re.match(r"(?:el|elev)\b", name, re.I))


def _part(pattern: re.Pattern[str], text: str) -> TypedLength | None:
    """The first length behind a word."""
    match = pattern.search(text)
    if match is None:
        return None
    value = match["value"]
    for other in (_ELEVATION, _LENGTH):  # the next word ends this one's value
        cut = other.search(value)
        value = value[: cut.start()] if cut else value
    return parse_length(value)
