"""Faces that run outward from a ring at a given slope: side slopes and the sides of a dig.

Square to each side of the ring a face falls (or rises) one for so many of run; round an outward
corner the two faces are carried on to their hip, as a grading crew shapes it (a corner turning
more than a right angle gets another face between). Where faces from an inward corner overlap, the
upper of falling faces and the lower of rising ones is what stands.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from dripfield.bed.pieces import Pieces
from dripfield.core.arrays import Floats, Ints
from dripfield.ground.triangles.triangulate import delaunay

_GRID = 1e-9  # plan coordinates of faces are rounded to this while they are joined [site unit]
_SLIVER = 1e-7  # overlaps and creases smaller than this are left out [site unit]
_MOST_TURN = 2.0 * math.pi / 3.0  # of a corner that two faces alone go round: a mitre of 2


@dataclass(frozen=True)
class _Faces:
    """Plane parts of the apron: plan outlines, elevation at the ring and distance from it.

    Both are linear over a face: ``base + rise · (p - corner)`` and ``away · (p - corner)``.
    """

    outlines: list[Polygon]
    corner: Floats
    base: Floats
    rise: Floats
    away: Floats

    def level(self, face: Ints, xy: Floats, gain: float) -> Floats:
        """Elevation (k,) of face numbers (k,) at points (k, 2); gain is rise per distance."""
        offset = xy - self.corner[face]
        climb = self.rise[face] + gain * self.away[face]
        return np.asarray(self.base[face] + np.einsum("ij,ij->i", climb, offset))


def faces_from(ring: Floats, run: float, reach: float) -> Pieces:
    """Faces falling and rising outward from a ring.

    Parameters
    ----------
    ring : (k, 3) float array
        Corners of a ring with their elevations, counter-clockwise, the first not repeated.
    run : float
        Horizontal distance for one of rise.
    reach : float
        How far out the faces go, square to the ring [site unit].

    Returns
    -------
    Pieces
        Outside the ring, with the levels ``falling`` and ``rising``.
    """
    origin = np.append(np.round(ring[0, :2]), 0.0)
    near = ring - origin
    faces = _faces(near, reach)
    inner = Polygon(near[:, :2])
    xy = _triangles(faces, inner, 1.0 / run)
    centres = xy.mean(axis=1)
    shapely.prepare(inner)
    xy, centres = _outside(xy, centres, inner)
    tree = shapely.STRtree(faces.outlines)
    point, face = tree.query(shapely.points(centres), predicate="intersects")
    levels = {
        name: _extreme(faces, xy, centres, point, face, gain)
        for name, gain in (("falling", -1.0 / run), ("rising", 1.0 / run))
    }
    covered = np.zeros(len(xy), dtype=bool)
    covered[point] = True
    return Pieces(xy + origin[:2], levels).where(covered)


def _outside(xy: Floats, centres: Floats, inner: Polygon) -> tuple[Floats, Floats]:
    keep = ~shapely.contains_xy(inner, centres)
    return xy[keep], centres[keep]


def _extreme(
    faces: _Faces, xy: Floats, centres: Floats, point: Ints, face: Ints, gain: float
) -> Floats:
    """Levels (t, 3) of the face that stands over each triangle's centre."""
    height = faces.level(face, centres[point], gain) * np.sign(gain)
    order = np.lexsort((height, point))  # rising: the lowest first; falling: the highest first
    first = np.unique(point[order], return_index=True)
    standing = np.zeros(len(xy), dtype=np.int64)
    standing[first[0]] = face[order][first[1]]
    flat = faces.level(np.repeat(standing, 3), xy.reshape(-1, 2), gain)
    return flat.reshape(-1, 3)


