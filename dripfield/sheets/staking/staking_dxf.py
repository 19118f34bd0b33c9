"""The staking drawing (DXF): model space true, with laterals at their elevations, stakes, level
lines and bed; plans to scale and tables in paper space."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon

from dripfield.core.arrays import Floats
from dripfield.core.lines import stations_along
from dripfield.design.model import Design
from dripfield.ground.levels.lines import clip_lines
from dripfield.sheets.kit.area_labels import keepout_name
from dripfield.sheets.kit.dxf_document import (
    BROWN,
    DARK_BROWN,
    DARK_GREY,
    GREY,
    SURVEY_PINK,
    Layer,
    drawing_text,
    new_drawing,
    save_drawing,
)
from dripfield.sheets.kit.dxf_entities import on, polyline, rings_of, text_at
from dripfield.sheets.kit.dxf_furniture import FURNITURE_LAYERS
from dripfield.sheets.kit.dxf_points import add_points
from dripfield.sheets.kit.marks import missed_parts
from dripfield.sheets.kit.notes import bare_ground
from dripfield.sheets.kit.style import Paper
from dripfield.sheets.staking.staking_layouts import draw_layouts
from dripfield.sheets.staking.staking_sheet import StakingSheet
from dripfield.staking.model import FieldMark
from dripfield.survey.doubt.blunders import Suspect

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

    from dripfield.ground.levels.lines import LevelLine

LAYERS = {
    "C-SSWR-LATL": Layer("laterals at the elevation to set", width=35, colour=BROWN),
    "C-SSWR-MISS": Layer("parts of laterals out of tolerance", width=70, linetype="DASHED"),
    "C-SSWR-BNDY": Layer("bed", width=50),
    "C-SSWR-KEEP": Layer("keepouts: no lateral enters", width=25, colour=DARK_GREY),
    "C-SSWR-STBK": Layer(
        "setbacks: limit of laterals", width=18, linetype="DASHED", colour=DARK_GREY
    ),
    "C-SSWR-SEAM": Layer("seams between panels", width=25, linetype="DASHDOT", colour=DARK_BROWN),
    "C-SSWR-STAK": Layer("stakes", width=18, colour=SURVEY_PINK),
    "C-SSWR-STAK-NUMB": Layer("point numbers of stakes", width=18, colour=SURVEY_PINK),
    "C-SSWR-BARE": Layer("bed that no lateral serves", width=13, colour=GREY),
    "C-ANNO-TEXT": Layer("names and elevations of laterals, panel letters"),
    "C-ANNO-TABL": Layer("tables"),
    "C-ANNO-VPRT": Layer("frames of viewports", width=18, colour=GREY),
    **FURNITURE_LAYERS,
    "V-CTRL-PNTS": Layer("benchmark", width=35),
    "V-NODE-SPOT": Layer("survey points", width=13, colour=GREY),
    "V-NODE-SUSP": Layer("survey points that are doubted", width=35),
    "V-TOPO-MINR": Layer("minor level lines of the ground", width=13, colour=GREY),
    "V-TOPO-MAJR": Layer("major level lines of the ground", width=25, colour=GREY),
    "V-TOPO-TEXT": Layer("elevations of major level lines", width=13, colour=GREY),
    "V-TOPO-VOID": Layer("no survey here", width=13, linetype="DOTTED"),
}
_NEARER = 0.4  # of the spacing: a name farther off could be the next lateral's
APPLICATION = "DRIPFIELD"  # owner of the extended data of a lateral


def write_staking(
    path: Path,
    design: Design,
    stakes: Sequence[FieldMark],
    levels: Sequence[LevelLine] = (),
    gaps: Polygon | MultiPolygon | None = None,
    suspects: Sequence[Suspect] = (),
    paper: Paper | None = None,
    scale: float | None = None,
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
    paper : Paper, optional
    scale : float, optional
        Of the layouts, as the plan takes them.

    Notes
    -----
    Model space is in the site's own coordinates and unit. Every entity of ``C-SSWR-LATL`` is one
    lateral: a polyline at its elevation, with its name, panel, elevation and length as extended
    data. Text is sized for the scale of the layouts: ``PLAN`` without stakes, ``STAKES`` with
    them, ``TABLE`` and ``NOTES``.
    """
    sheet = StakingSheet(design, paper, scale)
    document = new_drawing(design.site.unit, LAYERS, sheet.units_per_inch, sheet.paper)
    document.appids.add(APPLICATION)
    space = document.modelspace()
    _draw_ground(space, sheet, levels, gaps)
    _draw_suspects(space, sheet, suspects)
    _draw_bed(space, sheet, design)
    _draw_benchmark(space, sheet)
    _draw_laterals(space, sheet, design, stakes)
    _draw_stakes(space, sheet, stakes)
    draw_layouts(document, sheet)
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
    add_points(space, sheet.shots, "V-NODE-SPOT")
    for line in clip_lines(levels, sheet.reach):
        layer = "V-TOPO-MAJR" if line.major else "V-TOPO-MINR"
        xy = line.xy[:-1] if line.closed else line.xy  # the entity closes itself
        polyline(space, xy, layer, elevation=line.elevation, closed=line.closed)
        if line.major:
            at, angle = _outside(sheet, line.xy)
            label = f"{line.elevation:g}"
            text_at(space, label, at, sheet.small, "V-TOPO-TEXT", angle=angle, align="MIDDLE")
    if gaps is not None and not gaps.is_empty:
        for part in getattr(gaps, "geoms", [gaps]):
            _hatched(space, sheet, part, "V-TOPO-VOID")
            at = part.representative_point().coords[0]
            _level_text(space, sheet, "NO SURVEY", at, sheet.text, "V-TOPO-VOID")


