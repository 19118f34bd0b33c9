"""Faces that run outward from a ring at a given slope: side slopes and the sides of a dig.

A falling face is the highest of ``z - d / run`` over all points of the ring, z the ring's elevation
at the point and d the distance in plan; a rising face is its mirror image. Over a side that climbs
by s along itself this is the plane through the side whose own gradient is 1/run: it falls fastest
in a direction turned from square to the side by the angle whose sine is s·run. Round an outward
corner a cone stands, here as tangent planes of the same gradient; with hips the planes of the two
sides are carried on to where they cross. Where faces overlap, as beside an inward corner, the upper
of falling faces and the lower of rising ones is what stands.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely import Polygon

from dripfield.bed.pieces import Pieces
from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.ground.triangles.triangulate import delaunay

Corner = Literal["round", "hip"]
_GRIDS = (1e-9, 1e-8, 1e-7)  # plan coordinates are rounded to while faces are joined [site unit]
_SLIVER = 1e-7  # overlaps and creases smaller than this are left out [site unit]
_MOST_TURN = math.radians(165.0)  # of a corner that two planes alone go round: a mitre of 7.7
_STRAIGHT = 1e-7  # a corner this near to the line between its neighbours is none [site unit]


@dataclass(frozen=True)
class _Faces:
    """Plane parts of the apron: outlines in plan, a corner each with its elevation, and gradient.

    Attributes
    ----------
    outlines : list of Polygon
    corner : (n, 2) float array
    base : (n,) float array
    gradient : (n, 2) float array
    """

    outlines: list[Polygon]
    corner: Floats
    base: Floats
    gradient: Floats

    def level(self, face: Ints, xy: Floats) -> Floats:
        """Elevation (k,) of face numbers (k,) at points (k, 2)."""
        offset = xy - self.corner[face]
        return np.asarray(self.base[face] + np.einsum("ij,ij->i", self.gradient[face], offset))


@dataclass(frozen=True)
class _Sides:
    """The sides of all rings: ends, unit vectors along and outward, climb along."""

    start: Floats
    end: Floats
    along: Floats
    outward: Floats
    climb: Floats
    after: Ints


def faces_from(
    rings: Sequence[Floats],
    run: float,
    end: float,
    box: Polygon,
    *,
    rising: bool = False,
    corner: Corner = "round",
    facet: float = 1.0,
) -> Pieces:
    """Faces falling or rising outward from rings.

    Parameters
    ----------
    rings : sequence of (k, 3) float array
        Corners with their elevations, the first not repeated, what they enclose on their left: the
        outline counter-clockwise, then any holes clockwise.
    run : float
        Horizontal distance for one of rise.
    end : float
        Elevation that falling faces go down to, rising ones up to [site unit].
    box : Polygon
        Convex; where faces are wanted.
    rising : bool
        Whether they rise.
    corner : str
        ``round``: cones round outward corners; ``hip``: the planes of the sides carried on.
    facet : float
        Angle between the tangent planes of a cone [degrees]. Midway between two of 1 degree apart
        they stand over the cone by 4 parts in 100,000 of the distance, divided by the run.

    Returns
    -------
    Pieces
        The box outside the rings, with the level ``face``; where none comes it lies beyond ``end``
        and beyond every ring.

    Notes
    -----
    A side as steep as the face or steeper has no plane of that slope: such sides are passed over,
    see :func:`steep_sides`.
    """
    origin = np.append(np.round(rings[0][0, :2]), 0.0)
    sign = -1.0 if rising else 1.0
    near = [straightened(ring - origin) * (1.0, 1.0, sign) for ring in rings]
    near = [ring for ring in near if len(ring) > 2]
    faces = _faces(near, run, sign * end, _MOST_TURN if corner == "hip" else math.radians(facet))
    inner = Polygon(near[0][:, :2], [ring[:, :2] for ring in near[1:]])
    room = shapely.transform(box, lambda points: points - origin[:2])
    xy = _triangles(faces, inner, room)
    centres = xy.mean(axis=1)
    shapely.prepare(inner)
    outside = ~shapely.contains_xy(inner, centres)
    xy, centres = xy[outside], centres[outside]
    point, face = shapely.STRtree(np.array(faces.outlines, dtype=object)).query(
        shapely.points(centres), predicate="intersects"
    )
    under = min(sign * end, *(float(ring[:, 2].min()) for ring in near)) - 1.0
    z = sign * _highest(faces, xy, centres, point, face, under)
    return Pieces(xy + origin[:2], {"face": z})


def straightened(ring: Floats) -> Floats:
    """A ring (k, 3) without the corners at which it bends neither in plan nor in height."""
    kept = np.ones(len(ring), dtype=bool)
    for odd in (0, 1) * 12:  # every other corner at a time, so that its neighbours stay
        number = np.flatnonzero(kept)
        here = ring[number]
        before, after = np.roll(here, 1, axis=0), np.roll(here, -1, axis=0)
        chord = after - before
        square = np.maximum((chord[:, :2] ** 2).sum(axis=1), 1e-300)
        share = ((here - before)[:, :2] * chord[:, :2]).sum(axis=1) / square
        off = np.abs(before + share[:, None] * chord - here).max(axis=1)
        straight = (off < _STRAIGHT) & (share > 0.0) & (share < 1.0)
        straight[(np.arange(len(number)) + odd) % 2 == 0] = False
        kept[number[straight]] = False
    return ring[kept]


def steep_sides(ring: Floats, run: float) -> Bools:
    """Which sides of a ring (k, 3) climb as steeply along themselves as a face, or more, (k,)."""
    step = np.roll(ring, -1, axis=0) - ring
    return np.asarray(np.abs(step[:, 2]) * run >= np.hypot(step[:, 0], step[:, 1]) - 1e-12)


def overhang(ring: Floats, run: float) -> tuple[int, int, float]:
    """The two corners of a ring that a face joins worst.

    Parameters
    ----------
    ring : (k, 3) float array
    run : float
        Horizontal distance for one of rise.

    Returns
    -------
    high, low : int
        Numbers of the two corners.
    height : float
        By how much the face from the higher stands over the lower; not positive: nowhere
        [site unit].
    """
    worst = (0, 0, -math.inf)
    for start in range(0, len(ring), 512):
        part = ring[start : start + 512]
        away = np.hypot(*(part[:, None, :2] - ring[None, :, :2]).transpose(2, 0, 1))
        over = part[:, None, 2] - ring[None, :, 2] - away / run
        over[np.arange(len(part)), start + np.arange(len(part))] = -math.inf
        high, low = np.unravel_index(int(over.argmax()), over.shape)
        if over[high, low] > worst[2]:
            worst = (start + int(high), int(low), float(over[high, low]))
    return worst


def _highest(
    faces: _Faces, xy: Floats, centres: Floats, point: Ints, face: Ints, under: float
) -> Floats:
    """Levels (t, 3) of the face that stands highest over each triangle's centre."""
    height = -faces.level(face, centres[point])
    order = np.lexsort((height, point))
    covered, first = np.unique(point[order], return_index=True)
    standing = face[order][first]
    z = np.full((len(xy), 3), under)
    flat = faces.level(np.repeat(standing, 3), xy[covered].reshape(-1, 2))
    z[covered] = flat.reshape(-1, 3)
    return z


