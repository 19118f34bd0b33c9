"""A thin plate over shots: a plane plus a bicubic spline of least bending.

How closely the plate follows the shots is set by generalised cross-validation, which tells their
noise from the shots themselves (G. Wahba, *Spline Models for Observational Data*, SIAM 1990, ch. 4,
from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.ground.smoothing.spline import SplineGrid, bending

_CELL = 0.7  # of the shots' spacing
_FEW_UNKNOWNS = 3000  # up to so many the cells stay that fine, beyond them one a shot
_MOST_UNKNOWNS = 12_000  # a bigger band takes seconds
_PART = 20_000  # shots gone through at once
_PROBES = 8  # random vectors for the trace of a big hat matrix
_EXACT_TRACE = 50  # up to so many shots the trace is exact
_STIFFNESS = 10.0 ** np.arange(-7.0, 2.0, 1.5)  # bending against fit, tried in turn
_PULLS = 3  # rounds of weighting
_PULL = 4.0  # weight gained in a round
_AIM = 0.9  # of the bound, what a shot out of bounds is pulled to
_RELEASE = 0.7  # of the bound, below which it is let go
_FREE = 1e-4  # bending weight of a cell that a break crosses


@dataclass(frozen=True)
class Plate:
    """A plane and a spline on it, about a near origin."""

    origin: Floats
    plane: Floats  # elevation at the origin, rise per easting, rise per northing
    grid: SplineGrid
    coefficients: Floats

    def elevation(self, xy: Floats) -> Floats:
        """Elevations (k,) at places (k, 2)."""
        near = xy - self.origin
        bent = self.grid.value(self.coefficients, near)
        return np.asarray(self.plane[0] + near @ self.plane[1:] + bent)

    def gradient(self, xy: Floats) -> Floats:
        """Rise per unit of easting and northing, (k, 2)."""
        return self.plane[1:] + self._derivatives(xy, (1, 0), (0, 1))

    def curvature(self, xy: Floats) -> Floats:
        """Second derivatives (k, 3): twice by easting, by both, twice by northing."""
        return self._derivatives(xy, (2, 0), (1, 1), (0, 2))

    def _derivatives(self, xy: Floats, *orders: tuple[int, int]) -> Floats:
        near = xy - self.origin
        return np.column_stack(
            [self.grid.derivative(self.coefficients, near, *order) for order in orders]
        )


def fit_plate(
    shots: Floats,
    spacing: float,
    most: float,
    guide: Floats,
    crossed: Callable[[SplineGrid, Floats], Bools],
) -> Plate:
    """The plate through shots: stiffness by cross-validation, then the bound by weights.

    Parameters
    ----------
    shots : (n, 3) float array
    spacing : float
        The shots' own [same unit].
    most : float
        How far from a shot the plate should stay; where weights do not get it there, it does not.
    guide : (k, 3) float array
        Further points that it should follow, without that bound.
    crossed : callable
        ``crossed(grid, origin)``: which cells (nx, ny) may bend freely.

    Returns
    -------
    Plate
    """
    count = len(shots)
    shots = np.vstack((shots, guide))
    origin = shots[:, :2].mean(axis=0)
    near = shots[:, :2] - origin
    base = float(shots[:, 2].mean())
    columns = np.column_stack((np.ones(len(near)), near))
    plane = np.linalg.lstsq(columns, shots[:, 2] - base, rcond=None)[0]
    rest = shots[:, 2] - base - columns @ plane
    plane[0] += base
    grid = _grid_over(near, spacing)
    if float(np.abs(rest).max()) < 1e-10 * max(1.0, float(np.ptp(shots[:, 2]))):
        return Plate(origin, plane, grid, np.zeros(grid.size))
    equations = _Equations(grid, near, rest, crossed(grid, origin))
    stiffness = equations.best_stiffness()
    weights, held = np.ones(len(near)), np.zeros(len(near))
    coefficients = equations.solve(stiffness, None, rest)
    for _ in range(_PULLS):
        off = rest - equations.at_shots(coefficients)
        off[count:] = 0.0
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
    return Plate(origin, plane, grid, coefficients)


def _grid_over(near: Floats, spacing: float) -> SplineGrid:
    """Cells a little smaller than the shots' spacing, coarser where there would be very many."""
    low, extent = near.min(axis=0), np.ptp(near, axis=0)
    area = float(extent[0] * extent[1])
    most = min(max(_FEW_UNKNOWNS, len(near)), _MOST_UNKNOWNS)
    unknowns = min(area / (_CELL * spacing) ** 2, most)
    cell = float(max(np.sqrt(area / unknowns), extent.max() / 2000.0))
    shape = np.maximum(np.ceil(extent / cell), 1).astype(int)
    low = low - (shape * cell - extent) / 2.0
    return SplineGrid(low, cell, (int(shape[0]), int(shape[1])))


