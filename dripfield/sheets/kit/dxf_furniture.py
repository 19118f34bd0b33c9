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
    from ezdxf.document import Drawing

SYMBOLS = "C-ANNO-SYMB"
TITLE = "C-ANNO-TTLB"
FURNITURE_LAYERS = {
    SYMBOLS: Layer("north arrow and scale bar", width=25),
    TITLE: Layer("title and notes"),
}
_NAME_LETTERS, _NOTE_LETTERS = 60, 100  # in a line


def north_arrow(document: Drawing, at: tuple[float, float], size: float) -> None:
    """An arrow to grid north, its lower left corner at a place [drawing unit]."""
    block = document.blocks.new("NORTH")
    block.add_lwpolyline([(0.0, 0.0), (0.25, 0.75), (0.5, 0.0), (0.25, 0.2)], close=True)
    block.add_solid([(0.25, 0.75), (0.25, 0.2), (0.5, 0.0)])
    block.add_text("N", height=0.25).set_placement((0.15, 0.82))
    document.modelspace().add_blockref(
        "NORTH", at, dxfattribs=on(SYMBOLS, xscale=size, yscale=size, zscale=size)
    )


def scale_bar(
    document: Drawing,
    at: tuple[float, float],
    unit: Unit,
    scale: Scale,
    paper: Paper,
    text: float,
) -> None:
    """Four divisions of a round length, alternately filled, with the plot scale under them.

    Parameters
    ----------
    document : ezdxf Drawing
    at : (float, float)
        Its lower left corner [drawing unit].
    unit : Unit
    scale : Scale
    paper : Paper
        That the drawing plots on at that scale.
    text : float
        Height of the drawing's text [drawing unit]; the bar's is somewhat smaller.
    """
    space = document.modelspace()
    step = round_length(0.5 * scale.per_point * POINTS_PER_INCH)
    x, y = at
    thick = 0.4 * text
    for i in range(4):
        left, right = x + i * step, x + (i + 1) * step
        corners = [(left, y), (right, y), (right, y + thick), (left, y + thick)]
        space.add_lwpolyline(corners, close=True, dxfattribs=on(SYMBOLS))
        if i % 2 == 0:
            space.add_solid(
                [corners[0], corners[1], corners[3], corners[2]], dxfattribs=on(SYMBOLS)
            )
    for i in (0, 1, 2, 4):
        label = f"{i * step:g}" + (f" {unit.short}" if i == 4 else "")
        above = (x + i * step, y + 2.0 * thick)
        text_at(space, label, above, 0.8 * text, SYMBOLS, align="CENTER")
    note = f"{scale.text} on {paper.label}"
    text_at(space, note, (x, y - 1.6 * text), 0.8 * text, SYMBOLS)


def title_block(
    document: Drawing, at: tuple[float, float], name: str, facts: Sequence[str], text: float
) -> float:
    """A name in large letters with paragraphs under it, standing on a place.

    Parameters
    ----------
    document : ezdxf Drawing
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
    space = document.modelspace()
    x, y = at
    lines = [line for fact in facts for line in textwrap.wrap(drawing_text(fact), _NOTE_LETTERS)]
    for line in reversed(lines):
        text_at(space, line, (x, y), text, TITLE)
        y += 1.75 * text
    for line in reversed(textwrap.wrap(drawing_text(name), _NAME_LETTERS, max_lines=4)):
        text_at(space, line, (x, y + 0.6 * text), 2.0 * text, TITLE)
        y += 3.25 * text
    return y
