"""Paper space of the staking drawing: plans to scale with their title blocks, then the tables."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from dripfield.core.cautions import cautions
from dripfield.core.table import Table
from dripfield.design.model import Design
from dripfield.sheets.kit.dxf_document import set_limits
from dripfield.sheets.kit.dxf_entities import on, text_at
from dripfield.sheets.kit.dxf_furniture import TITLE, north_arrow, paragraphs, scale_bar
from dripfield.sheets.kit.dxf_table import block_width, draw_table, row_height
from dripfield.sheets.kit.lateral_tables import lateral_table, panel_table
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.notes import layout_facts, missed_facts, site_facts
from dripfield.sheets.kit.plan_margin import title_height
from dripfield.sheets.kit.style import MARGIN, POINTS_PER_INCH, Paper
from dripfield.sheets.staking.staking_sheet import NAME, TEXT, StakingSheet

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Paperspace

STAKE_LAYERS = ("C-SSWR-STAK", "C-SSWR-STAK-NUMB")
_NAMES_OFF = "laterals without stakes: thaw the layers C-SSWR-STAK in this viewport to see them"


class _Page:
    """One paper-space layout: lengths in points are turned into its own unit, inch or mm."""

    def __init__(self, document: Drawing, name: str, sheet: StakingSheet, paper: Paper) -> None:
        self.sheet, self.paper = sheet, paper
        self.metric = sheet.unit.is_metric
        self.point = (25.4 if self.metric else 1.0) / POINTS_PER_INCH
        self.inch = self.point * POINTS_PER_INCH
        layouts = document.layouts
        if "Layout1" in layouts.names():
            layouts.rename("Layout1", name)
            self.space: Paperspace = layouts.get(name)  # type: ignore[assignment, unused-ignore]
        else:
            self.space = layouts.new(name)  # type: ignore[assignment, unused-ignore]
        self.space.page_setup(
            size=(paper.width * self.point, paper.height * self.point),
            margins=(0.0,) * 4,
            units="mm" if self.metric else "inch",
        )
        set_limits(self.space, sheet.unit, paper)

    def rectangle(self, left: float, low: float, width: float, height: float) -> None:
        """Draw a rectangle [pt]."""
        corners = np.array(
            ((left, low), (left + width, low), (left + width, low + height), (left, low + height))
        )
        self.space.add_lwpolyline(
            (corners * self.point).tolist(), close=True, dxfattribs=on(TITLE, lineweight=35)
        )

    def write(self, text: str, left: float, low: float, inches: float = TEXT) -> None:
        """Write a line of text at a place [pt]."""
        at = (left * self.point, low * self.point)
        text_at(self.space, text, at, inches * self.inch, TITLE)

    def head(self, what: str, count: str) -> None:
        """Over the frame: what it is, the site, the layout's code, the sheet."""
        y = self.paper.height - MARGIN + 6.0
        code = self.sheet.design.code
        name = self.sheet.site.name[:60]
        self.write(f"{what} - {name}", MARGIN, y)
        end = f"layout {code}, {count}" if code else count
        at = ((self.paper.width - MARGIN) * self.point, y * self.point)
        text_at(self.space, end, at, TEXT * self.inch, TITLE, align="RIGHT")


def draw_layouts(document: Drawing, sheet: StakingSheet) -> None:
    """Plans of every readable sheet, first without and then with stakes, then the tables."""
    frames = sheet.arrangement.frames
    tables = _table_slices(sheet)
    total = 2 * len(frames) + len(tables) + 1
    number = 0
    for stakes in (False, True):
        for i, (paper, frame) in enumerate(frames, 1):
            number += 1
            name = ("STAKES" if stakes else "PLAN") + (f" {i}" if len(frames) > 1 else "")
            page = _Page(document, name, sheet, paper)
            page.head(name.capitalize(), f"sheet {number} of {total}")
            _draw_plan(page, frame, stakes=stakes)
    for i, (table, rows) in enumerate(tables, 1):
        number += 1
        page = _Page(document, f"TABLE {i}", sheet, sheet.paper)
        page.head(f"Table: {table.title}", f"sheet {number} of {total}")
        at = (MARGIN * page.point, _table_top(sheet.paper) * page.point)
        draw_table(page.space, replace(table, title="", notes=()), at, NAME * page.inch, rows)
    page = _Page(document, "NOTES", sheet, sheet.paper)
    page.head("Notes", f"sheet {total} of {total}")
    _draw_notes(page, sheet.design)


