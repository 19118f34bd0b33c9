"""A smoothed ground: level lines without the kinks of triangles, and no shot moved far.

The ground is a plane plus a bicubic spline of least bending (a thin plate) through the shots. How
closely it follows them is set by generalised cross-validation, which finds the noise of the shots
from the shots themselves (G. Wahba, *Spline Models for Observational Data*, SIAM 1990, ch. 4, from
memory); shots that would be moved by more than the bound are then weighted until they are not.
Where a shot will not yield, a small smooth bump that reaches no other shot closes the rest, so the
bound always holds.

Nothing is smoothed across a break: towards a breakline the ground turns into the triangles
themselves, and the plate bends freely there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from dripfield.arrays import Bools, Floats, Ints
from dripfield.surface.spline import SplineGrid, bending
from dripfield.surface.tin import Surface

_CELL = 0.7  # of the shots' spacing
_FEW_UNKNOWNS = 3000  # up to so many the cells stay that fine, beyond them one a shot
_PROBES = 8  # random vectors for the trace of a big hat matrix
_EXACT_TRACE = 50  # up to so many shots the trace is exact
_STIFFNESS = 10.0 ** np.arange(-7.0, 2.0, 1.5)  # bending against fit, tried in turn
_PULLS = 3  # rounds of weighting
_PULL = 4.0  # weight gained in a round
_AIM = 0.9  # of the bound, what a shot out of bounds is pulled to
_RELEASE = 0.7  # of the bound, below which it is let go
_FREE = 1e-4  # bending weight of a cell that a break crosses


@dataclass(frozen=True)
class SmoothGround:
    """A smooth ground over a surface; queries as :class:`Surface`, NaN outside its triangles.

    Attributes
    ----------
    surface : Surface
        What was smoothed.
    moved : float
        The farthest that any shot was moved, measured [site unit].
    """

    surface: Surface
    moved: float
    _plate: _Plate
    _bumps: _Bumps
    _breaks: _Breaks

    def elevation(self, xy: Floats) -> Floats:
        """Elevation (k,) at plan points (k, 2) [site unit]."""
        points = np.atleast_2d(np.asarray(xy, dtype=np.float64))
        triangles = self.surface.elevation(points)
        z = self._plate.elevation(points) + self._bumps.elevation(points)
        z = np.where(np.isnan(triangles), np.nan, z)
        near, share, _ = self._breaks.share(points)
        z[near] += share * (triangles[near] - z[near])
        return z

    def gradient(self, xy: Floats) -> Floats:
        """Rise per unit of easting and of northing, (k, 2), at plan points (k, 2)."""
        points = np.atleast_2d(np.asarray(xy, dtype=np.float64))
        known = self.surface.locate(points)[0] >= 0
        rise = self._plate.gradient(points) + self._bumps.gradient(points)
        near, share, share_rise = self._breaks.share(points)
        if len(near):
            here = points[near]
            gap = self.surface.elevation(here) - (
                self._plate.elevation(here) + self._bumps.elevation(here)
            )
            steeper = self.surface.gradient(here) - rise[near]
            rise[near] += share[:, None] * steeper + gap[:, None] * share_rise
        return np.where(known[:, None], rise, np.nan)

    def curvature(self, xy: Floats) -> Floats:
        """Second derivatives (k, 3) of the plate: by easting twice, by both, by northing twice.

        [1 / site unit]; bumps and the triangles near breaks are left out. Defined everywhere.
        """
        return self._plate.curvature(np.atleast_2d(np.asarray(xy, dtype=np.float64)))


def smooth_ground(surface: Surface, most: float) -> SmoothGround:
    """Smooth a surface, moving no shot by more than a bound.

    Parameters
    ----------
    surface : Surface
        Its vertices are the shots.
    most : float
        Greatest departure of the smooth ground from any shot [site unit]; 0 goes through every
        shot.

    Returns
    -------
    SmoothGround
        Elevation and gradient are continuous, except along the surface's breaks, whose kinks stay.
    """
    used = np.unique(surface.triangles)
    shots = surface.vertices[used]
    spacing = float(np.sqrt(surface.outline.area / max(len(shots), 1)))
    breaks = _Breaks(surface, reach=spacing)
    plate = _fit(shots, spacing, breaks, most)
    left = shots[:, 2] - plate.elevation(shots[:, :2])
    bumps = _Bumps.closing(shots[:, :2], left, most)
    moved = left - bumps.elevation(shots[:, :2])
    return SmoothGround(surface, float(np.abs(moved).max()), plate, bumps, breaks)


@dataclass(frozen=True)
class _Plate:
    """A plane and a spline on it, about a near origin."""

    origin: Floats
    plane: Floats  # elevation at the origin, rise per easting, rise per northing
    grid: SplineGrid
    coefficients: Floats

    def elevation(self, xy: Floats) -> Floats:
        near = xy - self.origin
        bent = self.grid.value(self.coefficients, near)
        return np.asarray(self.plane[0] + near @ self.plane[1:] + bent)

    def gradient(self, xy: Floats) -> Floats:
        return self.plane[1:] + self._derivatives(xy, (1, 0), (0, 1))

    def curvature(self, xy: Floats) -> Floats:
        return self._derivatives(xy, (2, 0), (1, 1), (0, 2))

    def _derivatives(self, xy: Floats, *orders: tuple[int, int]) -> Floats:
        near = xy - self.origin
        return np.column_stack(
            [self.grid.derivative(self.coefficients, near, *order) for order in orders]
        )


def _fit(shots: Floats, spacing: float, breaks: _Breaks, most: float) -> _Plate:
    """The plate through the shots: stiffness by cross-validation, then the bound by weights."""
    origin = shots[:, :2].mean(axis=0)
    near = shots[:, :2] - origin
    base = float(shots[:, 2].mean())
    columns = np.column_stack((np.ones(len(near)), near))
    plane = np.linalg.lstsq(columns, shots[:, 2] - base, rcond=None)[0]
    rest = shots[:, 2] - base - columns @ plane
    plane[0] += base
    grid = _grid_over(near, spacing)
    if float(np.abs(rest).max()) < 1e-10 * max(1.0, float(np.ptp(shots[:, 2]))):
        return _Plate(origin, plane, grid, np.zeros(grid.size))
    equations = _Equations(grid, near, rest, breaks.crossed(grid, origin))
    stiffness = equations.best_stiffness()
    weights, held = np.ones(len(near)), np.zeros(len(near))
    coefficients = equations.solve(stiffness, weights, rest)
    for _ in range(_PULLS):
        off = rest - equations.at_shots(coefficients)
        beyond = np.abs(off) > most
        if not beyond.any():
            break
        # a shot out of bounds is pulled hard to the bound, not to itself, and let go when its
        # neighbours have brought it well inside
        held = np.where(beyond, np.sign(off) * _AIM * most, held)
        inside = np.abs(off) < _RELEASE * most
        held = np.where(inside, 0.0, held)
        weights = np.where(inside, 1.0, np.where(beyond, weights * _PULL, weights))
        coefficients = equations.solve(stiffness, weights, rest - held)
    return _Plate(origin, plane, grid, coefficients)


def _grid_over(near: Floats, spacing: float) -> SplineGrid:
    """Cells of half the shots' spacing, coarser where there would be very many."""
    low, extent = near.min(axis=0), np.ptp(near, axis=0)
    area = float(extent[0] * extent[1])
    unknowns = min(area / (_CELL * spacing) ** 2, max(_FEW_UNKNOWNS, len(near)))
    cell = float(max(np.sqrt(area / unknowns), extent.max() / 2000.0))
    shape = np.maximum(np.ceil(extent / cell), 1).astype(int)
    low = low - (shape * cell - extent) / 2.0
    return SplineGrid(low, cell, (int(shape[0]), int(shape[1])))


