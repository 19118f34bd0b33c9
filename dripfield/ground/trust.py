"""How far a survey can be trusted: the error of its level lines, and what spacing would do.

Two things keep the triangles off the ground. The ground bends between shots: a triangle over ground
of curvature matrix H departs from it by half the sum over its sides e of (e'He) times the two
barycentric weights of the side's ends (exact for a quadratic; the chord's s^2 / 8R along a side).
And each shot errs: what it stands off a smooth fit of its neighbours, weighted by the three
corners. The first grows with the square of the spacing, the second stays whatever the spacing.

Figures of what level lines hold are for 9 places in 10, as the US National Map Accuracy Standards
(Bureau of the Budget, 1947) count: not more than 10 % of tested elevations in error by more than
half the contour interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.ground.leave_one_out import leave_one_out
from dripfield.ground.smoothing.smooth import smooth_ground
from dripfield.ground.triangles.tin import Surface
from dripfield.survey.doubt.local_fit import LEAST_SHOTS, residual_matrix, robust_deviation

_SAMPLES = 4000  # places in the bed where the error is worked out
_NINE_IN_TEN = 1.6449  # standard deviations either side that hold 90 % of a normal error
_MOST_PLACES = 12  # of more shots named at once


@dataclass(frozen=True)
class Trust:
    """What a survey is good for.

    Lengths in the site's unit; None where there are too few shots to tell.

    Attributes
    ----------
    residuals : (n,) float array
        Leave-one-out residual of each vertex of the surface, NaN where there is none.
    rms, p90 : float or None
        Root mean square of the residuals, and what 9 in 10 stay within.
    noise : float or None
        Standard deviation of a shot about a smooth fit of its neighbours.
    bend : float
        What 9 places in 10 of the bed depart from straight triangles for the ground's curvature.
    hold : float
        What level lines hold at 9 places in 10: bend and noise together.
    tolerance : float
        What is asked of them.
    spacing : float
        Median distance between shots as they are.
    needed_spacing : float or None
        Spacing at which level lines would hold the tolerance; infinite on ground that does not
        bend; None when the shots' own error leaves no room.
    more_shots : (k, 2) float array
        Where the bed's error is over the tolerance, worst first, no two nearer than the needed
        spacing.
    """

    residuals: Floats
    rms: float | None
    p90: float | None
    noise: float | None
    bend: float
    hold: float
    tolerance: float
    spacing: float
    needed_spacing: float | None
    more_shots: Floats

    @property
    def holds(self) -> bool:
        """True when level lines hold the tolerance."""
        return self.hold <= self.tolerance

    @property
    def contour_interval(self) -> float | None:
        """The least contour interval that meets the half-interval rule by these residuals."""
        return None if self.p90 is None else 2.0 * self.p90


def trust(surface: Surface, bed: Polygon, spacing: float, tolerance: float) -> Trust:
    """Work out what a surface's level lines hold over a bed.

    Parameters
    ----------
    surface : Surface
    bed : Polygon
        In the surface's coordinates.
    spacing : float
        Median distance between its shots [site unit].
    tolerance : float
        Level tolerance asked for [site unit].

    Returns
    -------
    Trust
    """
    residuals = leave_one_out(surface)
    known = np.abs(residuals[np.isfinite(residuals)])
    noise = shot_noise(surface)
    places = _places(surface, bed)
    bend, spread = bend_error(surface, places)
    bend_p90 = float(np.percentile(bend, 90.0)) if len(bend) else 0.0
    shot_part = _NINE_IN_TEN * (noise or 0.0) * float(np.sqrt(spread.mean() if len(bend) else 1.0))
    room = tolerance**2 - shot_part**2
    needed: float | None = None
    if room > 0.0:
        needed = spacing * float(np.sqrt(np.sqrt(room) / bend_p90)) if bend_p90 > 0.0 else np.inf
    over = np.hypot(bend, shot_part) > tolerance
    apart = spacing if needed is None else min(needed, spacing)
    return Trust(
        residuals=residuals,
        rms=float(np.sqrt((known**2).mean())) if len(known) else None,
        p90=float(np.percentile(known, 90.0)) if len(known) else None,
        noise=noise,
        bend=bend_p90,
        hold=float(np.hypot(bend_p90, shot_part)),
        tolerance=tolerance,
        spacing=spacing,
        needed_spacing=needed,
        more_shots=_worst(places[over], bend[over], apart) if room > 0.0 else np.empty((0, 2)),
    )


def shot_noise(surface: Surface) -> float | None:
    """Standard deviation of a shot about a smooth fit of its neighbours [site unit]."""
    used = np.unique(surface.triangles)
    if len(used) < LEAST_SHOTS:
        return None
    matrix = residual_matrix(surface.vertices[used, :2])
    z = surface.vertices[used, 2]
    return robust_deviation(matrix @ (z - z.mean()))


def bend_error(surface: Surface, xy: Floats) -> tuple[Floats, Floats]:
    """How far the ground's curvature takes it off the triangles.

    Parameters
    ----------
    surface : Surface
    xy : (k, 2) float array
        Plan points on the surface.

    Returns
    -------
    error : (k,) float array
        Not negative [site unit].
    spread : (k,) float array
        Sum of the squared weights of the three corners: what part of a shot's variance is left.
    """
    if not len(xy):
        return np.empty(0), np.empty(0)
    triangle, weights = surface.locate(xy)
    bent = smooth_ground(surface, np.inf).curvature(xy)
    corners = surface.vertices[surface.triangles[triangle]][:, :, :2]
    error = np.zeros(len(xy))
    for i, j in ((0, 1), (1, 2), (2, 0)):
        e = corners[:, j] - corners[:, i]
        along = bent[:, 0] * e[:, 0] ** 2 + 2.0 * bent[:, 1] * e[:, 0] * e[:, 1]
        along = along + bent[:, 2] * e[:, 1] ** 2
        error += weights[:, i] * weights[:, j] * along / 2.0
    return np.abs(error), (weights**2).sum(axis=1)


def _places(surface: Surface, bed: Polygon) -> Floats:
    """Places on a square grid over the covered part of the bed."""
    west, south, east, north = bed.bounds
    step = float(np.sqrt((east - west) * (north - south) / _SAMPLES))
    x, y = np.meshgrid(
        np.arange(west + step / 2.0, east, step), np.arange(south + step / 2.0, north, step)
    )
    xy = np.column_stack((x.ravel(), y.ravel()))
    xy = xy[shapely.contains_xy(bed, xy)]
    return np.asarray(xy[surface.locate(xy)[0] >= 0])


def _worst(places: Floats, error: Floats, apart: float) -> Floats:
    """Places of greatest error, no two nearer than a distance."""
    chosen: list[Floats] = []
    order = np.argsort(-error, kind="stable")
    left = places[order]
    while len(left) and len(chosen) < _MOST_PLACES:
        chosen.append(left[0])
        left = left[np.hypot(*(left - left[0]).T) >= apart]
    return np.array(chosen).reshape(-1, 2)