def _draw_suspects(space: Modelspace, sheet: StakingSheet, suspects: Sequence[Suspect]) -> None:
    """A square round each doubted shot, with its name."""
    reach = 0.6 * sheet.small
    for one in suspects:
        x, y = one.place
        ring = [(x - reach, y - reach), (x + reach, y - reach), (x + reach, y + reach)]
        polyline(space, np.array([*ring, (x - reach, y + reach)]), "V-NODE-SUSP", closed=True)
        beside = (x + 1.5 * reach, y - 0.5 * sheet.small)
        text_at(space, one.point, beside, sheet.small, "V-NODE-SUSP")


def _draw_bed(space: Modelspace, sheet: StakingSheet, design: Design) -> None:
    bed = sheet.site.bed
    for ring in rings_of(bed.boundary):
        polyline(space, ring, "C-SSWR-BNDY", closed=True)
    for index, keepout in enumerate(bed.keepouts):
        _hatched(space, sheet, keepout, "C-SSWR-KEEP")
        name, at = keepout_name(sheet.site, index), keepout.representative_point().coords[0]
        _level_text(space, sheet, name, (at[0], at[1]), sheet.small, "C-SSWR-KEEP")
    for bare in bare_ground(design):
        _hatched(space, sheet, bare, "C-SSWR-BARE")
    near = sheet.reach
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
    for seam in design.layout.seams:
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
        label = f"{lateral.name} {sheet.elevation(lateral.elevation)}"
        share = _between_stakes(stations.get(lateral.name, []))
        (place, angle), align = _above(sheet, lateral.xy, share), "MIDDLE"
        if 0.8 * height * len(label) > 0.8 * measure.length:  # on past its end
            label = lateral.name
            place, angle, align = _beyond(sheet, lateral.xy)
        text_at(space, label, place, height, "C-ANNO-TEXT", angle=angle, align=align)
        for part in missed_parts(measure):
            polyline(space, part.xy, "C-SSWR-MISS", elevation=lateral.elevation)
    if len(design.layout.panels) > 1:
        for name, area in design.layout.panels.items():
            if not area.is_empty:
                head = (area.centroid.x, area.bounds[3] + 1.2 * sheet.text)
                _level_text(space, sheet, f"PANEL {name}", head, 1.5 * sheet.text, "C-ANNO-TEXT")


def _above(sheet: StakingSheet, xy: Floats, share: float) -> tuple[tuple[float, float], float]:
    """Standing on a line at a share of its length, nearer to it than to the next lateral, and the
    reading angle there."""
    at, angle = _along(sheet, xy, share)
    away = min(0.6 * sheet.small, _NEARER * sheet.site.settings.spacing)
    turn = math.radians(angle)
    return (at[0] - away * math.sin(turn), at[1] + away * math.cos(turn)), angle


def _beyond(sheet: StakingSheet, xy: Floats) -> tuple[tuple[float, float], float, str]:
    """Just past a line's end, the reading angle there, and which end of a text stands there."""
    way = xy[-1, :2] - xy[-min(len(xy), 4), :2]
    way = way / (np.hypot(*way) or 1.0)
    x, y = xy[-1, :2] + 0.4 * sheet.small * way
    onward = math.degrees(math.atan2(way[1], way[0]))
    angle = sheet.readable(onward)
    align = "MIDDLE_LEFT" if angle == onward else "MIDDLE_RIGHT"
    return (float(x), float(y)), angle, align


