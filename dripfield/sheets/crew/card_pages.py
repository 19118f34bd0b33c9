"""The cards, poured into columns: a heading, then a row a mark with room to tick and write."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dripfield.core.feet_inches import decimal, feet_inches
from dripfield.core.words import number
from dripfield.sheets.crew.cards import Card, Run, cards
from dripfield.sheets.crew.flow import Piece, draw_placed, pour
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import Say, speaking
from dripfield.sheets.crew.sheet import type_size
from dripfield.sheets.kit.ink import ink_on
from dripfield.sheets.kit.page import Page, Rectangle, body
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    PALE,
    PENS,
    Paper,
    shorten,
    text_width,
    wrap,
    write_text,
)
from dripfield.staking.model import FieldMark

_SIZE = 8.5  # [pt]
_LEAST = 8.0  # nothing on a card is smaller [pt]
_GAP = 14.0  # between columns [pt]
_WIDE = 31.2  # of a card, in sizes of its type
_ROW = 1.42  # over the size of the type
_ROD, _READ = 25.0, 30.8  # right edges of the rod and of what is read, in sizes of the type
_COORDINATES = 2  # decimals that an instrument sets out by in the field; the file has them all

Cell = tuple[str, float]
"""Text and the right edge of its column, in sizes of the type from the left."""


def card_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """The cards of all laterals in the order of work."""
    say = speaking(work.settings.language)
    paper = paper.turned()
    size = type_size(work, _SIZE)
    _, _, width, height = body(paper)
    columns = max(1, int((width + _GAP) // (_WIDE * size + _GAP)))
    small = _small(size)
    note = wrap(_note(work, say), width, small, 4)
    above = 1.3 * small * len(note) + 8.0
    pieces: list[Piece] = []
    panel = ""
    several = len({row.panel for row in work.laterals}) > 1
    every = cards(work)
    for card in every:
        if several and card.lateral.panel != panel:
            panel = card.lateral.panel
            pieces.append(_heading(say("panel_head", panel=panel), size))
        pieces += _card(work, say, card, len(every), size)
    pages = pour(pieces, columns, lambda _: height - above, _column_heads(work, say, size))
    wide = (width - (columns - 1) * _GAP) / columns

    def drawer(placed: Sequence[Any]) -> Any:
        def draw(axes: Any, rectangle: Rectangle) -> None:
            left, low, _, high = rectangle
            top = low + high
            for line in note:
                top -= 1.3 * small
                write_text(axes, left, top, line, small)
            draw_placed(axes, placed, left, low + high - above, wide, _GAP)

        return draw

    return [Page(say("title_cards"), paper, drawer(placed)) for placed in pages]


def _note(work: CrewWork, say: Say) -> str:
    return say("cards_note", first=say("cards_first"))


def _heading(text: str, size: float) -> Piece:
    def draw(axes: Any, left: float, top: float, width: float) -> None:
        write_text(axes, left, top - 1.5 * size, shorten(text, width, 1.3 * size), 1.3 * size)

    return Piece(2.0 * size, draw, stick=True)


def _card(work: CrewWork, say: Say, card: Card, count: int, size: float) -> list[Piece]:
    """Heading, runs and a line for notes."""
    name = card.lateral.name
    head = _title(work, say, card, count, size)
    again = _continued(say("continued", what=name), size)
    pieces = [head]
    for k, run in enumerate(card.runs):
        line = _run_head(say, run, size, again if k else None)
        pieces.append(line)
        for i, mark in enumerate(run.marks):
            last = i == len(run.marks) - 1
            pieces.append(
                _mark(work, run, mark, size, (again, line) if i else (), stick=i == 0 and not last)
            )
    pieces.append(_notes(say, size, (again,)))
    return pieces


def _title(work: CrewWork, say: Say, card: Card, count: int, size: float) -> Piece:
    row, unit = card.lateral, work.design.site.unit
    large = 1.25 * size
    place = say("card_place", number=card.number, count=count)
    if card.marking.guide:
        place = f"{place}, {say('card_guide')}"
    lay = say(f"lay_{card.marking.lay}")
    facts = f"{decimal(row.length, unit)} {unit.short}, {lay}"
    level = say("card_level_bare", elevation=decimal(row.elevation, unit))
    if row.setup is not None:
        level = say(
            "card_level",
            level=level,
            foot=say(f"on_{work.settings.rod_foot}"),
            rod=decimal(row.rod, unit),
        )
        level = level if unit.is_metric else f"{level} ({feet_inches(row.rod)})"
        if len(work.setups) > 1:
            level = f"{level}, {say('card_setup', number=row.setup)}"

    def draw(axes: Any, left: float, top: float, width: float) -> None:
        axes.plot([left, left + width], [top - 3.0] * 2, color=INK, lw=PENS["bold"])
        y = top - 3.0 - 1.1 * large
        right = text_width(facts, size) + 6.0
        name = shorten(row.name, 0.5 * width, large, bold=True)
        write_text(axes, left, y, name, large, bold=True)
        used = text_width(name, large, bold=True) + 7.0
        write_text(axes, left + used, y, shorten(place, width - used - right, size), size)
        write_text(axes, left + width, y, facts, size, ha="right")
        write_text(axes, left, y - 1.35 * size, shorten(level, width, size), size)

    return Piece(3.0 + 1.1 * large + 1.35 * size + 3.0, draw, stick=True)


def _continued(text: str, size: float) -> Piece:
    def draw(axes: Any, left: float, top: float, width: float) -> None:
        axes.plot([left, left + width], [top - 3.0] * 2, color=INK, lw=PENS["bold"])
        write_text(axes, left, top - 3.0 - 1.2 * size, shorten(text, width, size), size, bold=True)

    return Piece(3.0 + 1.7 * size, draw)


def _column_heads(work: CrewWork, say: Say, size: float) -> Piece:
    """What the figures of a row set by stick are; the others name themselves."""
    inches = not work.design.site.unit.is_metric
    cells: list[Cell] = [(say("col_mark"), 4.8), (say("col_along"), 9.8), (say("col_gap"), 14.2)]
    cells += [(say("col_gap_inches"), 20.6)] if inches else []
    cells += [(say("col_rod"), _ROD)] if work.setups else []
    cells += [(say("col_read"), _READ)]

    small = _small(size)

    def draw(axes: Any, left: float, top: float, width: float) -> None:
        free = left
        for text, right in cells:
            x = max(left + right * size - text_width(text, small), free)
            write_text(axes, x, top - 1.2 * small, text, small, color=DIM)
            free = x + text_width(text, small) + 3.0

    return Piece(1.2 * small + 3.0, draw)


def _small(size: float) -> float:
    """Type of headings beside type of a size [pt]."""
    return max(_LEAST, 0.8 * size)


def _run_head(say: Say, run: Run, size: float, again: Piece | None) -> Piece:
    """How the marks below are set."""
    key = f"run_gauge_{run.side}" if run.method == "gauge" else f"run_{run.method}"
    how = say(key, above=run.above)

    def draw(axes: Any, left: float, top: float, width: float) -> None:
        y = top - 1.1 * size
        write_text(axes, left, y, shorten(how, width, size, bold=True), size, bold=True)

    return Piece(1.3 * size, draw, stick=True, again=() if again is None else (again,))


def _mark(
    work: CrewWork,
    run: Run,
    mark: FieldMark,
    size: float,
    again: tuple[Piece, ...],
    *,
    stick: bool,
) -> Piece:
    unit = work.design.site.unit
    inches = not unit.is_metric
    cells: list[Cell] = []
    words: list[str] = []
    if mark.method == "gauge":
        cells += [(decimal(mark.above_station, unit), 9.8)]
        cells += [(feet_inches(mark.gap), 20.6)] if inches else []
    elif mark.method == "instrument":
        places = _places(work)
        words = [f"N {number(mark.northing, places)}", f"E {number(mark.easting, places)}"]
    else:
        for name, distance in ((mark.point_1, mark.distance_1), (mark.point_2, mark.distance_2)):
            words.append(f"{shorten(name, 4.6 * size, size)} {decimal(distance, unit)}")
    if work.setups:
        cells += [(decimal(mark.rod, unit), _ROD)]
    height = _ROW * size

    def draw(axes: Any, left: float, top: float, width: float) -> None:
        y = top - 0.5 * height - 0.36 * size
        side = 0.85 * size
        low = y - 0.1 * size
        high, right = low + side, left + side
        ink = ink_on(axes)
        box = ((left, low), (right, low), (right, high), (left, high), (left, low))
        ink.stroke(box, PENS["thin"])
        ink.word(left + 4.8 * size, y, str(mark.mark), size, bold=True, share=1.0)
        for text, end in cells:
            ink.word(left + end * size, y, text, size, share=1.0)
        if mark.method == "gauge":
            gap = decimal(mark.gap, unit)
            ink.word(left + 14.2 * size, y, gap, size, bold=True, share=1.0)
        x = left + 5.3 * size
        for text in words:
            ink.word(x, y, text, size)
            x += text_width(text, size) + 0.7 * size
        ends = ((left + (_ROD + 0.8) * size, low), (left + width, low))
        ink.stroke(ends, PENS["thin"], PALE)

    return Piece(height, draw, stick=stick, again=again)


def _places(work: CrewWork) -> int:
    return 3 if work.design.site.unit.is_metric else _COORDINATES


def _notes(say: Say, size: float, again: tuple[Piece, ...]) -> Piece:
    def draw(axes: Any, left: float, top: float, width: float) -> None:
        y = top - 1.3 * size
        text, small = say("card_notes"), _small(size)
        write_text(axes, left, y, text, small, color=DIM)
        start = left + text_width(text, small) + 4.0
        axes.plot([start, left + width], [y - 1.0] * 2, color=PALE, lw=PENS["thin"])

    return Piece(1.6 * size, draw, again=again)
