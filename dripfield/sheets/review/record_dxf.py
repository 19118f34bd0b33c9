"""The record drawing as DXF: laid lines with elevations, the design under them, ties and table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.design.model import Design
from dripfield.review.laid.record_result import Record
from dripfield.sheets.kit.dxf_document import GREY, Layer, drawing_text, new_drawing, save_drawing
from dripfield.sheets.kit.dxf_furniture import (
    FURNITURE_LAYERS,
    north_arrow,
    scale_bar,
    title_block,
)
from dripfield.sheets.kit.dxf_table import draw_table
from dripfield.sheets.kit.style import POINTS_PER_INCH, fitting_scale, usual_papers
from dripfield.sheets.review.content import SAFETY, STATEMENT
from dripfield.sheets.review.record_sheet import tie_table

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

LAYERS = {
    "C-SSWR-RCRD": Layer("laterals as laid, through their shots", width=50),
    "C-SSWR-SHOT": Layer("shots on the laterals", width=18),
    "C-SSWR-LATL": Layer("laterals as designed", width=18, linetype="DASHED", colour=GREY),
    "C-SSWR-BNDY": Layer("bed", width=50),
    "C-SSWR-KEEP": Layer("keepouts", width=25),
    "C-SSWR-TIES": Layer("tied points: ends and changes of direction", width=25),
    "V-CTRL-PNTS": Layer("permanent reference points", width=35),
    "C-ANNO-TEXT": Layer("names of laterals"),
    "C-ANNO-TABL": Layer("table of ties"),
    **FURNITURE_LAYERS,
}
_TABLE_ROWS = 60  # a longer table goes on in a further column


def write_record_dxf(path: Path, design: Design, record: Record) -> None:
    """Write the record drawing in the site's own coordinates and unit.

    Every entity of ``C-SSWR-RCRD`` is one lateral as laid: a 3D polyline through its shots where
    all of them have elevations, else a flat one. Tied points carry their number in the table.

    Parameters
    ----------
    path : Path
    design : Design
    record : Record
    """
    left, low, right, high = design.site.bed.boundary.bounds
    paper = usual_papers(design.site.unit)[1]
    room = (0.6 * paper.width, 0.75 * paper.height)
    scale = fitting_scale(design.site.unit, (right - left, high - low), room)
    inch = scale.per_point * POINTS_PER_INCH
    # names stand between laterals, so they may not be taller than the room there
    text = min(0.08 * inch, 0.4 * design.site.settings.spacing)
    document = new_drawing(design.site.unit, LAYERS, inch, paper)
    space = document.modelspace()
    _ring(space, design.site.bed.boundary, "C-SSWR-BNDY")
    for keepout in design.site.bed.keepouts:
        _ring(space, keepout, "C-SSWR-KEEP")
    for lateral in design.layout.laterals:
        space.add_lwpolyline(
            lateral.xy.tolist(),
            dxfattribs={"layer": "C-SSWR-LATL", "elevation": lateral.elevation},
        )
    _draw_laid(space, record, text)
    _draw_ties(space, record, text)
    for one in record.references:
        at = (one.easting, one.northing)
        space.add_point(at, dxfattribs={"layer": "V-CTRL-PNTS"})
        corners = [
            (at[0] + 1.2 * text * x, at[1] + 1.2 * text * y)
            for x, y in ((0.0, 1.0), (-0.87, -0.5), (0.87, -0.5))
        ]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "V-CTRL-PNTS"})
        label = one.name if one.description is None else f"{one.name}: {one.description}"
        _text(space, label, (at[0] + 1.6 * text, at[1]), text, "V-CTRL-PNTS")
        right = max(right, at[0] + (len(label) + 4.0) * text)
    table = tie_table(record, design.site.unit)
    if table is not None:
        draw_table(space, table, (right + 0.8 * inch, high), text, rows=_TABLE_ROWS)
    notes = [
        f"Units: {design.site.unit.label}. Solid: as laid, through the shots. Dashed: as designed.",
        *record.notes,
        *(f"Not checked: {line}" for line in record.unchecked),
        STATEMENT,
        SAFETY,
    ]
    title_block(
        space, (left, high + 0.4 * inch), f"{design.site.name}: record drawing", notes, text
    )
    north_arrow(space, (left, low - 1.1 * inch), 0.6 * inch)
    scale_bar(space, (left + 0.8 * inch, low - 0.9 * inch), design.site.unit, scale, paper, text)
    save_drawing(document, path)


def _draw_laid(space: Modelspace, record: Record, text: float) -> None:
    for line in record.lines:
        for place in line.xyz:
            height = float(place[2]) if np.isfinite(place[2]) else 0.0
            space.add_point(
                (float(place[0]), float(place[1]), height), dxfattribs={"layer": "C-SSWR-SHOT"}
            )
        if len(line.xyz) < 2:
            for place in line.xyz:
                at = (float(place[0]) + text, float(place[1]))
                _text(space, line.name, at, text, "C-ANNO-TEXT")
            continue
        if np.isfinite(line.xyz[:, 2]).all():
            space.add_polyline3d(line.xyz.tolist(), dxfattribs={"layer": "C-SSWR-RCRD"})
        else:
            space.add_lwpolyline(line.xyz[:, :2].tolist(), dxfattribs={"layer": "C-SSWR-RCRD"})
        _beyond(space, line.name, line.xyz, text, "C-ANNO-TEXT", start=True, gap=3.2 * text)


def _draw_ties(space: Modelspace, record: Record, text: float) -> None:
    """A circle at each tied point and its number, beyond the end of the line at an end."""
    lines = {line.name: line.xyz for line in record.lines}
    for number, tie in enumerate(record.ties, 1):
        at = (float(tie.xy[0]), float(tie.xy[1]))
        space.add_circle(at, 0.4 * text, dxfattribs={"layer": "C-SSWR-TIES"})
        if tie.mark in ("start", "end"):
            start = tie.mark == "start"
            xyz = lines[tie.lateral]
            _beyond(space, str(number), xyz, text, "C-SSWR-TIES", start=start, gap=0.7 * text)
        else:
            place = (at[0] + 0.6 * text, at[1] + 0.5 * text)
            _text(space, str(number), place, text, "C-SSWR-TIES")


def _beyond(
    space: Modelspace,
    words: str,
    xyz: Floats,
    height: float,
    layer: str,
    *,
    start: bool,
    gap: float,
) -> None:
    """Writing that begins a gap beyond an end of a line and runs away from it."""
    from ezdxf.enums import TextEntityAlignment

    end, inner = (xyz[0, :2], xyz[1, :2]) if start else (xyz[-1, :2], xyz[-2, :2])
    outward = (end - inner) / max(float(np.hypot(*(end - inner))), 1e-9)
    place = end + outward * gap
    entity = space.add_text(drawing_text(words), height=height, dxfattribs={"layer": layer})
    side = "MIDDLE_RIGHT" if outward[0] < 0.0 else "MIDDLE_LEFT"
    entity.set_placement((float(place[0]), float(place[1])), align=TextEntityAlignment[side])


def _ring(space: Modelspace, polygon: Polygon, layer: str) -> None:
    for ring in (polygon.exterior, *polygon.interiors):
        space.add_lwpolyline(
            np.asarray(ring.coords)[:-1].tolist(), close=True, dxfattribs={"layer": layer}
        )


def _text(space: Modelspace, text: str, at: tuple[float, float], height: float, layer: str) -> None:
    entity = space.add_text(drawing_text(text), height=height, dxfattribs={"layer": layer})
    entity.set_placement(at)
