"""Rows of text as tables: numbers keep the decimals that they are written with."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dripfield.core.table import Cell, Column, Figure, Table
from dripfield.distribution.system import FieldSystem
from dripfield.hydraulics.quantities import Quantities, quantities

Row = tuple[str, ...]


_TEXTS = frozenset(
    ("zone", "joined", "laterals", "lateral", "state", "requirement", "source", "value", "limit",
     "verdict", "where", "pipe", "role", "size", "chosen", "number", "line", "protects", "what",
     "caution", "fault", "note", "read", "tank", "level", "enough", "why")
)  # fmt: skip


def table_of(columns: Sequence[str], rows: Sequence[Row], numbers: Sequence[str] = ()) -> Table:
    """Rows of text as a table; a number keeps the decimals that it is written with.

    Parameters
    ----------
    columns : sequence of str
        Keys.
    rows : sequence of tuple of str
        A cell for each key; empty where there is none.
    numbers : sequence of str
        Keys of numbers that are named as some text is.

    Returns
    -------
    Table
    """
    texts = [key not in numbers and (key in _TEXTS or key.endswith("unit")) for key in columns]

    def cell(text: str, *, is_text: bool) -> Cell:
        if is_text:
            return text
        whole, _, decimals = text.partition(".")
        if not decimals:
            return int(whole) if whole else None
        return Figure(float(text), len(decimals))

    return Table(
        [
            Column(key, kind="text" if is_text else "number")
            for key, is_text in zip(columns, texts, strict=True)
        ],
        [
            [cell(text, is_text=is_text) for text, is_text in zip(row, texts, strict=True)]
            for row in rows
        ],
    )


def shown(value: float | None, places: int) -> str:
    """A number with some decimals, no minus before nothing; empty for none or NaN."""
    if value is None or not np.isfinite(value):
        return ""
    text = f"{value:.{places}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def quantities_of(system: FieldSystem) -> Quantities:
    """The hydraulic units of the field's site."""
    return quantities(system.design.site.unit)