def _draw_plan(page: _Page, frame: MapFrame, *, stakes: bool) -> None:
    sheet, paper, point = page.sheet, page.paper, page.point
    page.rectangle(frame.left, frame.low, frame.width, frame.height)
    middle = ((frame.left + 0.5 * frame.width) * point, (frame.low + 0.5 * frame.height) * point)
    viewport = page.space.add_viewport(
        center=middle,
        size=(frame.width * point, frame.height * point),
        view_center_point=(0.0, 0.0),
        view_height=frame.height * frame.scale.per_point,
        status=2,
        dxfattribs=on("C-ANNO-VPRT"),
    )
    viewport.dxf.view_target_point = (*frame.centre, 0.0)
    viewport.dxf.view_twist_angle = frame.turn
    viewport.frozen_layers = ["C-ANNO-TEXT"] if stakes else list(STAKE_LAYERS)
    height = title_height(paper)
    strip = MARGIN + height
    at = ((MARGIN + 6.0) * point, (strip + 6.0) * point)
    north_arrow(page.space, at, 0.42 * page.inch, frame.turn)
    bar = ((MARGIN + 48.0) * point, (strip + 0.45 * (frame.low - strip)) * point)
    per_unit = point / frame.scale.per_point
    scale_bar(page.space, bar, sheet.unit, frame.scale, paper, NAME * page.inch, factor=per_unit)
    _draw_title(page, height, stakes=stakes)


def _draw_title(page: _Page, height: float, *, stakes: bool) -> None:
    """Site, layout and cautions side by side in a box at the foot of the sheet."""
    design, point = page.sheet.design, page.point
    width = page.paper.width - 2.0 * MARGIN
    page.rectangle(MARGIN, MARGIN, width, height)
    marks = "stakes with their numbers on the layers C-SSWR-STAK" if stakes else _NAMES_OFF
    blocks = (
        (0.26, design.site.name, site_facts(design.site, design.ground)),
        (0.32, "Layout", [*layout_facts(design), f"Shown: {marks}."]),
        (0.42, "Caution", cautions("utilities", "wastewater")),
    )
    left = MARGIN
    for share, head, facts in blocks:
        if left > MARGIN:
            ends = [(left * point, MARGIN * point), (left * point, (MARGIN + height) * point)]
            page.space.add_line(ends[0], ends[1], dxfattribs=on(TITLE))
        letters = int((share * width - 12.0) / (0.85 * TEXT * POINTS_PER_INCH))
        page.write(head[:letters], left + 6.0, MARGIN + height - 13.0)
        room = (left + 6.0, MARGIN + 3.0, left + share * width - 6.0, MARGIN + height - 18.0)
        inner = (room[0] * point, room[1] * point, room[2] * point, room[3] * point)
        paragraphs(page.space, facts, inner, NAME * page.inch)
        left += share * width


def _table_top(paper: Paper) -> float:
    return paper.height - MARGIN - 6.0


def _table_slices(sheet: StakingSheet) -> list[tuple[Table, int]]:
    """Tables a layout each, with the rows of a column: as many rows as a sheet takes."""
    paper, height = sheet.paper, NAME * POINTS_PER_INCH
    rows = int((_table_top(paper) - MARGIN) / row_height(height)) - 1
    tables = [lateral_table(sheet.design.measured, sheet.unit)]
    if sheet.design.measured.panels > 1:
        tables.append(panel_table(sheet.design.measured, sheet.unit))
    slices = []
    for table in tables:
        columns = max(int((paper.width - 2.0 * MARGIN) / block_width(table, height)), 1)
        for first in range(0, max(len(table.rows), 1), rows * columns):
            part = replace(table, rows=table.rows[first : first + rows * columns], groups=())
            slices.append((part, rows))
    return slices


def _draw_notes(page: _Page, design: Design) -> None:
    """What is missed and doubted, and the cautions again, in full."""
    point, paper = page.point, page.paper
    room = (MARGIN, MARGIN, paper.width - MARGIN, _table_top(paper))
    marks = "In the table: L out of level, S out of spacing tolerance."
    facts = [
        *layout_facts(design),
        *missed_facts(design),
        marks,
        *cautions("utilities", "wastewater"),
    ]
    inner = (room[0] * point, room[1] * point, room[2] * point, room[3] * point)
    paragraphs(page.space, facts, inner, TEXT * page.inch)
