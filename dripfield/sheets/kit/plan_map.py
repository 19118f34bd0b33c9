"""The map of a plan: ground, bed, laterals and their labels, drawn through a frame."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.design.model import Design
from dripfield.layout.model import Layout
from dripfield.measures.laterals import LateralMeasure
from dripfield.sheets.kit.area_labels import label_areas
from dripfield.sheets.kit.ground_labels import draw_falls, label_levels
from dripfield.sheets.kit.labels import Placer
from dripfield.sheets.kit.lateral_labels import label_laterals
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.marks import Fault, missed_parts
from dripfield.sheets.kit.notes import bare_ground
from dripfield.sheets.kit.pen import Pen as Pen
from dripfield.sheets.kit.ramp import Ramp, elevation_ramp
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import DIM, INK, LEVEL_GREY, PALE, PAPER_WHITE, PENS, WASH
from dripfield.sheets.kit.suspects import mark_suspects
from dripfield.site.model import Site

FAULT_DASHES: dict[Fault, tuple[float, tuple[float, ...]]] = {
    "level": (0.0, (4.0, 2.2)),
    "spacing": (0.0, (1.0, 1.2)),
    "level and spacing": (0.0, (5.0, 1.4, 1.0, 1.4)),
}
FAULT_PEN = 2.0  # width of a line out of tolerance [pt]
SEAM_DASHES = (0.0, (9.0, 2.5, 1.5, 2.5))
SETBACK_DASHES = (0.0, (6.0, 3.0))
KEEPOUT_HATCH = "////"
GAP_HATCH = "...."
BARE_HATCH = "xxx"
_MOST_DOTS = 20_000  # shots on a map that are all drawn
_DOT = 2.5  # [pt]


@dataclass(frozen=True)
class MapLabels:
    """What the map could not label.

    Attributes
    ----------
    unnamed, without_figures : tuple of str
        Laterals without a name, and those without length and elevation.
    unnamed_shots : tuple of str
        Suspect shots without a name.
    told : tuple of str
        Setbacks, keepouts and benchmark that have no name on the map, in words.
    """

    unnamed: tuple[str, ...]
    without_figures: tuple[str, ...]
    unnamed_shots: tuple[str, ...] = ()
    told: tuple[str, ...] = ()


def draw_map(
    axes: Any,
    frame: MapFrame,
    design: Design,
    relief: Relief,
    *,
    type_scale: float = 1.0,
    ramp: Ramp | None = None,
    kept: Sequence[Polygon] = (),
    names_only: bool = False,
) -> MapLabels:
    """Draw the map.

    Parameters
    ----------
    axes : matplotlib Axes
        In points of the sheet, equal both ways.
    frame : MapFrame
    design : Design
    relief : Relief
        In the site's own coordinates.
    type_scale : float
        Of the type, :attr:`dripfield.sheets.kit.style.Paper.type_scale`.
    ramp : Ramp, optional
        Colours of elevations, where the map shows a part of a larger design.
    kept : sequence of Polygon
        Where no label may stand [pt].
    names_only : bool
        Laterals get names at ends where they fit, and no figures.

    Returns
    -------
    MapLabels
    """
    pen = Pen(axes, frame, type_scale)
    ramp = ramp or elevation_ramp(design)
    draw_ground(pen, relief)
    _draw_bare(pen, design)
    limits = draw_bed(pen, design.site, design.layout)
    lines = [frame.to_paper(lateral.xy) for lateral in design.layout.laterals]
    for line, measure in zip(lines, design.measured.laterals, strict=True):
        _draw_lateral(pen, line, measure, ramp.colour(measure.elevation))
    window = frame.window.buffer(-3.0)
    edge = shapely.get_coordinates(frame.shape(design.site.bed.boundary.exterior))
    placer = Placer(window, [*lines, edge, *limits])
    for area in kept:
        placer.take(area)
    told = label_areas(pen, placer, design.site, relief, design.layout, bare_ground(design))
    bare = mark_suspects(pen, placer, relief.suspects, 7.0 * type_scale)
    shown = [_longest_inside(line, window) for line in lines]
    unnamed, plain = label_laterals(
        pen, placer, design.site, shown, design.measured, names_only=names_only
    )
    label_levels(pen, placer, relief)
    draw_falls(pen, placer, design.site, relief)
    return MapLabels(unnamed, plain, bare, told)


def _longest_inside(line: Floats, window: Polygon) -> Floats:
    """The longest piece of a line on the sheet that a window shows; empty where it shows none."""
    left, low, right, high = window.bounds
    if (line.min(axis=0) >= (left, low)).all() and (line.max(axis=0) <= (right, high)).all():
        return line
    pieces = shapely.get_parts(shapely.intersection(shapely.linestrings(line), window))
    pieces = [one for one in pieces if one.geom_type == "LineString"]
    if not pieces:
        return np.empty((0, 2))
    return np.asarray(shapely.get_coordinates(max(pieces, key=lambda one: one.length)))


def _draw_bare(pen: Pen, design: Design) -> None:
    """Hatch what of the bed no lateral serves."""
    for area in bare_ground(design):
        pen.area(
            pen.frame.shape(area), fc="none", ec=DIM, hatch=BARE_HATCH, lw=PENS["hair"], zorder=1.2
        )


def draw_ground(pen: Pen, relief: Relief) -> None:
    """Level lines, shots, and where there is no survey."""
    frame = pen.frame
    if relief.gaps is not None and not relief.gaps.is_empty:
        pen.area(
            frame.shape(relief.gaps), fc="none", ec=DIM, hatch=GAP_HATCH, lw=PENS["hair"], zorder=1
        )
    for major, width in ((False, PENS["hair"]), (True, PENS["medium"])):
        shown = [frame.to_paper(line.xy) for line in relief.levels if line.major == major]
        shown = [xy for xy in shown if not _off(xy, frame)]
        pen.lines(shown, width=width, colour=LEVEL_GREY, zorder=1.5)
    if relief.shots is None:
        return
    shots = frame.to_paper(relief.shots)
    shots = _thinned(shots[shapely.contains_xy(frame.window, shots)])
    pen.line(shots, ls="none", marker="o", ms=1.4, mew=0, color=PALE, zorder=1.4)


def _thinned(shots: Floats) -> Floats:
    """Of more dots than an eye tells apart, the first in each square of a dot's own size."""
    if len(shots) <= _MOST_DOTS:
        return shots
    cell = np.floor(shots / _DOT).astype(np.int64)
    key = cell[:, 0] * (1 << 32) + cell[:, 1]
    _, first = np.unique(key, return_index=True)
    return np.asarray(shots[np.sort(first)])


