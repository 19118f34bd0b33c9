"""Water down the slope: linear loading along the lower edge, with the meeting of flow paths.

From stations along the bed's edge flow paths are followed uphill over the ground to where they
leave the bed. Between two neighbouring paths lies the ground whose water passes between their
stations; its water over the width there, measured across the flow, is the linear loading.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dripfield.core.arrays import Bools, Floats
from dripfield.core.errors import input_error
from dripfield.core.height_field import HeightField

_LEAST_FALL = 0.05  # sine of the angle between edge and flow below which the edge is no lower edge
_STEPS_ACROSS = 400  # of a flow path over the longest way through the bed
_MOST_STATIONS = 2000


@dataclass(frozen=True)
class LinearLoading:
    """Linear loading along the lower edge of the bed.

    Attributes
    ----------
    xy : (s, 2) float array
        The middle of each stretch of the edge [length].
    width : (s,) float array
        Of the stretch, measured across the flow [length].
    rate : (s,) float array
        Water that passes a unit of that width in a day [gal/day/ft or L/day/m].
    mean : float
        All the water of these stretches over their width.
    worst : float
    missed : float
        Share of the water of the bed that no stretch accounts for: it leaves elsewhere, or the
        ground there is not known.
    """

    xy: Floats
    width: Floats
    rate: Floats
    mean: float
    worst: float
    missed: float


def linear_loading(
    bed: Any, ground: HeightField, cells: Any, daily: Floats, *, stretch: float
) -> LinearLoading:
    """Follow the water of every emitter's area to the lower edge of the bed.

    Parameters
    ----------
    bed : shapely Polygon
        [length].
    ground : HeightField
        Its slopes are the directions of flow.
    cells : (k,) array of shapely Polygon
        The area that each emitter serves; together they cover the loaded bed.
    daily : (k,) float array
        Water of each in a day [gal or L].
    stretch : float
        Length of the stretches of the edge [length].

    Returns
    -------
    LinearLoading
        Exact on a plane (Q / W) and on a cone that gathers (Q / (angle x inner radius)), to the
        straight sides of the polygons.

    Raises
    ------
    InputError
        The bed has no edge at which water leaves.
    """
    import shapely

    ring = shapely.get_exterior_ring(bed)
    if not shapely.is_ccw(ring):
        ring = shapely.reverse(ring)
    total = float(shapely.length(ring))
    count = int(min(max(np.ceil(total / stretch), 8), _MOST_STATIONS))
    corners = shapely.line_locate_point(ring, shapely.points(shapely.get_coordinates(ring)[:-1]))
    at = np.unique(np.concatenate((np.linspace(0.0, total, count, endpoint=False), corners)))
    at = at[np.concatenate(([True], np.diff(at) > 1e-6 * total))]
    stations = shapely.get_coordinates(shapely.line_interpolate_point(ring, at))
    along = np.roll(stations, -1, axis=0) - stations
    middle = stations + along / 2.0
    length = np.hypot(*along.T)
    outward = np.column_stack((along[:, 1], -along[:, 0])) / length[:, None]
    inside = middle - outward * 1e-4 * total
    fall = -ground.gradient(inside)
    steep = np.hypot(*fall.T)
    with np.errstate(invalid="ignore", divide="ignore"):
        across = np.einsum("ij,ij->i", fall, outward) / steep
    lower = np.isfinite(across) & (steep > 0.0) & (across > _LEAST_FALL)
    if not lower.any():
        raise input_error(
            "the bed has no lower edge: its ground is level or not known along all of it",
            "survey the ground along the bed's lower edge",
        )
    step = float(np.hypot(*np.ptp(shapely.get_coordinates(ring), axis=0))) / _STEPS_ACROSS
    stretches = np.flatnonzero(lower)
    ends = np.column_stack((stretches, (stretches + 1) % len(stations)))
    # a path starts just inside, towards the middle of its stretch, so that corners do no harm
    starts = stations[ends] + 1e-4 * (middle[stretches][:, None] - stations[ends])
    starts -= outward[stretches][:, None] * 1e-6 * total
    paths = _uphill(bed, ground, starts.reshape(-1, 2), step)
    width = length[stretches] * across[stretches]
    tubes = []
    for k, (left, right) in enumerate(zip(paths[0::2], paths[1::2], strict=True)):
        mouth = stations[ends[k]]
        tubes.append(shapely.Polygon(np.vstack((mouth[:1], left, right[::-1], mouth[1:]))))
    shapes = shapely.make_valid(np.asarray(tubes, dtype=object))
    given = _within(shapes, np.asarray(cells, dtype=object), np.asarray(daily, dtype=np.float64))
    rate = given / width
    return LinearLoading(
        middle[stretches], width, rate, float(given.sum() / width.sum()), float(rate.max()),
        float(1.0 - given.sum() / np.sum(daily)),
    )  # fmt: skip


def _within(tubes: Any, cells: Any, daily: Floats) -> Floats:
    """Water of the cells within each tube, by the share of their area in it, (s,)."""
    import shapely

    area = shapely.area(cells)
    tree = shapely.STRtree(cells)
    tube, cell = tree.query(tubes, predicate="intersects")
    keep = area[cell] > 0.0
    tube, cell = tube[keep], cell[keep]
    common = shapely.area(shapely.intersection(tubes[tube], cells[cell]))
    share = common / area[cell]
    found = np.bincount(tube, weights=daily[cell] * share, minlength=len(tubes))
    return found.astype(np.float64)


def _uphill(bed: Any, ground: HeightField, starts: Floats, step: float) -> list[Floats]:
    """Paths straight uphill from some starts until just beyond the bed, fourth-order steps."""
    import shapely

    shapely.prepare(bed)
    at = starts.copy()
    going: Bools = np.ones(len(at), dtype=bool)
    trail = [at.copy()]

    def direction(xy: Floats) -> Floats:
        slope = ground.gradient(xy)
        size = np.hypot(*slope.T)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(slope / size[:, None])

    for _ in range(6 * _STEPS_ACROSS):
        if not going.any():
            break
        here = at[going]
        k1 = direction(here)
        k2 = direction(here + step / 2.0 * k1)
        k3 = direction(here + step / 2.0 * k2)
        k4 = direction(here + step * k3)
        move = (k1 + 2.0 * k2 + 2.0 * k3 + k4) / 6.0
        plain = np.isfinite(k1).all(axis=1) & ~np.isfinite(move).all(axis=1)
        move[plain] = k1[plain]
        dead = ~np.isfinite(move).all(axis=1)
        move[dead] = 0.0
        new = here + step * move
        inside = shapely.contains_xy(bed, here[:, 0], here[:, 1])
        at[going] = new
        still = going.copy()
        # turning on the spot at a top: no way further up
        back = np.einsum("ij,ij->i", direction(new), move) < 0.0
        still[going] = inside & ~dead & ~back
        going = still
        trail.append(at.copy())
    points = np.stack(trail, axis=1)
    return [_distinct(path) for path in points]


def _distinct(path: Floats) -> Floats:
    """A path without its repeated last point."""
    moved = np.any(np.diff(path, axis=0) != 0.0, axis=1)
    last = int(np.flatnonzero(moved)[-1]) + 2 if moved.any() else 1
    return path[:last]