class _Equations:
    """Normal equations of the plate in banded form: fit to the shots, bending of the cells."""

    def __init__(self, grid: SplineGrid, near: Floats, rest: Floats, crossed: Bools) -> None:
        self._swap = grid.size[1] > grid.size[0]  # the band runs along the shorter side
        if self._swap:
            grid = SplineGrid(grid.low[::-1], grid.cell, grid.shape[::-1])
            near, crossed = near[:, ::-1], crossed.T
        self._size = grid.size
        self._count = grid.size[0] * grid.size[1]
        self._width = 3 * grid.size[1] + 4
        self._rest = rest
        self._number, self._weight = grid.row(near)
        self._bending = self._band(*bending(np.where(crossed, _FREE, 1.0)))
        a, b = np.tril_indices(16)
        self._pair_row, self._pair_column = self._number[:, a], self._number[:, b]
        self._pair = self._weight[:, a] * self._weight[:, b]
        self._bending *= len(near) / self._bending[0].sum()

    def _band(self, row: Ints, column: Ints, value: Floats) -> Floats:
        flat = (row - column) * self._count + column
        total = np.bincount(flat.ravel(), value.ravel(), minlength=self._width * self._count)
        return np.asarray(total.reshape(self._width, self._count), dtype=np.float64)

    def _fit_band(self, weights: Floats) -> Floats:
        return self._band(self._pair_row, self._pair_column, self._pair * weights[:, None])

    def _spread(self, values: Floats) -> Floats:
        """Values at the shots (n, r) added to the coefficients they depend on, (count, r)."""
        return np.column_stack(
            [
                np.bincount(
                    self._number.ravel(),
                    (self._weight * column[:, None]).ravel(),
                    minlength=self._count,
                )
                for column in values.T
            ]
        )

    def _gather(self, flat: Floats) -> Floats:
        """Spline values at the shots (n, r) from flat coefficients (count, r)."""
        return np.asarray(np.einsum("ij,ijr->ir", self._weight, flat[self._number]))

    def best_stiffness(self) -> float:
        """The stiffness of least generalised cross-validation score."""
        from scipy.linalg import cho_solve_banded, cholesky_banded

        n = len(self._rest)
        if n <= _EXACT_TRACE:
            probes: Floats = np.eye(n, dtype=np.float64)
        else:
            probes = np.sign(np.random.default_rng(0).standard_normal((n, _PROBES)))
        right = self._spread(np.column_stack((self._rest, probes)))
        fit = self._fit_band(np.ones(n))
        scores = []
        for stiffness in _STIFFNESS:
            factor = cholesky_banded(fit + stiffness * self._bending, lower=True)
            at_shots = self._gather(cho_solve_banded((factor, True), right))
            trace = float((probes * at_shots[:, 1:]).sum()) * n / float((probes**2).sum())
            off = self._rest - at_shots[:, 0]
            scores.append(float(off @ off) / max(1.0 - trace / n, 1e-6) ** 2)
        return float(_STIFFNESS[int(np.argmin(scores))])

    def solve(self, stiffness: float, weights: Floats, goal: Floats) -> Floats:
        """Coefficients (nx, ny) of the plate towards a goal (n,) at the shots."""
        from scipy.linalg import solveh_banded

        right = self._spread((weights * goal)[:, None])[:, 0]
        flat = solveh_banded(self._fit_band(weights) + stiffness * self._bending, right, lower=True)
        grid = flat.reshape(self._size)
        return np.ascontiguousarray(grid.T if self._swap else grid)

    def at_shots(self, coefficients: Floats) -> Floats:
        """Spline values (n,) at the shots."""
        flat = (coefficients.T if self._swap else coefficients).reshape(-1, 1)
        return self._gather(flat)[:, 0]


