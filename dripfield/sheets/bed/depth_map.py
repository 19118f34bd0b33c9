"""Map of cut and fill: lines of equal depth from existing ground to finished grade."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.bed.design import BedDesign
from dripfield.bed.materials import MaterialVolume, usual_volume, usual_volume_name
from dripfield.bed.notes import DesignNote, note_lines
from dripfield.bed.pieces import LEVEL, Pieces, split
from dripfield.bed.section import Section
from dripfield.ground.levels.interval import auto_interval, levels_between
from dripfield.ground.levels.lines import level_lines
from dripfield.rules import Finding, rule_lines
from dripfield.sheets.bed.side_panel import Line, write_panel
from dripfield.sheets.kit.blank import map_sheet
from dripfield.sheets.kit.furniture import STRIP_HEIGHT, legend, stroke
from dripfield.sheets.kit.labels import Label, Placer, along_line
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.plan_map import Pen
from dripfield.sheets.kit.style import DIM, INK, PALE, PENS, WASH, save_figure

_NO_RULES = "None is named under [rules] check, so none is checked."
_NOTHING = 1e-6  # depth that is no depth [site unit]
CUT_HATCH = "////"
NO_CHANGE = (0, (7, 2, 1.5, 2))  # dashes of the line between cut and fill
_SHARES = (0.5, 0.3, 0.7, 0.15, 0.85)


def write_depth_map(
    path: Path,
    design: BedDesign,
    sections: Sequence[Section],
    rows: Sequence[MaterialVolume],
    notes: Sequence[DesignNote],
    findings: Sequence[Finding],
) -> None:
    """Draw the map with the take-off and the rules beside it.

    Parameters
    ----------
    path : Path
    design : BedDesign
    sections : sequence of Section
        Where they were cut is shown.
    rows : sequence of MaterialVolume
    notes : sequence of DesignNote
        What the site asks of its bed.
    findings : sequence of Finding
        Of the rule sets that the site names.
    """
    unit = design.site.unit
    figure, axes, frame, paper, key_left = map_sheet(design.site, _shown(design, sections))
    pieces = split(design.pieces, "finished", "ground")
    depth = pieces.levels["finished"] - pieces.levels["ground"]
    depth = np.where(np.abs(depth) <= LEVEL, 0.0, depth)
    pieces = pieces.with_level("depth", depth)
    pen = Pen(axes, frame)
    cut, fill = _part(pieces, depth.mean(axis=1) < 0), _part(pieces, depth.mean(axis=1) > 0)
    pen.area(frame.shape(fill), fc=WASH, ec="none", lw=0.0, zorder=1)
    pen.area(frame.shape(cut), fc="none", ec=PALE, hatch=CUT_HATCH, lw=0.0, zorder=1)
    placer = Placer(frame.window.buffer(-2.0))
    interval = _draw_depths(pen, placer, pieces, depth)
    _draw_outlines(pen, frame, design)
    for line in _no_change(cut, fill):
        pen.line(frame.to_paper(line), lw=PENS["bold"], ls=NO_CHANGE, zorder=4)
    for section in sections:
        _draw_cut_line(pen, placer, frame, section)
    every = f"every {interval:g} {unit.short}"
    _legend(axes, frame, every, bool(cut.area), bool(fill.area), key_left + 18.0)
    write_panel(
        axes,
        paper,
        design.site.name,
        "Depth of cut and fill from existing ground to finished grade; volumes in place",
        (
            (
                f"Volumes [{usual_volume_name(unit)}] and area [{unit.short}2]",
                _volumes(design, rows),
            ),
            ("Asked of the bed (design notes, no rules)", note_lines(notes)),
            ("Rules", rule_lines(findings) or [_NO_RULES]),
        ),
    )
    save_figure(figure, path)


def _shown(design: BedDesign, sections: Sequence[Section]) -> BaseGeometry:
    """What the map must show: all that is graded, and the ends of the sections."""
    return shapely.union_all([design.footprint, *(shapely.LineString(s.line) for s in sections)])


def _part(pieces: Pieces, which: Any) -> BaseGeometry:
    part = pieces.where(which)
    return part.outline() if len(part) else shapely.Polygon()


def _no_change(cut: BaseGeometry, fill: BaseGeometry) -> Iterator[Any]:
    """The line between cut and fill."""
    if cut.is_empty or fill.is_empty:
        return
    shared = shapely.intersection(shapely.boundary(cut), shapely.buffer(fill, 1e-4))
    merged = shapely.line_merge(shapely.MultiLineString(_lines(shared)))
    for part in shapely.get_parts(merged):
        if part.length > 1e-2:
            yield shapely.get_coordinates(part)


def _lines(shape: BaseGeometry) -> list[BaseGeometry]:
    return [part for part in shapely.get_parts(shape) if part.geom_type == "LineString"]


def _draw_depths(pen: Pen, placer: Placer, pieces: Pieces, depth: Any) -> float:
    """Lines of equal depth with their figures; returns their interval."""
    low, high = float(depth.min()), float(depth.max())
    if high - low < _NOTHING:
        return 0.0
    interval = auto_interval(high - low, 10)
    values, major = levels_between(low, high, interval)
    keep = np.abs(values) > 0.5 * interval
    surface = pieces.surface("depth")
    for line in level_lines(surface, values[keep], major[keep]):
        points = pen.frame.to_paper(line.xy)
        style = "solid" if line.elevation > 0 else "dashed"
        pen.line(points, lw=PENS["thin"], ls=style, color=DIM, zorder=2)
        words = along_line(points, (f"{line.elevation:+.3g}",), 6.0, _SHARES)
        pen.words(placer.first(words), over=5.0)
    return interval


def _draw_outlines(pen: Pen, frame: MapFrame, design: BedDesign) -> None:
    pen.area(frame.shape(design.footprint), fc="none", ec=INK, lw=PENS["medium"], zorder=3)
    pen.area(
        frame.shape(design.inner), fc="none", ec=INK, lw=PENS["medium"], ls=(0, (4, 2)), zorder=3
    )
    pen.area(frame.shape(design.site.bed.boundary), fc="none", ec=INK, lw=PENS["bold"], zorder=3)


def _draw_cut_line(pen: Pen, placer: Placer, frame: MapFrame, section: Section) -> None:
    """Where a section was cut: its ends with their letters."""
    points = frame.to_paper(section.line)
    along = (points[1] - points[0]) / np.hypot(*(points[1] - points[0]))
    for end, way, name in ((points[0], 1.0, section.name), (points[1], -1.0, f"{section.name}'")):
        pen.line(np.vstack((end, end + way * 16.0 * along)), lw=PENS["lateral"], zorder=5)
        x, y = end + way * 22.0 * along
        label = Label(name, float(x), float(y), 0.0, 8.0, bold=True)
        placer.take(label.box)
        label.draw(pen.axes, over=6.0)


def _legend(axes: Any, frame: MapFrame, every: str, cut: bool, fill: bool, left: float) -> None:
    entries = [
        ("bed", stroke(lw=PENS["bold"])),
        ("shoulder's edge", stroke(lw=PENS["medium"], ls=(0, (4, 2)))),
        ("daylight line", stroke(lw=PENS["medium"])),
    ]
    if fill:
        entries.append((f"equal fill, {every}", stroke(lw=PENS["thin"], color=DIM)))
    if cut:
        entries.append((f"equal cut, {every}", stroke(lw=PENS["thin"], color=DIM, ls="dashed")))
    if cut and fill:
        entries.append(("no change", stroke(lw=PENS["bold"], ls=NO_CHANGE)))
    legend(axes, entries, (left, frame.low - STRIP_HEIGHT, frame.left + frame.width, frame.low))


def _volumes(design: BedDesign, rows: Sequence[MaterialVolume]) -> list[Line]:
    unit = design.site.unit
    lines: list[Line] = [("", "cut", "fill", "area")]
    for row in rows:
        volume = row.volume
        area = volume.cut_area + volume.fill_area
        name = "ground to finished" if row.layer == "all" else row.material
        lines.append(
            (
                name,
                f"{usual_volume(volume.cut, unit):,.1f}",
                f"{usual_volume(volume.fill, unit):,.1f}",
                f"{area:,.0f}",
            )
        )
    for row in rows:
        if row.loads is not None:
            lines.append(f"{row.material} ({row.layer}): {row.loads} truck loads, loose")
        if row.tonnes is not None:
            lines.append(f"{row.material} ({row.layer}): {row.tonnes:,.1f} t")
    return lines
