"""The sheets after a plan: laterals, totals by panel, and what there is to know, in full."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from dripfield.core.table import Table
from dripfield.design.model import Design
from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.lateral_tables import lateral_table, panel_table
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.plan_margin import to_know
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import (
    DIM,
    DOTS_PER_INCH,
    INK,
    MARGIN,
    PENS,
    Paper,
    drawing_defaults,
    shorten,
    text_width,
    wrap,
    write_text,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_FOOT = 18.0
_SIZE = 9.0  # of the type [pt]
_GAP = 20.0  # between one table and the next [pt]
_MARKS = "L: somewhere out of level tolerance. S: somewhere out of spacing tolerance."


@dataclass(frozen=True)
class _Piece:
    """Rows of a table, or paragraphs, at a height below the heading of a sheet [pt]."""

    title: str
    down: float
    setting: PaperTable | None = None
    blocks: tuple[range, ...] = ()
    lines: Sequence[str] = ()


@dataclass
class TableSheet:
    """One sheet of tables: what stands on it, to be drawn when its number is known."""

    design: Design
    paper: Paper
    pieces: list[_Piece]

    def draw(self, number: int, total: int) -> Figure:
        """Draw it.

        Parameters
        ----------
        number, total : int
            Of this sheet, and of all.

        Returns
        -------
        matplotlib Figure
        """
        paper = self.paper
        figure, axes = blank_sheet(paper, DOTS_PER_INCH)
        with drawing_defaults():
            top = _top(paper)
            sheet_mark(axes, paper, self.design, "Tables", number, total)
            ends = [MARGIN, paper.width - MARGIN]
            axes.plot(ends, [top + 4.0] * 2, color=INK, lw=PENS["bold"])
            foot = f"Lengths and elevations in {self.design.site.unit.label}. {_MARKS}"
            write_text(axes, MARGIN, MARGIN, shorten(foot, ends[1] - MARGIN, 8.0), 8.0, color=DIM)
            for piece in self.pieces:
                y = top - piece.down - 12.0
                write_text(axes, MARGIN, y, piece.title, 10.0, bold=True)
                if piece.setting is not None:
                    piece.setting.draw(axes, piece.blocks, MARGIN, y - 4.0)
                for i, line in enumerate(piece.lines):
                    write_text(axes, MARGIN, y - 1.4 * _SIZE * (i + 1), line, _SIZE)
        return figure


def table_sheets(design: Design, relief: Relief, paper: Paper) -> list[TableSheet]:
    """The sheets after a plan.

    Parameters
    ----------
    design : Design
    relief : Relief
        For the area without survey.
    paper : Paper
        Of the plan.

    Returns
    -------
    list of TableSheet
        Every lateral stands on one of them.
    """
    unit = design.site.unit
    width, height = paper.width - 2.0 * MARGIN, _top(paper) - MARGIN - _FOOT
    tables: list[tuple[str, Table]] = [("Laterals", lateral_table(design.measured, unit))]
    if design.measured.panels > 1:
        tables.append(("Totals by panel", panel_table(design.measured, unit)))
    sheets: list[TableSheet] = [TableSheet(design, paper, [])]
    down = 0.0

    def further() -> float:
        sheets.append(TableSheet(design, paper, []))
        return 0.0

    for title, table in tables:
        setting = PaperTable(table, Look(_SIZE, many=True, between=24.0), width)
        first = 0
        while first < len(table.rows):
            room = height - down - 18.0
            blocks = setting.blocks(first, (width, room))
            whole = bool(blocks) and blocks[-1].stop == len(table.rows)
            if not blocks or (first == 0 and down > 0.0 and not whole):
                down = further()
                continue
            name = title if first == 0 else f"{title}, continued"
            sheets[-1].pieces.append(_Piece(name, down, setting, blocks))
            down += 18.0 + max(setting.height_of(rows) for rows in blocks) + _GAP
            first = blocks[-1].stop
            if first < len(table.rows):
                down = further()
    for title, facts in (("To know", to_know(design, relief)),):
        lines = [line for fact in facts for line in wrap(fact, width, _SIZE, 12)]
        need = 18.0 + 1.4 * _SIZE * len(lines)
        if down > 0.0 and down + need > height:
            down = further()
        sheets[-1].pieces.append(_Piece(title, down, lines=lines))
        down += need + 0.5 * _GAP
    return sheets


def sheet_mark(axes: Any, paper: Paper, design: Design, what: str, number: int, total: int) -> None:
    """Above the frame of a sheet: what it shows, the site, the layout's code, its number.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    paper : Paper
    design : Design
    what : str
    number, total : int
        Of this sheet, and of all.
    """
    y, right = paper.height - MARGIN + 7.0, paper.width - MARGIN
    code = design.code
    count = f"sheet {number} of {total}"
    end = f"layout {code}, {count}" if code else count
    write_text(axes, MARGIN, y, what, 9.0, bold=True)
    write_text(axes, right, y, end, 9.0, ha="right")
    left = MARGIN + text_width(what, 9.0, bold=True) + 14.0
    room = right - text_width(end, 9.0) - left - 14.0
    write_text(axes, left, y, shorten(design.site.name, room, 9.0), 9.0)


def _top(paper: Paper) -> float:
    return paper.height - MARGIN - 4.0
