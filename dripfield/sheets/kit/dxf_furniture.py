"""What stands round every drawing: north arrow, scale bar, title with notes and cautions."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from dripfield.core.units import Unit
from dripfield.sheets.kit.dxf_document import Layer, drawing_text
from dripfield.sheets.kit.dxf_entities import on, text_at
from dripfield.sheets.kit.style import POINTS_PER_INCH, Paper, Scale, round_length

if TYPE_CHECKING:
    from ezdxf.layouts.base import BaseLayout

SYMBOLS = "C-ANNO-SYMB"
TITLE = "C-ANNO-TTLB"
FURNITURE_LAYERS = {
    SYMBOLS: Layer("north arrow and scale bar", width=25),
    TITLE: Layer("title and notes"),
}
LETTER, LINE = 0.80, 1.5  # width of a letter amply, and from line to line, in text heights
_NAME_LETTERS, _NOTE_LETTERS = 60, 100  # in a line


def north_arrow(space: BaseLayout, at: tuple[float, float], size: float, turn: float = 0.0) -> None:
    """An arrow to grid north.

    Parameters
    ----------
    space : ezdxf layout
    at : (float, float)
        Its lower left corner [drawing unit].
    size : float
        [drawing unit]
    turn : float
        Degrees that the ground is turned counter-clockwise on the sheet.
    """
    document = space.doc
    assert document is not None
    if "NORTH" not in document.blocks:
        block = document.blocks.new("NORTH", base_point=(0.25, 0.4))
        block.add_lwpolyline([(0.0, 0.0), (0.25, 0.75), (0.5, 0.0), (0.25, 0.2)], close=True)
        block.add_solid([(0.25, 0.75), (0.25, 0.2), (0.5, 0.0)])
        block.add_text("N", height=0.25).set_placement((0.15, 0.82))
    middle = (at[0] + 0.25 * size, at[1] + 0.4 * size)
    look = on(SYMBOLS, xscale=size, yscale=size, zscale=size, rotation=turn)
    space.add_blockref("NORTH", middle, dxfattribs=look)


def scale_bar(
    space: BaseLayout,
    at: tuple[float, float],
    unit: Unit,
    scale: Scale,
    paper: Paper,
    text: float,
    *,
    factor: float = 1.0,
) -> None:
    """Four divisions of a round length, alternately filled, with the plot scale under them.

    Parameters
    ----------
    space : ezdxf layout
    at : (float, float)
        Its lower left corner [drawing unit].
    unit : Unit
    scale : Scale
    paper : Paper
        That the drawing plots on at that scale.
    text : float
        Height of its text [drawing unit].
    factor : float
        Drawing units in a unit of the site: 1 in model space.
    """
    step = round_length(0.5 * scale.per_point * POINTS_PER_INCH)
    x, y = at
    thick = 0.4 * text
    for i in range(4):
        left, right = x + i * step * factor, x + (i + 1) * step * factor
        corners = [(left, y), (right, y), (right, y + thick), (left, y + thick)]
        space.add_lwpolyline(corners, close=True, dxfattribs=on(SYMBOLS))
        if i % 2 == 0:
            space.add_solid(
                [corners[0], corners[1], corners[3], corners[2]], dxfattribs=on(SYMBOLS)
            )
    for i in (0, 1, 2, 4):
        label = f"{i * step:g}" + (f" {unit.short}" if i == 4 else "")
        above = (x + i * step * factor, y + 2.0 * thick)
        text_at(space, label, above, text, SYMBOLS, align="CENTER")
    note = f"{scale.text} on {paper.label}"
    text_at(space, note, (x, y - 1.6 * text), text, SYMBOLS)


def title_block(
    space: BaseLayout, at: tuple[float, float], name: str, facts: Sequence[str], text: float
) -> float:
    """A name in large letters with paragraphs under it, standing on a place.

    Parameters
    ----------
    space : ezdxf layout
    at : (float, float)
        Lower left corner [drawing unit].
    name : str
    facts : sequence of str
        Wrapped.
    text : float
        Height of the facts [drawing unit]; the name is twice as high.

    Returns
    -------
    float
        The upper edge [drawing unit].
    """
    x, y = at
    lines = [line for fact in facts for line in textwrap.wrap(drawing_text(fact), _NOTE_LETTERS)]
    for line in reversed(lines):
        text_at(space, line, (x, y), text, TITLE)
        y += 1.75 * text
    for line in reversed(textwrap.wrap(drawing_text(name), _NAME_LETTERS, max_lines=4)):
        text_at(space, line, (x, y + 0.6 * text), 2.0 * text, TITLE)
        y += 3.25 * text
    return y


def paragraphs(
    space: BaseLayout, facts: Sequence[str], room: tuple[float, float, float, float], text: float
) -> int:
    """Facts wrapped into a room, from its top down.

    Parameters
    ----------
    space : ezdxf layout
    facts : sequence of str
    room : (left, low, right, top)
        [drawing unit]
    text : float
        Height [drawing unit].

    Returns
    -------
    int
        Lines that found no room.
    """
    left, low, right, top = room
    letters = max(int((right - left) / (LETTER * text)), 10)
    lines = [line for fact in facts for line in textwrap.wrap(drawing_text(fact), letters)]
    fitting = max(int((top - low) / (LINE * text)), 0)
    for i, line in enumerate(lines[:fitting]):
        text_at(space, line, (left, top - LINE * text * (i + 0.8)), text, TITLE)
    return max(len(lines) - fitting, 0)
