"""Pieces of drawn line joined end to end into the runs they were before they were exploded."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString

from dripfield.core.arrays import Floats, Ints

_LEAST = 1e-12  # tolerance; a drawing of hardly any size has one of none
_MOST_PAIRS = 50  # near ends for each end, up to which all pairs are listed


def join_pieces(pieces: Sequence[Floats], tolerance: float) -> tuple[list[Floats], int]:
    """Join polylines where the ends of exactly two meet.

    Parameters
    ----------
    pieces : sequence of (k, 2) float arrays
        Polylines [any unit].
    tolerance : float
        Ends this near to each other meet; pieces shorter than this are dropped [same unit].

    Returns
    -------
    lines : list of (k, 2) float arrays
        In the order of their first pieces; a line that closes on itself repeats its first point.
    repeated : int
        Pieces left out because the same line was already there.
    """
    if not pieces:
        return [], 0
    tolerance = max(tolerance, _LEAST)
    shift = np.round(pieces[0][0])
    near = [np.array(piece) - shift for piece in pieces]
    ends = np.array([point for piece in near for point in (piece[0], piece[-1])])
    node = _nodes(ends, tolerance)
    place = np.array([ends[node == number].mean(axis=0) for number in range(node.max() + 1)])
    for piece, (first, last) in zip(near, node.reshape(-1, 2), strict=True):
        piece[0], piece[-1] = place[first], place[last]
    lines = [line for line in map(LineString, near) if line.length > tolerance]
    kept: list[LineString] = []
    seen = set()
    for line in lines:
        drawn = _rounded(line, tolerance)
        if drawn not in seen:
            seen.add(drawn)
            kept.append(line)
    if not kept:
        return [], 0
    parts = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(kept)))
    middles = shapely.line_interpolate_point(np.array(kept), 0.5, normalized=True)
    first_piece = [int(np.argmin(shapely.distance(part, middles))) for part in parts]
    ordered = [parts[i] for i in np.argsort(first_piece, kind="stable")]
    return [shapely.get_coordinates(part) + shift for part in ordered], len(lines) - len(kept)


def _nodes(ends: Floats, tolerance: float) -> Ints:
    """A number for each place where ends meet, (n,)."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    tree = cKDTree(ends)
    crowded = tree.count_neighbors(tree, tolerance) > _MOST_PAIRS * len(ends)
    group = np.arange(len(ends))
    if crowded:  # many ends at one place: one of each square of half the tolerance stands for all
        square = np.floor((ends - ends.min(axis=0)) / (0.5 * tolerance))
        _, one, group = np.unique(square, axis=0, return_index=True, return_inverse=True)
        group, tree = group.ravel(), cKDTree(ends[one])
    pairs = tree.query_pairs(tolerance, output_type="ndarray")
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(tree.n,) * 2)
    joined = connected_components(links, directed=False)[1]
    return np.asarray(joined[group], dtype=np.int64)


def _rounded(line: LineString, tolerance: float) -> tuple[tuple[int, int], ...]:
    """The line's vertices on a grid, from its lesser end, to find the same line drawn twice."""
    grid = [(round(x / tolerance), round(y / tolerance)) for x, y in line.coords]
    return tuple(min(grid, grid[::-1]))
