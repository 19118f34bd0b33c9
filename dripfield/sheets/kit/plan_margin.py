"""Round the map of a plan: the strip under it and the title block."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dripfield.core.cautions import cautions
from dripfield.design.model import Design
from dripfield.sheets.kit.furniture import (
    STRIP_HEIGHT,
    Block,
    Entry,
    fall_arrow,
    legend,
    north_arrow,
    patch,
    scale_bar,
    stroke,
    title_block,
)
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.marks import FAULT_MARKS, missed_parts
from dripfield.sheets.kit.notes import layout_facts, missed_facts, site_facts
from dripfield.sheets.kit.plan_map import (
    FAULT_DASHES,
    GAP_HATCH,
    KEEPOUT_HATCH,
    SEAM_DASHES,
    SETBACK_DASHES,
)
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import DIM, INK, MARGIN, PALE, PENS, Paper
from dripfield.sheets.kit.suspects import SUSPECT_MARK


def strip_height(paper: Paper) -> float:
    """Height under the map for north arrow, scale bar and legend [pt]."""
    return STRIP_HEIGHT * paper.type_scale


def title_height(paper: Paper) -> float:
    """Height of the title block at the foot of the sheet [pt]."""
    return 112.0 * paper.type_scale


def draw_strip(axes: Any, frame: MapFrame, paper: Paper, design: Design, relief: Relief) -> None:
    """North arrow, scale bar and legend in the strip under the map."""
    height = strip_height(paper)
    middle = frame.low - 0.5 * height
    north_arrow(axes, frame.left + 16.0, middle - 3.0, frame.turn)
    right = scale_bar(
        axes, frame, paper, design.site.unit, frame.left + 44.0, middle - 0.5 * STRIP_HEIGHT
    )
    entries = _legend_entries(design, relief)
    room = (right + 18.0, middle - 0.5 * height, paper.width - MARGIN, middle + 0.5 * height)
    legend(axes, entries, room, paper.type_scale)


def _legend_entries(design: Design, relief: Relief) -> list[Entry]:
    """Only what the map shows, laterals first."""
    faults = {part.fault for one in design.measured.laterals for part in missed_parts(one)}
    entries: list[Entry] = [("lateral", stroke(lw=PENS["lateral"]))]
    for fault, dashes in FAULT_DASHES.items():
        if fault in faults:
            entries.append(
                (
                    f"out of {fault} ({FAULT_MARKS[fault]})",
                    stroke(lw=PENS["lateral"], ls=dashes, band=True),
                )
            )
    entries.append(("bed", stroke(lw=PENS["bold"])))
    if relief.levels:
        text = f"level line, every {relief.interval:g} {design.site.unit.short}"
        entries.append((text, stroke(lw=PENS["hair"], color=DIM)))
    if design.layout.seams:
        entries.append(("seam of panels", stroke(lw=PENS["medium"], ls=SEAM_DASHES)))
    if design.site.bed.setbacks:
        entries.append(("setback", stroke(lw=0.7, ls=SETBACK_DASHES)))
    if design.site.bed.keepouts:
        entries.append(("keepout", patch(INK, KEEPOUT_HATCH)))
    if relief.gaps is not None and not relief.gaps.is_empty:
        entries.append(("no survey", patch(DIM, GAP_HATCH)))
    entries.append(("survey shot", stroke(ls="none", marker="o", ms=2.0, mew=0, color=PALE)))
    if relief.suspects:
        entries.append(("suspect shot", stroke(ms=7.0, **SUSPECT_MARK)))
    entries.append(("fall of ground", fall_arrow))
    return entries


def draw_title(
    axes: Any,
    rectangle: tuple[float, float, float, float],
    design: Design,
    relief: Relief,
    *,
    extra: Sequence[str] = (),
    type_scale: float = 1.0,
) -> None:
    """The title block: site, layout, what is missed, cautions, side by side in a ruled box.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    rectangle : (left, low, width, height)
        [pt]
    design : Design
    relief : Relief
    extra : sequence of str
        Further notes, after what is missed.
    type_scale : float
        Of the type, :attr:`dripfield.sheets.kit.style.Paper.type_scale`.
    """
    gap_area = 0.0 if relief.gaps is None else float(relief.gaps.area)
    missed = [*missed_facts(design, gap_area), *extra]
    blocks = (
        Block(0.27, "Plan of laterals", site_facts(design.site, design.ground), design.site.name),
        Block(0.25, "Layout", layout_facts(design)),
        Block(0.24, "To know", missed),
        Block(0.24, "Caution", cautions("utilities", "wastewater")),
    )
    title_block(axes, rectangle, blocks, type_scale)
