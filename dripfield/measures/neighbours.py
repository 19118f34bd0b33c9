"""On-centre distances between neighbouring polylines, and places where two come too near.

Two looks, because neither is enough alone. A normal cast from each sample to either side finds the
neighbour that a tape held square to the lateral would find. A search for the nearest point of any
other line, in any direction, finds the ends that meet at a slant across a seam, which no normal
need hit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import shapely

from dripfield.core.arrays import Floats, Ints
from dripfield.measures.sampling import Samples

REACH = 1.75
"""Normals are this many spacings long: a lateral farther off is no neighbour."""

SLACK = 1e-6
"""Length below which two figures are the same [site unit]: far under what can be staked."""

Heights = Callable[[Floats], Floats]
"""Ground elevations (k,) at plan points (k, 2) near the samples' origin."""


_BLOCK = 16384
"""Samples looked at together: their pairs stay in the processor's near memory."""

Pairs = tuple[Ints, Ints]
"""Numbers of samples (k,) and of the segments (k,) that may be near them."""


def pairs_near(samples: Samples, spacing: float, limit: float) -> tuple[Pairs, ...]:
    """Every sample with the segments that its normals may meet or that may be too near.

    Parameters
    ----------
    samples : Samples
    spacing : float
        Required on-centre distance [site unit].
    limit : float
        Least allowed distance [site unit].

    Returns
    -------
    tuple of Pairs
        For one block of samples after another. By boxes that meet, so with some that are neither.
    """
    tilt = _mean_direction(samples)
    reach = np.maximum(np.abs(samples.normal @ tilt) * (REACH * spacing + SLACK), limit) + SLACK
    place = samples.xy @ tilt
    around = shapely.linestrings(np.stack((place - reach, place + reach), axis=1))
    tree = shapely.STRtree(shapely.linestrings(samples.segments @ tilt))
    blocks = []
    for first in range(0, len(around), _BLOCK):
        sample, segment = tree.query(around[first : first + _BLOCK])
        blocks.append((sample + first, segment))
    return tuple(blocks)


def side_gaps(
    samples: Samples,
    pairs: Sequence[Pairs],
    panel: Ints,
    spacing: float,
    aside: float,
    heights: Heights | None,
) -> tuple[Floats, Floats]:
    """Distance to the neighbour on the left and on the right of each sample, square to the line.

    Parameters
    ----------
    samples : Samples
    pairs : sequence of Pairs
        From :func:`pairs_near`.
    panel : (m,) int array
        Panel of each polyline; normals look for neighbours of the same panel. A far part of the
        sample's own line counts as a neighbour, the line close by does not.
    spacing : float
        Required on-centre distance [site unit].
    aside : float
        A line crossed nearer than this is no neighbour but the same line carried on, or a trespass
        that :func:`too_near` finds [site unit].
    heights : callable or None
        Ground elevations for distances along the slope; None for distances in plan.

    Returns
    -------
    left, right : (k,) float arrays
        NaN where no neighbour is nearer than ``REACH`` spacings.
    """
    reach = REACH * spacing
    left, right = np.full((2, len(samples.xy)), np.inf)
    for i, sideways in _crossings(samples, pairs, panel, reach):
        for way, gap in ((1.0, left), (-1.0, right)):
            distance = way * sideways
            near = (distance > aside + SLACK) & (distance <= reach + SLACK)
            np.minimum.at(gap, i[near], distance[near])
    for way, gap in ((1.0, left), (-1.0, right)):
        gap[np.isinf(gap)] = np.nan
        if heights is not None:
            _along_slope(samples, gap, way, heights)
            gap[gap > reach + SLACK] = np.nan
    return left, right


def _crossings(
    samples: Samples, pairs: Sequence[Pairs], panel: Ints, apart: float
) -> Iterator[tuple[Ints, Floats]]:
    """Samples and how far to their left (k,) their normals meet a segment, block by block."""
    panel_here, panel_there = panel[samples.owner], panel[samples.segment_owner]
    begin, chords = samples.segments[:, 0].T, _chords(samples)
    sizes = np.hypot(*chords)
    for i, s in pairs:
        keep = panel_here[i] == panel_there[s]
        i, s = _apart(samples, (i[keep], s[keep]), sizes, apart)
        (x, y), (along_x, along_y) = samples.xy.T[:, i], samples.tangent.T[:, i]
        size = sizes[s]
        (start_x, start_y), (chord_x, chord_y) = begin[:, s], chords[:, s]
        start_x -= x
        start_y -= y
        change = chord_x * along_x + chord_y * along_y
        steep = np.abs(change) > 1e-9 * size  # never crossed by a normal that runs along it
        u = -(start_x * along_x + start_y * along_y) / np.where(steep, change, 1.0)
        slack = SLACK / size
        hit = np.flatnonzero(steep & (u >= -slack) & (u <= 1.0 + slack))
        u = u[hit]
        to_x, to_y = start_x[hit] + u * chord_x[hit], start_y[hit] + u * chord_y[hit]
        yield i[hit], to_y * along_x[hit] - to_x * along_y[hit]


