"""Totals on a sheet that lists no runs: tubing, laterals, area, spacing."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from dripfield.core.errors import input_error
from dripfield.core.lengths import METRES, into_unit, parse_length, system_of, unit_in
from dripfield.core.units import Unit
from dripfield.review.model.plan import StatedTotals
from dripfield.review.read.sheet_cells import Cells

_AREA = re.compile(r"\barea\b", re.IGNORECASE)
_SPACING = re.compile(r"\b(?:spacing|on cent(?:re|er)s?|o\.?c\.?)\b", re.IGNORECASE)
_EMITTER = re.compile(r"\bemitters?\b", re.IGNORECASE)
_COUNT = re.compile(
    r"\b(?:number|count|no\.?|qty|quantity)\b.*\b(?:laterals?|runs?|lines?)\b"
    r"|^\s*(?:drip\s+)?(?:laterals|runs|lines)\s*:?\s*$",
    re.IGNORECASE,
)
_LENGTH = re.compile(
    r"\b(?:tubing|dripline|drip line|total length|length|footage)\b", re.IGNORECASE
)
_NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")


def read_totals(sheets: Sequence[Cells], path: Path, unit: Unit) -> StatedTotals:
    """Read rows that name a total in one cell and give it in another.

    Parameters
    ----------
    sheets : sequence of Cells
    path : Path
    unit : Unit
        The site's.

    Returns
    -------
    StatedTotals
        In the site's unit; the first row of a kind counts.

    Raises
    ------
    InputError
        A total in metres on a site in feet, or the other way about.
    """
    found: dict[str, float] = {}
    for cells in sheets:
        for row, texts in enumerate(cells.rows, 1):
            kind = _kind(texts)
            if kind is None or kind in found:
                continue
            value = _value(kind, texts, row, path, unit)
            if value is not None:
                found[kind] = value
    return StatedTotals(
        length=found.get("length"),
        runs=int(found["runs"]) if "runs" in found else None,
        area=found.get("area"),
        spacing=found.get("spacing"),
    )


def _kind(texts: Sequence[str]) -> str | None:
    """What a row is the total of, by its first cell of words."""
    words = next((text for text in texts if re.search(r"[A-Za-z]{3}", text)), "")
    if _EMITTER.search(words):
        return None
    if _AREA.search(words):
        return "area"
    if _SPACING.search(words):
        return "spacing"
    if _COUNT.search(words):
        return "runs"
    return "length" if _LENGTH.search(words) else None


def _value(kind: str, texts: Sequence[str], row: int, path: Path, unit: Unit) -> float | None:
    """The number of a row; a unit stands with it, in the heading or in a cell of its own."""
    # a cell that begins with its number, rather than a unit such as ft2 or words with one in them
    cells = [text for text in texts if re.match(r"\W*\d", text)]
    cells = cells or [text for text in texts if _NUMBER.search(text)]
    if not cells:
        return None
    if kind in ("runs", "area"):
        match = _NUMBER.search(cells[-1] if len(cells) > 1 else cells[0])
        number = float(match[0].replace(",", "")) if match else None
        if number is None or (kind == "runs" and number != int(number)):
            return None
        if kind == "area":
            _check_system(" ".join(texts), row, path, unit)
        return number
    typed = next((one for one in map(parse_length, cells) if one is not None), None)
    if typed is None:
        return None
    if typed.system is not None:
        _check_system(cells[0], row, path, unit, typed.system)
        return into_unit(typed.value, typed.system, unit)
    places = [part for text in texts for part in re.findall(r"\((.*?)\)|\[(.*?)\]", text)]
    units = [*(one for pair in places for one in pair), *(t for t in texts if len(t) <= 4)]
    own = next((name for name in map(unit_in, units) if name is not None), None)
    if own is None:
        return typed.value
    system = system_of(own)
    _check_system(own, row, path, unit, system)
    scale = METRES[own] / METRES["m" if system == "metres" else "ft"]
    return into_unit(typed.value * scale, system, unit)


def _check_system(said: str, row: int, path: Path, unit: Unit, system: str | None = None) -> None:
    """Refuse metres on a site in feet, and feet on a site in metres."""
    if system is None:
        metric = re.search(r"\bm2\b|\bm²|square met|sq\.? ?m\b", said, re.IGNORECASE)
        feet = re.search(r"\bft2\b|\bft²|square f|sq\.? ?f|\bsf\b", said, re.IGNORECASE)
        system = "metres" if metric else "feet" if feet else system_of(unit.value)
    if system != system_of(unit.value):
        raise input_error(
            f"{said!r} is in {system} and the site in {system_of(unit.value)}",
            "give the total in the site's unit",
            file=path,
            row=row,
        )
