"""Names of what lies about a bed: panels, keepouts, setbacks, benchmark, ground without survey."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.core.words import number
from dripfield.layout.model import Layout
from dripfield.sheets.kit.labels import Label, Placer, Words, along_line, leader, led_to
from dripfield.sheets.kit.pen import Pen
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import INK, PAPER_WHITE, PENS, shorten
from dripfield.site.model import Site

_SHARES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.22, 0.78, 0.15, 0.85)
_SIZE = 8.0  # of names [pt]
_NAME_WIDTH = 130.0  # a longer name is cut short [pt]
BENCHMARK_MARK: dict[str, Any] = {"ls": "none", "marker": "^", "mew": 1.0, "mfc": PAPER_WHITE}


def keepout_name(site: Site, index: int) -> str:
    """What a keepout is called on a sheet."""
    names = site.bed.keepout_names
    return (names[index] if index < len(names) else "") or "keepout"


def label_areas(
    pen: Pen,
    placer: Placer,
    site: Site,
    relief: Relief,
    layout: Layout,
    bare: Sequence[Polygon] = (),
) -> tuple[str, ...]:
    """Panel letters at the upper edge, names of keepouts, setbacks, benchmark, gaps, bare ground.

    Parameters
    ----------
    pen : Pen
    placer : Placer
    site : Site
    relief : Relief
    layout : Layout
    bare : sequence of Polygon
        Ground that no lateral serves [site coordinates].

    Returns
    -------
    tuple of str
        What has no name on the map, in words: it lies off the sheet, or there is no room.
    """
    told = [
        *_label_keepouts(pen, placer, site),
        *_label_benchmark(pen, placer, site),
        *_label_setbacks(pen, placer, site),
    ]
    for patch in bare:
        _label_bare(pen, placer, patch, f"{patch.area:.0f} {site.unit.short}2")
    frame = pen.frame
    if len(layout.panels) > 1:
        up = _uphill(pen, relief, site)
        for name, area in layout.panels.items():
            if area.is_empty or not frame.shape(area).intersects(frame.window):
                continue
            places = _panel_places(frame.shape(area), f"Panel {name}", up, 10.0 * pen.type_scale)
            pen.words(placer.first(places, over_lines=True))
    if relief.gaps is not None:
        for gap in shapely.get_parts(relief.gaps):
            shape = frame.shape(gap)
            x, y = shape.representative_point().coords[0]
            label = Label("no survey", x, y, 0.0, _SIZE * pen.type_scale)
            if shape.area > label.box.area:
                pen.words(placer.first([(label,)], over_lines=True))
    return tuple(told)


def name_by_leader(
    pen: Pen, placer: Placer, text: str, at: tuple[float, float], *, bold: bool = False
) -> bool:
    """Write a name where it covers nothing, with a thin line to its place; False for no room.

    Parameters
    ----------
    pen : Pen
    placer : Placer
        The name is taken from it.
    text : str
    at : (x, y)
        Place named, on the sheet [pt].
    bold : bool

    Returns
    -------
    bool
    """
    words = placer.first(led_to(at, text, _SIZE * pen.type_scale, bold=bold))
    if words:
        leader(pen.axes, at, words[0], INK)
    return pen.words(words)


def _label_keepouts(pen: Pen, placer: Placer, site: Site) -> Iterator[str]:
    """In the keepout where there is room for the name, else beside it with a leader."""
    frame, size = pen.frame, _SIZE * pen.type_scale
    for index, keepout in enumerate(site.bed.keepouts):
        shape = frame.shape(keepout)
        name = shorten(keepout_name(site, index), _NAME_WIDTH, size)
        if not shape.intersects(frame.window):
            continue
        if not _in_or_beside(pen, placer, shape, name):
            yield f"Keepout without a name on the map, for want of room: {name}"


def _in_or_beside(pen: Pen, placer: Placer, shape: BaseGeometry, name: str) -> bool:
    """A name in a shape on the sheet that holds it, else beside it; False for no room."""
    window, size = pen.frame.window, _SIZE * pen.type_scale
    if not shape.intersects(window):
        return True
    x, y = shape.centroid.coords[0]
    label = Label(name, x, y, 0.0, size)
    placer.take(shape)
    if shape.contains(label.box) and window.contains(label.box):
        return pen.words((label,))
    at = shape.intersection(window).representative_point().coords[0]
    words = placer.first(led_to((at[0], at[1]), name, size))
    if words:
        near = shapely.shortest_line(shape, words[0].box).coords[0]
        leader(pen.axes, (near[0], near[1]), words[0], INK)
    return pen.words(words)


def _label_bare(pen: Pen, placer: Placer, patch: Polygon, size: str) -> None:
    """In the patch, as much as it holds: a leader would cross the laterals round it."""
    shape = pen.frame.shape(patch)
    x, y = shape.centroid.coords[0]
    for text in (f"bare, {size}", "bare"):
        label = Label(text, x, y, 0.0, _SIZE * pen.type_scale)
        if shape.buffer(1.0).contains(label.box) and pen.frame.window.contains(label.box):
            placer.take(label.box)
            pen.words((label,))
            return


def _label_benchmark(pen: Pen, placer: Placer, site: Site) -> Iterator[str]:
    """Its mark and elevation, or at the edge of the map an arrow to where it lies."""
    mark, frame, size = site.file.benchmark, pen.frame, _SIZE * pen.type_scale
    if mark is None:
        return
    name = shorten(mark.name, _NAME_WIDTH, size, bold=True)
    text = f"{name} el {number(mark.elevation, site.unit.places)}"
    if mark.easting is None or mark.northing is None:
        yield f"Benchmark {text}, its place is not given"
        return
    at = frame.to_paper(np.array(((mark.easting, mark.northing),)))[0]
    inside = frame.window.buffer(-6.0)
    if shapely.contains_xy(inside, *at):
        pen.line(at[None, :], ms=8.0, zorder=6, **BENCHMARK_MARK)
        pen.line(at[None, :], ls="none", marker=".", ms=2.5, zorder=6.1)
        placer.take(shapely.Point(at).buffer(5.5))
        words = placer.first(led_to((at[0], at[1]), text, size, bold=True))
        if words:
            leader(pen.axes, (at[0], at[1]), words[0], INK)
            pen.words(words)
        else:
            yield f"Benchmark {text}"
        return
    middle = np.array(frame.window.centroid.coords[0])
    edge = shapely.get_coordinates(shapely.linestrings([middle, at]).intersection(inside.exterior))[
        0
    ]
    away = float(np.hypot(*(at - edge))) * frame.scale.per_point
    text = f"{text}, {away:.0f} {site.unit.short} on"
    _arrow(pen, edge - 14.0 * (at - edge) / np.hypot(*(at - edge)), edge)
    placer.take(shapely.Point(edge).buffer(14.0))
    words = placer.first(led_to((edge[0], edge[1]), text, size, bold=True))
    if not pen.words(words):
        yield f"Benchmark {text} beyond the sheet's edge"


def _arrow(pen: Pen, tail: Floats, head: Floats) -> None:
    pen.axes.annotate(
        "",
        xy=tuple(head),
        xytext=tuple(tail),
        arrowprops={"arrowstyle": "-|>", "lw": PENS["medium"], "color": INK, "shrinkA": 0.0},
        zorder=8.0,
    )


def _label_setbacks(pen: Pen, placer: Placer, site: Site) -> Iterator[str]:
    """Along the limit where it is free, else by a leader to it."""
    frame, size = pen.frame, _SIZE * pen.type_scale
    for setback in site.bed.setbacks:
        limit = frame.shape(setback.feature.buffer(setback.distance, quad_segs=64).boundary)
        text = f"{setback.distance:g} {site.unit.short} from {setback.name}"
        shown = limit.intersection(frame.window)
        if shown.is_empty:
            yield f"Off this map: {text}"
            continue
        parts = sorted(shapely.get_parts(_merged(shown)), key=lambda one: -one.length)
        for part in parts:
            places = along_line(shapely.get_coordinates(part), text.split(), size, _SHARES)
            if pen.words(placer.first(places)):
                break
        else:
            at = parts[0].interpolate(0.5, normalized=True).coords[0]
            if not name_by_leader(pen, placer, text, (at[0], at[1])):
                yield f"Limit without a name on the map, for want of room: {text}"


def _merged(lines: BaseGeometry) -> BaseGeometry:
    return lines if lines.geom_type == "LineString" else shapely.line_merge(lines)


def _uphill(pen: Pen, relief: Relief, site: Site) -> Floats:
    """Unit vector up the mean slope of the bed, on the sheet; straight up where there is none."""
    left, low, right, high = site.bed.boundary.bounds
    x, y = np.meshgrid(np.linspace(left, right, 20), np.linspace(low, high, 20))
    rise = relief.surface.gradient(np.column_stack((x.ravel(), y.ravel())))
    rise = rise[np.isfinite(rise).all(axis=1)]
    if not len(rise) or not rise.mean(axis=0).any():
        return np.array((0.0, 1.0))
    middle = np.array((0.5 * (left + right), 0.5 * (low + high)))
    ends = pen.frame.to_paper(np.array((middle, middle + rise.mean(axis=0))))
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