def too_near(
    samples: Samples, pairs: Sequence[Pairs], limit: float, aside: float, heights: Heights | None
) -> Floats:
    """Distance to the nearest other line, of any panel and in any direction, where under a limit.

    A line that carries on where another ends is no trespass: its nearest point is its end, and the
    step from one to the other is in line with both, no more than ``aside`` to the side.

    Parameters
    ----------
    samples : Samples
    pairs : sequence of Pairs
        From :func:`pairs_near`.
    limit : float
        Least allowed distance [site unit].
    aside : float
        How far out of line two ends may be and still be one line carried on [site unit].
    heights : callable or None
        As for :func:`side_gaps`; the nearest point is sought in plan either way.

    Returns
    -------
    (k,) float array
        NaN where nothing is nearer than ``limit``.
    """
    near = np.full(len(samples.xy), np.nan)
    begin, chords = samples.segments[:, 0].T, _chords(samples)
    size = np.hypot(*chords)
    for block in pairs:
        i, s = _apart(samples, block, size, REACH * limit)
        (x, y), (start_x, start_y), (chord_x, chord_y) = (
            samples.xy.T[:, i],
            begin[:, s],
            chords[:, s],
        )
        start_x -= x
        start_y -= y
        u = -(start_x * chord_x + start_y * chord_y) / (size * size)[s]
        np.clip(u, 0.0, 1.0, out=u)
        step_x, step_y = start_x + u * chord_x, start_y + u * chord_y
        distance = np.hypot(step_x, step_y)
        if heights is not None and len(i):
            step = np.column_stack((step_x, step_y))
            rise = heights(samples.xy[i] + step) - heights(samples.xy[i])
            distance = np.hypot(distance, np.nan_to_num(rise))

        close = np.flatnonzero(distance < limit - SLACK)
        line = samples.segment_owner[s]
        close = close[np.lexsort((distance[close], line[close], i[close]))]
        is_first = np.ones(len(close), dtype=np.bool_)
        is_first[1:] = (np.diff(i[close]) != 0) | (np.diff(line[close]) != 0)
        close = close[is_first]  # the nearest point of each line that is near a sample

        i, s, u, distance = i[close], s[close], u[close], distance[close]
        station = samples.segment_station[s] + u * size[s]
        at_end = (station < SLACK) | (station > samples.lengths[samples.segment_owner[s]] - SLACK)
        step = np.column_stack((step_x[close], step_y[close]))
        off_own = np.abs(_cross(samples.tangent[i], step))
        off_other = np.abs(_cross((chords / size).T[s], step))
        carried_on = at_end & (off_own <= aside + SLACK) & (off_other <= aside + SLACK)

        np.fmin.at(near, i[~carried_on], distance[~carried_on])
    return near


def _apart(samples: Samples, pairs: Pairs, sizes: Floats, least: float) -> Pairs:
    """The pairs of two lines, or of one line at places over ``least`` apart on it.

    ``sizes`` (s,) are the lengths of all segments.
    """
    i, s = pairs
    own = np.flatnonzero(samples.owner[i] == samples.segment_owner[s])
    size = sizes[s[own]]
    begin = samples.segment_station[s[own]] - samples.station[i[own]]
    keep = np.ones(len(i), dtype=np.bool_)
    keep[own] = np.maximum(begin, -begin - size) > least
    return i[keep], s[keep]


def _chords(samples: Samples) -> Floats:
    """From the beginning of each segment to its end (2, s)."""
    return np.asarray((samples.segments[:, 1] - samples.segments[:, 0]).T)


def _mean_direction(samples: Samples) -> Floats:
    """Rotation (2, 2) that lays the lines along the first axis, so that boxes stay slim."""
    doubled = 2.0 * np.arctan2(samples.tangent[:, 1], samples.tangent[:, 0])
    angle = 0.5 * np.arctan2(np.sin(doubled).sum(), np.cos(doubled).sum())
    c, s = np.cos(angle), np.sin(angle)
    return np.array(((c, -s), (s, c)))


def _along_slope(samples: Samples, gap: Floats, way: float, heights: Heights) -> None:
    """Turn plan gaps, in place, into straight distances between the ground at both ends."""
    found = np.flatnonzero(np.isfinite(gap))
    other = samples.xy[found] + way * gap[found, None] * samples.normal[found]
    rise = heights(other) - heights(samples.xy[found])
    gap[found] = np.hypot(gap[found], np.nan_to_num(rise))


def _cross(a: Floats, b: Floats) -> Floats:
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
