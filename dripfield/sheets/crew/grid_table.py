"""Ruled tables that run over as many sheets as they need, in columns side by side where narrow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from dripfield.sheets.crew.sheet import Page, Rectangle, body
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    PALE,
    PENS,
    Paper,
    font,
    shorten,
    text_width,
    wrap,
    write_text,
)

_GAP = 9.0  # inside a cell, both sides together [pt]
_BETWEEN = 18.0  # between blocks of columns [pt]
_NOTE = 8.0
_LARGE = (11.0, 10.0)
TICK = "\N{BALLOT BOX}"


@dataclass(frozen=True)
class Column:
    """A column: its head in two lines, how its cells stand, and the most width it may take [pt].

    ``once`` leaves a cell out that says the same as the one above it.
    """

    head: str
    below: str = ""
    align: str = "right"
    most: float = 150.0
    bold: bool = False
    once: bool = False


@dataclass(frozen=True)
class GridTable:
    """A table.

    Attributes
    ----------
    columns : sequence of Column
    rows : sequence of rows of text
    groups : sequence
        One value a row: a heavier rule is drawn where it changes.
    size : float
        Type size [pt]; a row is 1.75 times as high. A table that takes one sheet is set larger.
    """

    columns: Sequence[Column]
    rows: Sequence[Sequence[str]]
    groups: Sequence[object]
    size: float = 9.0

    @property
    def step(self) -> float:
        """Height of a row [pt]."""
        return 1.75 * self.size

    def widths(self) -> list[float]:
        """Widths of the columns [pt]."""
        return [
            min(
                max(
                    *(text_width(row[k], self.size, bold=column.bold) for row in self.rows),
                    text_width(column.head, 0.85 * self.size, bold=True),
                    text_width(column.below, 0.85 * self.size),
                ),
                column.most,
            )
            + _GAP
            for k, column in enumerate(self.columns)
        ]


def table_pages(
    title: str, paper: Paper, table: GridTable, notes: Sequence[str] = ()
) -> list[Page]:
    """The pages of a table, notes above it on the first.

    Parameters
    ----------
    title : str
    paper : Paper
    table : GridTable
        With at least one row.
    notes : sequence of str
        Paragraphs, wrapped to the sheet's width.

    Returns
    -------
    list of Page
        One or more.
    """
    _, _, width, height = body(paper)
    table = _enlarged(table, width, height - 1.35 * _NOTE * 3.0 * len(notes))
    widths = _squeezed(table.widths(), width)
    blocks = max(1, int((width + _BETWEEN) // (sum(widths) + _BETWEEN)))
    lines = [line for note in notes for line in wrap(note, width, _NOTE, 8)]
    pages: list[Page] = []
    first = 0
    while first < len(table.rows):
        above = 1.35 * _NOTE * len(lines) + 6.0 if first == 0 and lines else 0.0
        per_block = max(1, int((height - above - 2.6 * table.step) // table.step))
        last = min(first + blocks * per_block, len(table.rows))
        per_block = (
            min(per_block, -(-(last - first) // blocks)) if last == len(table.rows) else (per_block)
        )
        text = lines if first == 0 else []
        pages.append(
            Page(title, paper, _drawer(table, widths, range(first, last), per_block, text))
        )
        first = last
    return pages


def _enlarged(table: GridTable, width: float, height: float) -> GridTable:
    """The table in the largest type of a few with which it stays on one sheet in one block."""
    for size in _LARGE:
        larger = replace(table, size=size)
        if sum(larger.widths()) <= width and (len(table.rows) + 3) * larger.step <= height:
            return larger
    return table


def _squeezed(widths: list[float], room: float) -> list[float]:
    """Widths brought down to the room when they are wider, the widest first."""
    while sum(widths) > room:
        at = widths.index(max(widths))
        widths[at] -= min(sum(widths) - room, max(4.0, 0.1 * widths[at]))
    return widths


def _drawer(
    table: GridTable, widths: list[float], part: range, per_block: int, notes: Sequence[str]
) -> Any:
    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, _, height = rectangle
        top = low + height
        for line in notes:
            top -= 1.35 * _NOTE
            write_text(axes, left, top, line, _NOTE)
        top -= 6.0 if notes else 0.0
        for block, first in enumerate(range(part.start, part.stop, per_block)):
            x = left + block * (sum(widths) + _BETWEEN)
            rows = range(first, min(first + per_block, part.stop))
            _draw_block(axes, table, widths, rows, x, top)

    return draw


def _draw_block(
    axes: Any, table: GridTable, widths: list[float], rows: range, left: float, top: float
) -> None:
    small, step, right = 0.85 * table.size, table.step, left + sum(widths)
    ink = _Ink()
    y = top - 0.75 * step
    x = left
    for column, width in zip(table.columns, widths, strict=True):
        ink.cell(x, y, width, column, column.head, small, bold=True)
        ink.cell(x, y - 0.75 * step, width, column, column.below, small, colour=DIM)
        x += width
    y -= 1.15 * step
    ink.rule(left, right, y, "medium", INK)
    for row in rows:
        base = y - 0.68 * step
        y -= step
        x = left
        for k, (column, width) in enumerate(zip(table.columns, widths, strict=True)):
            cell = table.rows[row][k]
            again = column.once and row != rows.start and table.rows[row - 1][k] == cell
            if not again:
                size = 1.4 * table.size if cell == TICK else table.size
                ink.cell(x, base, width, column, cell, size, bold=column.bold)
            x += width
        ends = row + 1 in rows and table.groups[row + 1] != table.groups[row]
        ink.rule(left, right, y, *(("medium", INK) if ends else ("hair", PALE)))
    ink.put_on(axes)


@dataclass(frozen=True)
class _Text:
    x: float
    y: float
    text: str
    size: float
    bold: bool
    colour: str


class _Ink:
    """Collects a table's texts and rules, and puts them on axes as two artists.

    A large set has ten thousand cells: as so many text objects they take most of a run.
    """

    def __init__(self) -> None:
        self.texts: list[_Text] = []
        self.rules: list[tuple[tuple[float, float], tuple[float, float]]] = []
        self.pens: list[float] = []
        self.colours: list[str] = []

    def cell(
        self,
        left: float,
        y: float,
        width: float,
        column: Column,
        text: str,
        size: float,
        *,
        bold: bool = False,
        colour: str = INK,
    ) -> None:
        """A cell's text, cut to the width, standing as its column says."""
        if not text:
            return
        text = text if text == TICK else shorten(text, width - 0.6 * _GAP, size, bold=bold)
        spare = width - 0.6 * _GAP - text_width(text, size, bold=bold)
        share = {"left": 0.0, "center": 0.5, "right": 1.0}[column.align]
        x = left + 0.3 * _GAP + share * spare
        self.texts.append(_Text(x, y, text, size, bold, colour))

    def rule(self, left: float, right: float, y: float, pen: str, colour: str) -> None:
        """A line across the table."""
        self.rules.append(((left, y), (right, y)))
        self.pens.append(PENS[pen])
        self.colours.append(colour)

    def put_on(self, axes: Any) -> None:
        """Add everything to axes in points."""
        from matplotlib.artist import Artist
        from matplotlib.collections import LineCollection

        texts = self.texts

        class Cells(Artist):  # type: ignore[misc, unused-ignore]
            def draw(self, renderer: Any) -> None:
                pen = renderer.new_gc()
                places = self.get_transform().transform([(one.x, one.y) for one in texts])
                height = renderer.get_canvas_width_height()[1] if renderer.flipy() else None
                for one, (x, y) in zip(texts, places, strict=True):
                    pen.set_foreground(one.colour)
                    y = y if height is None else height - y
                    renderer.draw_text(pen, x, y, one.text, font(one.size, bold=one.bold), 0, False)
                pen.restore()

        axes.add_collection(
            LineCollection(self.rules, linewidths=self.pens, colors=self.colours),
            autolim=False,
        )
        axes.add_artist(Cells())
