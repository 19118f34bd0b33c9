"""The staking drawing: laterals at their elevations, stakes, level lines, bed, table (DXF)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon, box

from dripfield.core.arrays import Floats
from dripfield.core.lines import stations_along
from dripfield.design.model import Design
from dripfield.layout.model import Layout
from dripfield.sheets.kit.dxf_document import GREY, Layer, drawing_text, new_drawing, save_drawing
from dripfield.sheets.kit.dxf_entities import on, polyline, rings_of, text_at
from dripfield.sheets.kit.dxf_furniture import FURNITURE_LAYERS
from dripfield.sheets.kit.marks import missed_parts
from dripfield.sheets.staking.staking_margin import StakingSheet, draw_margin
from dripfield.staking.model import FieldMark
from dripfield.survey.doubt.blunders import Suspect

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

    from dripfield.ground.levels.lines import LevelLine

LAYERS = {
    "C-SSWR-LATL": Layer("laterals at the elevation to set", width=35),
    "C-SSWR-MISS": Layer("parts of laterals out of tolerance", width=70, linetype="DASHED"),
    "C-SSWR-BNDY": Layer("bed", width=50),
    "C-SSWR-KEEP": Layer("keepouts: no lateral enters", width=25),
    "C-SSWR-STBK": Layer("setbacks: limit of laterals", width=18, linetype="DASHED"),
    "C-SSWR-SEAM": Layer("seams between panels", width=25, linetype="DASHDOT"),
    "C-SSWR-STAK": Layer("stakes", width=18),
    "C-ANNO-TEXT": Layer("names and elevations of laterals, panel letters"),
    "C-ANNO-TABL": Layer("lateral table"),
    **FURNITURE_LAYERS,
    "V-NODE-SPOT": Layer("survey points", width=13, colour=GREY),
    "V-NODE-SUSP": Layer("survey points that are doubted", width=35),
    "V-TOPO-MINR": Layer("minor level lines of the ground", width=13, colour=GREY),
    "V-TOPO-MAJR": Layer("major level lines of the ground", width=25, colour=GREY),
    "V-TOPO-TEXT": Layer("elevations of major level lines", width=13, colour=GREY),
    "V-TOPO-VOID": Layer("no survey here", width=13, linetype="DOTTED"),
}
APPLICATION = "DRIPFIELD"  # owner of the extended data of a lateral


def write_staking(
    path: Path,
    design: Design,
    stakes: Sequence[FieldMark],
    levels: Sequence[LevelLine] = (),
    gaps: Polygon | MultiPolygon | None = None,
    suspects: Sequence[Suspect] = (),
) -> None:
    """Write the staking drawing.

    Parameters
    ----------
    path : Path
        The DXF file (format of 2010, ASCII, UTF-8).
    design : Design
    stakes : sequence of FieldMark
    levels : sequence of LevelLine
        Level lines of the ground.
    gaps : Polygon or MultiPolygon, optional
        Parts of the bed without survey.
    suspects : sequence of Suspect
        Shots that are doubted.

    Notes
    -----
    Model space is in the site's own coordinates and unit. Every entity of ``C-SSWR-LATL`` is one
    lateral: a polyline at its elevation, with its name, panel, elevation and length as extended
    data. Text is sized for a plot on the unit's large sheet.
    """
    sheet = StakingSheet(design.site, design.ground)
    document = new_drawing(design.site.unit, LAYERS, sheet.units_per_inch, sheet.paper)
    document.appids.add(APPLICATION)
    space = document.modelspace()
    _draw_ground(space, sheet, levels, gaps)
    _draw_suspects(space, sheet, suspects)
    _draw_bed(space, sheet, design.layout)
    _draw_laterals(space, sheet, design, stakes)
    _draw_stakes(document, sheet, stakes)
    draw_margin(document, sheet, design)
    _frame(document, sheet)
    save_drawing(document, path)


def _hatched(
    space: Modelspace, sheet: StakingSheet, area: Polygon | MultiPolygon, layer: str
) -> None:
    """Outline and hatch an area; the hatch is plain lines, the same in every CAD program."""
    for ring in rings_of(area):
        polyline(space, ring, layer, closed=True)
    left, low, right, high = area.bounds
    step = 0.1 * sheet.units_per_inch * math.sqrt(2.0)
    rise = high - low
    starts = np.arange(left - rise + 0.5 * step, right, step)
    ends = [((x, low), (x + rise, high)) for x in starts]
    strokes = shapely.intersection(area, shapely.linestrings(ends))
    for stroke in shapely.get_parts(strokes):
        if stroke.geom_type == "LineString" and not stroke.is_empty:
            start, end = stroke.coords
            space.add_line(start, end, dxfattribs=on(layer))


def _draw_ground(
    space: Modelspace,
    sheet: StakingSheet,
    levels: Sequence[LevelLine],
    gaps: Polygon | MultiPolygon | None,
) -> None:
    for point in sheet.ground.read.xyz.tolist():
        space.add_point(point, dxfattribs=on("V-NODE-SPOT"))
    for line in levels:
        layer = "V-TOPO-MAJR" if line.major else "V-TOPO-MINR"
        xy = line.xy[:-1] if line.closed else line.xy  # the entity closes itself
        polyline(space, xy, layer, elevation=line.elevation, closed=line.closed)
        if line.major:
            at, angle = _outside(sheet, line.xy)
            label = f"{line.elevation:g}"
            text_at(space, label, at, 0.8 * sheet.text, "V-TOPO-TEXT", angle=angle, align="MIDDLE")
    if gaps is not None and not gaps.is_empty:
        for part in getattr(gaps, "geoms", [gaps]):
            _hatched(space, sheet, part, "V-TOPO-VOID")
            at = part.representative_point().coords[0]
            text_at(space, "NO SURVEY", at, sheet.text, "V-TOPO-VOID", align="MIDDLE")


def _draw_suspects(space: Modelspace, sheet: StakingSheet, suspects: Sequence[Suspect]) -> None:
    """A square round each doubted shot, with its name."""
    reach = 0.6 * sheet.small
    for one in suspects:
        x, y = one.place
        ring = [(x - reach, y - reach), (x + reach, y - reach), (x + reach, y + reach)]
        polyline(space, np.array([*ring, (x - reach, y + reach)]), "V-NODE-SUSP", closed=True)
        beside = (x + 1.5 * reach, y - 0.5 * sheet.small)
        text_at(space, one.point, beside, sheet.small, "V-NODE-SUSP")


def _draw_bed(space: Modelspace, sheet: StakingSheet, layout: Layout) -> None:
    bed = sheet.site.bed
    for ring in rings_of(bed.boundary):
        polyline(space, ring, "C-SSWR-BNDY", closed=True)
    for keepout in bed.keepouts:
        _hatched(space, sheet, keepout, "C-SSWR-KEEP")
    near = box(sheet.left, sheet.low, sheet.right, sheet.high)
    for setback in bed.setbacks:
        limit = setback.feature.buffer(setback.distance, quad_segs=64).boundary
        for part in shapely.get_parts(shapely.line_merge(limit.intersection(near))):
            xy = shapely.get_coordinates(part)
            if len(xy) < 2:
                continue
            polyline(space, xy, "C-SSWR-STBK")
            at, angle = _outside(sheet, xy)
            label = f"{setback.distance:g} {sheet.unit.short} from {setback.name}"
            text_at(space, label, at, sheet.text, "C-SSWR-STBK", angle=angle, align="BOTTOM_CENTER")
    for seam in layout.seams:
        polyline(space, seam, "C-SSWR-SEAM")


def _draw_laterals(
    space: Modelspace, sheet: StakingSheet, design: Design, stakes: Sequence[FieldMark]
) -> None:
    height = sheet.small
    stations: dict[str, list[float]] = {}
    for stake in stakes:
        stations.setdefault(stake.lateral, []).append(stake.station)
    for lateral, measure in design.laterals.values():
        entity = polyline(space, lateral.xy, "C-SSWR-LATL", elevation=lateral.elevation)
        entity.set_xdata(  # type: ignore[attr-defined]
            APPLICATION,
            [
                (1000, f"lateral={drawing_text(lateral.name)[:200]}"),
                (1000, f"panel={drawing_text(lateral.panel)[:200]}"),
                (1040, lateral.elevation),
                (1041, measure.length),
            ],
        )
        at, angle = _along(lateral.xy, _between_stakes(stations.get(lateral.name, [])))
        above = np.array((-math.sin(math.radians(angle)), math.cos(math.radians(angle))))
        place = np.asarray(at) + 1.05 * height * above
        label = f"{lateral.name} {sheet.elevation(lateral.elevation)}"
        text_at(
            space, label, (place[0], place[1]), height, "C-ANNO-TEXT", angle=angle, align="MIDDLE"
        )
        for part in missed_parts(measure):
            polyline(space, part.xy, "C-SSWR-MISS", elevation=lateral.elevation)
    if len(design.layout.panels) > 1:
        for name, area in design.layout.panels.items():
            if not area.is_empty:
                head = (area.centroid.x, area.bounds[3] + 1.2 * sheet.text)
                text_at(
                    space, f"PANEL {name}", head, 1.5 * sheet.text, "C-ANNO-TEXT", align="CENTER"
                )


def _between_stakes(stations: Sequence[float]) -> float:
    """Share of a lateral's length halfway between the two stakes next to its middle."""
    if len(stations) < 2:
        return 0.5
    halfway = 0.5 * (np.asarray(stations[:-1]) + np.asarray(stations[1:])) / stations[-1]
    return float(halfway[np.argmin(np.abs(halfway - 0.5))])