def _sides(rings: Sequence[Floats]) -> _Sides:
    start = np.concatenate(rings)
    end = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    step = end - start
    length = np.hypot(step[:, 0], step[:, 1])
    along = step[:, :2] / length[:, None]
    outward = np.column_stack((along[:, 1], -along[:, 0]))
    first = np.cumsum([0, *(len(ring) for ring in rings)])
    after = np.concatenate(
        [
            low + (np.arange(high - low) + 1) % (high - low)
            for low, high in itertools.pairwise(first)
        ]
    )
    return _Sides(start, end, along, outward, step[:, 2] / length, after)


def _faces(rings: Sequence[Floats], run: float, end: float, most: float) -> _Faces:
    """Strips along the sides and what goes round outward corners, all falling."""
    sides = _sides(rings)
    sine = sides.climb * run
    stands = np.abs(sine) < 1.0 - 1e-9
    sine = np.where(stands, sine, 0.0)
    cosine = np.sqrt(1.0 - sine**2)
    # straight down the face
    down = cosine[:, None] * sides.outward - sine[:, None] * sides.along
    falls = stands & (np.maximum(sides.start[:, 2], sides.end[:, 2]) > end)
    a, b, w = sides.start[falls], sides.end[falls], down[falls]
    # a strip ends where it comes down to the end level, and is a triangle where one end is there
    far = [np.maximum(run * (point[:, 2] - end), _SLIVER)[:, None] * w for point in (a, b)]
    outlines = list(
        shapely.polygons(
            np.stack(
                (a[:, :2], b[:, :2], b[:, :2] + far[1], a[:, :2] + far[0]),
                axis=1,
            )
        )
    )
    corners, bases, facings = [a[:, :2]], [a[:, 2]], [w]
    for side in np.flatnonzero(stands & stands[sides.after]):
        before, after = down[side], down[sides.after[side]]
        turn = math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after))
        if turn <= 1e-9:
            continue
        tip = sides.end[side]
        length = run * (tip[2] - end)
        if length < _SLIVER:
            continue
        for facing, wedge in _round_corner(tip[:2], before, turn, length, most):
            outlines.append(wedge)
            corners.append(tip[None, :2])
            bases.append(tip[None, 2])
            facings.append(facing[None])
    return _Faces(
        outlines,
        np.concatenate(corners),
        np.concatenate(bases),
        -np.concatenate(facings) / run,
    )


