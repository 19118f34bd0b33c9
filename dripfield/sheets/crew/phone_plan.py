"""The phone page's plan as SVG: bed, laterals, base line, benchmark, and which way it falls."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from html import escape

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.feet_inches import decimal
from dripfield.design.model import Design
from dripfield.sheets.crew.phone_words import say
from dripfield.sheets.kit.html_table import html_text
from dripfield.staking.model import FieldPlan, FindablePoint

_AROUND = 2.5  # spacings left free round what is drawn
_NEAR = 0.5  # of the bed's diagonal: a benchmark farther away is told in words
_NAMES = 0.06  # of what is drawn: room for names to either side
_THIN = 0.005  # spacings that a drawn line may be off
_LEAST_FALL = 1e-3


@dataclass(frozen=True)
class Frame:
    """The plan's upper left corner [site unit], and its width and height."""

    corner: Floats
    size: tuple[float, float]

    def place(self, xy: Floats) -> Floats:
        """Site coordinates (n, 2) in the drawing, whose second axis points down."""
        return np.asarray((np.asarray(xy) - self.corner) * (1.0, -1.0))


def plan_frame(design: Design, plan: FieldPlan) -> Frame:
    """What the plan shows: the bed, its base line, and the benchmark where that is near."""
    left, low, right, high = design.site.bed.boundary.bounds
    shown = [np.array(((left, low), (right, high)))]
    shown += [one.xy[None] for one in plan.points if _is_near(design, one)]
    xy = np.concatenate(shown)
    edge = _AROUND * design.site.settings.spacing
    edges = edge + np.array((_NAMES * float(np.ptp(xy[:, 0])), 0.0))
    (left, low), (right, high) = xy.min(axis=0) - edges, xy.max(axis=0) + edges
    return Frame(np.array((left, high)), (float(right - left), float(high - low)))


def plan_svg(design: Design, plan: FieldPlan) -> tuple[str, float]:
    """The plan, north up, one user unit to a site unit; and its height over its width.

    Parameters
    ----------
    design : Design
    plan : FieldPlan
        Its laterals are drawn in its order of work.

    Returns
    -------
    str
        An ``svg`` element; names have a size that the page keeps on the screen.
    float
    """
    frame = plan_frame(design, plan)
    width, height = frame.size
    by_name = {lateral.name: lateral for lateral in design.layout.laterals}
    order = list(plan.of_lateral())
    values = escape(json.dumps({"count": len(order)}))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.3f} {height:.3f}"'
        f' role="img" tabindex="0" data-label="plan_label" data-values="{values}"'
        f' aria-label="{html_text(say("plan_label", count=str(len(order))))}">'
    ]
    bed = design.site.bed
    parts.append(
        f'<polygon class="bed" points="{_path(frame, _ring(bed.boundary))}"/>'
        + "".join(
            f'<polygon class="keepout" points="{_path(frame, _ring(keepout))}"/>'
            for keepout in bed.keepouts
        )
    )
    known = {one.name: one for one in plan.points}
    if plan.base_line is not None and set(plan.base_line) <= set(known):
        ends = np.array([known[name].xy for name in plan.base_line])
        parts.append(f'<polyline class="base" points="{_path(frame, ends)}"/>')
    thin = _THIN * design.site.settings.spacing
    names = []
    for number, name in enumerate(order):
        xy = shapely.get_coordinates(shapely.linestrings(by_name[name].xy).simplify(thin))
        parts.append(f'<polyline class="lateral" points="{_path(frame, xy)}"/>')
        names.append(_end_name(frame, xy, name, number))
    parts.append(
        '<g id="dots"></g><g id="fall-here"><path d="M-3,-4V-22h-7L0,-42L10,-22H3V-4z"/></g>'
    )
    parts += _points(design, plan, frame)
    parts += [*names, '<g id="numbers"></g>']
    return "".join([*parts, "</svg>"]), height / width


def fall_at(design: Design, place: Floats) -> float | None:
    """Which way the laying surface falls at a place (2,), clockwise from north [degrees].

    None where it is level or not known.
    """
    step = design.site.settings.spacing
    around = place + step * np.array(((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)))
    east, west, north, south = design.surface.elevation(around)
    slope = np.array((west - east, south - north)) / (2.0 * step)
    if not np.isfinite(slope).all() or np.hypot(*slope) < _LEAST_FALL:
        return None
    return math.degrees(math.atan2(*slope)) % 360.0


def fall_words(plan: FieldPlan) -> str:
    """The legend's arrow and grade of the plane nearest to all marks; empty where that is level."""
    rows = [row for row in plan.rows if math.isfinite(row.elevation)]
    if len(rows) < 3:
        return ""
    xyz = np.array([(row.easting, row.northing, row.elevation) for row in rows])
    away = xyz - xyz.mean(axis=0)
    slope = -np.linalg.lstsq(away[:, :2], away[:, 2], rcond=None)[0]
    grade = float(np.hypot(*slope))
    if grade < _LEAST_FALL:
        return ""
    turn = math.degrees(math.atan2(*slope)) % 360.0
    values = {"grade": f"{100.0 * grade:.0f}" if grade >= 0.1 else f"{100.0 * grade:.1f}"}
    return (
        f'<svg class="arrow fall" viewBox="-16 -16 32 32" aria-hidden="true"><path'
        f' transform="rotate({turn:.0f})" d="M-2,14V-4h-5L0,-15L7,-4H2V14z"/></svg>'
        f'<b data-say="fall" data-values="{escape(json.dumps(values))}"></b>'
    )


