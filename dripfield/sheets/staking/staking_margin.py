"""Round the bed in the staking drawing: title, notes, north arrow, scale bar, lateral table."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from dripfield.core.cautions import cautions
from dripfield.design.model import Design
from dripfield.files.csv import number, spacing_range
from dripfield.ground.ground import Ground
from dripfield.measures.field import Measured
from dripfield.sheets.kit.dxf_document import drawing_text
from dripfield.sheets.kit.dxf_entities import on, text_at
from dripfield.sheets.kit.marks import mark
from dripfield.sheets.kit.notes import layout_facts, missed_facts, site_facts
from dripfield.sheets.kit.style import POINTS_PER_INCH, fitting_scale, round_length, usual_papers
from dripfield.site.model import Site

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

TABLE_ROWS = 45  # a longer table goes on in a further column


class StakingSheet:
    """Sizes and formats that all parts of one drawing share."""

    def __init__(self, site: Site, ground: Ground) -> None:
        self.site, self.ground = site, ground
        self.unit = site.unit
        left, low, right, high = site.bed.boundary.bounds
        size = (right - left, high - low)
        self.paper = usual_papers(site.unit)[1]
        room = (0.6 * self.paper.width, 0.75 * self.paper.height)
        self.scale = fitting_scale(site.unit, size, room)
        self.units_per_inch = self.scale.per_point * POINTS_PER_INCH
        self.text = 0.10 * self.units_per_inch
        # names stand between laterals, so they may not be taller than the room there
        self.small = min(0.08 * self.units_per_inch, 0.30 * site.settings.spacing)
        # what lies outside bed and survey goes beyond these
        shots = ground.read.xyz[:, :2]
        self.left, self.low = np.minimum(shots.min(axis=0), (left, low)).tolist()
        self.right, self.high = np.maximum(shots.max(axis=0), (right, high)).tolist()

    def elevation(self, value: float) -> str:
        """An elevation with the unit's own decimals."""
        return number(value, self.unit.places)


def draw_margin(document: Drawing, sheet: StakingSheet, design: Design) -> None:
    """North arrow and scale bar under the bed, the table beside it, title and notes above it."""
    space = document.modelspace()
    inch = sheet.units_per_inch
    _north_arrow(document, (sheet.left, sheet.low - 1.1 * inch), 0.6 * inch)
    _scale_bar(space, sheet, (sheet.left + 0.8 * inch, sheet.low - 0.9 * inch))
    _table(space, sheet, design.measured, (sheet.right + 0.6 * inch, sheet.high))
    _title(space, sheet, design, (sheet.left, sheet.high + 0.5 * inch))


def _north_arrow(document: Drawing, at: tuple[float, float], size: float) -> None:
    block = document.blocks.new("NORTH")
    block.add_lwpolyline([(0.0, 0.0), (0.25, 0.75), (0.5, 0.0), (0.25, 0.2)], close=True)
    block.add_solid([(0.25, 0.75), (0.25, 0.2), (0.5, 0.0)])
    block.add_text("N", height=0.25).set_placement((0.15, 0.82))
    document.modelspace().add_blockref(
        "NORTH", at, dxfattribs=on("C-ANNO-SYMB", xscale=size, yscale=size, zscale=size)
    )


def _scale_bar(space: Modelspace, sheet: StakingSheet, at: tuple[float, float]) -> None:
    """Four divisions of a round length, alternately filled, with the plot scale under it."""
    step = round_length(0.5 * sheet.units_per_inch)
    x, y = at
    thick = 0.4 * sheet.text
    for i in range(4):
        left, right = x + i * step, x + (i + 1) * step
        corners = [(left, y), (right, y), (right, y + thick), (left, y + thick)]
        space.add_lwpolyline(corners, close=True, dxfattribs=on("C-ANNO-SYMB"))
        if i % 2 == 0:
            space.add_solid(
                [corners[0], corners[1], corners[3], corners[2]], dxfattribs=on("C-ANNO-SYMB")
            )
    for i in (0, 1, 2, 4):
        label = f"{i * step:g}" + (f" {sheet.unit.short}" if i == 4 else "")
        above = (x + i * step, y + 2.0 * thick)
        text_at(space, label, above, 0.8 * sheet.text, "C-ANNO-SYMB", align="CENTER")
    note = f"{sheet.scale.text} on {sheet.paper.label}"
    text_at(space, note, (x, y - 1.6 * sheet.text), 0.8 * sheet.text, "C-ANNO-SYMB")


_COLUMNS = (("lateral", 9), ("length", 9), ("elevation", 11), ("spacing", 13), ("marks", 6))


def _table(
    space: Modelspace, sheet: StakingSheet, measured: Measured, corner: tuple[float, float]
) -> None:
    """The lateral table, in columns of :data:`TABLE_ROWS` rows."""
    height = 0.8 * sheet.text
    row, char = 1.8 * height, 0.95 * height
    places = sheet.unit.places
    lines = [
        (
            lateral.name,
            number(lateral.length, places),
            number(lateral.elevation, places),
            spacing_range(lateral.spacing_min, lateral.spacing_max, places),
            mark(lateral),
        )
        for lateral in measured.laterals
    ]
    widths = [characters * char for _, characters in _COLUMNS]
    left, top = corner
    for first in range(0, max(len(lines), 1), TABLE_ROWS):
        body = [tuple(title for title, _ in _COLUMNS), *lines[first : first + TABLE_ROWS]]
        bottom = top - row * len(body)
        edges = np.concatenate(([left], left + np.cumsum(widths)))
        for x in edges:
            space.add_line((x, top), (x, bottom), dxfattribs=on("C-ANNO-TABL"))
        for i in range(len(body) + 1):
            y = top - i * row
            space.add_line((left, y), (edges[-1], y), dxfattribs=on("C-ANNO-TABL"))
        for i, cells in enumerate(body):
            base = top - (i + 1) * row + 0.3 * row
            for x, cell in zip(edges, cells, strict=False):
                if cell:
                    text_at(space, cell, (x + 0.5 * char, base), height, "C-ANNO-TABL")
        left = float(edges[-1]) + 3.0 * char
    notes = (f"lengths and elevations in {sheet.unit.label}", "L out of level, S out of spacing")
    for i, note in enumerate(reversed(notes)):
        text_at(space, note, (corner[0], top + (0.5 + i) * row), height, "C-ANNO-TABL")


def _title(space: Modelspace, sheet: StakingSheet, design: Design, at: tuple[float, float]) -> None:
    facts = [
        "; ".join(site_facts(sheet.site, design.ground)),
        "; ".join(layout_facts(design)),
        " ".join(missed_facts(design)),
        *cautions("utilities", "wastewater"),
    ]
    lines = [line for fact in facts for line in textwrap.wrap(fact, 100)]
    x, y = at
    for line in reversed(lines):
        text_at(space, line, (x, y), 0.8 * sheet.text, "C-ANNO-TTLB")
        y += 1.4 * sheet.text
    for line in reversed(textwrap.wrap(drawing_text(sheet.site.name), 60, max_lines=4)):
        text_at(space, line, (x, y + 0.5 * sheet.text), 1.6 * sheet.text, "C-ANNO-TTLB")
        y += 2.6 * sheet.text
