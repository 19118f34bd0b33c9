"""The bed's section and its grade stakes, for sites that describe how the bed is built."""

from __future__ import annotations

from typing import Any

from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import speaking
from dripfield.sheets.kit.page import Page
from dripfield.sheets.kit.style import Paper, usual_papers


def bed_pages(work: CrewWork) -> list[Page]:
    """Section and rake sheets as ``dripfield bed`` draws them; none without ``[bed.section]``.

    They keep the paper that they are laid out for, the smaller of the unit's two.
    """
    if work.bed is None:
        return []
    from dripfield.sheets.bed.rake_sheet import rake_figures
    from dripfield.sheets.bed.section_sheet import draw_sections

    say = speaking(work.settings.language)
    report = work.bed
    design, paper = report.design, usual_papers(work.design.site.unit)[0]
    rakes = rake_figures(design, report.stakes, report.readings)
    return [
        Page(say("title_bed"), paper, whole=lambda: draw_sections(design, report.sections)),
        *(_ready(say("title_rake"), paper, figure) for figure in rakes),
    ]


def _ready(title: str, paper: Paper, figure: Any) -> Page:
    return Page(title, paper, whole=lambda: figure)
