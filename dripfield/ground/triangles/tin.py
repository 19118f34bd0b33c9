"""The triangulated surface over a survey, with vectorised queries."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats, Ints
from dripfield.ground.triangles.locate import TriangleGrid
from dripfield.ground.triangles.triangulate import delaunay, twice_area

_MANY = 40_000  # triangles


class Surface:
    """Triangles over spot elevations.

    Parameters
    ----------
    vertices : (n, 3) float array
        Easting, northing, elevation of distinct points [site unit].
    triangles : (t, 3) int array
        Vertex numbers, counter-clockwise.
    breaks : (m, 2) int array, optional
        Vertex numbers of the edges where the ground breaks: nothing may be smoothed across them.
    """

    def __init__(self, vertices: Floats, triangles: Ints, breaks: Ints | None = None) -> None:
        self.vertices = np.asarray(vertices, dtype=np.float64)
        self.triangles = np.asarray(triangles, dtype=np.int64)
        no_breaks = np.empty((0, 2), dtype=np.int64)
        self.breaks = no_breaks if breaks is None else np.asarray(breaks, dtype=np.int64)
        # state-plane coordinates run to millions of feet: queries work about a near origin so that
        # products of coordinates keep their digits
        self._shift = np.round(self.vertices[:, :2].mean(axis=0)) if len(vertices) else np.zeros(2)
        self._near = self.vertices[:, :2] - self._shift

    @classmethod
    def from_points(cls, xyz: Floats, edges: Ints | None = None) -> Surface:
        """Triangulate distinct points (n, 3), honouring breaks (m, 2), edges of point numbers."""
        xyz = np.asarray(xyz, dtype=np.float64)
        near = xyz[:, :2] - np.round(xyz[:, :2].mean(axis=0))
        return cls(xyz, delaunay(near, edges), edges)

    @cached_property
    def _grid(self) -> TriangleGrid:
        return TriangleGrid(self._near, self.triangles)

    @cached_property
    def _plane_slopes(self) -> Floats:
        """Rise per unit of easting and northing of each triangle, (t, 2)."""
        p = self._near[self.triangles]
        z = self.vertices[self.triangles, 2]
        u, v = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
        du, dv = z[:, 1] - z[:, 0], z[:, 2] - z[:, 0]
        det = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        det = np.where(det == 0.0, np.nan, det)
        east = (du * v[:, 1] - dv * u[:, 1]) / det
        north = (dv * u[:, 0] - du * v[:, 0]) / det
        return np.column_stack((east, north))

    @cached_property
    def outline(self) -> Polygon | MultiPolygon:
        """The area covered by triangles (the convex hull, for a plain survey)."""
        if len(self.triangles) > _MANY:  # merged from their rim alone, some ten times as fast
            rim = shapely.linestrings(self.vertices[self._rim()][:, :, :2])
            area = shapely.build_area(shapely.multilinestrings(rim))
            covered = 0.5 * float(np.abs(twice_area(self._near, self.triangles)).sum())
            if abs(area.area - covered) <= 1e-9 * covered:  # else faces that lap or do not meet
                return area
        rings = shapely.polygons(self.vertices[self.triangles][:, :, :2])
        return shapely.coverage_union_all(rings)

    def _rim(self) -> Ints:
        """Sides (k, 2) that belong to one triangle only, as vertex numbers."""
        sides = self.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
        key = sides.min(axis=1) * len(self.vertices) + sides.max(axis=1)
        order = np.argsort(key)
        repeated = np.diff(key[order]) == 0
        alone = np.ones(len(key), dtype=bool)
        alone[1:] &= ~repeated
        alone[:-1] &= ~repeated
        return sides[np.sort(order[alone])]

    def within(self, low: Floats, high: Floats) -> Surface:
        """The part of the surface whose triangles reach into a box, corners (2,) and (2,)."""
        corners = self.vertices[:, :2]
        left, right = corners[:, 0] < low[0], corners[:, 0] > high[0]
        below, above = corners[:, 1] < low[1], corners[:, 1] > high[1]
        off = [side[self.triangles].all(axis=1) for side in (left, right, below, above)]
        kept = self.triangles[~np.logical_or.reduce(off)]
        used = np.zeros(len(corners), dtype=bool)
        used[kept] = True
        number = np.cumsum(used) - 1
        breaks = self.breaks[used[self.breaks].all(axis=1)]
        return Surface(self.vertices[used], number[kept], number[breaks])

    def locate(self, xy: Floats) -> tuple[Ints, Floats]:
        """Triangle number (k,) holding each plan point (k, 2), -1 outside, and weights (k, 3)."""
        points = np.atleast_2d(np.asarray(xy, dtype=np.float64))
        return self._grid.find(points - self._shift)

    def elevation(self, xy: Floats) -> Floats:
        """Elevation at plan points.

        Parameters
        ----------
        xy : (k, 2) float array
            Easting, northing [site unit].

        Returns
        -------
        (k,) float array
            Linear within each triangle; NaN outside the triangles: never extrapolated.
        """
        triangle, weights = self.locate(xy)
        z = self.vertices[self.triangles[triangle], 2]
        return np.where(triangle >= 0, np.einsum("ij,ij->i", weights, z), np.nan)

    def gradient(self, xy: Floats) -> Floats:
        """Rise per unit of easting and of northing, (k, 2), at plan points (k, 2); NaN outside."""
        triangle, _ = self.locate(xy)
        return np.where(triangle[:, None] >= 0, self._plane_slopes[triangle], np.nan)

    def slope(self, xy: Floats) -> Floats:
        """Slope as a fraction (0.10 is 10 %), (k,), at plan points (k, 2); NaN outside."""
        east, north = self.gradient(xy).T
        return np.asarray(np.hypot(east, north))

    def aspect(self, xy: Floats) -> Floats:
        """Direction of fall, degrees clockwise from grid north, (k,); NaN outside or where flat."""
        east, north = -self.gradient(xy).T
        bearing = np.degrees(np.arctan2(east, north)) % 360.0
        return np.where((east == 0.0) & (north == 0.0), np.nan, bearing)
