"""The ground of one bed on a regular grid of its local frame, with a bicubic spline over it.

Everything the layout asks of the ground goes through here, so the ground itself is sampled once.
Nodes where the ground is not known are filled from the nearest known node about the best-fit plane;
that only keeps the spline quiet beyond the bed, for no lateral is laid there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.layout.lines.frame import Frame, best_fit_plane


@dataclass(frozen=True)
class Grid:
    """Nodes of a regular grid: ``u`` (columns) and ``v`` (rows), ``step`` apart."""

    u: Floats
    v: Floats
    step: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows, columns."""
        return len(self.v), len(self.u)

    @cached_property
    def nodes(self) -> Floats:
        """Local coordinates of the nodes, (rows, columns, 2)."""
        return np.stack(np.meshgrid(self.u, self.v), axis=-1)

    def spline(self, values: Floats) -> Any:
        """Bicubic spline of node values; call ``.ev(v, u)``."""
        from scipy.interpolate import RectBivariateSpline

        return RectBivariateSpline(self.v, self.u, values)

    def linear(self, values: Floats, uv: Floats) -> Floats:
        """Node values interpolated bilinearly at local points (k, 2): less smooth, and faster."""
        from scipy.ndimage import map_coordinates

        at = (uv - (self.u[0], self.v[0])) / self.step
        return np.asarray(map_coordinates(values, at.T[::-1], order=1, mode="nearest"))


def grid_over(area: BaseGeometry, step: float, margin: float) -> Grid:
    """The grid that holds an area (local coordinates) and a margin about it.

    Parameters
    ----------
    area : Polygon or MultiPolygon
        Local coordinates.
    step, margin : float
        Between nodes; beyond the area's box [site unit].

    Returns
    -------
    Grid
        Its middle is that of the box.
    """
    left, top, right, bottom = area.bounds

    def axis(low: float, high: float) -> Floats:
        count = int(np.ceil((high - low + 2 * margin) / step)) + 1
        return np.asarray((low + high) / 2 + step * (np.arange(count) - (count - 1) / 2))

    return Grid(axis(left, right), axis(top, bottom), step)


@dataclass(frozen=True)
class Terrain:
    """Elevations at the nodes of a grid, with the spline over them.

    Attributes
    ----------
    frame : Frame
    grid : Grid
    z : (rows, columns) float array
        The ground that the lines follow.
    rough : (rows, columns) float array
        The ground as surveyed, where ``z`` is smoothed: laterals should be level on both.
    """

    frame: Frame
    grid: Grid
    z: Floats
    rough: Floats

    @cached_property
    def _spline(self) -> Any:
        return self.grid.spline(self.z)

    @cached_property
    def _rough_spline(self) -> Any:
        return self._spline if self.rough is self.z else self.grid.spline(self.rough)

    def elevation(self, uv: Floats) -> Floats:
        """Elevations (k,) at local points (k, 2)."""
        return np.asarray(self._spline.ev(uv[:, 1], uv[:, 0]))

    def rough_elevation(self, uv: Floats) -> Floats:
        """Elevations as surveyed (k,) at local points (k, 2)."""
        return np.asarray(self._rough_spline.ev(uv[:, 1], uv[:, 0]))

    def quick_elevations(self, uv: Floats) -> tuple[Floats, Floats]:
        """Elevations (k,) at local points (k, 2), as followed and as surveyed, by bilinear
        interpolation."""
        z = self.grid.linear(self.z, uv)
        return z, z if self.rough is self.z else self.grid.linear(self.rough, uv)

    def gradient(self, uv: Floats) -> Floats:
        """Rise per unit of u and v, (k, 2), at local points (k, 2)."""
        u = self._spline.ev(uv[:, 1], uv[:, 0], dy=1)
        v = self._spline.ev(uv[:, 1], uv[:, 0], dx=1)
        return np.column_stack((u, v))

    def on(self, grid: Grid) -> Terrain:
        """The same ground at the nodes of another grid within this one."""
        z = np.asarray(self._spline(grid.v, grid.u))
        rough = z if self.rough is self.z else np.asarray(self._rough_spline(grid.v, grid.u))
        return Terrain(self.frame, grid, z, rough)

    @cached_property
    def slope(self) -> Floats:
        """Slope at the nodes as a fraction, (rows, columns)."""
        down = self._spline(self.grid.v, self.grid.u, dx=1)
        along = self._spline(self.grid.v, self.grid.u, dy=1)
        return np.asarray(np.hypot(down, along))


def sample_terrain(
    ground: HeightField,
    frame: Frame,
    grid: Grid,
    surveyed: HeightField | None = None,
    most: float = np.inf,
) -> Terrain:
    """Sample the ground at the nodes of a grid, filling gaps.

    Parameters
    ----------
    ground : HeightField
        What the lines are to follow.
    frame : Frame
    grid : Grid
    surveyed : HeightField, optional
        The ground as surveyed, when ``ground`` is smoothed.
    most : float
        Most that the smoothed ground may leave the surveyed one anywhere. Between shots that are
        far apart it would leave the triangles by more, on no better ground than theirs.

    Returns
    -------
    Terrain
    """
    z = _sample(ground, frame, grid)
    if surveyed is None or surveyed is ground:
        return Terrain(frame, grid, z, z)
    rough = _sample(surveyed, frame, grid)
    if 0.0 < most < np.inf:
        z = rough + most * np.tanh((z - rough) / most)  # eased, so that no edge shows
    return Terrain(frame, grid, z, rough)


def _sample(ground: HeightField, frame: Frame, grid: Grid) -> Floats:
    """Elevations at the nodes, (rows, columns), those not known filled from the nearest known."""
    nodes = grid.nodes.reshape(-1, 2)
    z = ground.elevation(frame.to_site(nodes))
    known = np.isfinite(z)
    if not known.all():
        from scipy.ndimage import distance_transform_edt

        centre, rise = best_fit_plane(nodes[known], z[known])
        plane = centre[2] + (nodes - centre[:2]) @ rise
        unknown = ~known.reshape(grid.shape)
        rows, columns = distance_transform_edt(unknown, return_distances=False, return_indices=True)
        z = plane + (z - plane).reshape(grid.shape)[rows, columns].ravel()
    return np.asarray(z.reshape(grid.shape))
