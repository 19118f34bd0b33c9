"""A table set on paper: widths, wrapped cells, blocks side by side, as many pages as it takes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from dripfield.core.table import NONE, TICK, Column, Table
from dripfield.sheets.kit.ink import Ink
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    PALE,
    PENS,
    WASH,
    shorten,
    text_width,
    wrap,
    write_text,
)

_LETTER = 0.6  # width of a letter over its height, for the most that a column may take
_NEXT_LINE = 1.3  # line spacing in a cell of several lines, over the type size
_INSET = 0.45  # of the gap, on either side of a cell
_LEAST_WIDE = 90.0  # that the wide column is left [pt]


@dataclass(frozen=True)
class Look:
    """How a table is set.

    Attributes
    ----------
    size : float
        Type size [pt].
    leading : float
        Height of a row of one line, over the type size.
    gap : float
        Inside a cell, both sides together [pt].
    between : float
        Between blocks side by side [pt].
    lines : int
        That a cell may be wrapped into; what is longer still is cut short.
    many : bool
        Cells are drawn as one artist: a set of ten thousand is then drawn in a tenth of the time.
    heading : float
        Type size of headings over that of cells.
    """

    size: float = 9.0
    leading: float = 1.75
    gap: float = 9.0
    between: float = 18.0
    lines: int = 1
    many: bool = False
    heading: float = 0.92

    @property
    def head(self) -> float:
        """Type size of headings [pt]."""
        return self.heading * self.size


class PaperTable:
    """A table with the widths of its columns and the heights of its rows.

    Parameters
    ----------
    table : Table
    look : Look
    room : float, optional
        Width that it may take [pt]; the widest columns give way, and are wrapped or cut short.
    """

    def __init__(self, table: Table, look: Look, room: float | None = None) -> None:
        self.table, self.look, self._room = table, look, room
        self._heads = [_head(column) for column in table.columns]
        depth = max(len(lines) for lines in self._heads)
        self.head_height = (_NEXT_LINE * (depth - 1) + 1.2 + 0.5) * look.head

    @cached_property
    def widths(self) -> list[float]:
        """Of the columns [pt]."""
        widths = self._natural()
        if self._room is not None:
            self._squeeze(widths, self._room)
        return widths

    @cached_property
    def cells(self) -> list[list[list[str]]]:
        """The lines of each cell of each row, as they are drawn."""
        return [
            [self._lines(cell, i, k) for k, cell in enumerate(row)]
            for i, row in enumerate(self._texts)
        ]

    @cached_property
    def heights(self) -> list[float]:
        """Of the rows [pt]."""
        size, leading = self.look.size, self.look.leading
        if self.look.lines == 1:
            return [leading * size] * len(self.table.rows)
        return [
            (leading + _NEXT_LINE * (max(len(lines) for lines in row) - 1)) * size
            for row in self.cells
        ]

    @cached_property
    def _texts(self) -> list[list[str]]:
        return self.table.texts(NONE)

    @property
    def width(self) -> float:
        """Of one block [pt]."""
        return sum(self.widths)

    def width_of(self, blocks: int) -> float:
        """Of so many blocks side by side [pt]."""
        return blocks * (self.width + self.look.between) - self.look.between

    def height_of(self, rows: range) -> float:
        """Of a block with its heading [pt]."""
        return self.head_height + sum(self.heights[rows.start : rows.stop])

    def blocks(
        self, first: int, room: tuple[float, float], most: int | None = None
    ) -> tuple[range, ...]:
        """The blocks of rows that a place takes.

        Parameters
        ----------
        first : int
            The first row.
        room : (width, height)
            [pt]
        most : int, optional
            Blocks at most; as many as the width takes unless given.

        Returns
        -------
        tuple of range
            Empty where not even one row has room. The last rows are shared out evenly among
            blocks, where they do not fit into one.
        """
        width, height = room
        count = most or len(self.heights)
        while count > 1 and math.isfinite(width) and self.width_of(count) > width:
            count -= 1
        found = self._filled(first, height, count)
        if len(found) > 1 and found[-1].stop == len(self.heights):
            low, high = height / len(found), height
            for _ in range(12):
                middle = 0.5 * (low + high)
                trial = self._filled(first, middle, len(found))
                if trial and trial[-1].stop == len(self.heights):
                    found, high = trial, middle
                else:
                    low = middle
        return found

    def _filled(self, first: int, height: float, count: int) -> tuple[range, ...]:
        """At most so many blocks of at most a height."""
        found: list[range] = []
        while first < len(self.heights) and len(found) < count:
            last, y = first, self.head_height
            while last < len(self.heights) and y + self.heights[last] <= height + 1e-6:
                y += self.heights[last]
                last += 1
            if last == first:
                break
            found.append(range(first, last))
            first = last
        return tuple(found)

    def draw(self, axes: Any, blocks: Sequence[range], left: float, top: float) -> float:
        """Draw blocks side by side from their upper left corner; returns the lowest edge [pt].

        Parameters
        ----------
        axes : matplotlib Axes
            In points.
        blocks : sequence of range
            Rows of each.
        left, top : float
            [pt]

        Returns
        -------
        float
        """
        ink, rules = Ink(), _Rules()
        for i, rows in enumerate(blocks):
            self._block(axes, ink, rules, rows, left + i * (self.width + self.look.between), top)
        rules.put_on(axes)
        if self.look.many:
            ink.put_on(axes)
        else:
            for one in ink.words:
                write_text(axes, one.x, one.y, one.text, one.size, bold=one.bold, color=one.colour)
        return top - max((self.height_of(rows) for rows in blocks), default=0.0)

    def _block(
        self, axes: Any, ink: Ink, rules: _Rules, rows: range, left: float, top: float
    ) -> None:
        look, size, right = self.look, self.look.size, left + self.width
        x = left
        for lines, column, width in zip(self._heads, self.table.columns, self.widths, strict=True):
            for i, (text, is_unit) in enumerate(lines):
                y = top - (1.2 + _NEXT_LINE * i) * look.head
                small = _fitting(text, width - 2.0 * _INSET * look.gap, look.head, bold=not is_unit)
                colour = DIM if is_unit else INK
                self._put(ink, text, column, x, y, width, small, bold=not is_unit, colour=colour)
            x += width
        y = top - self.head_height
        rules.add(left, right, y, "medium", INK)
        for row in rows:
            marked = row in self.table.marked
            low = y - self.heights[row]
            if marked:
                corners = [left, right, right, left]
                axes.fill(corners, [low, low, y, y], color=WASH, lw=0, zorder=0.5)
            x = left
            for k, (column, width) in enumerate(zip(self.table.columns, self.widths, strict=True)):
                again = column.once and row != rows.start
                again = again and self.cells[row - 1][k] == self.cells[row][k]
                for i, text in enumerate(() if again else self.cells[row][k]):
                    base = y - (0.67 * look.leading + _NEXT_LINE * i) * size
                    tall = 1.4 * size if text == TICK else size
                    bold = column.bold or (marked and k == 0)
                    self._put(ink, text, column, x, base, width, tall, bold=bold, colour=INK)
                x += width
            y = low
            ends = row + 1 in rows and self._group(row) != self._group(row + 1)
            rules.add(left, right, y, *(("medium", INK) if ends else ("hair", PALE)))

    def _group(self, row: int) -> object:
        return self.table.groups[row] if self.table.groups else None

    def _put(
        self,
        ink: Ink,
        text: str,
        column: Column,
        left: float,
        y: float,
        width: float,
        size: float,
        *,
        bold: bool,
        colour: str,
    ) -> None:
        if not text:
            return
        inset = _INSET * self.look.gap
        spare = width - 2.0 * inset - text_width(text, size, bold=bold)
        share = {"left": 0.0, "center": 0.5, "right": 1.0}[column.side]
        ink.word(left + inset + share * spare, y, text, size, bold=bold, colour=colour)

    def _natural(self) -> list[float]:
        """Widths that cells and headings need, no wider than a column may be [pt]."""
        size, head = self.look.size, self.look.head
        widths = []
        for k, column in enumerate(self.table.columns):
            bold = column.bold or (k == 0 and bool(self.table.marked))
            cells = {row[k] for row in self._texts}
            need = max((text_width(cell, size, bold=bold) for cell in cells), default=0.0)
            need = min(need + 0.5, column.most * _LETTER * size)
            heads = (text_width(text, head, bold=not is_unit) for text, is_unit in _head(column))
            widths.append(max(need, *heads) + self.look.gap)
        return widths

    def _squeeze(self, widths: list[float], room: float) -> None:
        """Give the wide column what is left; take from the widest what is too much."""
        for k, column in enumerate(self.table.columns):
            if column.wide:
                widths[k] = max(room - (sum(widths) - widths[k]), _LEAST_WIDE)
                break
        while sum(widths) > room + 1e-6:
            at = widths.index(max(widths))
            widths[at] -= min(sum(widths) - room, max(4.0, 0.1 * widths[at]))

    def _lines(self, text: str, row: int, k: int) -> list[str]:
        if not text or text == TICK:
            return [text]
        bold = self.table.columns[k].bold or (k == 0 and row in self.table.marked)
        room = self.widths[k] - 2.0 * _INSET * self.look.gap
        if self.look.lines == 1:
            return [shorten(text, room, self.look.size, bold=bold)]
        return wrap(text, room, self.look.size, self.look.lines, bold=bold)


def _head(column: Column) -> list[tuple[str, bool]]:
    """The lines of a heading, and whether each is the unit."""
    lines = [(text, False) for text in column.heading.split("\n")]
    return [*lines, (column.unit, True)] if column.unit else lines


def _fitting(text: str, room: float, size: float, *, bold: bool) -> float:
    """The size, or a smaller one with which a heading stays in its column [pt]."""
    width = text_width(text, size, bold=bold)
    return size if width <= room else size * room / width


@dataclass
class _Rules:
    """Lines across a table, put on axes together."""

    lines: list[tuple[tuple[float, float], tuple[float, float]]] = field(default_factory=list)
    pens: list[float] = field(default_factory=list)
    colours: list[str] = field(default_factory=list)

    def add(self, left: float, right: float, y: float, pen: str, colour: str) -> None:
        """A line across the table."""
        self.lines.append(((left, y), (right, y)))
        self.pens.append(PENS[pen])
        self.colours.append(colour)

    def put_on(self, axes: Any) -> None:
        """Add them to axes in points, as one artist."""
        from matplotlib.collections import LineCollection

        axes.add_collection(
            LineCollection(self.lines, linewidths=self.pens, colors=self.colours),
            autolim=False,
        )
