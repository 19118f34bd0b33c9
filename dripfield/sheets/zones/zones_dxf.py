"""The drawing of the zones (DXF): joined laterals, blank tubing, pipe, devices, tables."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely

from dripfield.core.cautions import cautions
from dripfield.core.table import Table
from dripfield.distribution.system import FieldSystem
from dripfield.sheets.kit.dxf_document import GREY, Layer, new_drawing, save_drawing
from dripfield.sheets.kit.dxf_entities import on, polyline, rings_of, text_at
from dripfield.sheets.kit.dxf_furniture import FURNITURE_LAYERS, north_arrow, scale_bar, title_block
from dripfield.sheets.kit.dxf_table import draw_table
from dripfield.sheets.kit.notes import site_facts
from dripfield.sheets.kit.style import POINTS_PER_INCH, fitting_scale, usual_papers
from dripfield.sheets.zones.columns import picked
from dripfield.sheets.zones.zone_map import shown_ground

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

    from dripfield.core.arrays import Floats

_LINE_TYPES = ("CONTINUOUS", "DASHED", "DASHDOT", "DOTTED")
_WIDTHS = (35, 35, 50, 50)
LAYERS = {
    "C-SSWR-BLNK": Layer("blank tubing, without emitters", width=18, linetype="DOTTED"),
    "C-SSWR-SPLY": Layer("supply line and supply manifolds", width=70),
    "C-SSWR-RETN": Layer("return line and return manifolds", width=50, linetype="DASHED"),
    "C-SSWR-FLOW": Layer("arrows of flow"),
    "C-SSWR-VALV": Layer("valves of zones", width=35),
    "C-SSWR-AIRV": Layer("air and vacuum release", width=25),
    "C-SSWR-BNDY": Layer("bed", width=50),
    "C-SSWR-KEEP": Layer("keepouts: no lateral enters", width=25),
    "C-SSWR-STBK": Layer("setbacks: limit of laterals", width=18, linetype="DASHED"),
    "C-SSWR-SEAM": Layer("seams between panels", width=25, linetype="DASHDOT", colour=GREY),
    "C-ANNO-TEXT": Layer("names of joined laterals, sizes of pipe"),
    "C-ANNO-TABL": Layer("tables"),
    **FURNITURE_LAYERS,
}


def zone_layer(number: int) -> str:
    """The layer of a zone's laterals by its place, from 0: ``C-SSWR-ZN01`` ...."""
    return f"C-SSWR-ZN{number + 1:02d}"


def write_zones_dxf(system: FieldSystem, made: dict[str, Table], path: Path) -> None:
    """Write the drawing in the site's own coordinates and unit.

    Parameters
    ----------
    system : FieldSystem
    made : dict of str to Table
        The tables of :func:`dripfield.distribution.tables.tables`.
    path : Path

    Notes
    -----
    Every entity of a layer ``C-SSWR-ZN..`` is one lateral of that zone, drawn in the direction of
    flow at its elevations; pipes are 3D polylines too.
    """
    site, plan = system.design.site, system.plan
    left, low, right, high = shown_ground(system).bounds
    paper = usual_papers(site.unit)[1]
    scale = fitting_scale(
        site.unit, (right - left, high - low), (0.6 * paper.width, 0.7 * paper.height)
    )
    inch = scale.per_point * POINTS_PER_INCH
    text = min(0.08 * inch, 0.4 * site.settings.spacing)
    layers = dict(LAYERS)
    for number, zone in enumerate(plan.zones):
        k = number % len(_LINE_TYPES)
        layers[zone_layer(number)] = Layer(
            f"laterals of {zone.name}, in the direction of flow", _WIDTHS[k], _LINE_TYPES[k]
        )
    document = new_drawing(site.unit, layers, inch, paper)
    space = document.modelspace()
    for ring in rings_of(site.bed.boundary):
        polyline(space, ring, "C-SSWR-BNDY", closed=True)
    for keepout in site.bed.keepouts:
        for ring in rings_of(keepout):
            polyline(space, ring, "C-SSWR-KEEP", closed=True)
    near = shapely.box(left - inch, low - 0.4 * inch, right + 0.4 * inch, high + 0.3 * inch)
    for setback in site.bed.setbacks:
        limit = setback.feature.buffer(setback.distance, quad_segs=64).boundary
        for part in shapely.get_parts(shapely.line_merge(limit.intersection(near))):
            polyline(space, shapely.get_coordinates(part), "C-SSWR-STBK")
    for seam in system.design.layout.seams:
        polyline(space, seam, "C-SSWR-SEAM")
    _draw_tubing(space, system, text)
    _draw_pipe(space, system, text)
    _draw_devices(space, system, text)
    _draw_words(space, system, made, text, inch, (left, low, right, high))
    scale_bar(space, (left + 1.2 * inch, low - 1.0 * inch), site.unit, scale, paper, text)
    north_arrow(space, (left, low - 1.2 * inch), 0.7 * inch)
    save_drawing(document, path)


def _draw_tubing(space: Modelspace, system: FieldSystem, text: float) -> None:
    for number, zone in enumerate(system.plan.zones):
        for joined in zone.joined:
            for piece in joined.pieces:
                layer = "C-SSWR-BLNK" if piece.lateral is None else zone_layer(number)
                _wire(space, piece.xyz, layer)
                if piece.lateral is not None and piece.length > 4.0 * text:
                    _arrow(space, piece.xyz, text)
            longest = max(
                joined.pieces, key=lambda piece: piece.length * (piece.lateral is not None)
            )
            place, along = _at(longest.xyz, 0.5)
            angle = float(np.degrees(np.arctan2(along[1], along[0])))
            angle = angle - 180.0 if angle > 90.0 else angle + 180.0 if angle <= -90.0 else angle
            text_at(
                space, joined.name, (float(place[0]), float(place[1]) + 0.15 * text), text,
                "C-ANNO-TEXT", angle=angle, align="BOTTOM_CENTER",
            )  # fmt: skip