def _faces(ring: Floats, reach: float) -> _Faces:
    """Strips along the sides and the faces round outward corners."""
    xy, z = ring[:, :2], ring[:, 2]
    side = np.roll(xy, -1, axis=0) - xy
    length = np.hypot(*side.T)
    along = side / length[:, None]
    normal = np.column_stack((along[:, 1], -along[:, 0]))
    outlines = list(
        shapely.polygons(
            np.stack(
                (
                    xy,
                    np.roll(xy, -1, axis=0),
                    np.roll(xy, -1, axis=0) + reach * normal,
                    xy + reach * normal,
                ),
                axis=1,
            )
        )
    )
    corner, base, away = [xy], [z], [normal]
    rise = [along * ((np.roll(z, -1) - z) / length)[:, None]]
    for i, (before, after) in enumerate(zip(np.roll(normal, 1, axis=0), normal, strict=True)):
        turn = math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after))
        if turn <= 1e-9:
            continue
        count = math.ceil(turn / _MOST_TURN)
        start = math.atan2(before[1], before[0])
        step = turn / count
        for k in range(count + 1):
            facing = np.array((math.cos(start + k * step), math.sin(start + k * step)))
            low = start + max(k - 0.5, 0.0) * step
            high = start + min(k + 0.5, float(count)) * step
            rays = []
            for angle in (low, high):
                ray = np.array((math.cos(angle), math.sin(angle)))
                rays.append(xy[i] + reach / float(ray @ facing) * ray)
            outlines.append(Polygon((xy[i], *rays)))
            corner.append(xy[i][None])
            base.append(z[i][None])
            rise.append(np.zeros((1, 2)))
            away.append(facing[None])
    return _Faces(
        outlines,
        np.concatenate(corner),
        np.concatenate(base),
        np.concatenate(rise),
        np.concatenate(away),
    )


def _triangles(faces: _Faces, inner: Polygon, gain: float) -> Floats:
    """Triangles (t, 3, 2) over which one face alone stands, falling and rising."""
    outlines = np.array(faces.outlines)
    lines = [*shapely.boundary(outlines), inner.exterior, *_creases(faces, outlines, gain)]
    noded = shapely.union_all(np.array(lines), grid_size=_GRID)
    segments = np.concatenate(
        [
            np.stack((points[:-1], points[1:]), axis=1)
            for points in map(shapely.get_coordinates, shapely.get_parts(noded))
        ]
    )
    xy, number = np.unique(segments.reshape(-1, 2), axis=0, return_inverse=True)
    edges = np.unique(np.sort(number.reshape(-1, 2), axis=1), axis=0)
    return xy[delaunay(xy, edges)]


def _creases(faces: _Faces, outlines: Floats, gain: float) -> list[shapely.Geometry]:
    """Lines along which overlapping faces are equally high, falling or rising."""
    one, two = shapely.STRtree(outlines).query(outlines, predicate="intersects")
    one, two = one[one < two], two[one < two]
    shared = shapely.intersection(outlines[one], outlines[two])
    wide = shapely.area(shared) > _SLIVER
    one, two, shared = one[wide], two[wide], shared[wide]
    if not len(one):
        return []
    middle = shapely.get_coordinates(shapely.centroid(shared))
    size = np.sqrt(shapely.area(shapely.envelope(shared))) + shapely.length(shared)
    found: list[shapely.Geometry] = []
    for signed in (-gain, gain):
        gap = faces.level(one, middle, signed) - faces.level(two, middle, signed)
        steep = (faces.rise + signed * faces.away)[one] - (faces.rise + signed * faces.away)[two]
        square = np.einsum("ij,ij->i", steep, steep)
        crosses = square > 1e-18
        step = steep / np.where(crosses, square, 1.0)[:, None]
        foot = middle - gap[:, None] * step
        aside = np.column_stack((-steep[:, 1], steep[:, 0]))
        aside *= (size / np.sqrt(np.where(crosses, square, 1.0)))[:, None]
        near = crosses & (np.hypot(*(foot - middle).T) < size)
        ends = np.stack((foot - aside, foot + aside), axis=1)[near]
        cut = shapely.intersection(shapely.linestrings(ends), shared[near])
        found.extend(cut[shapely.length(cut) > _SLIVER])
    return found