def _off(xy: Floats, frame: MapFrame) -> bool:
    """Whether a line's bounds miss the window."""
    low, high = xy.min(axis=0), xy.max(axis=0)
    return bool(
        high[0] < frame.left
        or low[0] > frame.left + frame.width
        or high[1] < frame.low
        or low[1] > frame.low + frame.height
    )


def draw_bed(pen: Pen, site: Site, layout: Layout) -> list[Floats]:
    """Keepouts, setbacks, bed and seams; the lines that labels keep off.

    Parameters
    ----------
    pen : Pen
    site : Site
    layout : Layout
        Its seams are drawn.

    Returns
    -------
    list of (k, 2) float arrays
        On the sheet [pt].
    """
    frame = pen.frame
    limits: list[Floats] = []
    for keepout in site.bed.keepouts:
        pen.area(
            frame.shape(keepout), fc=PAPER_WHITE, ec=INK, hatch=KEEPOUT_HATCH, lw=0.8, zorder=2
        )
    for setback in site.bed.setbacks:
        limit = setback.feature.buffer(setback.distance, quad_segs=64)
        pen.area(frame.shape(limit), fc="none", ec=INK, lw=0.7, ls=SETBACK_DASHES, zorder=2.5)
        cut = shapely.intersection(frame.shape(limit).boundary, frame.window)
        limits += [
            shapely.get_coordinates(part) for part in shapely.get_parts(cut) if part.length > 0.0
        ]
        feature = frame.shape(setback.feature)
        marker = "^" if feature.geom_type == "Point" else ""
        pen.line(
            shapely.get_coordinates(feature), color=DIM, lw=0.8, marker=marker, ms=5, zorder=2.5
        )
    pen.area(frame.shape(site.bed.boundary), fc="none", ec=INK, lw=PENS["bold"], zorder=4)
    for seam in layout.seams:
        pen.line(frame.to_paper(seam), lw=PENS["medium"], ls=SEAM_DASHES, zorder=4)
    return limits


def _draw_lateral(pen: Pen, line: Floats, measure: LateralMeasure, colour: str) -> None:
    """Solid where it is within both tolerances; elsewhere heavy, broken, on a grey band."""
    frame = pen.frame
    if _off(line, frame):
        return
    parts = missed_parts(measure)
    gid = f"lateral-{measure.name}"
    if not parts:
        pen.line(line, lw=PENS["lateral"], color=colour, zorder=5, gid=gid)
        return
    for good in _good_parts(measure):
        pen.line(frame.to_paper(good), lw=PENS["lateral"], color=colour, zorder=5, gid=gid)
    for part in parts:
        xy = frame.to_paper(part.xy)
        pen.line(xy, lw=PENS["band"], color=WASH, zorder=3)
        pen.line(xy, lw=FAULT_PEN, ls=FAULT_DASHES[part.fault], zorder=5, gid=gid)


def _good_parts(measure: LateralMeasure) -> Iterator[Floats]:
    """The stretches within both tolerances, each reaching halfway to the next faulty sample."""
    good = measure.level & measure.spaced
    edges = np.flatnonzero(np.diff(np.concatenate(([False], good, [False])).astype(np.int8)))
    for start, stop in edges.reshape(-1, 2):
        xy = measure.xy[start:stop]
        if start > 0:
            xy = np.vstack((measure.xy[start - 1 : start + 1].mean(axis=0), xy))
        if stop < len(good):
            xy = np.vstack((xy, measure.xy[stop - 1 : stop + 1].mean(axis=0)))
        if len(xy) > 1:
            yield xy
