"""A smoothed ground: level lines without the kinks of triangles, and no shot moved far.

The ground is a plane plus a bicubic spline of least bending (a thin plate) through the shots. How
closely it follows them is set by generalised cross-validation, which finds the noise of the shots
from the shots themselves; shots that would be moved by more than the bound are then weighted until
they are not. Where a shot will not yield, a small smooth bump that reaches no other shot closes the
rest, so the bound always holds.

Nothing is smoothed across a break: towards a breakline the ground turns into the triangles
themselves, and the plate bends freely there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.core.threads import one_thread
from dripfield.ground.smoothing.plate import Plate, fit_plate
from dripfield.ground.smoothing.spline import SplineGrid
from dripfield.ground.triangles.tin import Surface

_REACH = 2.0  # of the shots' spacing, how far a break turns the ground into its triangles
_HOLD = 0.9  # of the bound, what a bump leaves of a shot's departure


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
    _plate: Plate
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


@one_thread()
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
    breaks = _Breaks(surface, reach=_REACH * spacing)
    plate = fit_plate(shots, spacing, most, breaks.guide(spacing), breaks.crossed)
    left = shots[:, 2] - plate.elevation(shots[:, :2])
    own = np.ones(len(shots))  # what part of the ground there is plate, not triangles
    near, share, _ = breaks.share(shots[:, :2])
    own[near] -= share
    bumps = _Bumps.closing(shots[:, :2], left, most / np.maximum(own, 1e-9))
    moved = own * (left - bumps.elevation(shots[:, :2]))
    return SmoothGround(surface, float(np.abs(moved).max()), plate, bumps, breaks)


@dataclass(frozen=True)
class _Bumps:
    """Smooth local corrections whose supports do not meet: (1 - r)^4 (4 r + 1), H. Wendland 1995
    (from memory), twice continuously differentiable."""

    centre: Floats
    height: Floats
    radius: Floats

    @classmethod
    def closing(cls, xy: Floats, left: Floats, most: Floats) -> _Bumps:
        """Bumps at the shots where more than the bounds (n,) is left, for the part beyond them."""
        beyond = np.flatnonzero(np.abs(left) > most)
        if not len(beyond):
            return cls(np.empty((0, 2)), np.empty(0), np.empty(0))
        from scipy.spatial import cKDTree

        nearest = cKDTree(xy).query(xy[beyond], k=2)[0][:, 1]
        held = np.clip(left, -_HOLD * most, _HOLD * most)[beyond]
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
        self._surface = surface
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

    def guide(self, spacing: float) -> Floats:
        """Points (k, 3) of the triangles within reach of a break, that a plate may not swing there.

        On a square grid of a third of the shots' spacing.
        """
        if not len(self._ends):
            return np.empty((0, 3))
        step = spacing / 3.0
        low = self._ends.min(axis=(0, 1)) - self._reach
        high = self._ends.max(axis=(0, 1)) + self._reach
        x, y = np.meshgrid(*(np.arange(a, b, step) for a, b in zip(low, high, strict=True)))
        xy = np.column_stack((x.ravel(), y.ravel()))
        xy = xy[self.share(xy)[0]]
        z = self._surface.elevation(xy)
        return np.column_stack((xy, z))[np.isfinite(z)]

    def crossed(self, grid: SplineGrid, origin: Floats) -> Bools:
        """Which cells (nx, ny) a break passes through."""
        crossed = np.zeros(grid.shape, dtype=bool)
        for a, b in self._ends - origin:
            steps = int(np.ceil(4.0 * np.hypot(*(b - a)) / grid.cell)) + 1
            i, j, _, _ = grid.place(a + np.linspace(0.0, 1.0, steps)[:, None] * (b - a))
            crossed[i, j] = True
        return crossed