def _outside(sheet: StakingSheet, xy: Floats) -> tuple[tuple[float, float], float]:
    """Place and reading angle on a line clear of the bed, or at its middle if it has none."""
    clear = sheet.site.bed.boundary.buffer(2.0 * sheet.text)
    places = [_along(xy, share) for share in (0.5, 0.12, 0.88, 0.06, 0.94, 0.25, 0.75)]
    return next((one for one in places if not clear.contains(Point(one[0]))), places[0])


def _along(xy: Floats, share: float) -> tuple[tuple[float, float], float]:
    """Place at a share of a line's length and reading angle there in degrees."""
    near = np.asarray(xy)[:, :2] - xy[0, :2]
    station = stations_along(near)
    total = station[-1]
    stops = np.array((share - 0.1, share, share + 0.1)) * total
    before, here, after = np.column_stack([np.interp(stops, station, axis) for axis in near.T])
    direction = after - before
    angle = math.degrees(math.atan2(direction[1], direction[0]))
    if not -90.0 < angle <= 90.0:
        angle -= math.copysign(180.0, angle)
    return (float(here[0] + xy[0, 0]), float(here[1] + xy[0, 1])), angle


def _draw_stakes(document: Drawing, sheet: StakingSheet, stakes: Sequence[FieldMark]) -> None:
    """A point and a block with attributes at each stake."""
    block = document.blocks.new("STAKE")
    block.add_line((-0.5, -0.5), (0.5, 0.5))
    block.add_line((-0.5, 0.5), (0.5, -0.5))
    for tag, hidden, y in (("POINT", False, 0.3), ("LATERAL", True, -0.9), ("ELEVATION", True, -2)):
        block.add_attdef(tag, (0.8, y), height=1.0, dxfattribs={"flags": 1 if hidden else 0})
    space = document.modelspace()
    size = 0.5 * sheet.small
    for stake in stakes:
        at = (stake.easting, stake.northing, stake.set_elevation)
        space.add_point(at, dxfattribs=on("C-SSWR-STAK"))
        insert = space.add_blockref(
            "STAKE", at, dxfattribs=on("C-SSWR-STAK", xscale=size, yscale=size, zscale=size)
        )
        insert.add_auto_attribs(
            {
                "POINT": str(stake.mark),
                "LATERAL": drawing_text(stake.lateral),
                "ELEVATION": sheet.elevation(stake.set_elevation),
            }
        )
        for attribute in insert.attribs:
            attribute.dxf.layer = "C-SSWR-STAK"


def _frame(document: Drawing, sheet: StakingSheet) -> None:
    """Record the drawing's extents and open it with everything in view."""
    from ezdxf import bbox

    space = document.modelspace()
    extents = bbox.extents(space.query("LINE TEXT"), fast=True)  # table, title and labels
    extents.extend([(sheet.left, sheet.low, 0.0), (sheet.right, sheet.high, 0.0)])
    space.reset_extents(extents.extmin, extents.extmax)
    document.set_modelspace_vport(
        height=1.1 * max(extents.size.y, 0.6 * extents.size.x), center=extents.center.vec2
    )
