"""The layout's figures for the office: what the crew needs none of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dripfield.sheets.crew.flow import Piece, balanced, depth, draw_placed, pour
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import speaking
from dripfield.sheets.crew.profile_pages import slope_section
from dripfield.sheets.kit.notes import layout_facts, missed_facts, site_facts
from dripfield.sheets.kit.page import Page, Rectangle, body
from dripfield.sheets.kit.style import INK, PENS, Paper, wrap, write_text

_TYPE = 8.0  # [pt]
_GAP = 18.0  # [pt]
_SECTION = 360.0  # height of the section down the slope [pt]
_LEAST_SECTION = 240.0


def office_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """Merit, coverage, notes and the ways of working beside the one taken."""
    say = speaking(work.settings.language)
    paper = paper.turned()
    _, _, width, height = body(paper)
    wide = (width - _GAP) / 2.0
    design = work.design
    settings = design.site.settings
    crew = work.as_laid
    blocks: list[tuple[str, Sequence[str]]] = [
        ("Site", site_facts(design.site, design.ground)),
        ("Layout", [*layout_facts(design), f"panel_gain {settings.panel_gain:g}"]),
        ("To know", missed_facts(design)),
        (
            "As laid",
            [
                f"Merit {crew.merit_designed:.3f} as designed, {crew.merit:.3f} expected as laid "
                f"({crew.kept:.2f} of it; the crew that kept least {crew.least_kept:.2f}).",
                f"{crew.crews} simulated crews, seed {crew.seed}; standard errors, all "
                f"assumptions: instrument {crew.errors.instrument:g}, tape {crew.errors.tape:g}, "
                f"gauge {crew.errors.gauge:g}, station {crew.errors.station:g}, rod "
                f"{crew.errors.rod:g} {design.site.unit.short}, square {crew.errors.square:g} "
                "degrees.",
                f"{work.choice.reason}.",
                f"Laid by: {work.way}.",
                *work.field.notes,
            ],
        ),
    ]
    pieces = [piece for head, texts in blocks for piece in _block(head, texts, wide)]
    placed = balanced(pieces, 2)
    pages = [placed] if depth(placed) <= height else pour(pieces, 2, lambda _: height)
    section = slope_section(work)
    if section is not None and height - depth(pages[-1]) < _LEAST_SECTION:
        pages.append([])

    def drawer(number: int) -> Any:
        def draw(axes: Any, rectangle: Rectangle) -> None:
            left, low, _, high = rectangle
            draw_placed(axes, pages[number], left, low + high, wide, _GAP)
            if number == len(pages) - 1 and section is not None:
                section(axes, (left, low, width, min(_SECTION, high - depth(pages[number]))))

        return draw

    return [Page(say("title_office"), paper, drawer(k)) for k in range(len(pages))]


def _block(head: str, texts: Sequence[str], width: float) -> list[Piece]:
    def title(axes: Any, left: float, top: float, wide: float) -> None:
        write_text(axes, left, top - 12.0, head, 9.5, bold=True)
        axes.plot([left, left + wide], [top - 15.0] * 2, color=INK, lw=PENS["thin"])

    pieces = [Piece(18.0, title, stick=True)]
    for text in texts:
        lines = wrap(text, width, _TYPE, 12)

        def draw(axes: Any, left: float, top: float, _: float, lines: list[str] = lines) -> None:
            for k, line in enumerate(lines):
                write_text(axes, left, top - 1.3 * _TYPE * (k + 1), line, _TYPE)

        pieces.append(Piece(1.3 * _TYPE * len(lines) + 3.0, draw))
    return [*pieces, Piece(8.0, lambda *_: None)]
