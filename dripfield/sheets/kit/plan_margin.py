"""Round the map of a plan: the strip under it and the title block."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dripfield.core.cautions import cautions
from dripfield.core.words import number
from dripfield.design.model import Design
from dripfield.sheets.kit.area_labels import BENCHMARK_MARK
from dripfield.sheets.kit.furniture import (
    STRIP_HEIGHT,
    Block,
    Entry,
    Swatch,
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
from dripfield.sheets.kit.notes import (
    layout_facts,
    missed_facts,
    site_facts,
)
from dripfield.sheets.kit.plan_map import (
    BARE_HATCH,
    FAULT_DASHES,
    FAULT_PEN,
    GAP_HATCH,
    KEEPOUT_HATCH,
    SEAM_DASHES,
    SETBACK_DASHES,
)
from dripfield.sheets.kit.ramp import Ramp, elevation_ramp
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import DIM, INK, LEVEL_GREY, PALE, PENS, Paper
from dripfield.sheets.kit.suspects import SUSPECT_MARK

LEAST_TYPE = 7.2  # of a title block [pt]


def strip_height(paper: Paper) -> float:
    """Height under the map for north arrow, scale bar and legend [pt]."""
    return STRIP_HEIGHT * paper.type_scale


def title_height(paper: Paper) -> float:
    """Height of the title block at the foot of the sheet [pt]."""
    width = paper.width / paper.type_scale
    return (150.0 if width < 640.0 else 132.0 if width < 900.0 else 104.0) * paper.type_scale


def draw_strip(axes: Any, frame: MapFrame, paper: Paper, design: Design, relief: Relief) -> None:
    """North arrow, scale bar and legend in the strip under the map.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    frame : MapFrame
    paper : Paper
    design : Design
    relief : Relief
    """
    height = strip_height(paper)
    middle = frame.low - 0.5 * height
    north_arrow(axes, frame.left + 16.0, middle - 3.0, frame.turn)
    right = scale_bar(
        axes, frame, paper, design.site.unit, frame.left + 44.0, middle - 0.5 * STRIP_HEIGHT
    )
    entries = _legend_entries(design, relief)
    edge = frame.left + frame.width
    room = (right + 18.0, middle - 0.5 * height, edge, middle + 0.5 * height)
    legend(axes, entries, room, paper.type_scale)


def _legend_entries(design: Design, relief: Relief) -> list[Entry]:
    """Only what the map shows, laterals first."""
    faults = {part.fault for one in design.measured.laterals for part in missed_parts(one)}
    ramp, unit = elevation_ramp(design), design.site.unit
    heights = f"el {number(ramp.low, unit.places)} to {number(ramp.high, unit.places)}"
    entries: list[Entry] = [(f"lateral, {heights}", _graded(ramp))]
    for fault, dashes in FAULT_DASHES.items():
        if fault in faults:
            entries.append(
                (
                    f"out of {fault} ({FAULT_MARKS[fault]})",
                    stroke(lw=FAULT_PEN, ls=dashes, band=True),
                )
            )
    entries.append(("bed", stroke(lw=PENS["bold"])))
    if relief.levels:
        text = f"level line, every {relief.interval:g} {design.site.unit.short}"
        entries.append((text, stroke(lw=PENS["hair"], color=LEVEL_GREY)))
    if design.layout.seams:
        entries.append(("seam of panels", stroke(lw=PENS["medium"], ls=SEAM_DASHES)))
    if design.site.bed.setbacks:
        entries.append(("setback", stroke(lw=0.7, ls=SETBACK_DASHES)))
    if design.site.bed.keepouts:
        entries.append(("keepout", patch(INK, KEEPOUT_HATCH)))
    if design.measured.bare:
        entries.append(("bare, no lateral near", patch(DIM, BARE_HATCH)))
    if relief.gaps is not None and not relief.gaps.is_empty:
        entries.append(("no survey", patch(DIM, GAP_HATCH)))
    if design.site.file.benchmark is not None:
        entries.append(("benchmark", stroke(ms=7.0, **BENCHMARK_MARK)))
    entries.append(("survey shot", stroke(ls="none", marker="o", ms=2.0, mew=0, color=PALE)))
    if relief.suspects:
        entries.append(("suspect shot", stroke(ms=7.0, **SUSPECT_MARK)))
    entries.append(("fall of ground", fall_arrow))
    return entries


def _graded(ramp: Ramp) -> Swatch:
    """Strokes of laterals from the lowest, on the left, to the highest."""

    def draw(axes: Any, x: float, y: float) -> None:
        for i in range(8):
            colour = ramp.colour(ramp.low + i / 7.0 * (ramp.high - ramp.low))
            ends = (x + 2.75 * i, x + 2.75 * (i + 1))
            axes.plot(ends, (y, y), lw=2.0, color=colour, solid_capstyle="butt")

    return draw


def to_know(design: Design, relief: Relief) -> list[str]:
    """What is missed, not surveyed or doubted."""
    gap_area = 0.0 if relief.gaps is None else float(relief.gaps.area)
    return missed_facts(design, gap_area)


def _layout_head(design: Design) -> str:
    code = design.code
    return f"Layout {code}" if code else "Layout"


def draw_title(
    axes: Any,
    rectangle: tuple[float, float, float, float],
    design: Design,
    relief: Relief,
    *,
    extra: Sequence[str] = (),
    type_scale: float = 1.0,
    more: str = "… more in the run's summary",
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
    more : str
        Stands where facts are left out for want of room.
    """
    missed = [*extra, *to_know(design, relief)]
    blocks = (
        Block(0.20, "Plan of laterals", site_facts(design.site, design.ground), design.site.name),
        Block(0.24, _layout_head(design), layout_facts(design)),
        Block(0.23, "To know", missed),
        Block(0.33, "Caution", cautions("utilities", "wastewater")),
    )
    title_block(axes, rectangle, blocks, type_scale, least=LEAST_TYPE, more=more)
