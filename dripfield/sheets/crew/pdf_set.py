"""The printable set: every maker's pages in order, behind a cover, in one PDF.

A maker is a function of the crew's work, the relief and the paper that returns the pages it has
for this site, or none. A new kind of page, such as a zone's detail, joins by standing in
:data:`PAGE_MAKERS`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from io import BytesIO
from pathlib import Path

from dripfield.core.words import plain
from dripfield.sheets.crew.bed_pages import bed_pages
from dripfield.sheets.crew.card_pages import card_pages
from dripfield.sheets.crew.first_page import first_pages
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import speaking
from dripfield.sheets.crew.office_page import office_pages
from dripfield.sheets.crew.plan_pages import plan_pages
from dripfield.sheets.crew.points_page import points_pages
from dripfield.sheets.crew.profile_pages import profile_pages
from dripfield.sheets.crew.sheet import draw_sheet
from dripfield.sheets.crew.table_sheets import lateral_pages
from dripfield.sheets.kit.page import Page
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import PAPERS, Paper, drawing_defaults

PageMaker = Callable[[CrewWork, Relief, Paper], list[Page]]

PAGE_MAKERS: tuple[PageMaker, ...] = (
    plan_pages,
    lambda work, _, paper: card_pages(work, paper),
    lambda work, _, paper: lateral_pages(work, paper),
    lambda work, _relief, _paper: bed_pages(work),
    lambda work, _, paper: office_pages(work, paper),
    lambda work, _, paper: profile_pages(work, paper),
)


def write_sheets_pdf(
    path: Path, work: CrewWork, relief: Relief, makers: Sequence[PageMaker] = PAGE_MAKERS
) -> list[str]:
    """Write the set; the same site gives the same bytes.

    Parameters
    ----------
    path : Path
    work : CrewWork
    relief : Relief
    makers : sequence of callable
        Of the sheets after the first.

    Returns
    -------
    list of str
        The titles of its pages.

    Raises
    ------
    InputError
        The paper cannot hold one lateral at any listed scale.
    """
    from matplotlib.backends.backend_pdf import PdfPages

    paper = PAPERS[work.settings.paper]
    pages = _pages(work, paper, [page for make in makers for page in make(work, relief, paper)])
    metadata = {
        "Title": plain(work.design.site.name),
        "Subject": f"Crew's sheets of a drip field, layout {work.design.code}",
        "Creator": "dripfield",
        "Producer": None,
        "CreationDate": None,
    }
    drawn = BytesIO()
    points = speaking(work.settings.language)("title_points")
    cautions = 1 + [page.title for page in pages].index(points)
    with drawing_defaults(), PdfPages(drawn, metadata=metadata) as pdf:
        for number, page in enumerate(pages, 1):
            pdf.savefig(draw_sheet(page, work, number, len(pages), cautions))
    titles = [page.title for page in pages]
    _write_with_outline(path, drawn, titles)
    return titles


def _pages(work: CrewWork, paper: Paper, rest: Sequence[Page]) -> list[Page]:
    """The first page and the points before the rest; the index on them counts them too."""
    points: list[Page] = []
    while True:
        titles = [page.title for page in (*points, *rest)]
        first, lead = first_pages(work, paper, titles)
        count, points = len(points), points_pages(work, paper, lead)
        if count == len(points):
            return [*first, *points, *rest]


def _write_with_outline(path: Path, drawn: BytesIO, titles: Sequence[str]) -> None:
    """The pages with an entry in the outline where each kind of sheet begins."""
    from pypdf import PdfReader, PdfWriter

    drawn.seek(0)
    writer = PdfWriter(clone_from=PdfReader(drawn))
    for number, title in enumerate(titles):
        if number == 0 or titles[number - 1] != title:
            writer.add_outline_item(title=title, page_number=number)
    writer.write(path)
