"""One sheet of the crew's set: its heading and foot, and the bar that checks the printer."""

from __future__ import annotations

from typing import Any

from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import Say, say_caution, say_unit, speaking
from dripfield.sheets.kit.page import FOOT_TYPE, Page, framed
from dripfield.sheets.kit.style import INK, PAPER_WHITE, POINTS_PER_INCH, text_width, write_text
from dripfield.site.model import Site

_LARGE = 1.45  # of the usual type, where large print is asked for


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
    say, code = speaking(language), work.design.code
    count = say("sheet_count", number=number, total=total)
    foot = say("foot", unit=say_unit(site.unit, language), code=code, sheet=cautions)
    corner = f"{say('layout_code', code=code)}, {count}"
    return framed(page, site, count, f"{foot} {say_caution('code', language)}", corner)


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
    write_text(axes, left, low + 7.0, note, FOOT_TYPE)
    return left + max(count * step, text_width(note, FOOT_TYPE))
