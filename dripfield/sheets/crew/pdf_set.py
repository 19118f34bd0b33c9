"""The printable set: every maker's pages in order, behind a cover, in one PDF.

A maker is a function of the crew's work, the relief and the paper that returns the pages it has
for this site, or none. A new kind of page, such as a zone's detail, joins by standing in
:data:`PAGE_MAKERS`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from dripfield.core.words import plain
from dripfield.sheets.crew.bed_pages import bed_pages
from dripfield.sheets.crew.cover_page import cover_page
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.plan_pages import plan_pages
from dripfield.sheets.crew.profile_pages import profile_pages
from dripfield.sheets.crew.sheet import Page, draw_sheet
from dripfield.sheets.crew.table_sheets import laser_pages, lateral_pages
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import PAPERS, Paper, drawing_defaults

PageMaker = Callable[[CrewWork, Relief, Paper], list[Page]]

PAGE_MAKERS: tuple[PageMaker, ...] = (
    plan_pages,
    lambda work, _, paper: lateral_pages(work, paper),
    lambda work, _, paper: laser_pages(work, paper),
    lambda work, _, paper: profile_pages(work, paper),
    lambda work, _relief, _paper: bed_pages(work),
)


def write_sheets_pdf(
    path: Path, work: CrewWork, relief: Relief, makers: Sequence[PageMaker] = PAGE_MAKERS
) -> list[str]:
    """Write the set; returns the titles of its pages. The same site gives the same bytes.

    Raises
    ------
    InputError
        The paper cannot hold one lateral at any listed scale.
    """
    from matplotlib.backends.backend_pdf import PdfPages

    paper = PAPERS[work.settings.paper]
    pages = [page for make in makers for page in make(work, relief, paper)]
    pages.insert(0, cover_page(work, paper, [page.title for page in pages], relief.suspects))
    metadata = {
        "Title": plain(work.design.site.name),
        "Subject": "Crew's sheets of a drip field",
        "Creator": "dripfield",
        "Producer": None,
        "CreationDate": None,
    }
    with drawing_defaults(), PdfPages(path, metadata=metadata) as pdf:
        for number, page in enumerate(pages, 1):
            pdf.savefig(draw_sheet(page, work.design.site, number, len(pages)))
    return [page.title for page in pages]
