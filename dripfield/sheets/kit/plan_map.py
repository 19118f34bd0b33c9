"""The map of a plan: ground, bed, laterals and their labels, drawn through a frame."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats
from dripfield.core.lines import line_length
from dripfield.core.words import number
from dripfield.design.model import Design
from dripfield.ground.levels.lines import clip_lines
from dripfield.layout.model import Layout
from dripfield.measures.field import Measured
from dripfield.measures.laterals import LateralMeasure
from dripfield.sheets.kit.labels import (
    CAPITAL,
    Label,
    Placer,
    Words,
    along_line,
    beyond_end,
    line_end,
)
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.marks import Fault, missed_parts
from dripfield.sheets.kit.pen import Pen as Pen
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    PALE,
    PAPER_WHITE,
    PENS,
    POINTS_PER_INCH,
    WASH,
    shorten,
    text_width,
)
from dripfield.sheets.kit.suspects import mark_suspects
from dripfield.site.model import Site

FAULT_DASHES: dict[Fault, tuple[float, tuple[float, ...]]] = {
    "level": (0.0, (4.0, 2.2)),
    "spacing": (0.0, (1.0, 1.6)),
    "level and spacing": (0.0, (5.0, 1.6, 1.0, 1.6)),
}
SEAM_DASHES = (0.0, (9.0, 2.5, 1.5, 2.5))
SETBACK_DASHES = (0.0, (6.0, 3.0))
KEEPOUT_HATCH = "////"
GAP_HATCH = "...."

_SMALLEST = 4.5  # type of a lateral's label [pt]
_NAME_WIDTH = 90.0  # a longer name is cut short [pt]
_LEVEL_SHARES = (0.1, 0.9, 0.05, 0.95, 0.2, 0.8, 0.3, 0.7, 0.4, 0.6, 0.5)
_SHARES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.22, 0.78, 0.15, 0.85)


@dataclass(frozen=True)
class MapLabels:
    """What the map could not label: laterals without a name, or with a name but no figures, and
    suspect shots without a name."""

    unnamed: tuple[str, ...]
    without_figures: tuple[str, ...]
    unnamed_shots: tuple[str, ...] = ()


def draw_map(
    axes: Any, frame: MapFrame, design: Design, relief: Relief, *, type_scale: float = 1.0
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

    Returns
    -------
    MapLabels
    """
    pen = Pen(axes, frame, type_scale)
    _draw_ground(pen, design.site, relief)
    _draw_bed(pen, design.site, design.layout)
    lines = [frame.to_paper(lateral.xy) for lateral in design.layout.laterals]
    for line, measure in zip(lines, design.measured.laterals, strict=True):
        _draw_lateral(pen, line, measure)
    edge = shapely.get_coordinates(frame.shape(design.site.bed.boundary.exterior))
    placer = Placer(frame.window.buffer(-2.0), [*lines, edge])
    for keepout in design.site.bed.keepouts:
        placer.take(frame.shape(keepout))
    _label_areas(pen, placer, design.site, relief, design.layout)
    bare = mark_suspects(pen, placer, relief.suspects, 6.5 * type_scale)
    report = _label_laterals(pen, placer, design.site, lines, design.measured)
    _label_levels(pen, placer, relief)
    _draw_falls(pen, placer, design.site, relief)
    return replace(report, unnamed_shots=bare)


def _draw_ground(pen: Pen, site: Site, relief: Relief) -> None:
    frame = pen.frame
    if relief.gaps is not None and not relief.gaps.is_empty:
        pen.area(
            frame.shape(relief.gaps), fc="none", ec=DIM, hatch=GAP_HATCH, lw=PENS["hair"], zorder=1
        )
    for line in relief.levels:
        width, colour = (PENS["medium"], DIM) if line.major else (PENS["hair"], DIM)
        pen.line(frame.to_paper(line.xy), lw=width, color=colour, zorder=1.5)
    if relief.shots is None:
        return
    pen.line(
        frame.to_paper(relief.shots), ls="none", marker="o", ms=1.4, mew=0, color=PALE, zorder=1.4
    )