def _draw_pipe(space: Modelspace, system: FieldSystem, text: float) -> None:
    plan = system.plan
    groups = [(plan.supply, "C-SSWR-SPLY"), (plan.return_, "C-SSWR-RETN")]
    for zone in plan.zones:
        if zone.supply is not None:
            groups.append((zone.supply.pipes, "C-SSWR-SPLY"))
        if zone.return_ is not None:
            groups.append((zone.return_.pipes, "C-SSWR-RETN"))
    for pipes, layer in groups:
        named: set[str] = set()
        for pipe in sorted(pipes, key=lambda one: (-one.length, one.name)):
            _wire(space, pipe.xyz, layer)
            if pipe.size and pipe.size not in named:
                named.add(pipe.size)
                place, _ = _at(pipe.xyz, 0.5)
                text_at(
                    space, pipe.size, (float(place[0]) + 0.5 * text, float(place[1]) + 0.5 * text),
                    text, "C-ANNO-TEXT",
                )  # fmt: skip


def _draw_devices(space: Modelspace, system: FieldSystem, text: float) -> None:
    for zone in system.plan.zones:
        if zone.supply is None:
            continue
        x, y = (float(one) for one in zone.supply.nodes[0, :2])
        corners = [(x - text, y + 0.6 * text), (x - text, y - 0.6 * text),
                   (x + text, y + 0.6 * text), (x + text, y - 0.6 * text)]  # fmt: skip
        space.add_lwpolyline(corners, close=True, dxfattribs=on("C-SSWR-VALV"))
        number = system.plan.zones.index(zone)
        place = (x + 1.4 * text, y - (0.5 + 1.6 * number) * text)
        text_at(space, f"valve {zone.name}", place, text, "C-SSWR-VALV")
    for number, one in enumerate(system.zones.air, 1):
        x, y = (float(part) for part in one.xyz[:2])
        space.add_circle((x, y), 0.6 * text, dxfattribs=on("C-SSWR-AIRV"))
        text_at(space, f"AR{number}", (x + 0.8 * text, y + 0.8 * text), text, "C-SSWR-AIRV")


def _draw_words(
    space: Modelspace,
    system: FieldSystem,
    made: dict[str, Table],
    text: float,
    inch: float,
    bounds: tuple[float, float, float, float],
) -> None:
    left, _, right, high = bounds
    design = system.design
    x, y = right + 0.8 * inch, high
    for table in (
        picked(
            made["zones.csv"], "Zones",
            {"zone": "zone", "joined": "joined laterals", "tubing": "tubing",
             "emitters": "emitters", "area": "area", "dose_flow": "dose flow", "share": "share"},
        ),
        picked(
            made["joined.csv"], "Joined laterals, from supply to return",
            {"joined": "joined", "zone": "zone", "laterals": "laterals", "length": "length",
             "blank": "blank"},
        ),
        picked(
            made["checks.csv"], "Design checks",
            {"requirement": "requirement", "value": "value", "limit": "limit", "unit": "unit",
             "verdict": "verdict"},
        ),
        picked(
            made["air.csv"], "Air and vacuum release",
            {"number": "number", "zone": "zone", "line": "line", "elevation": "elevation"},
        ),
    ):  # fmt: skip
        if table.rows:
            _, bottom = draw_table(space, _cut(table), (x, y - 2.0 * text), text, 200)
            y = bottom - 4.0 * text
    facts = [
        "Zones, joined laterals and pipes.",
        *site_facts(design.site, design.ground),
        *system.plan.notes,
        *(f"FAILS: {one.requirement}: {one.where or one.value}" for one in system.failed),
        *cautions("utilities", "wastewater", "frost", "excavation"),
    ]
    title_block(space, (left, high + 0.5 * inch), design.site.name, facts, text)


def _cut(table: Table) -> Table:
    """The table with long texts cut, so that a drawing's row stays one line."""
    from dataclasses import replace

    rows = [
        [
            cell if not isinstance(cell, str) or len(cell) < 90 else f"{cell[:86]} ..."
            for cell in row
        ]
        for row in table.rows
    ]
    return replace(table, rows=rows)


def _wire(space: Modelspace, xyz: Floats, layer: str) -> None:
    space.add_polyline3d(np.asarray(xyz, dtype=float).tolist(), dxfattribs=on(layer))


def _at(xyz: Floats, share: float) -> tuple[Floats, Floats]:
    """A place at a share of a line's length, and the unit vector along it there."""
    step = np.diff(xyz[:, :2], axis=0)
    station = np.concatenate(([0.0], np.cumsum(np.hypot(*step.T))))
    at = share * station[-1]
    k = int(np.clip(np.searchsorted(station, at) - 1, 0, len(step) - 1))
    place = np.array([np.interp(at, station, axis) for axis in xyz[:, :2].T])
    return place, step[k] / max(float(np.hypot(*step[k])), 1e-9)


def _arrow(space: Modelspace, xyz: Floats, text: float) -> None:
    place, along = _at(xyz, 0.15)
    across = np.array((-along[1], along[0]))
    tip, one, two = (
        place + 0.7 * text * along,
        place + 0.25 * text * across,
        place - 0.25 * text * across,
    )
    space.add_solid([tuple(tip), tuple(one), tuple(two), tuple(two)], dxfattribs=on("C-SSWR-FLOW"))
