"""Round the bed in the staking drawing: title, notes, north arrow, scale bar, lateral table."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from dripfield.core.cautions import cautions
from dripfield.core.words import number
from dripfield.design.model import Design
from dripfield.ground.ground import Ground
from dripfield.sheets.kit.dxf_furniture import north_arrow, scale_bar, title_block
from dripfield.sheets.kit.dxf_table import draw_table
from dripfield.sheets.kit.lateral_tables import lateral_table
from dripfield.sheets.kit.notes import layout_facts, missed_facts, site_facts
from dripfield.sheets.kit.style import POINTS_PER_INCH, fitting_scale, usual_papers
from dripfield.site.model import Site

if TYPE_CHECKING:
    from ezdxf.document import Drawing

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
    inch = sheet.units_per_inch
    north_arrow(document, (sheet.left, sheet.low - 1.1 * inch), 0.6 * inch)
    corner = (sheet.left + 0.8 * inch, sheet.low - 0.9 * inch)
    scale_bar(document, corner, sheet.unit, sheet.scale, sheet.paper, sheet.text)
    notes = (f"lengths and elevations in {sheet.unit.label}", "L out of level, S out of spacing")
    table = replace(lateral_table(design.measured, sheet.unit), title="", notes=notes)
    beside = (sheet.right + 0.6 * inch, sheet.high)
    draw_table(document.modelspace(), table, beside, 0.8 * sheet.text, TABLE_ROWS)
    facts = [
        "; ".join(site_facts(sheet.site, design.ground)),
        "; ".join(layout_facts(design)),
        " ".join(missed_facts(design)),
        *cautions("utilities", "wastewater"),
    ]
    above = (sheet.left, sheet.high + 0.5 * inch)
    title_block(document, above, sheet.site.name, facts, 0.8 * sheet.text)
