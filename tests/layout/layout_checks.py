"""What every layout must hold, checked with shapely alone."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString

from dripfield.core.height_field import HeightField
from dripfield.layout.model import Layout
from dripfield.measures import Measured
from dripfield.site.model import LayoutSettings


def faults(
    layout: Layout, measured: Measured, settings: LayoutSettings, ground: HeightField
) -> list[str]:
    """Everything that a layout breaks, a line each; empty when it holds."""
    lines = [LineString(one.xy) for one in layout.laterals]
    return [
        *outside(layout, lines, settings),
        *crossing(layout, lines),
        *near_and_not_said(layout, lines, measured, settings),
        *bent(layout, lines, settings),
        *misnamed(layout),
        *short(layout, lines, settings),
        *misreported(layout, lines, measured, settings, ground),
    ]


def outside(layout: Layout, lines: list[LineString], settings: LayoutSettings) -> list[str]:
    """Parts outside the open area by more than some millionths of the spacing."""
    room = layout.area.buffer(1.5e-6 * settings.spacing, join_style="mitre")
    return [
        f"{one.name} leaves the area by {shapely.difference(line, room).length:.2g}"
        for one, line in zip(layout.laterals, lines, strict=True)
        if not shapely.covers(room, line)
    ]


def crossing(layout: Layout, lines: list[LineString]) -> list[str]:
    """Laterals that touch another or themselves."""
    found = [
        f"{one.name} crosses itself"
        for one, line in zip(layout.laterals, lines, strict=True)
        if not line.is_simple
    ]
    a, b = shapely.STRtree(lines).query(lines, predicate="intersects")
    return found + [
        f"{layout.laterals[i].name} crosses {layout.laterals[j].name}"
        for i, j in zip(a, b, strict=True)
        if i < j
    ]


def near_and_not_said(
    layout: Layout, lines: list[LineString], measured: Measured, settings: LayoutSettings
) -> list[str]:
    """Pairs nearer than the tolerance allows that the measures call evenly spaced.

    Lines that carry on in line where another ends are no pair side by side.
    """
    least = settings.spacing * (1.0 - settings.spacing_tolerance)
    if settings.spacing_measured == "slope":
        least *= 0.9  # distances here are in plan
    a, b = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=0.97 * least)
    found = []
    for i, j in zip(a, b, strict=True):
        if i >= j or measured.laterals[i].spacing_min < least:
            continue
        if measured.laterals[j].spacing_min < least or in_line(lines[i], lines[j], settings):
            continue
        gap = lines[i].distance(lines[j])
        found.append(f"{layout.laterals[i].name} is {gap:.3f} from {layout.laterals[j].name}")
    return found


def in_line(one: LineString, two: LineString, settings: LayoutSettings) -> bool:
    """The nearest places of both are their ends, and neither end lies aside of the other line."""
    p, q = shapely.get_coordinates(shapely.shortest_line(one, two))
    return all(
        min(np.hypot(*(np.array(line.coords[k]) - place)) for k in (0, -1)) < 1e-6
        for line, place in ((one, p), (two, q))
    )


def bent(layout: Layout, lines: list[LineString], settings: LayoutSettings) -> list[str]:
    """Bends tighter than the radius, by circles through places half a radius apart."""
    if not settings.bend_radius:
        return []
    step = 0.5 * settings.bend_radius
    found = []
    for one, line in zip(layout.laterals, lines, strict=True):
        count = int(8 * line.length / step)
        if count < 20:
            continue
        at = shapely.get_coordinates(line.interpolate(np.arange(count + 1) * step / 8))
        p, q, r = at[:-16], at[8:-8], at[16:]
        a, b, c = (np.hypot(*(m - n).T) for m, n in ((p, q), (q, r), (p, r)))
        twice = np.abs((q - p)[:, 0] * (r - p)[:, 1] - (q - p)[:, 1] * (r - p)[:, 0])
        radius = a * b * c / np.maximum(2.0 * twice, 1e-12)  # three sides over four areas
        if radius.min() < 0.9 * settings.bend_radius:
            found.append(f"{one.name} bends with radius {radius.min():.2f} at {q[radius.argmin()]}")
    return found


def misnamed(layout: Layout) -> list[str]:
    """Names out of order, panels that do not match, laterals not from the highest down."""
    found = []
    panels = list(dict.fromkeys(one.panel for one in layout.laterals))
    if panels != [chr(ord("A") + k) for k in range(len(panels))]:
        found.append(f"panels are {panels}")
    if set(panels) != set(layout.panels):
        found.append(f"laterals lie in {panels}, the layout has {list(layout.panels)}")
    for panel in panels:
        mine = [one for one in layout.laterals if one.panel == panel]
        prefix = f"{panel}-" if len(panels) > 1 else ""
        digits = max(2, len(str(len(mine))))
        names = [f"{prefix}L{k:0{digits}d}" for k in range(1, len(mine) + 1)]
        if [one.name for one in mine] != names:
            found.append(f"panel {panel} names {[one.name for one in mine]}")
        if any(two.elevation > one.elevation + 2e-6 for one, two in pairwise(mine)):
            found.append(f"panel {panel} is not from the highest down")
    return found


def short(layout: Layout, lines: list[LineString], settings: LayoutSettings) -> list[str]:
    """Laterals shorter or longer than allowed."""
    longest = settings.max_length or np.inf
    return [
        f"{one.name} is {line.length:.3f} long"
        for one, line in zip(layout.laterals, lines, strict=True)
        if not settings.min_length - 1e-3 <= line.length <= longest + 1e-6
    ]


def misreported(
    layout: Layout,
    lines: list[LineString],
    measured: Measured,
    settings: LayoutSettings,
    ground: HeightField,
) -> list[str]:
    """Figures that differ from a sampling of the lines by shapely, three times as dense."""
    found = []
    for k, (one, line, got) in enumerate(
        zip(layout.laterals, lines, measured.laterals, strict=True)
    ):
        places = np.linspace(0.0, line.length, int(24 * line.length / settings.spacing) + 2)
        xy = shapely.get_coordinates(line.interpolate(places))
        z = ground.elevation(xy)
        if settings.spacing_measured == "plan" and abs(got.length - line.length) > 1e-6:
            found.append(f"{one.name}: length {got.length} is {line.length}")
        reach = 0.02 + 0.05 * np.ptp(z)  # between two samples
        if max(abs(got.elevation_min - z.min()), abs(got.elevation_max - z.max())) > reach:
            found.append(
                f"{one.name}: elevations {got.elevation_min} to {got.elevation_max} are "
                f"{z.min()} to {z.max()}"
            )
        departure = np.abs(z - one.elevation)
        off = departure > settings.level_tolerance + 1e-6
        if got.level_ok and departure.max() > settings.level_tolerance + reach:
            found.append(f"{one.name} is called level and is off by {departure.max():.3f}")
        if abs((1.0 - off.mean()) * got.length - got.length_level) > 0.75 * settings.spacing:
            found.append(f"{one.name}: {got.length_level} level of {(1 - off.mean()) * got.length}")
        others = [two for j, two in enumerate(lines) if j != k]
        if np.isfinite(got.spacing_min) and others and settings.spacing_measured == "plan":
            nearest = min(line.distance(two) for two in others)
            if got.spacing_min < nearest - 1e-6 and line.is_simple and not is_own(line, got):
                found.append(f"{one.name}: least spacing {got.spacing_min}, nearest {nearest}")
    return found


def is_own(line: LineString, got) -> bool:
    """The near line is another part of the same lateral."""
    ends = np.array(line.coords)[[0, -1]]
    return bool(np.hypot(*(ends[0] - ends[1])) < line.length / 3.0)
