"""The cover: the site, its datum and benchmark, cautions, the index, and room for signatures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dripfield.core.cautions import cautions
from dripfield.core.feet_inches import decimal
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.sheet import Page, Rectangle, draw_check_bar
from dripfield.sheets.kit.notes import layout_facts, missed_facts, site_facts
from dripfield.sheets.kit.style import DIM, INK, PENS, Paper, wrap, write_text
from dripfield.survey.doubt.blunders import Suspect

_SIGNATURES = ("Designed by", "Staked by", "Checked by")
_SIGN_HEIGHT = 58.0  # [pt]
_TYPE = 9.0  # [pt]


def cover_page(
    work: CrewWork, paper: Paper, titles: Sequence[str], suspects: Sequence[Suspect] = ()
) -> Page:
    """The cover of a set whose other sheets have these titles, in order."""

    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, width, height = rectangle
        top = low + height
        size, lines = _name(work.design.site.name, width)
        for line in lines:
            top -= 1.2 * size
            write_text(axes, left, top, line, size, bold=True)
        top -= 10.0
        column = (width - 24.0) / 2.0
        y = _block(
            axes, left, top, column, "Site", site_facts(work.design.site, work.design.ground)
        )
        y = _block(axes, left, y, column, "Benchmark", benchmark_facts(work))
        facts = layout_facts(work.design)
        facts += missed_facts(work.design)
        _block(axes, left, y, column, "Layout", facts, low + _SIGN_HEIGHT + 30.0)
        right = left + column + 24.0
        y = _block(axes, right, top, column, "Before digging", cautions())
        _block(axes, right, y, column, "Sheets", _index(titles), low + _SIGN_HEIGHT)
        draw_check_bar(axes, left, low + _SIGN_HEIGHT + 8.0, work.design.site)
        _signatures(axes, left, low, width)

    return Page("Crew's sheets", paper, draw)


def _name(name: str, width: float) -> tuple[float, list[str]]:
    """The site's name whole, in the largest of a few type sizes that takes it."""
    for size, most in ((24.0, 1), (18.0, 2), (13.0, 3)):
        lines = wrap(name, width, size, most, bold=True)
        if not lines[-1].endswith("…"):
            return size, lines
    return 10.0, wrap(name, width, 10.0, 6, bold=True)


def benchmark_facts(work: CrewWork) -> list[str]:
    """The benchmark in words, or that there is none."""
    mark, unit = work.settings.benchmark, work.design.site.unit
    if mark is None:
        return [
            "None given: no rod readings are worked out. Add [benchmark] with name and elevation to"
            " site.toml."
        ]
    # begins with a Latin letter, so that a name written from right to left stays in its place
    facts = [f"Mark {mark.name}: elevation {decimal(mark.elevation, unit)} {unit.short}"]
    if mark.description:
        facts.append(mark.description)
    if mark.northing is not None and mark.easting is not None:
        facts.append(
            f"Northing {decimal(mark.northing, unit)}, easting {decimal(mark.easting, unit)}"
        )
    return facts


def _index(titles: Sequence[str]) -> list[str]:
    """Titles with the sheets they take: ``3 to 5  Staking table``."""
    lines: list[str] = []
    first = 0
    for i, title in enumerate(titles):
        if i + 1 < len(titles) and titles[i + 1] == title:
            continue
        numbers = f"{first + 2}" if i == first else f"{first + 2} to {i + 2}"
        lines.append(f"{numbers}   {title}")
        first = i + 1
    return lines


def _block(
    axes: Any,
    left: float,
    top: float,
    width: float,
    head: str,
    paragraphs: Sequence[str],
    low: float = 0.0,
) -> float:
    """A heading with paragraphs under it; returns where the next block may start."""
    y = top - 12.0
    write_text(axes, left, y, head, 10.0, bold=True)
    axes.plot([left, left + width], [y - 3.5] * 2, color=INK, lw=PENS["thin"])
    y -= 4.0
    lines = [
        (line, k == 0) for text in paragraphs for k, line in enumerate(wrap(text, width, _TYPE, 6))
    ]
    size = _TYPE
    if low and lines:
        size = max(5.5, min(size, (y - low) / (1.4 * len(lines))))
    for line, starts in lines:
        y -= (1.4 if starts else 1.25) * size
        write_text(axes, left, y, line, size)
    return y - 8.0


def _signatures(axes: Any, left: float, low: float, width: float) -> None:
    share = width / len(_SIGNATURES)
    for i, text in enumerate(_SIGNATURES):
        x = left + i * share
        axes.plot([x, x + share - 16.0], [low + 16.0] * 2, color=INK, lw=PENS["medium"])
        write_text(axes, x, low + 6.0, f"{text} (name, signature, date)", 7.5, color=DIM)
