"""Steps of the ground that cross a bed: a wall, a bank, the edge of a cut.

No lateral is level across a step, and triangles over shots some feet apart show it as a steep
strip. A strip is taken for a step where its triangles are much steeper than the bed, the ground on
either side is not, and it drops by more than any lateral may be off level.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.ground.triangles.tin import Surface

_STEEPER = 3.0  # times the median slope of the bed
_BESIDE = 0.5  # of the strip's own slope: what the ground on either side may have
_LONG = 2.0  # times its width: a strip, not a mound
_SPACINGS = 2.0  # of the survey: shortest step that several shots show
_DROPS = 5.0  # level tolerances: least drop


@dataclass(frozen=True)
class Step:
    """A step that crosses a bed.

    Attributes
    ----------
    area : Polygon
        The strip of triangles that shows it.
    ends : (2, 2) float array
        Easting, northing of its two ends in the bed.
    drop : float
        Height that the ground falls over the strip, about [site unit].
    """

    area: Polygon
    ends: Floats
    drop: float


def steps_in(surface: Surface, bed: Polygon, spacing: float, tolerance: float) -> tuple[Step, ...]:
    """Steps that cross a bed.

    Parameters
    ----------
    surface : Surface
        The ground as surveyed.
    bed : Polygon
        In the surface's coordinates.
    spacing : float
        Median distance between shots [site unit].
    tolerance : float
        How far a lateral may be off level [site unit].

    Returns
    -------
    tuple of Step
        Largest first.
    """
    if not len(surface.triangles):
        return ()
    corners = surface.vertices[surface.triangles][:, :, :2]
    origin = np.round(np.asarray(bed.centroid.coords[0]))
    rings = shapely.polygons(corners - origin)
    room = shapely.transform(bed, lambda xy: xy - origin)
    shapely.prepare(room)
    touching = np.flatnonzero(shapely.intersects(room, rings))
    if len(touching) < 3:
        return ()
    rings = rings[touching]
    middle = corners[touching].mean(axis=1)
    slope = np.hypot(*surface.gradient(middle).T)
    known = np.isfinite(slope)
    rings, slope = rings[known], slope[known]
    typical = _weighted_median(slope, shapely.area(rings))
    steep = slope > _STEEPER * max(typical, 1e-6)
    if not steep.any():
        return ()
    strips = shapely.get_parts(shapely.union_all(rings[steep], grid_size=0.0))
    strips = strips[shapely.get_dimensions(strips) == 2]
    long, wide = _sizes(strips)
    likely = long >= np.maximum(_LONG * wide, _SPACINGS * spacing)
    likely &= slope[steep].max() * wide >= _DROPS * tolerance
    if not likely.any():
        return ()
    tree = shapely.STRtree(rings)
    found = []
    for strip, width in zip(strips[likely], wide[likely].tolist(), strict=True):
        inside = strip.intersection(room)
        if inside.is_empty or inside.area <= 0.0:
            continue
        near = tree.query(strip, predicate="dwithin", distance=1e-6)
        own = near[steep[near] & shapely.intersects(strip.buffer(-1e-6), rings[near])]
        beside = near[~steep[near]]
        if not len(own) or not len(beside):
            continue
        fall = float(np.average(slope[own], weights=shapely.area(rings[own])))
        around = float(np.average(slope[beside], weights=shapely.area(rings[beside])))
        drop = fall * width
        if around > _BESIDE * fall or drop < _DROPS * tolerance:
            continue
        ends = _ends(inside, width) + origin
        area = shapely.transform(strip, lambda xy: xy + origin)
        found.append(Step(area, ends, drop))
    return tuple(sorted(found, key=lambda one: -one.drop))


def step_note(step: Step, unit: str) -> str:
    """What is to be known of a step, in a line."""
    (east, north), (other_east, other_north) = step.ends
    return (
        f"a step of about {step.drop:.1f} {unit} crosses the bed from northing {north:.0f}, "
        f"easting {east:.0f} to northing {other_north:.0f}, easting {other_east:.0f}: no lateral "
        "is level across it; where it stays (a wall, a bank), enter a ring round it as a keepout"
    )


def _weighted_median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, 0.5 * total[-1])])


def _sizes(strips: Sequence[Polygon]) -> tuple[Floats, Floats]:
    """Lengths and widths of the rectangles, bent or not, of the same areas and perimeters."""
    area, around = shapely.area(strips), shapely.length(shapely.get_exterior_ring(strips))
    long = (around + np.sqrt(np.maximum(around**2 - 16.0 * area, 0.0))) / 4.0
    return np.asarray(long), np.asarray(area / long)


def _ends(strip: shapely.Geometry, wide: float) -> Floats:
    """The middles of a strip's two ends."""
    points = shapely.get_coordinates(shapely.convex_hull(strip))
    gaps = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    i, j = np.unravel_index(int(gaps.argmax()), gaps.shape)
    ends = []
    for end in (points[i], points[j]):
        near = strip.intersection(shapely.Point(end).buffer(1.5 * wide))
        ends.append(near.centroid.coords[0])
    return np.array(ends)
