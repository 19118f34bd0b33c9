"""A surface along a line: a point wherever the line crosses a triangle's edge."""

from __future__ import annotations

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.lines import stations_along
from dripfield.ground.triangles.tin import Surface

_SAME_PLACE = 1e-7  # stations nearer than this are one [site unit]


def places_at(line: Floats, stations: Floats) -> Floats:
    """Points (k, 2) of a line at distances along it."""
    along = stations_along(line)
    return np.column_stack([np.interp(stations, along, line[:, axis]) for axis in (0, 1)])


def crossings(line: Floats, surface: Surface) -> Floats:
    """Where a line crosses the edges of a surface's triangles.

    Parameters
    ----------
    line : (k, 2) float array
        Distinct consecutive points [site unit].
    surface : Surface

    Returns
    -------
    (m,) float array
        Distances along the line in order, the line's own points among them. Between two of them
        the surface is straight along the line.
    """
    origin = np.round(line[0])
    near = line - origin
    along = stations_along(line)
    corners = surface.triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    edges = np.unique(np.sort(corners, axis=1), axis=0)
    ends = surface.vertices[edges][:, :, :2] - origin
    segments = np.stack((near[:-1], near[1:]), axis=1)
    tree = shapely.STRtree(shapely.linestrings(ends))
    segment, edge = tree.query(shapely.linestrings(segments))
    p, u = segments[segment, 0], segments[segment, 1] - segments[segment, 0]
    q, v = ends[edge, 0], ends[edge, 1] - ends[edge, 0]
    det = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    w = q - p
    apart = np.abs(det) > 1e-12 * np.hypot(*u.T) * np.hypot(*v.T)
    det = np.where(apart, det, 1.0)
    t = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / det
    s = (w[:, 0] * u[:, 1] - w[:, 1] * u[:, 0]) / det
    meets = apart & (t >= 0.0) & (t <= 1.0) & (s >= -1e-9) & (s <= 1.0 + 1e-9)
    found = along[segment] + t * (along[segment + 1] - along[segment])
    stations = np.unique(np.concatenate((along, found[meets])))
    apart_by = np.concatenate(([True], np.diff(stations) > _SAME_PLACE))
    # the line's own points stay, whichever of a close pair they are
    own = np.isin(stations, along)
    close_to_own = np.zeros(len(stations), dtype=bool)
    close_to_own[:-1] |= own[1:] & ~apart_by[1:]
    close_to_own[1:] |= own[:-1] & ~apart_by[1:]
    return stations[own | (apart_by & ~close_to_own)]


def lower_along(line: Floats, one: Surface, other: Surface, lift: float = 0.0) -> Floats:
    """The lower of two surfaces along a line.

    Parameters
    ----------
    line : (k, 2) float array
        Where both surfaces are known.
    one, other : Surface
    lift : float
        Added to the first [site unit].

    Returns
    -------
    (m, 3) float array
        With a point wherever the two meet, too.
    """
    stations = np.union1d(crossings(line, one), crossings(line, other))
    xy = places_at(line, stations)
    gap = one.elevation(xy) + lift - other.elevation(xy)
    meets = gap[:-1] * gap[1:] < 0.0
    share = gap[:-1][meets] / (gap[:-1] - gap[1:])[meets]
    stations = np.union1d(stations, stations[:-1][meets] + share * np.diff(stations)[meets])
    xy = places_at(line, stations[np.concatenate(([True], np.diff(stations) > _SAME_PLACE))])
    z = np.minimum(one.elevation(xy) + lift, other.elevation(xy))
    return np.column_stack((xy, z))


def drape(line: Floats, surface: Surface) -> Floats:
    """A line laid on a surface.

    Parameters
    ----------
    line : (k, 2) float array
    surface : Surface

    Returns
    -------
    (m, 3) float array
        The line's points and its crossings of triangle edges; elevation NaN off the surface.
    """
    xy = places_at(line, crossings(line, surface))
    return np.column_stack((xy, surface.elevation(xy)))
