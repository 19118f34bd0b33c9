"""What may be measured from: points with their ties, check lengths, and moves of the laser."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dripfield.core.table import Cell, Table, figures, text
from dripfield.sheets.crew.first_page import Lead
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import Say, speaking
from dripfield.sheets.crew.sheet import type_size
from dripfield.sheets.crew.words import setup_words
from dripfield.sheets.kit.page import Page, Rectangle, body
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.style import INK, PENS, Paper, wrap, write_text
from dripfield.staking.points import permanent_pair

_TYPE = 8.5  # [pt]
_LEAST = 8.0
_HEAD = 20.0  # over a table [pt]
_GAP = 10.0  # under it [pt]


def points_pages(work: CrewWork, paper: Paper, lead: Lead | None = None) -> list[Page]:
    """The points and check lengths on as few pages as they take.

    Parameters
    ----------
    work : CrewWork
    paper : Paper
    lead : Lead, optional
        Drawn over them on the first.

    Returns
    -------
    list of Page
    """
    say = speaking(work.settings.language)
    paper = paper.turned()
    _, _, width, height = body(paper)
    size = type_size(work, _TYPE)
    look = Look(
        size, leading=1.45, between=14.0, gap=8.0, many=True, heading=max(0.92, _LEAST / size)
    )
    tables = [
        (say("head_points"), PaperTable(_points(work, say), look, width)),
        (say("head_checks"), PaperTable(_checks(work, say), look, width)),
    ]
    words = _words(work, say, width, size)
    under = say("head_setups" if len(work.setups) > 1 else "head_ties")
    pages: list[list[Any]] = [[]]
    left = height - (0.0 if lead is None else lead.height + _GAP)
    for head, table in tables:
        first = 0
        while first < len(table.table.rows):
            blocks = table.blocks(first, (width, left - _HEAD))
            if not blocks and left < height:
                pages.append([])
                left = height
                continue
            pages[-1].append((height - left, head, table, blocks))
            left -= _HEAD + _GAP + max(table.height_of(block) for block in blocks)
            first = blocks[-1].stop
    need = 1.35 * size * len(words) + _HEAD
    if words and need > left:
        pages.append([])
        left = height
    at = height - left

    def drawer(number: int) -> Any:
        def draw(axes: Any, rectangle: Rectangle) -> None:
            x, low, _, high = rectangle
            top = low + high
            if lead is not None and number == 0:
                lead.draw(axes, x, top)
            for down, head, table, blocks in pages[number]:
                _title(axes, head, x, top - down, width)
                table.draw(axes, blocks, x, top - down - _HEAD)
            if words and number == len(pages) - 1:
                _title(axes, under, x, top - at, width)
                y = top - at - _HEAD
                for line in words:
                    y -= 1.35 * size
                    write_text(axes, x, y, line, size)

        return draw

    return [Page(say("title_points"), paper, drawer(k)) for k in range(len(pages))]


def _title(axes: Any, head: str, left: float, top: float, width: float) -> None:
    write_text(axes, left, top - 12.0, head, 10.0, bold=True)
    axes.plot([left, left + width], [top - 15.5] * 2, color=INK, lw=PENS["thin"])


def _points(work: CrewWork, say: Say) -> Table:
    unit, field = work.design.site.unit, work.field
    pair = [point.name for point in permanent_pair(field.points)]
    ties = {
        tie.point: {tie.point_1: tie.distance_1, tie.point_2: tie.distance_2} for tie in field.ties
    }
    tied = len(pair) == 2 and bool(ties)
    columns = [
        text("point", say("point"), bold=True, most=18),
        figures("northing", unit.places, say("northing"), unit.short),
        figures("easting", unit.places, say("easting"), unit.short),
        figures("elevation", unit.places, say("elevation"), unit.short),
    ]
    if tied:
        columns += [
            figures(f"tie_{k}", unit.places, say("from"), name[:12]) for k, name in enumerate(pair)
        ]
    columns += [text("what", say("what"), most=44, wide=True)]
    rows: list[list[Cell]] = []
    for point in field.points:
        cells: list[Cell] = [point.name, point.northing, point.easting, point.elevation]
        if tied:
            own = ties.get(point.name, {})
            cells += [own.get(name) for name in pair]
        kind = say(f"kind_{point.kind.replace(' ', '_')}")
        words = point.description.partition(": ")[2].removesuffix(", end of base line")
        rows.append([*cells, f"{kind}: {words}" if words else kind])
    return Table(columns, rows, say("head_points"))


def _checks(work: CrewWork, say: Say) -> Table:
    unit = work.design.site.unit
    columns = [
        text("from", say("from"), bold=True, most=9),
        text("to", say("to"), bold=True, most=9),
        figures("distance", unit.places, say("distance"), unit.short),
        text("measured", say("measured"), align="center"),
    ]
    rows: list[list[Cell]] = [
        [one.point_1, one.point_2, one.distance, "______"] for one in work.field.checks
    ]
    return Table(columns, rows, say("head_checks"))


def _words(work: CrewWork, say: Say, width: float, size: float) -> Sequence[str]:
    """The moves of the laser, and that no corner can be tied."""
    texts = setup_words(work) if len(work.setups) > 1 else []
    pair = permanent_pair(work.field.points)
    if len(pair) < 2:
        texts = [*texts, say("no_second", count=len(pair))]
    return [line for one in texts for line in wrap(one, width, size, 6)]
