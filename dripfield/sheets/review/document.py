"""A review sheet set on paper: as many pages as it takes, each numbered, the same bytes always."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PALE,
    PENS,
    WASH,
    Paper,
    drawing_defaults,
    save_figure,
    shorten,
    text_width,
    usual_papers,
    wrap,
    write_text,
)
from dripfield.sheets.review.content import Section, Sheet, Table
from dripfield.sheets.review.overlay import draw_overlay
from dripfield.site.model import Site

_FOOT = 20.0  # under the text, for the page's number [pt]
_CELL = 8.0  # type of a table [pt]
_PAD = 8.0  # between cells [pt]
_GUTTER = 16.0  # between the halves of a narrow table [pt]
_WIDEST = 140.0  # of a column that is not the wide one [pt]
_LINES = 6  # of a wrapped cell at most


def write_document(path: Path, site: Site, sheet: Sheet) -> None:
    """Write the sheet as a PDF: summary, signature and files first, then the map and the tables."""
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
    """Write the page with the map alone as a PNG."""
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
        self.line(text, 9.5, bold=True)
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
        widths = self._widths(table)
        beside = 0.5 * (self.width + _GUTTER)
        left = self.left
        self.heading(table.title, 40.0)
        top = lowest = self.y
        self._heads(table, widths, left)
        for number, row in enumerate(table.rows):
            marked = number in table.marked
            cells = [
                wrap(cell, width - _PAD, _CELL, _LINES, bold=marked and i == 0)
                for i, (cell, width) in enumerate(zip(row, widths, strict=True))
            ]
            height = 1.35 * _CELL * max(len(lines) for lines in cells) + 2.2
            if self.y - height < self.low:
                if left == self.left and sum(widths) <= beside - _GUTTER:
                    left, lowest, self.y = self.left + beside, self.y, top
                else:
                    self.turn()
                    self.line(f"{table.title}, continued", 8.0)
                    self.y -= 2.0
                    left, top = self.left, self.y
                    lowest = top
                self._heads(table, widths, left)
            self._row(table, widths, cells, left, height, marked=marked)
        self.y = min(self.y, lowest)

    def _widths(self, table: Table) -> list[float]:
        """Natural widths, no wider than a name needs; the wide column takes what is left."""
        natural = []
        for i, column in enumerate(table.columns):
            texts = [row[i] for row in table.rows]
            width = 0.5 + max(text_width(text, _CELL, bold=i == 0) for text in texts)
            head = max(text_width(part, _CELL, bold=True) for part in column.head.split("\n"))
            natural.append(max(min(width, _WIDEST), head) + _PAD)
        wide = [i for i, column in enumerate(table.columns) if column.wide]
        if wide:
            others = sum(width for i, width in enumerate(natural) if i not in wide)
            natural[wide[0]] = max(self.width - others, 90.0)
        if sum(natural) > self.width:
            squeeze = self.width / sum(natural)
            natural = [width * squeeze for width in natural]
        return natural

    def _heads(self, table: Table, widths: list[float], left: float) -> None:
        depth = max(len(column.head.split("\n")) for column in table.columns)
        top = self.y
        x = left
        for column, width in zip(table.columns, widths, strict=True):
            for i, part in enumerate(column.head.split("\n")):
                at = x + width - 0.5 * _PAD if column.number else x + 0.5 * _PAD
                y = top - 1.3 * _CELL * (i + 1)
                side = "right" if column.number else "left"
                write_text(self.axes, at, y, part, _CELL, bold=True, ha=side)
            x += width
        self.y = top - 1.3 * _CELL * depth - 3.0
        right = left + sum(widths)
        self.axes.plot([left, right], [self.y] * 2, color=INK, lw=PENS["medium"])

    def _row(
        self,
        table: Table,
        widths: list[float],
        cells: list[list[str]],
        left: float,
        height: float,
        *,
        marked: bool,
    ) -> None:
        right = left + sum(widths)
        if marked:
            corners = [left, right, right, left]
            low = self.y - height
            self.axes.fill(corners, [low, low, self.y, self.y], color=WASH, lw=0, zorder=0.5)
        x = left
        for lines, width, column in zip(cells, widths, table.columns, strict=True):
            for i, text in enumerate(lines):
                at = x + width - 0.5 * _PAD if column.number else x + 0.5 * _PAD
                side = "right" if column.number else "left"
                y = self.y - 1.35 * _CELL * (i + 1) + 0.2
                write_text(self.axes, at, y, text, _CELL, ha=side, bold=marked and x == left)
            x += width
        self.y -= height
        self.axes.plot([left, right], [self.y] * 2, color=PALE, lw=PENS["hair"])

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
            name = shorten(title, 0.6 * (right - self.left), 7.0)
            axes.plot([self.left, right], [MARGIN + 12.0] * 2, color=DIM, lw=PENS["hair"])
            write_text(axes, self.left, MARGIN + 2.0, name, 7.0, color=DIM)
            foot = f"dripfield {self.sheet.version}, page {page} of {len(self.done)}"
            write_text(axes, right, MARGIN + 2.0, foot, 7.0, ha="right", color=DIM)
