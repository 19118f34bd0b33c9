"""Tubes bent through the marks of many crews at once.

Marks are (c, n, 2): so many crews, so many marks. A bent tube is a line of close points on the
natural cubic spline over the length of the chords.
"""

from __future__ import annotations

import numpy as np

from dripfield.core.arrays import Floats


def bent_through(marks: Floats, step: float) -> Floats:
    """The tubes through marks, as close points.

    Parameters
    ----------
    marks : (c, n, 2) float array
        At least two a crew, no two neighbours at one place [site unit].
    step : float
        Distance between points, about [site unit].

    Returns
    -------
    (c, m, 2) float array
        The same number of points for every crew, marks among them.

    Notes
    -----
    The second derivatives k of a natural cubic spline with knots h apart solve
    h[i-1] k[i-1] + 2 (h[i-1] + h[i]) k[i] + h[i] k[i+1] = 6 (s[i] - s[i-1]), s the slopes of the
    chords, k zero at both ends (any text on numerical analysis; from memory).
    """
    crews, n = marks.shape[:2]
    origin = marks[0, 0]
    near = marks - origin
    leg = np.diff(near, axis=1)
    h = np.hypot(leg[..., 0], leg[..., 1])
    curvature = np.zeros_like(near)
    if n > 2:
        system = np.zeros((crews, n - 2, n - 2))
        k = np.arange(n - 2)
        system[:, k, k] = 2.0 * (h[:, :-1] + h[:, 1:])
        system[:, k[1:], k[:-1]] = h[:, 1:-1]
        system[:, k[:-1], k[1:]] = h[:, 1:-1]
        slope = leg / h[..., None]
        curvature[:, 1:-1] = np.linalg.solve(system, 6.0 * np.diff(slope, axis=1))
    pieces = np.maximum(1, np.ceil(h.mean(axis=0) / step)).astype(np.int64)
    owner = np.repeat(np.arange(n - 1), pieces)
    part = (np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)) / pieces[owner]
    owner, part = np.append(owner, n - 2), np.append(part, 1.0)
    size = h[:, owner, None]
    u = (part * h[:, owner])[..., None]
    low, high = curvature[:, owner], curvature[:, owner + 1]
    first = leg[:, owner] / size - size * (2.0 * low + high) / 6.0
    bent: Floats = near[:, owner] + u * (first + u * (0.5 * low + u * (high - low) / (6.0 * size)))
    return np.asarray(bent + origin)


def along(bent: Floats, station: Floats) -> tuple[Floats, Floats]:
    """Places at distances along tubes, and the directions of the tubes there.

    Parameters
    ----------
    bent : (c, m, 2) float array
        From :func:`bent_through`.
    station : (c, k) float array
        From each tube's first mark [site unit]; what lies beyond an end is taken at the end.

    Returns
    -------
    places, directions : (c, k, 2) float arrays
        Directions are unit vectors.
    """
    leg = np.diff(bent, axis=1)
    size = np.hypot(leg[..., 0], leg[..., 1])
    travelled = np.concatenate((np.zeros((len(bent), 1)), np.cumsum(size, axis=1)), axis=1)
    station = np.clip(station, 0.0, travelled[:, -1:])
    # one search for all crews: each crew's distances are moved clear of the others'
    clear = (travelled[:, -1].max() + 1.0) * np.arange(len(bent))[:, None]
    found = np.searchsorted((travelled + clear).ravel(), (station + clear).ravel(), side="right")
    width = travelled.shape[1]
    i = found.reshape(station.shape) - 1 - np.arange(len(bent))[:, None] * width
    i = np.clip(i, 0, width - 2)
    crew = np.arange(len(bent))[:, None]
    part = ((station - travelled[crew, i]) / size[crew, i])[..., None]
    places = bent[crew, i] + part * leg[crew, i]
    # the direction turns evenly from the middle of one leg to the middle of the next
    unit = leg / size[..., None]
    middle = 0.5 * (travelled[:, 1:] + travelled[:, :-1])
    other = np.clip(i + np.where(station >= middle[crew, i], 1, -1), 0, width - 2)
    gap = middle[crew, other] - middle[crew, i]
    share = np.where(gap != 0.0, (station - middle[crew, i]) / np.where(gap != 0.0, gap, 1.0), 0.0)
    turned = unit[crew, i] * (1.0 - share[..., None]) + unit[crew, other] * share[..., None]
    return places, turned / np.hypot(turned[..., 0], turned[..., 1])[..., None]