class _Equations:
    """Normal equations of the plate in banded form: fit to the shots, bending of the cells.

    Shots are gone through a part at a time: none of the arrays by pairs of coefficients grows with
    the survey.
    """

    def __init__(self, grid: SplineGrid, near: Floats, rest: Floats, crossed: Bools) -> None:
        self._swap = grid.size[1] > grid.size[0]  # the band runs along the shorter side
        if self._swap:
            grid = SplineGrid(grid.low[::-1], grid.cell, grid.shape[::-1])
            near, crossed = near[:, ::-1], crossed.T
        self._grid, self._near = grid, near
        self._size = grid.size
        self._count = grid.size[0] * grid.size[1]
        self._width = 3 * grid.size[1] + 4
        self._rest = rest
        row, column, bent = bending(np.where(crossed, _FREE, 1.0))
        self._bending = self._band((row - column) * self._count + column, bent)
        self._bending *= len(near) / self._bending[0].sum()
        self._plain_fit: Floats | None = None

    def _band(self, flat: Ints, value: Floats) -> Floats:
        total = np.bincount(flat.ravel(), value.ravel(), minlength=self._width * self._count)
        return np.asarray(total.reshape(self._width, self._count), dtype=np.float64)

    def _parts(self) -> Iterator[tuple[slice, Ints, Floats]]:
        """Parts of the shots: flat numbers and weights (m, 16) of the coefficients of each."""
        for start in range(0, len(self._near), _PART):
            part = slice(start, start + _PART)
            yield part, *self._grid.row(self._near[part])

    def _fit_band(self, weights: Floats | None) -> Floats:
        """Fit of the shots by their weights (n,), all one where there are none."""
        if weights is None and self._plain_fit is not None:
            return self._plain_fit
        a, b = np.tril_indices(16)
        fit = np.zeros((self._width, self._count))
        for part, number, weight in self._parts():
            own = np.ones(len(number)) if weights is None else weights[part]
            step = number[0] - number[0, 0]
            pair = (step[a] - step[b]) * self._count + step[b]
            value = weight[:, a] * weight[:, b] * own[:, None]
            fit += self._band(number[:, :1] + pair, value)
        if weights is None:
            self._plain_fit = fit
        return fit

    def _spread(self, values: Floats) -> Floats:
        """Values at the shots (n, r) added to the coefficients they depend on, (count, r)."""
        total = np.zeros((self._count, values.shape[1]))
        for part, number, weight in self._parts():
            for k, column in enumerate(values[part].T):
                own = (weight * column[:, None]).ravel()
                total[:, k] += np.bincount(number.ravel(), own, minlength=self._count)
        return total

    def _gather(self, flat: Floats) -> Floats:
        """Spline values at the shots (n,) from flat coefficients (count,)."""
        found = np.empty(len(self._near))
        for part, number, weight in self._parts():
            found[part] = np.einsum("ij,ijr->ir", weight, flat[:, None][number])[:, 0]
        return found

    def best_stiffness(self) -> float:
        """The stiffness of least generalised cross-validation score."""
        from scipy.linalg import cho_solve_banded, cholesky_banded

        n = len(self._rest)
        if n <= _EXACT_TRACE:
            probes: Floats = np.eye(n, dtype=np.float64)
        else:
            probes = np.sign(np.random.default_rng(0).standard_normal((n, _PROBES)))
        right = self._spread(np.column_stack((self._rest, probes)))
        fit = self._fit_band(None)
        scores = []
        for stiffness in _STIFFNESS:
            factor = cholesky_banded(fit + stiffness * self._bending, lower=True)
            found = cho_solve_banded((factor, True), right)
            # the probes' own values at the shots, without going back to the shots
            trace = float((right[:, 1:] * found[:, 1:]).sum()) * n / float((probes**2).sum())
            off = self._rest - self._gather(found[:, 0])
            scores.append(float(off @ off) / max(1.0 - trace / n, 1e-6) ** 2)
        return float(_STIFFNESS[int(np.argmin(scores))])

    def solve(self, stiffness: float, weights: Floats | None, goal: Floats) -> Floats:
        """Coefficients (nx, ny) of the plate towards a goal (n,) at the shots."""
        from scipy.linalg import solveh_banded

        right = self._spread((goal if weights is None else weights * goal)[:, None])[:, 0]
        flat = solveh_banded(self._fit_band(weights) + stiffness * self._bending, right, lower=True)
        grid = flat.reshape(self._size)
        return np.ascontiguousarray(grid.T if self._swap else grid)

    def at_shots(self, coefficients: Floats) -> Floats:
        """Spline values (n,) at the shots."""
        return self._gather((coefficients.T if self._swap else coefficients).ravel())