@dataclass(frozen=True)
class _Bumps:
    """Smooth local corrections whose supports do not meet: (1 - r)^4 (4 r + 1), H. Wendland 1995
    (from memory), twice continuously differentiable."""

    centre: Floats
    height: Floats
    radius: Floats

    @classmethod
    def closing(cls, xy: Floats, left: Floats, most: float) -> _Bumps:
        """Bumps at the shots where more than the bound is left, for the part beyond it."""
        beyond = np.flatnonzero(np.abs(left) > most)
        if not len(beyond):
            return cls(np.empty((0, 2)), np.empty(0), np.empty(0))
        from scipy.spatial import cKDTree

        nearest = cKDTree(xy).query(xy[beyond], k=2)[0][:, 1]
        held = np.clip(left[beyond], -_AIM * most, _AIM * most)
        return cls(xy[beyond], left[beyond] - held, nearest / 2.0)

    @cached_property
    def _tree(self) -> object:
        from scipy.spatial import cKDTree

        return cKDTree(self.centre)

    def _nearest(self, xy: Floats) -> tuple[Ints, Ints, Floats, Floats]:
        """Points within a bump: their numbers, the bumps', offset (m, 2), r = distance/radius."""
        if not len(self.centre):
            none = np.empty(0, dtype=np.int64)
            return none, none, np.empty((0, 2)), np.empty(0)
        # supports are disjoint balls, so the one of least distance - radius is the only candidate;
        # within a support its centre is the nearest centre
        bump = self._tree.query(xy)[1]  # type: ignore[attr-defined]
        offset = xy - self.centre[bump]
        r = np.hypot(offset[:, 0], offset[:, 1]) / self.radius[bump]
        at = np.flatnonzero(r < 1.0)
        return at, bump[at], offset[at], r[at]

    def elevation(self, xy: Floats) -> Floats:
        z = np.zeros(len(xy))
        at, bump, _, r = self._nearest(xy)
        z[at] = self.height[bump] * (1.0 - r) ** 4 * (4.0 * r + 1.0)
        return z

    def gradient(self, xy: Floats) -> Floats:
        rise = np.zeros((len(xy), 2))
        at, bump, offset, r = self._nearest(xy)
        steep = -20.0 * self.height[bump] * (1.0 - r) ** 3 / self.radius[bump] ** 2
        rise[at] = steep[:, None] * offset
        return rise


