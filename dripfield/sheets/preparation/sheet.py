"""One sheet of the set: heading, the cautions that belong to what it shows, its own drawing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from dripfield.core.cautions import Topic, cautions
from dripfield.core.table import Table
from dripfield.design.model import Design
from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.style import (
    INK,
    MARGIN,
    PAPERS,
    PENS,
    Paper,
    shorten,
    text_width,
    wrap,
    write_text,
)
from dripfield.site.model import Site

Rectangle = tuple[float, float, float, float]
"""Left, low, width, height [pt]."""

Drawing = Callable[[Any, Rectangle], None]

_HEAD = 34.0  # [pt]
_CAUTION = 8.0  # type [pt]
_STEP = 1.25  # line spacing over the type
_NOTE = 8.5


@dataclass(frozen=True)
class Page:
    """A page that draws itself between heading and cautions.

    Attributes
    ----------
    title : str
    topics : tuple of str
        Of the cautions at its foot.
    draw : callable
        Takes axes in points of the sheet and the rectangle that it may fill.
    """

    title: str
    topics: tuple[Topic, ...]
    draw: Drawing


def paper_of(site: Site) -> Paper:
    """The crew's paper, lying."""
    return PAPERS[site.file.crew.paper or ("A4" if site.unit.is_metric else "letter")]


def _foot(paper: Paper, topics: Sequence[Topic]) -> list[str]:
    """The lines of the cautions, all of them."""
    width = paper.width - 2.0 * MARGIN
    return [
        line
        for text in ([" ".join(cautions(*topics))] if topics else [])
        for line in wrap(text, width, _CAUTION, 20)
    ]


def body(paper: Paper, topics: Sequence[Topic]) -> Rectangle:
    """What heading, cautions and margin leave of a sheet."""
    low = MARGIN + _STEP * _CAUTION * len(_foot(paper, topics)) + (10.0 if topics else 0.0)
    return MARGIN, low, paper.width - 2.0 * MARGIN, paper.height - MARGIN - _HEAD - low


def draw_sheet(page: Page, design: Design, paper: Paper, number: int, total: int) -> Any:
    """A matplotlib figure of the paper's size.

    Parameters
    ----------
    page : Page
    design : Design
    paper : Paper
    number, total : int
        Of this sheet, from 1; of sheets.

    Returns
    -------
    matplotlib Figure
    """
    figure, axes = blank_sheet(paper)
    left, low, width, height = body(paper, page.topics)
    site, top = design.site, low + height
    count = f"layout {design.code}, sheet {number} of {total}"
    write_text(axes, left, top + 13.0, page.title, 12.0, bold=True)
    room = width - text_width(page.title, 12.0, bold=True) - text_width(count, 9.0) - 40.0
    name = shorten(f"{site.name}; lengths in {site.unit.label}", room, 9.0)
    write_text(axes, left + text_width(page.title, 12.0, bold=True) + 20.0, top + 13.0, name, 9.0)
    write_text(axes, left + width, top + 13.0, count, 9.0, ha="right")
    axes.plot([left, left + width], [top + 6.0] * 2, color=INK, lw=PENS["bold"])
    lines = _foot(paper, page.topics)
    if lines:
        axes.plot([left, left + width], [low - 4.0] * 2, color=INK, lw=PENS["thin"])
    for i, line in enumerate(lines):
        write_text(axes, left, low - 4.0 - _STEP * _CAUTION * (i + 1), line, _CAUTION)
    page.draw(axes, (left, low, width, height))
    return figure


def write_notes(axes: Any, notes: Sequence[str], left: float, top: float, width: float) -> float:
    """Notes as paragraphs; returns the lowest base line [pt].

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    notes : sequence of str
    left, top, width : float
        Left edge, upper edge and width of the room [pt].

    Returns
    -------
    float
        [pt]
    """
    for note in notes:
        for line in wrap(note, width, _NOTE, 20):
            top -= 1.35 * _NOTE
            write_text(axes, left, top, line, _NOTE)
        top -= 2.0
    return top


def notes_height(notes: Sequence[str], width: float) -> float:
    """What :func:`write_notes` takes [pt]."""
    return sum(1.35 * _NOTE * len(wrap(note, width, _NOTE, 20)) + 2.0 for note in notes)


def table_pages(
    table: Table, paper: Paper, topics: tuple[Topic, ...], *, size: float = 9.0, lines: int = 8
) -> list[Page]:
    """A table over as many pages as it takes, its notes above it on the first.

    Parameters
    ----------
    table : Table
    paper : Paper
    topics : tuple of str
        Of the cautions.
    size : float
        Of the type [pt].
    lines : int
        That a cell may be wrapped into.

    Returns
    -------
    list of Page
        None for a table without rows.
    """
    _, _, width, height = body(paper, topics)
    setting = PaperTable(table, Look(size, lines=lines), width)
    above = notes_height(table.notes, width) + (6.0 if table.notes else 0.0)
    pages: list[Page] = []
    first = 0
    while first < len(table.rows):
        room = height - (above if not pages else 0.0)
        blocks = setting.blocks(first, (width, room), 1 if lines > 1 else None)
        if not blocks:  # the notes take a page, or a row more than one
            first += bool(pages)
            pages.append(Page(table.title, topics, _drawer(setting, (), table.notes)))
            continue
        notes = () if pages else table.notes
        title = table.title if not pages else f"{table.title}, continued"
        pages.append(Page(title, topics, _drawer(setting, blocks, notes)))
        first = blocks[-1].stop
    return pages


def _drawer(setting: PaperTable, blocks: Sequence[range], notes: Sequence[str]) -> Drawing:
    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, width, height = rectangle
        top = low + height
        if notes:
            top = write_notes(axes, notes, left, top, width) - 6.0
        if blocks:
            setting.draw(axes, blocks, left, top)

    return draw
