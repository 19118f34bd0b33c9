"""Toe and shoulder as lines to stake, and the finished grade as a surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.bed.design import BedDesign
from dripfield.bed.keepouts import rings_of
from dripfield.bed.pieces import Pieces
from dripfield.core.arrays import Floats, Ints
from dripfield.ground.triangles.tin import Surface
from dripfield.ground.triangles.triangulate import delaunay

_INSIDE = 1e-4  # a level that ends at a line is read this far inside it [site unit]
_SNAP = 1e-6  # corners this near are one [site unit]
_GRIDS = (1e-6, 1e-5, 1e-4)
_FLAT = 1e-7  # corners this near to the plane of their neighbours are left out [site unit]


@dataclass(frozen=True)
class GradeLine:
    """A closed line on the finished grade.

    Attributes
    ----------
    kind : str
        ``toe``, where the finished grade meets existing ground, or ``shoulder``.
    ring : int
        1 for the outline, 2 and on for those round keepouts and islands.
    xyz : (k, 3) float array
        The first point not repeated.
    """

    kind: str
    ring: int
    xyz: Floats


def grade_lines(design: BedDesign, ground: Surface, spacing: float) -> tuple[GradeLine, ...]:
    """Toe and shoulder with a point at every bend and none farther apart than a spacing.

    Parameters
    ----------
    design : BedDesign
    ground : Surface
        Existing ground, whose elevation the toe has.
    spacing : float
        [site unit]

    Returns
    -------
    tuple of GradeLine
        The toe's rings, then the shoulder's. Between its points a line is off the true one by no
        more than 0.02 ft or 5 mm in plan.
    """
    off = design.site.unit.default(0.02, 0.005)
    found = []
    for kind, area in (("toe", design.daylight), ("shoulder", design.inner)):
        number = 0
        for part in sorted(shapely.get_parts(area), key=lambda polygon: -float(polygon.area)):
            for ring in rings_of(part):
                number += 1
                line = shapely.LinearRing(ring).simplify(off if kind == "toe" else 0.0)
                xy = shapely.get_coordinates(line.segmentize(spacing))[:-1]
                if kind == "toe":
                    z = _on(ground, xy, area)
                else:
                    inside = design.inside.surface("finished")
                    z = _on(inside, xy, area)
                found.append(GradeLine(kind, number, np.column_stack((xy, z))))
    return tuple(found)


def _on(surface: Surface, xy: Floats, area: Polygon | MultiPolygon) -> Floats:
    """Elevations at points of an area's edge, read a hair inside where the surface ends there."""
    z = surface.elevation(xy)
    off = np.isnan(z)
    if off.any():
        inner = area.buffer(-_INSIDE)
        places = shapely.points(xy[off])
        near = shapely.get_coordinates(shapely.shortest_line(inner, places))[::2]
        z[off] = surface.elevation(near)
    return np.asarray(z)


def finished_surface(design: BedDesign) -> Surface:
    """The finished grade from daylight line to daylight line, as one surface.

    Returns
    -------
    Surface
        Triangles that share their corners, with none where the grade is flat that a flat triangle
        does not need: the pieces' own edges that bend are kept.
    """
    lift = np.abs(design.beyond.levels["finished"] - design.beyond.levels["ground"]).max(
        axis=1, initial=0.0
    )
    sloped = design.beyond.where(lift > _SNAP)
    whole = design.inside.only("finished").joined(sloped.only("finished"))
    return _conforming(whole, design.daylight)


def _conforming(pieces: Pieces, area: Polygon | MultiPolygon) -> Surface:
    """Pieces as triangles that meet corner to corner."""
    from scipy.spatial import cKDTree

    origin = np.round(pieces.xy[0, 0])
    key = np.round((pieces.xy - origin).reshape(-1, 2) / _SNAP).astype(np.int64)
    _, first, number = np.unique(key, axis=0, return_index=True, return_inverse=True)
    xy = (pieces.xy - origin).reshape(-1, 2)[first]
    z = pieces.levels["finished"].reshape(-1)[first]
    number = number.reshape(-1, 3)
    triangles = number[(number != np.roll(number, 1, axis=1)).all(axis=1)]
    edges = _bends(xy, z, triangles)
    corners, found = _triangulated(xy[edges])
    away, nearest = cKDTree(xy).query(corners)
    height = z[nearest]
    between = away > 3.0 * _SNAP
    if between.any():
        height[between] = Surface(np.column_stack((xy, z)), triangles).elevation(corners[between])
    known = ~np.isnan(height)
    height[~known] = z[nearest[~known]]
    near = shapely.transform(area, lambda points: points - origin).buffer(_INSIDE)
    shapely.prepare(near)
    kept = shapely.contains_xy(near, corners[found].mean(axis=1))
    return Surface(np.column_stack((corners + origin, height)), found[kept])


def _triangulated(edges: Floats) -> tuple[Floats, Ints]:
    """Corners (k, 2) and triangles that have the edges (m, 2, 2), cut where they meet."""
    lines = shapely.linestrings(edges)
    for grid in _GRIDS:
        noded = shapely.get_parts(shapely.union_all(lines, grid_size=grid))
        pairs = np.concatenate(
            [np.stack((p[:-1], p[1:]), axis=1) for p in map(shapely.get_coordinates, noded)]
        )
        corners, number = np.unique(pairs.reshape(-1, 2), axis=0, return_inverse=True)
        numbers = np.unique(np.sort(number.reshape(-1, 2), axis=1), axis=0)
        try:
            return corners, delaunay(corners, numbers)
        except RuntimeError:  # rounding left two edges crossing: round more coarsely
            if grid == _GRIDS[-1]:
                raise
    raise AssertionError("unreachable")


def _bends(xy: Floats, z: Floats, triangles: Ints) -> Ints:
    """Edges (m, 2) across which the grade bends, and those on the rim."""
    p = np.column_stack((xy, z))[triangles]
    normal = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    slope = -normal[:, :2] / normal[:, 2:]
    sides = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    owner = np.repeat(np.arange(len(triangles)), 3)
    order = np.lexsort((sides[:, 1], sides[:, 0]))
    sides, owner = sides[order], owner[order]
    same = np.zeros(len(sides), dtype=bool)
    same[:-1] = (sides[:-1] == sides[1:]).all(axis=1)
    second = np.concatenate(([False], same[:-1]))
    first = same & ~second
    flat = np.zeros(len(sides), dtype=bool)
    number = np.flatnonzero(first)
    length = np.hypot(*(xy[sides[number, 0]] - xy[sides[number, 1]]).T)
    turn = np.abs(slope[owner[number]] - slope[owner[number + 1]]).max(axis=1)
    flat[number] = turn * length < _FLAT
    flat[number + 1] = flat[number]
    return np.unique(sides[~flat], axis=0)
