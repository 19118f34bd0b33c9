"""A coordinate along the strike that is constant along fall lines: where seams can run.

The function t is as nearly constant down the slope, and as nearly of unit rate along the level
lines, as one smooth function can be: a least-squares problem over the cells of a coarse grid. Its
level lines never cross, so any set of them divides the bed into panels side by side.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from dripfield.arrays import Floats
from dripfield.layout.frame import points_inside
from dripfield.layout.terrain import Grid, Terrain, grid_over
from dripfield.layout.tracing import line_follower

_ALONG = 0.03  # weight of an even rate along the strike against constancy down the slope
_FAINT = 0.02  # slope under which a fall line is too uncertain to follow fully


@dataclass(frozen=True)
class Falls:
    """The coordinate t over one bed, and places in the bed to weigh it by.

    Attributes
    ----------
    grid : Grid
    t : (rows, columns) float array
    places : (k, 2) float array
        A lattice inside the area, local coordinates; each stands for ``cell`` of area.
    cell : float
    """

    grid: Grid
    t: Floats
    places: Floats
    cell: float

    @cached_property
    def _spline(self) -> Any:
        return self.grid.spline(self.t)

    def at(self, uv: Floats) -> Floats:
        """t (k,) at local points (k, 2)."""
        fine, t = self._fine
        return fine.linear(t, uv)

    @cached_property
    def place_t(self) -> Floats:
        """t at the places."""
        return self.at(self.places)

    @cached_property
    def _rate(self) -> Floats:
        along = self._spline.ev(self.places[:, 1], self.places[:, 0], dy=1)
        down = self._spline.ev(self.places[:, 1], self.places[:, 0], dx=1)
        return np.asarray(np.hypot(along, down))

    def cuts(self, count: int) -> Floats:
        """``count`` + 1 values of t that divide the bed into strips of about equal width."""
        order = np.argsort(self.place_t)
        share = np.cumsum(self._rate[order])
        ends = np.interp(
            np.linspace(0.0, 1.0, count + 1)[1:-1], share / share[-1], self.place_t[order]
        )
        return np.concatenate(([-np.inf], ends, [np.inf]))

    def seam_length(self, t: float) -> float:
        """Length of the line at t inside the bed, by the places about it."""
        half = 1.5 * np.sqrt(self.cell) * self._rate
        near = np.abs(self.place_t - t) < half
        return float(near.sum() * self.cell / (3.0 * np.sqrt(self.cell)))

    def seam(self, t: float) -> list[Floats]:
        """The line at t over the whole grid, as polylines (k, 2)."""
        fine, values = self._fine
        generator = line_follower(fine.u, fine.v, values)
        return [np.asarray(line) for line in generator.lines(t) if len(line) > 1]

    def between(self, low: float, high: float) -> Polygon | MultiPolygon:
        """The part of the grid's rectangle where t lies between two values."""
        from contourpy import FillType, contour_generator

        fine, t = self._fine
        generator = contour_generator(fine.u, fine.v, t, fill_type=FillType.OuterOffset)
        filled: Any = generator.filled(max(low, t.min() - 1.0), min(high, t.max() + 1.0))
        parts = []
        for point, offset in zip(*filled, strict=True):
            rings = [point[a:b] for a, b in pairwise(offset)]
            parts.append(Polygon(rings[0], rings[1:]))
        return shapely.union_all(shapely.make_valid(np.array(parts, dtype=object)))

    @cached_property
    def _fine(self) -> tuple[Grid, Floats]:
        """t on a grid of half the step."""
        half = self.grid.step / 2.0
        u = self.grid.u[0] + half * np.arange(2 * len(self.grid.u) - 1)
        v = self.grid.v[0] + half * np.arange(2 * len(self.grid.v) - 1)
        return Grid(u, v, half), np.asarray(self._spline(v, u))


def fall_coordinate(terrain: Terrain, area: BaseGeometry, step: float, margin: float) -> Falls:
    """Solve for t over an area.

    Parameters
    ----------
    terrain : Terrain
    area : Polygon or MultiPolygon
        Local coordinates.
    step : float
        Distance between the nodes of the coarse grid.
    margin : float
        How far the grid reaches beyond the area.

    Returns
    -------
    Falls
        With t about zero in the mean, rising to the right of who looks down the slope.
    """
    import scipy.sparse as sparse
    from scipy.sparse.linalg import spsolve

    grid = grid_over(area, step, margin)
    rows, columns = grid.shape
    z = terrain.on(grid).z.ravel()
    node = np.arange(rows * columns).reshape(rows, columns)
    corners = (node[:-1, :-1], node[:-1, 1:], node[1:, :-1], node[1:, 1:])
    cells = (rows - 1) * (columns - 1)

    def difference(*signs: float) -> Any:
        values = np.repeat(np.array(signs) / (2.0 * step), cells)
        at = np.concatenate([corner.ravel() for corner in corners])
        return sparse.csr_matrix(
            (values, (np.tile(np.arange(cells), 4), at)), shape=(cells, rows * columns)
        )

    along, down = difference(-1, 1, -1, 1), difference(-1, -1, 1, 1)
    rise_u, rise_v = along @ z, down @ z
    slope = np.hypot(rise_u, rise_v)
    middles = (grid.nodes[:-1, :-1] + step / 2.0).reshape(-1, 2)
    counted = shapely.contains_xy(area.buffer(step), middles)
    sure = np.where(counted, np.minimum(1.0, slope / _FAINT), 0.0)
    slope = np.maximum(slope, 1e-9)
    up_u, up_v = rise_u / slope, rise_v / slope
    # along the level line to the right: the up direction turned so that (0, -1) gives (1, 0)
    right_u = np.where(sure > 0.0, -up_v, 1.0)
    right_v = np.where(sure > 0.0, up_u, 0.0)
    even = np.sqrt(_ALONG)
    system = sparse.vstack(
        [
            sparse.diags(sure * up_u) @ along + sparse.diags(sure * up_v) @ down,
            even * along,
            even * down,
            even * difference(1, -1, -1, 1),  # what the means over a cell cannot see
        ]
    ).tocsr()
    right = np.concatenate((np.zeros(cells), even * right_u, even * right_v, np.zeros(cells)))
    normal = (system.T @ system + 1e-9 * sparse.identity(rows * columns)).tocsc()
    t = spsolve(normal, system.T @ right).reshape(rows, columns)
    places = points_inside(area, 4000)
    cell = float(area.area / max(len(places), 1))
    return Falls(grid, t - t.mean(), places, cell)