def _draw_bed(pen: Pen, site: Site, layout: Layout) -> None:
    frame = pen.frame
    for keepout in site.bed.keepouts:
        pen.area(
            frame.shape(keepout), fc=PAPER_WHITE, ec=INK, hatch=KEEPOUT_HATCH, lw=0.8, zorder=2
        )
    for setback in site.bed.setbacks:
        limit = setback.feature.buffer(setback.distance, quad_segs=64)
        pen.area(frame.shape(limit), fc="none", ec=INK, lw=0.7, ls=SETBACK_DASHES, zorder=2.5)
        feature = frame.shape(setback.feature)
        marker = "^" if feature.geom_type == "Point" else ""
        pen.line(
            shapely.get_coordinates(feature), color=DIM, lw=0.8, marker=marker, ms=5, zorder=2.5
        )
    pen.area(frame.shape(site.bed.boundary), fc="none", ec=INK, lw=PENS["bold"], zorder=4)
    for seam in layout.seams:
        pen.line(frame.to_paper(seam), lw=PENS["medium"], ls=SEAM_DASHES, zorder=4)


def _draw_lateral(pen: Pen, line: Floats, measure: LateralMeasure) -> None:
    """Solid where it is within both tolerances; elsewhere broken, on a grey band."""
    frame = pen.frame
    parts = missed_parts(measure)
    gid = f"lateral-{measure.name}"
    if not parts:
        pen.line(line, lw=PENS["lateral"], zorder=5, gid=gid)
        return
    for good in _good_parts(measure):
        pen.line(frame.to_paper(good), lw=PENS["lateral"], zorder=5, gid=gid)
    for part in parts:
        xy = frame.to_paper(part.xy)
        pen.line(xy, lw=PENS["band"], color=WASH, zorder=3)
        pen.line(xy, lw=PENS["lateral"], ls=FAULT_DASHES[part.fault], zorder=5, gid=gid)


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


def _label_areas(pen: Pen, placer: Placer, site: Site, relief: Relief, layout: Layout) -> None:
    """Panel letters at the upper edge, names of keepouts, setbacks and gaps."""
    frame = pen.frame
    if len(layout.panels) > 1:
        up = _uphill(frame, relief, site)
        for name, area in layout.panels.items():
            if area.is_empty:
                continue
            places = _panel_places(frame.shape(area), f"Panel {name}", up, 10.0 * pen.type_scale)
            pen.words(placer.first(places, over_lines=True))
    if relief.gaps is not None:
        for gap in shapely.get_parts(relief.gaps):
            shape = frame.shape(gap)
            x, y = shape.representative_point().coords[0]
            label = Label("no survey", x, y, 0.0, 7.0 * pen.type_scale)
            if shape.area > label.box.area:
                pen.words(placer.first([(label,)], over_lines=True))
    for setback in site.bed.setbacks:
        limit = frame.shape(setback.feature.buffer(setback.distance, quad_segs=64).boundary)
        text = f"{setback.distance:g} {site.unit.short} from {setback.name}"
        inside = shapely.get_parts(shapely.line_merge(limit.intersection(frame.window)))
        for part in sorted(inside, key=lambda one: -one.length):
            places = along_line(
                shapely.get_coordinates(part), text.split(), 7.0 * pen.type_scale, _SHARES
            )
            if pen.words(placer.first(places)):
                break


def _uphill(frame: MapFrame, relief: Relief, site: Site) -> Floats:
    """Unit vector up the mean slope of the bed, on the sheet; straight up where there is none."""
    left, low, right, high = site.bed.boundary.bounds
    x, y = np.meshgrid(np.linspace(left, right, 20), np.linspace(low, high, 20))
    rise = relief.surface.gradient(np.column_stack((x.ravel(), y.ravel())))
    rise = rise[np.isfinite(rise).all(axis=1)]
    if not len(rise) or not rise.mean(axis=0).any():
        return np.array((0.0, 1.0))
    middle = np.array((0.5 * (left + right), 0.5 * (low + high)))
    ends = frame.to_paper(np.array((middle, middle + rise.mean(axis=0))))
    up = ends[1] - ends[0]
    return np.asarray(up / np.hypot(*up))


