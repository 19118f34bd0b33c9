"""A table over as many sheets of the set as it takes, side by side where it is narrow."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dripfield.core.table import Table
from dripfield.sheets.kit.page import Page, Rectangle, body
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.style import Paper, wrap, write_text

_NOTE = 8.0  # type of the notes [pt]
_LARGE = (11.0, 10.0)
_LEADING = 1.45


def table_pages(table: Table, paper: Paper, size: float = 9.0, lines: int = 1) -> list[Page]:
    """The pages of a table under its title, its notes above it on the first.

    Parameters
    ----------
    table : Table
        With at least one row.
    paper : Paper
    size : float
        Of the type [pt]; a table that takes one sheet in one block is set larger.
    lines : int
        That a cell may be wrapped into.

    Returns
    -------
    list of Page
        One or more.
    """
    _, _, width, height = body(paper)
    words = [line for note in table.notes for line in wrap(note, width, _NOTE, 8)]
    above = 1.35 * _NOTE * len(words) + 6.0 if words else 0.0
    setting = _setting(table, size, width, height - above, lines)
    pages: list[Page] = []
    first = 0
    while first < len(table.rows):
        text = words if first == 0 else []
        blocks = setting.blocks(first, (width, height - (above if first == 0 else 0.0)))
        if not blocks:  # the notes take a sheet
            pages.append(Page(table.title, paper, _drawer(setting, (), text)))
            words, above = [], 0.0
            continue
        pages.append(Page(table.title, paper, _drawer(setting, blocks, text)))
        first = blocks[-1].stop
    return pages


def _setting(table: Table, size: float, width: float, height: float, lines: int = 1) -> PaperTable:
    """The table in the largest type of a few with which it stays on one sheet in one block."""
    for large in _LARGE if lines == 1 else ():
        setting = PaperTable(table, _look(large))
        if setting.width <= width and setting.height_of(range(len(table.rows))) <= height:
            return setting
    return PaperTable(table, _look(size, lines), width)


def _look(size: float, lines: int = 1) -> Look:
    return Look(size, leading=_LEADING, many=True, heading=max(0.85, _NOTE / size), lines=lines)


def _drawer(setting: PaperTable, blocks: Sequence[range], notes: Sequence[str]) -> Any:
    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, _, height = rectangle
        top = low + height
        for line in notes:
            top -= 1.35 * _NOTE
            write_text(axes, left, top, line, _NOTE)
        if blocks:
            setting.draw(axes, blocks, left, top - (6.0 if notes else 0.0))

    return draw
