"""``prepare.pdf``: the set for the day, in one file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from dripfield.core.cautions import Topic
from dripfield.core.table import Table, text
from dripfield.core.words import plain
from dripfield.preparation.prepared import Prepared
from dripfield.sheets.kit.style import Paper, drawing_defaults
from dripfield.sheets.preparation.coil_page import coil_pages
from dripfield.sheets.preparation.cover import cover
from dripfield.sheets.preparation.day_chart import day_pages
from dripfield.sheets.preparation.heights_page import heights_pages
from dripfield.sheets.preparation.sheet import Page, draw_sheet, paper_of, table_pages
from dripfield.sheets.preparation.tables import (
    changes_sheet,
    readiness_sheet,
    submittal_sheet,
    takeoff_sheet,
)

_READY: tuple[Topic, ...] = ("utilities", "overhead", "excavation", "lids", "wastewater", "soil")


def prepare_pages(found: Prepared, paper: Paper) -> list[Page]:
    """Every page of the set behind its cover."""
    frost: tuple[Topic, ...] = ("frost",) if found.known.frost_depth else ()
    pages = [
        *table_pages(readiness_sheet(found), paper, _READY),
        *day_pages(found, paper),
        *table_pages(takeoff_sheet(found), paper, frost, lines=14),
        *table_pages(changes_sheet(found), paper, ()),
        *coil_pages(found, paper),
        *heights_pages(found, paper),
        *(
            page
            for one in found.submittals
            for page in table_pages(submittal_sheet(one), paper, ())
        ),
        *table_pages(_notes(found), paper, ()),
    ]
    return [cover(found, [page.title for page in pages]), *pages]


def write_prepare_pdf(found: Prepared, path: Path) -> None:
    """Write the set; the same site gives the same bytes."""
    from matplotlib.backends.backend_pdf import PdfPages

    site = found.design.site
    paper = paper_of(site)
    pages = prepare_pages(found, paper)
    metadata: dict[str, Any] = {
        "Title": plain(site.name),
        "Subject": "A drip field ready for the day",
        "Creator": "dripfield",
        "Producer": None,
        "CreationDate": None,
    }
    with drawing_defaults(), PdfPages(path, metadata=metadata) as pdf:
        for number, page in enumerate(pages, 1):
            pdf.savefig(draw_sheet(page, found.design, paper, number, len(pages)))


def _notes(found: Prepared) -> Table:
    columns = (text("left out or assumed", wide=True, most=200),)
    return Table(columns, [(note,) for note in found.notes], "What is left out and assumed")
