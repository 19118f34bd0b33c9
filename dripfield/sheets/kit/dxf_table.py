"""A table set in a drawing: ruled, headings over it, in further columns where it is long."""

from __future__ import annotations

import textwrap
import unicodedata
from typing import TYPE_CHECKING

import numpy as np

from dripfield.core.table import NONE, Table
from dripfield.sheets.kit.dxf_entities import on, text_at

if TYPE_CHECKING:
    from ezdxf.layouts.base import BaseLayout

LAYER = "C-ANNO-TABL"
_LETTER = 0.85  # width of a letter in text heights, amply: fonts of CAD programs differ
_ROW = 1.8  # height of a row in text heights


def draw_table(
    space: BaseLayout, table: Table, at: tuple[float, float], height: float, rows: int = 45
) -> tuple[float, float]:
    """Draw a table under and to the right of a place, title and notes above it.

    Parameters
    ----------
    space : ezdxf layout
    table : Table
    at : (float, float)
        Upper left corner of its first heading [drawing unit].
    height : float
        Of the text [drawing unit].
    rows : int
        A longer table goes on in a further column.

    Returns
    -------
    (float, float)
        Its right and its lower edge [drawing unit].
    """
    heads, cells = _heads(table), table.texts(NONE)
    widths = _widths(heads, cells, height)
    step = _ROW * height
    left, top = at
    right = low = 0.0
    for first in range(0, max(len(cells), 1), rows):
        body = [heads, *cells[first : first + rows]]
        edges = np.concatenate(([left], left + np.cumsum(widths)))
        right, bottom = float(edges[-1]), top - step * len(body)
        low = min(low, bottom) if first else bottom
        for x in edges:
            space.add_line((x, top), (x, bottom), dxfattribs=on(LAYER))
        for i in range(len(body) + 1):
            y = top - i * step
            space.add_line((left, y), (right, y), dxfattribs=on(LAYER))
        for i, row in enumerate(body):
            base = top - (i + 0.7) * step
            for k, (cell, column) in enumerate(zip(row, table.columns, strict=True)):
                if cell and column.side == "right":
                    place = (float(edges[k + 1]) - 0.7 * height, base)
                    text_at(space, cell, place, height, LAYER, align="RIGHT")
                elif cell:
                    text_at(space, cell, (float(edges[k]) + 0.7 * height, base), height, LAYER)
        left = right + 3.0 * height
    room = max(int(sum(widths) / (0.6 * height)), 40)
    above = [line for text in (table.title, *table.notes) for line in textwrap.wrap(text, room)]
    for i, line in enumerate(reversed(above)):
        text_at(space, line, (at[0], top + (0.5 + i) * step), height, LAYER)
    return right, low


def block_width(table: Table, height: float) -> float:
    """Width of a column of rows, with what parts it from the next [drawing unit]."""
    return sum(_widths(_heads(table), table.texts(NONE), height)) + 3.0 * height


def row_height(height: float) -> float:
    """Height of a row [drawing unit]."""
    return _ROW * height


def _heads(table: Table) -> list[str]:
    return [
        " ".join(filter(None, (column.heading.replace("\n", " "), column.unit)))
        for column in table.columns
    ]


def _widths(heads: list[str], cells: list[list[str]], height: float) -> list[float]:
    letters = [max(_letters(row[k]) for row in (heads, *cells)) for k in range(len(heads))]
    return [(count * _LETTER + 1.4) * height for count in letters]


def _letters(text: str) -> int:
    """Width of a text in letters: those of the far East are two wide."""
    return sum(2 if unicodedata.east_asian_width(one) in "WF" else 1 for one in text)