def plan_words(design: Design, plan: FieldPlan) -> str:
    """What stands under the plan: the base line's ends, and a benchmark that is not on it."""
    unit = design.site.unit
    known = {one.name: one for one in plan.points}
    said = []
    if plan.base_line is not None and set(plan.base_line) <= set(known):
        one, two = (known[name] for name in plan.base_line)
        length = f"{decimal(float(np.hypot(*(two.xy - one.xy))), unit)} {unit.short}"
        said.append(_phrase("base_line", {"one": one.name, "two": two.name, "length": length}))
    benchmark = design.site.file.benchmark
    placed = next((point for point in plan.points if point.kind == "benchmark"), None)
    if benchmark is not None and placed is None:
        said.append(_phrase("bench_unplaced", {"name": benchmark.name}))
    elif placed is not None and not _is_near(design, placed):
        bed = design.site.bed.boundary
        away = placed.xy - np.array((bed.centroid.x, bed.centroid.y))
        distance = shapely.distance(bed, shapely.points(placed.xy))
        values = {"name": placed.name, "distance": f"{decimal(distance, unit)} {unit.short}"}
        eighth = round(math.atan2(away[0], away[1]) / (math.pi / 4.0)) % 8
        said.append(
            f'<span data-compass="{eighth}" data-values="{escape(json.dumps(values))}"></span>'
        )
    return ". ".join(said)


def _phrase(key: str, values: dict[str, str]) -> str:
    return f'<span data-say="{key}" data-values="{escape(json.dumps(values))}"></span>'


def _is_near(design: Design, point: FindablePoint) -> bool:
    left, low, right, high = design.site.bed.boundary.bounds
    gap = shapely.distance(design.site.bed.boundary, shapely.points(point.xy))
    return bool(gap <= _NEAR * math.hypot(right - left, high - low))


def _ring(area: shapely.Polygon) -> Floats:
    return np.asarray(shapely.get_coordinates(area.exterior))


def _path(frame: Frame, xy: Floats) -> str:
    return " ".join(f"{x:.3f},{y:.3f}" for x, y in frame.place(xy))


def _end_name(frame: Frame, xy: Floats, name: str, number: int) -> str:
    """A lateral's name beyond its start, or beyond its other end where there is no room."""
    (x0, y0), (x1, y1) = frame.place(xy[[0, -1]])
    ways = ("end", "start") if x1 >= x0 else ("start", "end")
    places = [
        (x, y, 8.0 if way == "start" else -8.0, dy, way)
        for x, y, way in ((x0, y0, ways[0]), (x1, y1, ways[1]))
        for dy in (0.0, 9.0, -9.0)
    ]
    return _name(name, places, f' data-lateral="{number}"')


def _points(design: Design, plan: FieldPlan, frame: Frame) -> list[str]:
    """Benchmark, permanent points and base-line ends with their names; other points as dots."""
    parts = []
    ends = set(plan.base_line or ())
    bed = design.site.bed.boundary
    ((centre, _),) = frame.place(np.array(((bed.centroid.x, bed.centroid.y),)))
    for point in plan.points:
        if not _is_near(design, point):
            continue
        ((x, y),) = frame.place(point.xy[None])
        spot = f'd="M{x:.3f},{y:.3f}h0"'
        if point.kind == "benchmark":
            parts.append(
                f'<path class="spot-ring" {spot}/><path class="spot-hole" {spot}/>'
                f'<path class="spot bench" {spot}/>'
            )
        else:
            parts.append(f'<path class="spot" {spot}/>')
        named = point.kind in ("benchmark", "permanent") or point.name in ends
        beside = [(x, y, -13.0, 0.0, "end"), (x, y, 13.0, 0.0, "start")]
        places = [
            *(beside if x < centre else beside[::-1]),
            (x, y, 0.0, -20.0, "middle"),
            (x, y, 0.0, 20.0, "middle"),
            (x, y, 0.0, 20.0, "start" if x < centre else "end"),
            (x, y, 0.0, -20.0, "start" if x < centre else "end"),
        ]
        parts.append(_name(point.name, places, "", " point" if named else ""))
    return parts


_Place = tuple[float, float, float, float, str]
"""x and y in the drawing, from there x and y in pixels of the screen, and the text's anchor."""


def _name(name: str, places: list[_Place], more: str, kind: str = "") -> str:
    """A name that the page puts at the first of its places where there is room."""
    x, y, _, _, anchor = places[0]
    where = json.dumps([[round(float(v), 3) for v in one[:4]] + [one[4]] for one in places])
    return (
        f'<text class="name{kind}"{more} x="{x:.3f}" y="{y:.3f}" text-anchor="{anchor}"'
        f' data-places="{escape(where)}">{html_text(name)}</text>'
    )