def _round_corner(
    tip: Floats, before: Floats, turn: float, length: float, most: float
) -> list[tuple[Floats, Polygon]]:
    """Planes round an outward corner: the way each falls, and its outline.

    The first and the last fall as the two sides' own faces do.
    """
    count = math.ceil(turn / most - 1e-9)
    start = math.atan2(before[1], before[0])
    step = turn / count
    planes = []
    for k in range(count + 1):
        facing = np.array((math.cos(start + k * step), math.sin(start + k * step)))
        rays = []
        for angle in (start + max(k - 0.5, 0.0) * step, start + min(k + 0.5, count) * step):
            ray = np.array((math.cos(angle), math.sin(angle)))
            rays.append(tip + length / float(ray @ facing) * ray)
        planes.append((facing, Polygon((tip, *rays))))
    return planes


def _triangles(faces: _Faces, inner: Polygon, box: Polygon) -> Floats:
    """Triangles (t, 3, 2) over which one face alone stands, or none."""
    outlines = np.array(faces.outlines, dtype=object)
    rings = [box.exterior, inner.exterior, *inner.interiors]
    lines = np.array([*shapely.boundary(outlines), *rings, *_creases(faces, outlines)])
    for grid in _GRIDS:
        noded = shapely.union_all(lines, grid_size=grid)
        segments = np.concatenate(
            [
                np.stack((points[:-1], points[1:]), axis=1)
                for points in map(shapely.get_coordinates, shapely.get_parts(noded))
            ]
        )
        xy, number = np.unique(segments.reshape(-1, 2), axis=0, return_inverse=True)
        edges = np.unique(np.sort(number.reshape(-1, 2), axis=1), axis=0)
        try:
            return np.asarray(xy[delaunay(xy, edges[edges[:, 0] != edges[:, 1]])])
        except RuntimeError:  # rounding left two lines crossing: round more coarsely
            if grid == _GRIDS[-1]:
                raise
    raise AssertionError("unreachable")


def _creases(faces: _Faces, outlines: Floats) -> list[shapely.Geometry]:
    """Lines along which overlapping faces are equally high."""
    one, two = shapely.STRtree(outlines).query(outlines, predicate="intersects")
    one, two = one[one < two], two[one < two]
    shared = shapely.intersection(outlines[one], outlines[two])
    wide = shapely.area(shared) > _SLIVER
    one, two, shared = one[wide], two[wide], shared[wide]
    if not len(one):
        return []
    middle = shapely.get_coordinates(shapely.centroid(shared))
    size = np.sqrt(shapely.area(shapely.envelope(shared))) + shapely.length(shared)
    gap = faces.level(one, middle) - faces.level(two, middle)
    steep = faces.gradient[one] - faces.gradient[two]
    square = np.einsum("ij,ij->i", steep, steep)
    crosses = square > 1e-18
    step = steep / np.where(crosses, square, 1.0)[:, None]
    foot = middle - gap[:, None] * step
    aside = np.column_stack((-steep[:, 1], steep[:, 0]))
    aside *= (size / np.sqrt(np.where(crosses, square, 1.0)))[:, None]
    near = crosses & (np.hypot(*(foot - middle).T) < size)
    ends = np.stack((foot - aside, foot + aside), axis=1)[near]
    cut = shapely.intersection(shapely.linestrings(ends), shared[near])
    return list(cut[shapely.length(cut) > _SLIVER])
