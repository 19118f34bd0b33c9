"""A table set in a drawing: ruled, headings over it, in further columns where it is long."""

from __future__ import annotations

import textwrap
import unicodedata
from typing import TYPE_CHECKING

import numpy as np

from dripfield.core.table import NONE, Table
from dripfield.sheets.kit.dxf_entities import on, text_at

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

LAYER = "C-ANNO-TABL"
_LETTER = 0.85  # width of a letter in text heights, amply: fonts of CAD programs differ
_ROW = 1.8  # height of a row in text heights


def draw_table(
    space: Modelspace, table: Table, at: tuple[float, float], height: float, rows: int = 45
) -> tuple[float, float]:
    """Draw a table under and to the right of a place, title and notes above it.

    Parameters
    ----------
    space : ezdxf Modelspace
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
    heads = [
        " ".join(filter(None, (column.heading.replace("\n", " "), column.unit)))
        for column in table.columns
    ]
    cells = table.texts(NONE)
    letters = [max(_letters(row[k]) for row in (heads, *cells)) for k in range(len(heads))]
    widths = [(count * _LETTER + 1.4) * height for count in letters]
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


def _letters(text: str) -> int:
    """Width of a text in letters: those of the far East are two wide."""
    return sum(2 if unicodedata.east_asian_width(one) in "WF" else 1 for one in text)