def _panel_places(
    shape: Polygon | MultiPolygon, text: str, up: Floats, size: float
) -> Iterator[Words]:
    """Places for a panel's name: beyond its upper edge, then beyond its lower one."""
    middle = np.asarray(shape.centroid.coords[0])
    reach = float(np.hypot(*np.ptp(np.reshape(shape.bounds, (2, 2)), axis=0)))
    for side in (1.0, -1.0):
        ray = shapely.linestrings([middle - side * reach * up, middle + side * reach * up])
        inside = shapely.get_coordinates(shape.intersection(ray))
        if not len(inside):
            continue
        edge = inside[np.argmax(inside @ (side * up))]
        for gap in (1.6, 2.4, 3.4, 4.6):
            x, y = edge + side * gap * size * up
            yield (Label(text, float(x), float(y), 0.0, size, bold=True),)


def _label_laterals(
    pen: Pen, placer: Placer, site: Site, lines: Sequence[Floats], measured: Measured
) -> MapLabels:
    """A name at an end of every lateral, then name, length and elevation along it."""
    spacing = pen.frame.scale.paper(site.settings.spacing)
    size = min(max(spacing / (CAPITAL + 0.25), _SMALLEST), 8.0 * pen.type_scale)
    alternate = spacing < 1.2 * _SMALLEST
    bed = shapely.boundary(pen.frame.shape(site.bed.boundary))
    shapely.prepare(bed)
    names = [shorten(one.name, _NAME_WIDTH, size, bold=True) for one in measured.laterals]
    named: set[str] = set()
    number_in_panel: dict[str, int] = {}
    rows = list(zip(lines, names, measured.laterals, strict=True))
    for i, (line, name, measure) in enumerate(rows):
        row = number_in_panel[measure.panel] = number_in_panel.get(measure.panel, 0) + 1
        start = not alternate or row % 2 == 1
        if pen.words(placer.first(_name_places(line, name, size, bed, start), own=i)):
            named.add(measure.name)
    bare = []
    for i, (line, name, measure) in enumerate(rows):
        length = f"{number(measure.length, site.unit.places)} {site.unit.short}"
        elevation = f"el {number(measure.elevation, site.unit.places)}"
        full = along_line(line, (name, length, elevation), size, _SHARES, least=1.6)
        words = placer.first(full, own=i)
        if not words:
            bare.append(measure.name)
            words = placer.first(
                along_line(line, (name, elevation), size, _SHARES, least=1.4), own=i
            )
        if pen.words(words):
            named.add(measure.name)
            _show_faults_under(pen, words, measure)
    for line, name, measure in rows:
        if measure.name not in named:
            places = _name_places(line, name, size, bed, True)
            if pen.words(placer.first(places, over_lines=True)):
                named.add(measure.name)
    unnamed = [one.name for one in measured.laterals if one.name not in named]
    return MapLabels(tuple(unnamed), tuple(bare))


def _show_faults_under(pen: Pen, words: Words, measure: LateralMeasure) -> None:
    """Let the grey band of a part out of tolerance run on under a label."""
    for part in missed_parts(measure):
        line = shapely.linestrings(pen.frame.to_paper(part.xy))
        for label in words:
            for piece in shapely.get_parts(shapely.intersection(line, label.box)):
                if piece.geom_type == "LineString":
                    xy = shapely.get_coordinates(piece)
                    pen.line(xy, lw=PENS["band"], color=WASH, zorder=8.05)