class _Breaks:
    """How far the triangles' own shape holds near breaks: 1 on a break, 0 beyond the reach."""

    def __init__(self, surface: Surface, reach: float) -> None:
        self._ends = surface.vertices[surface.breaks][:, :, :2]
        self._reach = reach

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(shapely.linestrings(self._ends))

    def share(self, xy: Floats) -> tuple[Ints, Floats, Floats]:
        """Points within reach (m,), their share (m,) and its rise per unit (m, 2)."""
        if not len(self._ends):
            return np.empty(0, dtype=np.int64), np.empty(0), np.empty((0, 2))
        near, segment = self._tree.query_nearest(
            shapely.points(xy), max_distance=self._reach, all_matches=False
        )
        a, b = self._ends[segment, 0], self._ends[segment, 1]
        along = b - a
        t = np.einsum("ij,ij->i", xy[near] - a, along) / np.einsum("ij,ij->i", along, along)
        away = xy[near] - a - np.clip(t, 0.0, 1.0)[:, None] * along
        distance = np.hypot(away[:, 0], away[:, 1])
        r = np.minimum(distance / self._reach, 1.0)
        steep = -6.0 * r * (1.0 - r) / self._reach
        way = away / np.maximum(distance, 1e-300)[:, None]
        return near, 1.0 - r * r * (3.0 - 2.0 * r), steep[:, None] * way

    def crossed(self, grid: SplineGrid, origin: Floats) -> Bools:
        """Which cells (nx, ny) a break passes through."""
        crossed = np.zeros(grid.shape, dtype=bool)
        for a, b in self._ends - origin:
            steps = int(np.ceil(4.0 * np.hypot(*(b - a)) / grid.cell)) + 1
            i, j, _, _ = grid.place(a + np.linspace(0.0, 1.0, steps)[:, None] * (b - a))
            crossed[i, j] = True
        return crossed
