"""Segments that must become triangle edges: split where they meet, so that none cross.

Vertices carry elevations, so each meeting is also a check: where two segments cross, or one passes
over a vertex, the elevations must agree.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import DripfieldError
from dripfield.survey.doubt.clean import group_means, same_place

_MOST_PASSES = 20  # each pass splits every crossing found; a second one is already rare

Conflict = Callable[[int, int | None, int | None, Floats, float, float], DripfieldError]


@dataclass(frozen=True)
class Segments:
    """Vertices (n, 3), segments between them (m, 2) and the line each segment is part of (m,)."""

    vertices: Floats
    ends: Ints
    line: Ints


def split_segments(
    segments: Segments, plan_tolerance: float, elevation_tolerance: float, conflict: Conflict
) -> Segments:
    """Split segments at the vertices they pass over and at their crossings.

    Parameters
    ----------
    segments : Segments
        Distinct vertices, best given near the origin, and segments between them.
    plan_tolerance : float
        A vertex nearer than this to a segment lies on it [site unit].
    elevation_tolerance : float
        How far the elevations may differ there [site unit]; a crossing takes their mean.
    conflict : callable
        ``conflict(line, other_line, vertex, xy, z, other_z)`` makes the error to raise where they
        differ by more: either ``other_line`` or ``vertex`` is given, the other is None.

    Returns
    -------
    Segments
        The vertices given come first and unchanged; crossings follow.

    Raises
    ------
    DripfieldError
        What ``conflict`` returns.
    """
    for _ in range(_MOST_PASSES):
        segments = _distinct(
            _split_at_vertices(segments, plan_tolerance, elevation_tolerance, conflict)
        )
        crossings = _crossings(segments, elevation_tolerance, conflict)
        if not len(crossings):
            return segments
        # several lines through one point make one vertex
        group = same_place(crossings[:, :2], plan_tolerance)
        segments = Segments(
            np.vstack((segments.vertices, group_means(crossings, group))),
            segments.ends,
            segments.line,
        )
    raise DripfieldError("breaklines tangle: too many crossings within the plan tolerance")


def _distinct(segments: Segments) -> Segments:
    """Without segments of no length, each segment once."""
    ends = np.sort(segments.ends, axis=1)
    _, first = np.unique(ends, axis=0, return_index=True)
    first = np.sort(first[ends[first, 0] != ends[first, 1]])
    return Segments(segments.vertices, segments.ends[first], segments.line[first])


def _split_at_vertices(
    segments: Segments, plan_tolerance: float, elevation_tolerance: float, conflict: Conflict
) -> Segments:
    vertices, ends = segments.vertices, segments.ends
    tree = shapely.STRtree(shapely.linestrings(vertices[ends][:, :, :2]))
    point, segment = tree.query(
        shapely.points(vertices[:, :2]), predicate="dwithin", distance=plan_tolerance
    )
    a, b = vertices[ends[segment, 0]], vertices[ends[segment, 1]]
    along = b[:, :2] - a[:, :2]
    t = np.einsum("ij,ij->i", vertices[point, :2] - a[:, :2], along)
    t = t / np.maximum(np.einsum("ij,ij->i", along, along), 1e-300)
    z = a[:, 2] + (b[:, 2] - a[:, 2]) * t
    between = (ends[segment] != point[:, None]).all(axis=1) & (t > 0.0) & (t < 1.0)
    point, segment, t, z = point[between], segment[between], t[between], z[between]
    off = np.abs(z - vertices[point, 2])
    if len(off) and off.max() > elevation_tolerance:
        i = int(off.argmax())
        v = int(point[i])
        raise conflict(
            int(segments.line[segment[i]]), None, v, vertices[v, :2], z[i], vertices[v, 2]
        )
    count = len(ends)
    # every segment's ends and stops in order along it; consecutive ones are its pieces
    owner = np.concatenate((np.arange(count), segment, np.arange(count)))
    place = np.concatenate((np.zeros(count), t, np.ones(count)))
    vertex = np.concatenate((ends[:, 0], point, ends[:, 1]))
    order = np.lexsort((place, owner))
    owner, vertex = owner[order], vertex[order]
    piece = owner[:-1] == owner[1:]
    pieces = np.column_stack((vertex[:-1], vertex[1:]))[piece]
    return Segments(vertices, pieces, segments.line[owner[:-1][piece]])


def _crossings(segments: Segments, elevation_tolerance: float, conflict: Conflict) -> Floats:
    """Proper crossings (k, 3) of the segments, elevation the mean of the two."""
    vertices, ends = segments.vertices, segments.ends
    lines = shapely.linestrings(vertices[ends][:, :, :2])
    one, two = shapely.STRtree(lines).query(lines, predicate="crosses")
    one, two = one[one < two], two[one < two]
    a, c = vertices[ends[one, 0]], vertices[ends[two, 0]]
    u, v = vertices[ends[one, 1]] - a, vertices[ends[two, 1]] - c
    det = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    sure = det != 0.0
    one, two, a, c, u, v, det = (x[sure] for x in (one, two, a, c, u, v, det))
    w = c - a
    s = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / det
    t = (w[:, 0] * u[:, 1] - w[:, 1] * u[:, 0]) / det
    first, second = a + s[:, None] * u, c + t[:, None] * v
    off = np.abs(first[:, 2] - second[:, 2])
    if len(off) and off.max() > elevation_tolerance:
        i = int(off.argmax())
        raise conflict(
            int(segments.line[one[i]]),
            int(segments.line[two[i]]),
            None,
            first[i, :2],
            first[i, 2],
            second[i, 2],
        )
    return np.asarray((first + second) / 2.0)
