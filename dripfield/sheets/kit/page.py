"""One page of a set: paper, heading, foot, and what draws itself between them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PENS,
    Paper,
    shorten,
    text_width,
    wrap,
    write_text,
)
from dripfield.site.model import Site

Rectangle = tuple[float, float, float, float]

FOOT_TYPE = 8.0
"""Type of the foot [pt]."""

_HEAD = 34.0  # [pt]
_FOOT = 24.0  # [pt]


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
        write_text(axes, right, top, corner or count, FOOT_TYPE, ha="right", color=DIM)
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
    for k, line in enumerate(wrap(foot, width, FOOT_TYPE, 2)):
        write_text(axes, left, low - 16.0 - 1.2 * FOOT_TYPE * k, line, FOOT_TYPE)
    if page.draw is not None:
        page.draw(axes, (left, low, width, height))
    return figure
