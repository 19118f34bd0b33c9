"""A review sheet set on paper: as many pages as it takes, each numbered, the same bytes always."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from dripfield.core.table import Table
from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PENS,
    Paper,
    drawing_defaults,
    save_figure,
    shorten,
    usual_papers,
    wrap,
    write_text,
)
from dripfield.sheets.review.content import Section, Sheet
from dripfield.sheets.review.overlay import draw_overlay
from dripfield.site.model import Site

_FOOT = 20.0  # under the text, for the page's number [pt]
_LOOK = Look(size=8.0, leading=1.6, gap=8.0, between=16.0, lines=6)


def write_document(path: Path, site: Site, sheet: Sheet) -> None:
    """Write the sheet as a PDF: summary, signature and files first, then the map and the tables.

    Parameters
    ----------
    path : Path
        The PDF to write.
    site : Site
    sheet : Sheet
    """
    from matplotlib.backends.backend_pdf import PdfPages

    metadata = {"CreationDate": None, "Producer": None, "Creator": None, "Title": sheet.title}
    with drawing_defaults():
        pages = _Pages(site, sheet)
        pages.title()
        if sheet.reasons.lines:
            pages.section(sheet.reasons)
        if sheet.conditions.lines:
            pages.section(sheet.conditions)
        for table in sheet.summary:
            pages.table(table)
        pages.section(sheet.unchecked)
        pages.signature()
        pages.section(sheet.notes)
        pages.files()
        pages.overlay()
        for table in sheet.tables:
            pages.table(table, new_page=table is sheet.tables[0])
        pages.number()
        with PdfPages(path, metadata=metadata) as document:
            for figure in pages.figures:
                document.savefig(figure)


def write_picture(path: Path, site: Site, sheet: Sheet) -> None:
    """Write the page with the map alone as a PNG.

    Parameters
    ----------
    path : Path
        The PNG to write.
    site : Site
    sheet : Sheet
    """
    with drawing_defaults():
        pages = _Pages(site, sheet)
        pages.overlay()
        pages.number()
    save_figure(pages.figures[0], path)


class _Pages:
    """Pages filled from the top; what does not fit goes on to the next."""

    def __init__(self, site: Site, sheet: Sheet) -> None:
        self.site, self.sheet = site, sheet
        self.small, self.large = usual_papers(site.unit)
        self.paper = self.small
        self.left, self.low = MARGIN, MARGIN + _FOOT
        self.figures: list[Any] = []
        self.axes: Any = None
        self.done: list[tuple[Any, Paper]] = []
        self.y = 0.0

    @property
    def right(self) -> float:
        return self.paper.width - MARGIN

    @property
    def width(self) -> float:
        return self.right - self.left

    def turn(self, *, large: bool = False) -> None:
        """Begin a page."""
        self.paper = self.large if large else self.small
        figure, self.axes = blank_sheet(self.paper)
        self.figures.append(figure)
        self.done.append((self.axes, self.paper))
        self.y = self.paper.height - MARGIN

    def need(self, height: float) -> None:
        """Begin a page when less than so much is left of this one."""
        if self.y - height < self.low:
            self.turn()

    def line(self, text: str, size: float, *, bold: bool = False, indent: float = 0.0) -> None:
        self.need(1.35 * size)
        self.y -= 1.3 * size
        write_text(self.axes, self.left + indent, self.y, text, size, bold=bold)

    def title(self) -> None:
        """The head of the first page: site, what is compared, the answer in a box."""
        self.turn()
        sheet = self.sheet
        for text in wrap(sheet.site, self.width, 15.0, 2, bold=True):
            self.line(text, 15.0, bold=True)
        self.line(sheet.title, 11.0)
        self.y -= 3.0
        for fact in sheet.facts:
            for text in wrap(fact, self.width, 8.0, 3):
                self.line(text, 8.0)
        self.y -= 6.0
        lines = wrap(sheet.answer, self.width - 16.0, 11.0, 4, bold=True)
        height = 15.0 * len(lines) + 8.0
        low = self.y - height
        corners = [self.left, self.right, self.right, self.left, self.left]
        self.axes.plot(corners, [low, low, self.y, self.y, low], color=INK, lw=PENS["bold"])
        self.y -= 2.0
        for text in lines:
            self.line(text, 11.0, bold=True, indent=8.0)
        self.y = low - 2.0
        self.line(sheet.counts, 8.0)

    def heading(self, text: str, room: float) -> None:
        self.need(26.0 + room)
        self.y -= 8.0
        for line in wrap(text, self.width, 9.5, 2, bold=True):
            self.line(line, 9.5, bold=True)
        self.y -= 2.0

    def section(self, section: Section) -> None:
        self.heading(section.title, 12.0)
        for item in section.lines or ("nothing",):
            for number, text in enumerate(wrap(item, self.width - 12.0, 8.0, 5)):
                if number == 0:
                    self.need(11.0)
                    write_text(self.axes, self.left + 2.0, self.y - 1.3 * 8.0, "–", 8.0)
                self.line(text, 8.0, indent=12.0)

    def table(self, table: Table, *, new_page: bool = False) -> None:
        """A table; one that takes less than half of the width runs on beside itself."""
        if not table.rows:
            return
        if new_page:
            self.turn()
        setting = PaperTable(table, _LOOK, self.width)
        self.heading(table.title, 40.0)
        first = 0
        while first < len(table.rows):
            blocks = setting.blocks(first, (self.width, self.y - self.low), most=2)
            if blocks:
                self.y = setting.draw(self.axes, blocks, self.left, self.y)
                first = blocks[-1].stop
            if first < len(table.rows):
                self.turn()
                for text in wrap(f"{table.title}, continued", self.width, 8.0, 2):
                    self.line(text, 8.0)
                self.y -= 2.0

    def signature(self) -> None:
        fields = self.sheet.signature
        said = [
            text
            for statement in self.sheet.statements
            for text in wrap(statement, self.width - 10.0, 8.0, 3)
        ]
        rest = 10.5 * len(said) + 5.0
        self.need(74.0 + rest)
        self.y -= 12.0
        top, height = self.y, 48.0 + rest
        low = top - height
        corners = [self.left, self.right, self.right, self.left, self.left]
        self.axes.plot(corners, [low, low, top, top, low], color=INK, lw=PENS["medium"])
        share = self.width / len(fields)
        for i, field in enumerate(fields):
            x = self.left + i * share
            if i:
                self.axes.plot([x, x], [low + rest, top], color=INK, lw=PENS["thin"])
            write_text(self.axes, x + 5.0, top - 10.0, field, 8.0, bold=True)
        self.axes.plot([self.left, self.right], [low + rest] * 2, color=INK, lw=PENS["thin"])
        y = low + rest
        for text in said:
            y -= 10.5
            write_text(self.axes, self.left + 5.0, y, text, 8.0)
        self.y = low

    def files(self) -> None:
        self.heading("Input files (SHA-256)", 12.0)
        for name, digest in self.sheet.files:
            self.need(10.0)
            self.y -= 9.2
            text = shorten(name, 0.36 * self.width, 7.0)
            write_text(self.axes, self.left + 2.0, self.y, text, 7.0)
            write_text(self.axes, self.left + 0.38 * self.width, self.y, digest, 7.0)

    def overlay(self) -> None:
        """The map, on a page of its own."""
        self.turn(large=self.sheet.overlay.large)
        title = f"{self.sheet.site}: {self.sheet.overlay.title}"
        self.line(shorten(title, self.width, 10.0, bold=True), 10.0, bold=True)
        room = 24.0
        area = (self.left, self.low + room, self.width, self.y - self.low - room - 6.0)
        note = draw_overlay(self.axes, self.site, self.paper, self.sheet.overlay, area)
        for number, text in enumerate(wrap(note, self.width, 8.0, 2)):
            write_text(self.axes, self.left, self.low + 10.0 - 9.5 * number, text, 8.0)
        self.y = self.low

    def number(self) -> None:
        """Write each page's foot, once their count is known."""
        for page, (axes, paper) in enumerate(self.done, 1):
            right = paper.width - MARGIN
            title = f"{self.sheet.site} – {self.sheet.title}"
            name = shorten(title, 0.5 * (right - self.left), 7.0)
            axes.plot([self.left, right], [MARGIN + 12.0] * 2, color=DIM, lw=PENS["hair"])
            write_text(axes, self.left, MARGIN + 2.0, name, 7.0, color=DIM)
            made = f"layout {self.sheet.code}, dripfield {self.sheet.version}"
            foot = f"{made}, page {page} of {len(self.done)}"
            write_text(axes, right, MARGIN + 2.0, foot, 7.0, ha="right", color=DIM)
