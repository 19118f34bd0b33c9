"""The lateral table beside a plan, in the largest type with which it fits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from dripfield.core.units import Unit
from dripfield.files.csv import number, spacing_range
from dripfield.measures.field import Measured
from dripfield.sheets.kit.marks import mark
from dripfield.sheets.kit.style import DIM, INK, PALE, PENS, shorten, text_width, write_text

TYPE_SIZES = (8.0, 7.5, 7.0, 6.5, 6.0)
_LEADING = 1.42  # row height over type size
_GAP = 7.0  # between cells [pt]
_BETWEEN = 14.0  # between columns of the table [pt]
_NAME_WIDTH = 90.0  # a longer name is cut short

Row = tuple[str, str, str, str, str]


@dataclass(frozen=True)
class PlanTable:
    """A table that has found its size.

    Attributes
    ----------
    rows : tuple of rows of text
    panels : tuple of str
        The panel of each row: a rule is drawn where it changes.
    size : float
        Type size [pt].
    columns, rows_per_column : int
    left_out : int
        Rows at the end for which there is no room.
    """

    heads: tuple[Row, Row]
    rows: tuple[Row, ...]
    panels: tuple[str, ...]
    size: float
    columns: int
    rows_per_column: int
    left_out: int

    @cached_property
    def cell_widths(self) -> list[float]:
        """Widths of the five cells of a row [pt]."""
        lines = (*self.heads, *self.rows)
        return [
            max(text_width(row[k], self.size, bold=k == 0) for row in lines) + _GAP
            for k in range(5)
        ]

    @property
    def width(self) -> float:
        """Width of the whole table [pt]."""
        return self.columns * (sum(self.cell_widths) + _BETWEEN) - _BETWEEN

    def draw(self, axes: Any, left: float, top: float) -> None:
        """Draw it on axes in points from its upper left corner."""
        widths = self.cell_widths
        step = _LEADING * self.size
        for column in range(self.columns):
            x = left + column * (sum(widths) + _BETWEEN)
            y = top
            for head in self.heads:
                y -= step
                self._row(axes, x, y, head, DIM)
            right = x + sum(widths)
            axes.plot([x, right], [y - 0.3 * step] * 2, color=INK, lw=PENS["medium"])
            first = column * self.rows_per_column
            last = min(first + self.rows_per_column, len(self.rows) - self.left_out)
            for i in range(first, last):
                y -= step
                self._row(axes, x, y, self.rows[i], INK)
                closes = i + 1 < last and self.panels[i + 1] != self.panels[i]
                colour, width = (INK, PENS["thin"]) if closes else (PALE, PENS["hair"])
                axes.plot([x, right], [y - 0.3 * step] * 2, color=colour, lw=width)
        if self.left_out:
            text = f"and {self.left_out} more: see laterals.csv"
            write_text(axes, left, y - 1.1 * step, text, self.size, bold=True)

    def _row(self, axes: Any, x: float, y: float, cells: Row, colour: str) -> None:
        for k, (cell, width) in enumerate(zip(cells, self.cell_widths, strict=True)):
            right = k in (1, 2, 3)
            at = x + width - 0.5 * _GAP if right else x + 0.5 * _GAP
            write_text(
                axes,
                at,
                y,
                cell,
                self.size,
                ha="right" if right else "left",
                color=colour,
                bold=k == 0 and colour == INK,
            )
            x += width


def fit_table(
    measured: Measured, unit: Unit, height: float, columns: int, type_scale: float = 1.0
) -> PlanTable:
    """Find the largest type with which all laterals fit a height in so many columns.

    Parameters
    ----------
    measured : Measured
    unit : Unit
    height : float
        [pt]
    columns : int
        Rows that do not fit in so many columns of the smallest type are left out and counted.
    type_scale : float
        Of the largest type.

    Returns
    -------
    PlanTable
    """
    rows = tuple(_rows(measured, unit))
    heads: tuple[Row, Row] = (
        ("lateral", "length", "set to", "spacing", "mark"),
        ("", unit.short, f"el, {unit.short}", unit.short, ""),
    )
    panels = tuple(lateral.panel for lateral in measured.laterals)
    for size in (TYPE_SIZES[0] * type_scale, 0.5 * (1.0 + type_scale) * TYPE_SIZES[0], *TYPE_SIZES):
        per_column = max(int(height / (_LEADING * size) - 2.5), 2)
        if columns * per_column >= len(rows):
            even = max(math.ceil(len(rows) / columns), 1)
            return PlanTable(heads, rows, panels, size, columns, even, 0)
    per_column -= 1  # the line that says so
    left_out = len(rows) - columns * per_column
    return PlanTable(heads, rows, panels, size, columns, per_column, left_out)


def _rows(measured: Measured, unit: Unit) -> list[Row]:
    places = unit.places
    return [
        (
            shorten(lateral.name, _NAME_WIDTH, TYPE_SIZES[0]),
            number(lateral.length, places),
            number(lateral.elevation, places),
            spacing_range(lateral.spacing_min, lateral.spacing_max, places),
            mark(lateral),
        )
        for lateral in measured.laterals
    ]
