"""The set's cover: what it is for, what the sheets are, and every caution."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dripfield.core.cautions import cautions
from dripfield.core.words import counted
from dripfield.preparation.prepared import Prepared
from dripfield.sheets.kit.style import shorten, wrap, write_text
from dripfield.sheets.preparation.sheet import Page, Rectangle

_TYPE = 9.0


def cover(found: Prepared, titles: Sequence[str]) -> Page:
    """The first sheet.

    Parameters
    ----------
    found : Prepared
    titles : sequence of str
        Of the sheets that follow.

    Returns
    -------
    Page
    """

    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, width, height = rectangle
        column = 0.5 * width - 12.0
        y = _lines(axes, "For the day", _facts(found), (left, low + height, column))
        index = [f"{i}  {title}" for i, title in enumerate(_index(titles), 2)]
        _lines(axes, "Sheets", index, (left, y - 10.0, column), low)
        right = left + 0.5 * width + 12.0
        _lines(axes, "Read before any work", list(cautions()), (right, low + height, column), low)

    return Page("Ready for the day", (), draw)


def _index(titles: Sequence[str]) -> list[str]:
    return [one.removesuffix(", continued") + " …" * one.endswith(", continued") for one in titles]


def _facts(found: Prepared) -> list[str]:
    site, made = found.design.site, found.preparation
    table = site.file.site
    given = (
        ("Address", table.address),
        ("Owner", table.owner),
        ("Designer", table.designer),
        ("Permit", table.permit_number),
        ("Day", found.tables.day.date),
    )
    facts = [f"{name}: {value}" for name, value in given if value]
    facts.append(f"{counted(len(made.takeoff.items), 'row')} on the take-off")
    if made.prices:
        facts[-1] += f", {made.prices.total:,.2f} {made.prices.currency} in all"
    if found.changes:
        facts.append(f"{counted(len(found.changes), 'change')} since the last take-off")
    facts.append(f"{len(found.readiness.open)} of {len(found.readiness.rows)} open on the list")
    day = made.day
    facts.append(
        f"Work from {day.clock(0.0)} to {day.clock(day.schedule.end)}; {day.effects[0].text}"
    )
    facts += [f"{one.what} does not hold: {one.text}" for one in _bad(found)]
    facts += [
        f"{one.name}: {sum(not shown.complete for shown in one.shown)} of {len(one.shown)} points"
        " of the submittal have gaps"
        for one in found.submittals
    ]
    return facts


def _bad(found: Prepared) -> list[Any]:
    return [one for one in found.findings if one.verdict == "fail"]


def _lines(
    axes: Any,
    heading: str,
    paragraphs: Sequence[str],
    place: tuple[float, float, float],
    low: float = 0.0,
) -> float:
    """A heading and paragraphs under it, smaller where they would not fit; the lowest line."""
    left, top, width = place
    write_text(axes, left, top - 14.0, heading, 11.0, bold=True)
    top -= 20.0
    for size in (_TYPE, 8.5, 8.0):
        lines = [
            (line, i) for i, text in enumerate(paragraphs) for line in wrap(text, width, size, 9)
        ]
        tall = 1.3 * size * len(lines) + 3.0 * len(paragraphs)
        if top - tall >= low:
            break
    before = 0
    for line, i in lines:
        top -= 1.3 * size + 3.0 * (i != before)
        before = i
        write_text(axes, left, top, shorten(line, width, size), size)
    return top
