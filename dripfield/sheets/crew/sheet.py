"""One sheet of the set: paper, border, heading, foot, and the bar that checks the printer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from dripfield.sheets.crew.code import code_of
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import Say, say_caution, say_unit, speaking
from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PAPER_WHITE,
    PENS,
    POINTS_PER_INCH,
    Paper,
    shorten,
    text_width,
    wrap,
    write_text,
)
from dripfield.site.model import Site

Rectangle = tuple[float, float, float, float]

_HEAD = 34.0  # [pt]
_FOOT = 24.0  # [pt]
_FOOT_TYPE = 8.0  # [pt]
_LARGE = 1.45  # of the usual type, where large print is asked for


@dataclass(frozen=True)
class Page:
    """A page that can draw itself: into the set's heading and foot, or as a whole sheet.

    Attributes
    ----------
    title : str
        What the page shows: in its heading and in the index of the cover.
    paper : Paper
        Lying or upright.
    draw : callable, optional
        Takes matplotlib axes in points of the sheet and the rectangle (left, low, width, height)
        that the page may fill.
    whole : callable, optional
        In place of ``draw``: makes a figure of a whole sheet, its first axes in points of it, that
        another part of the package lays out and only its number is added to.
    """

    title: str
    paper: Paper
    draw: Callable[[Any, Rectangle], None] | None = None
    whole: Callable[[], Any] | None = None


def body(paper: Paper) -> Rectangle:
    """What heading, foot and margin leave of a sheet: left, low, width, height [pt]."""
    low = MARGIN + _FOOT
    return MARGIN, low, paper.width - 2.0 * MARGIN, paper.height - MARGIN - _HEAD - low


def type_size(work: CrewWork, usual: float) -> float:
    """A size of type, larger where large print is asked for [pt]."""
    return usual * _LARGE if work.settings.large_print else usual


def draw_sheet(page: Page, work: CrewWork, number: int, total: int, cautions: int) -> Any:
    """Draw one sheet of the crew's set.

    Parameters
    ----------
    page : Page
    work : CrewWork
    number, total : int
        Of the sheet, and of all.
    cautions : int
        Number of the sheet with the cautions.

    Returns
    -------
    Figure
        Of the paper's size, with heading, foot and the page's own drawing.
    """
    site, language = work.design.site, work.settings.language
    say, code = speaking(language), code_of(work.design)
    count = say("sheet_count", number=number, total=total)
    foot = say("foot", unit=say_unit(site.unit, language), code=code, sheet=cautions)
    corner = f"{say('layout_code', code=code)}, {count}"
    return framed(page, site, count, f"{foot} {say_caution('code', language)}", corner)


def framed(page: Page, site: Site, count: str, foot: str, corner: str = "") -> Any:
    """A page with heading and foot.

    Parameters
    ----------
    page : Page
    site : Site
        Its name stands in the heading.
    count : str
        Which sheet of how many.
    foot : str
        Under the page, in two lines at most.
    corner : str
        What is written on a whole sheet, in place of ``count``.

    Returns
    -------
    Figure
    """
    if page.whole is not None:
        figure = page.whole()
        axes = figure.axes[0]
        right, top = axes.get_xlim()[1] - MARGIN, axes.get_ylim()[1] - 0.6 * MARGIN
        write_text(axes, right, top, corner or count, _FOOT_TYPE, ha="right", color=DIM)
        return figure
    figure, axes = blank_sheet(page.paper)
    left, low, width, height = body(page.paper)
    top = low + height
    title_width = text_width(page.title, 12.0, bold=True)
    write_text(axes, left, top + 13.0, page.title, 12.0, bold=True)
    room = width - title_width - text_width(count, 9.0) - 40.0
    name = shorten(site.name, room, 9.0)
    write_text(axes, left + title_width + 20.0, top + 13.0, name, 9.0)
    write_text(axes, left + width, top + 13.0, count, 9.0, ha="right")
    axes.plot([left, left + width], [top + 6.0] * 2, color=INK, lw=PENS["bold"])
    axes.plot([left, left + width], [low - 6.0] * 2, color=INK, lw=PENS["thin"])
    for k, line in enumerate(wrap(foot, width, _FOOT_TYPE, 2)):
        write_text(axes, left, low - 16.0 - 1.2 * _FOOT_TYPE * k, line, _FOOT_TYPE)
    if page.draw is not None:
        page.draw(axes, (left, low, width, height))
    return figure


def draw_check_bar(axes: Any, left: float, low: float, site: Site, say: Say) -> float:
    """A bar of 3 inches or 80 mm to lay a rule on.

    A print that is not at full size shows at once, and no length may be scaled from it.

    Parameters
    ----------
    axes : Axes
        In points.
    left, low : float
        Its corner [pt].
    site : Site
    say : callable
        From :func:`dripfield.sheets.crew.language.speaking`.

    Returns
    -------
    float
        Its right edge, its words included [pt].
    """
    count, step = (8, 10.0 / 25.4) if site.unit.is_metric else (3, 1.0)
    step *= POINTS_PER_INCH
    label = "80 mm" if site.unit.is_metric else "3 in"
    for i in range(count):
        x = left + i * step
        axes.fill(
            [x, x + step, x + step, x],
            [low, low, low + 4.0, low + 4.0],
            fc=INK if i % 2 == 0 else PAPER_WHITE,
            ec=INK,
            lw=0.5,
        )
    note = say("full_size", length=label)
    write_text(axes, left, low + 7.0, note, _FOOT_TYPE)
    return left + max(count * step, text_width(note, _FOOT_TYPE))