def _name_places(
    line: Floats, name: str, size: float, bed: Any, start_first: bool
) -> Iterator[Words]:
    """Beyond the bed's edge at one end, at the other, then close to the ends, then inside."""
    for start in (start_first, not start_first):
        end, outward = line_end(line, start=start)
        ray = shapely.linestrings([end, end + 30.0 * outward])
        crossing = shapely.get_coordinates(shapely.intersection(bed, ray))
        if len(crossing):
            gap = float(np.hypot(*(crossing - end).T).max()) + 2.0
            yield from beyond_end(
                line,
                name,
                size,
                start=start,
                gaps=(gap, gap + 4.0, gap + 8.0, gap + 12.0),
                bold=True,
            )
    for start in (start_first, not start_first):
        yield from beyond_end(line, name, size, start=start, gaps=(1.5, 4.0), bold=True)
    width = text_width(name, size)
    total = line_length(line)
    inset = (0.5 * width + 4.0) / max(total, 1.0)
    shares = (inset, 1.0 - inset) if start_first else (1.0 - inset, inset)
    yield from along_line(line, (name,), size, shares)


def _label_levels(pen: Pen, placer: Placer, relief: Relief) -> None:
    """The elevation on each long piece of a major level line, best outside the bed."""
    frame = pen.frame
    shown = clip_lines(relief.levels, frame.ground)
    majors = [line for line in shown if line.major] or shown
    for line in majors:
        points = frame.to_paper(line.xy)
        places = along_line(points, (f"{line.elevation:g}",), 6.5 * pen.type_scale, _LEVEL_SHARES)
        pen.words(placer.first(places), over=7.0, colour=DIM)


def _draw_falls(pen: Pen, placer: Placer, site: Site, relief: Relief) -> None:
    """Arrows down the slope with its percentage, a few across the bed."""
    frame = pen.frame
    left, low, right, high = site.bed.boundary.bounds
    across = 3 if frame.scale.paper(right - left) > 2.0 * POINTS_PER_INCH else 1
    down = 2 if frame.scale.paper(high - low) > 2.0 * POINTS_PER_INCH else 1
    steps = (0.5, 0.3, 0.7, 0.15, 0.85)
    for i in range(across):
        for j in range(down):
            trial = np.array(
                [
                    (
                        left + (i + u) / across * (right - left),
                        low + (j + v) / down * (high - low),
                    )
                    for u in steps
                    for v in steps
                ]
            )
            trial = trial[shapely.contains_xy(site.bed.boundary, trial)]
            _draw_fall(pen, placer, site, relief, trial)


def _draw_fall(pen: Pen, placer: Placer, site: Site, relief: Relief, trial: Floats) -> None:
    """One arrow at the first of several places where it is free."""
    if not len(trial):
        return
    frame = pen.frame
    bed = frame.shape(site.bed.boundary)
    rise = relief.surface.gradient(trial)
    steep = np.hypot(*rise.T)
    ends = frame.to_paper(trial - rise)
    starts = frame.to_paper(trial)
    for start, end, slope in zip(starts, ends, steep, strict=True):
        if not np.isfinite(slope) or slope < 1e-4:
            continue
        down = (end - start) / np.hypot(*(end - start))
        tail, head = start - 11.0 * down, start + 11.0 * down
        side = np.array((-down[1], down[0]))
        text = f"{slope:.0%}" if slope >= 0.0995 else f"{slope:.1%}"
        place = head + 7.0 * pen.type_scale * down
        label = Label(text, place[0], place[1], 0.0, 6.0 * pen.type_scale)
        shaft = Polygon([tail + 3 * side, head + 3 * side, head - 3 * side, tail - 3 * side])
        spots = (shaft, label.box)
        if not bed.contains(shaft) or not all(placer.free(one, over_lines=True) for one in spots):
            continue
        placer.take(shaft)
        placer.take(label.box)
        for width, colour, over in ((3.6, PAPER_WHITE, 6.0), (1.3, DIM, 6.1)):
            pen.axes.annotate(
                "",
                xy=tuple(head),
                xytext=tuple(tail),
                arrowprops={
                    "arrowstyle": "-|>,head_width=0.18,head_length=0.36",
                    "shrinkA": 0.0,
                    "shrinkB": 0.0,
                    "lw": width,
                    "color": colour,
                    "mutation_scale": 14.0,
                },
                zorder=over,
            )
        label.draw(pen.axes, over=6.2, colour=DIM)
        return