def _level_text(
    space: Modelspace,
    sheet: StakingSheet,
    text: str,
    at: tuple[float, ...],
    height: float,
    layer: str,
) -> None:
    """Text about a place, level on the sheet."""
    place = (at[0], at[1])
    text_at(space, text, place, height, layer, angle=sheet.upright, align="MIDDLE")


def _draw_benchmark(space: Modelspace, sheet: StakingSheet) -> None:
    """A triangle at the benchmark, its name and elevation above it."""
    mark = sheet.site.file.benchmark
    if mark is None or mark.easting is None or mark.northing is None:
        return
    x, y = mark.easting, mark.northing
    space.add_point((x, y, mark.elevation), dxfattribs=on("V-CTRL-PNTS"))
    reach = 1.2 * sheet.small
    corners = [
        (x, y + reach),
        (x - 0.87 * reach, y - 0.5 * reach),
        (x + 0.87 * reach, y - 0.5 * reach),
    ]
    polyline(space, np.array(corners), "V-CTRL-PNTS", closed=True)
    label = f"{mark.name} {sheet.elevation(mark.elevation)}"
    turn = math.radians(sheet.upright)
    above = (x - 2.2 * reach * math.sin(turn), y + 2.2 * reach * math.cos(turn))
    _level_text(space, sheet, label, above, sheet.small, "V-CTRL-PNTS")


def _between_stakes(stations: Sequence[float]) -> float:
    """Share of a lateral's length halfway between the two stakes next to its middle."""
    if len(stations) < 2:
        return 0.5
    halfway = 0.5 * (np.asarray(stations[:-1]) + np.asarray(stations[1:])) / stations[-1]
    return float(halfway[np.argmin(np.abs(halfway - 0.5))])


def _outside(sheet: StakingSheet, xy: Floats) -> tuple[tuple[float, float], float]:
    """Place and reading angle on a line clear of the bed, or at its middle if it has none."""
    clear = sheet.site.bed.boundary.buffer(2.0 * sheet.text)
    places = [_along(sheet, xy, share) for share in (0.5, 0.12, 0.88, 0.06, 0.94, 0.25, 0.75)]
    return next((one for one in places if not clear.contains(Point(one[0]))), places[0])


def _along(sheet: StakingSheet, xy: Floats, share: float) -> tuple[tuple[float, float], float]:
    """Place at a share of a line's length and reading angle there in degrees."""
    near = np.asarray(xy)[:, :2] - xy[0, :2]
    station = stations_along(near)
    total = station[-1]
    stops = np.array((share - 0.1, share, share + 0.1)) * total
    before, here, after = np.column_stack([np.interp(stops, station, axis) for axis in near.T])
    direction = after - before
    angle = sheet.readable(math.degrees(math.atan2(direction[1], direction[0])))
    return (float(here[0] + xy[0, 0]), float(here[1] + xy[0, 1])), angle


def _draw_stakes(space: Modelspace, sheet: StakingSheet, stakes: Sequence[FieldMark]) -> None:
    """A point at each stake, with what it is as extended data, and its number beside it."""
    for stake in stakes:
        at = (stake.easting, stake.northing, stake.set_elevation)
        point = space.add_point(at, dxfattribs=on("C-SSWR-STAK"))
        point.set_xdata(
            APPLICATION,
            [
                (1000, f"point={stake.mark}"),
                (1000, f"lateral={drawing_text(stake.lateral)[:200]}"),
                (1040, stake.set_elevation),
            ],
        )
        beside = (at[0] + 0.4 * sheet.small, at[1] + 0.2 * sheet.small)
        number, layer = str(stake.mark), "C-SSWR-STAK-NUMB"
        text_at(space, number, beside, sheet.small, layer, angle=sheet.upright)


def _frame(document: Drawing, sheet: StakingSheet) -> None:
    """Record the drawing's extents and open it with the bed in view."""
    left, low, right, high = sheet.reach.bounds
    document.modelspace().reset_extents((left, low, 0.0), (right, high, 0.0))
    document.header["$PDMODE"] = 3  # points as crosses
    document.header["$PDSIZE"] = 0.5 * sheet.small
    document.header["$PSLTSCALE"] = 0  # dashes as long in a viewport as LTSCALE makes them
    x0, y0, x1, y1 = sheet.site.bed.boundary.bounds
    height = 1.3 * max(y1 - y0, 0.6 * (x1 - x0))
    document.set_modelspace_vport(height=height, center=(0.5 * (x0 + x1), 0.5 * (y0 + y1)))
