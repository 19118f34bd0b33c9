"""Evenly spaced samples along many polylines at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats, Ints

_LEAST_PIECES = 4
_WINDOW = 4  # samples either side that a direction is taken over


@dataclass(frozen=True)
class Samples:
    """Samples of polylines laid end to end in one array, and the polylines' own segments.

    Coordinates are near the origin: add ``origin`` to get the site's.

    Attributes
    ----------
    origin : (2,) float array
    first : (m + 1,) int array
        Samples ``first[i]`` up to ``first[i + 1]`` belong to polyline i.
    owner : (k,) int array
        The polyline of each sample.
    xy, station : (k, 2), (k,) float arrays
        Where the sample lies, and its distance from the polyline's start.
    share : (k,) float array
        The length that the sample stands for: half the way to each of its two neighbours.
    tangent : (k, 2) float array
        Unit direction, smoothed over the corners between chords.
    lengths : (m,) float array
    segments : (s, 2, 2) float array
        Ends of every straight piece of the polylines as drawn.
    segment_owner, segment_station : (s,) arrays
        Polyline of each segment and the distance along it at which the segment begins.
    """

    origin: Floats
    first: Ints
    owner: Ints
    xy: Floats
    station: Floats
    share: Floats
    tangent: Floats
    lengths: Floats
    segments: Floats
    segment_owner: Ints
    segment_station: Floats

    @property
    def normal(self) -> Floats:
        """Unit vectors (k, 2) to the left of the direction of travel."""
        return np.column_stack((-self.tangent[:, 1], self.tangent[:, 0]))


def sample(lines: Sequence[Floats], step: float) -> Samples:
    """Sample polylines at equal distances no longer than ``step``, both ends included.

    Parameters
    ----------
    lines : sequence of (k, 2) float arrays
        Polylines of at least two points and of some length [site unit].
    step : float
        Greatest distance between samples [site unit].

    Returns
    -------
    Samples
    """
    counts = np.array([len(line) for line in lines], dtype=np.int64)
    points = np.concatenate([np.asarray(line, dtype=np.float64) for line in lines])
    origin = np.round(points.mean(axis=0))
    points = points - origin
    line_of = np.repeat(np.arange(len(lines)), counts)

    within = line_of[1:] == line_of[:-1]
    run = np.where(within, np.hypot(*np.diff(points, axis=0).T), 0.0)
    travelled = np.concatenate(([0.0], np.cumsum(run)))
    starts = np.concatenate(([0], np.cumsum(counts)[:-1]))
    ends = starts + counts - 1
    lengths = travelled[ends] - travelled[starts]

    pieces = np.maximum(np.ceil(lengths / step - 1e-6), _LEAST_PIECES).astype(np.int64)
    first = np.concatenate(([0], np.cumsum(pieces + 1)))
    owner = np.repeat(np.arange(len(lines)), pieces + 1)
    number = np.arange(first[-1]) - first[owner]
    spacing = lengths / pieces
    station = np.where(number == pieces[owner], lengths[owner], number * spacing[owner])
    share = np.where((number == 0) | (number == pieces[owner]), 0.5, 1.0) * spacing[owner]

    # one running distance over all lines: clip to the line's own vertices, then interpolate
    along = travelled[starts][owner] + station
    after = np.searchsorted(travelled, along, side="right")
    after = np.clip(after, starts[owner] + 1, ends[owner])
    part = along - travelled[after - 1]
    size = run[after - 1]
    part = np.where(size > 0.0, part / np.where(size > 0.0, size, 1.0), 0.0)[:, None]
    xy = points[after - 1] * (1.0 - part) + points[after] * part

    real = np.flatnonzero(within & (run > 0.0))
    return Samples(
        origin=origin,
        first=first,
        owner=owner,
        xy=xy,
        station=station,
        share=share,
        tangent=_tangents(xy, number, pieces[owner]),
        lengths=lengths,
        segments=np.stack((points[real], points[real + 1]), axis=1),
        segment_owner=line_of[real],
        segment_station=travelled[real] - travelled[starts][line_of[real]],
    )


def _tangents(xy: Floats, number: Ints, last: Ints) -> Floats:
    """Unit directions: central differences, a parabola through three samples at the ends."""
    k = np.arange(len(xy))
    reach = np.minimum(_WINDOW, np.minimum(number, last - number))
    direction = xy[k + reach] - xy[k - reach]
    for end, way in ((number == 0, 1), (number == last, -1)):
        i = k[end]
        direction[i] = way * (4.0 * xy[i + way] - 3.0 * xy[i] - xy[i + 2 * way])
    size = np.hypot(*direction.T)
    unit: Floats = direction / np.where(size > 0.0, size, 1.0)[:, None]
    return unit
