"""Where blank tubing may join the end of one lateral to the end of another.

Straight from end to end where nothing is in the way, else by the shortest path past the ends of
other laterals, about corners of keepouts and of the bed. No link closes in the end of another
lateral, which would then have no way out to a manifold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import STRtree

from dripfield.core.arrays import Floats, Ints
from dripfield.zones.field import Field

REACH = 15.0
"""Longest blank tubing between two ends, in spacings; round a keepout as far as its outline is."""
_NEAREST = 14
_KEPT = 10


@dataclass(frozen=True)
class Links:
    """Ways to join two ends, each from the upper lateral to the lower.

    Attributes
    ----------
    from_, to : (m,) int arrays
        Numbers of ends.
    length : (m,) float array
        Of the blank tubing [site unit].
    paths : tuple of (k, 2) float arrays
        From end to end [site unit].
    conflicts : (c, 2) int array
        Links that cross each other.
    """

    from_: Ints
    to: Ints
    length: Floats
    paths: tuple[Floats, ...]
    conflicts: Ints


def find_links(field: Field, longest: float) -> Links:
    """All ways worth having to join two ends.

    Parameters
    ----------
    field : Field
    longest : float
        Most that a joined lateral may measure [site unit]; a link that cannot be part of one is
        left out.

    Returns
    -------
    Links
    """
    ends = field.ends
    middle = _turning_points(field)
    nodes = np.concatenate((ends, middle))
    pairs = _candidate_pairs(field, nodes, len(ends))
    segments = nodes[pairs]
    numbers = np.where(pairs < len(ends), pairs, -1)
    free = field.free.buffer(1e-6 * field.spacing)
    shapely.prepare(free)
    clear = shapely.covers(free, shapely.linestrings(segments))
    clear[clear] &= ~field.crossed(segments[clear], numbers[clear], 0.1 * field.spacing)
    return _shortest(field, nodes, pairs[clear], longest)


def _turning_points(field: Field) -> Floats:
    """Points that a path may bend at: beyond ends, about keepouts, inside corners of the bed."""
    beyond = 0.5 * min(field.clearance, field.spacing)
    points = [field.ends + beyond * field.outward]
    for keepout in field.keepouts:
        points.append(_corners(keepout.buffer(0.5 * beyond, join_style="mitre"), beyond))
    inside = field.bed.buffer(-0.5 * beyond, join_style="mitre")
    points.append(_corners(inside, beyond))
    found = np.concatenate(points)
    free = field.free
    shapely.prepare(free)
    marks = shapely.points(found)
    ok = shapely.covers(free, marks)
    near = field.tree.query(marks, predicate="dwithin", distance=0.1 * field.spacing)[0]
    ok[near] = False
    return np.asarray(found[ok])


def _corners(shape: shapely.Polygon, tolerance: float) -> Floats:
    plain = shape.simplify(0.2 * tolerance)
    return shapely.get_coordinates(plain)[:400] if not plain.is_empty else np.empty((0, 2))


def _candidate_pairs(field: Field, nodes: Floats, ends: int) -> Ints:
    """Pairs of nodes worth looking along: the nearest, and ends one to three laterals on."""
    from scipy.spatial import cKDTree

    count = min(_NEAREST + 1, len(nodes))
    distance, other = cKDTree(nodes).query(
        nodes, k=count, distance_upper_bound=REACH * field.spacing
    )
    first = np.repeat(np.arange(len(nodes)), count)
    found = [np.column_stack((first, other.ravel()))[np.isfinite(distance.ravel())]]
    panels = np.array([lateral.panel for lateral in field.laterals])
    for panel in np.unique(panels):
        mine = np.nonzero(panels == panel)[0]
        for ahead in (1, 2, 3):
            for side in (0, 1):
                upper, lower = 2 * mine[:-ahead] + side, 2 * mine[ahead:] + side
                found.append(np.column_stack((upper, lower)))
    pairs = np.unique(np.sort(np.concatenate(found), axis=1), axis=0)
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]
    own = (pairs[:, 1] < ends) & (pairs[:, 0] // 2 == pairs[:, 1] // 2)
    size = np.hypot(*(nodes[pairs[:, 0]] - nodes[pairs[:, 1]]).T)
    return np.asarray(pairs[~own & (size <= REACH * field.spacing)])


def _shortest(field: Field, nodes: Floats, pairs: Ints, longest: float) -> Links:
    """Shortest ways between ends that go through no other end."""
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import dijkstra

    ends = 2 * len(field.laterals)
    total = len(nodes)
    size = np.hypot(*(nodes[pairs[:, 0]] - nodes[pairs[:, 1]]).T) + 1e-9
    both = np.concatenate((pairs, pairs[:, ::-1]))
    target = np.where(both[:, 1] < ends, both[:, 1] + total, both[:, 1])  # ends lead nowhere on
    graph = csr_matrix((np.tile(size, 2), (both[:, 0], target)), shape=(total + ends, total + ends))
    limits, around = _reach(field)
    lengths = field.lengths
    found: dict[tuple[int, int], tuple[float, Floats]] = {}
    for limit in np.unique(limits):
        mine = np.nonzero(limits == limit)[0]
        distance, before = dijkstra(graph, indices=mine, limit=limit, return_predecessors=True)
        for row, end in enumerate(mine):
            away = distance[row, total:]
            for other in np.argsort(away, kind="stable")[:_KEPT]:
                first, last = int(end), int(other)
                far = away[other] > REACH * field.spacing and around[end] != around[other]
                if not np.isfinite(away[other]) or far or first // 2 == last // 2:
                    continue
                if lengths[first // 2] + lengths[last // 2] + away[other] > longest:
                    continue
                path = [int(other)]
                step = before[row, total + other]
                while step >= 0 and step != end:
                    path.append(int(step))
                    step = before[row, step]
                path.append(first)
                xy = nodes[path[::-1]]
                key = (min(first, last), max(first, last))
                if key not in found:
                    found[key] = (float(away[other]), xy if first < last else xy[::-1])
    return _finished(field, found)


def _reach(field: Field) -> tuple[Floats, Ints]:
    """How far each end may be joined, and the keepout that it faces (-1: none)."""
    ends = field.ends
    limits = np.full(len(ends), REACH * field.spacing)
    around = np.full(len(ends), -1)
    for number, keepout in enumerate(field.keepouts):
        near = shapely.distance(shapely.points(ends), keepout) <= 2.5 * field.clearance
        around[near] = number
        limits[near] = np.maximum(limits[near], 0.6 * keepout.length + 4.0 * field.spacing)
    return limits, around


def _finished(field: Field, found: dict[tuple[int, int], tuple[float, Floats]]) -> Links:
    keys = sorted(found)
    paths = [found[key][1] for key in keys]
    wires = np.array([shapely.LineString(path) for path in paths], dtype=object)
    keep = np.ones(len(keys), dtype=bool)
    if keys:
        tails = shapely.linestrings(np.stack((field.ends, _way_out(field)), axis=1))
        which, tail = STRtree(tails).query(wires, predicate="intersects")
        joins = np.array(keys)[which]
        keep[which[(joins != tail[:, None]).all(axis=1)]] = False
    keys = [key for key, kept in zip(keys, keep, strict=True) if kept]
    wires = wires[keep]
    return Links(
        np.array([key[0] for key in keys], dtype=np.int64),
        np.array([key[1] for key in keys], dtype=np.int64),
        np.array([np.hypot(*np.diff(found[key][1], axis=0).T).sum() for key in keys]),
        tuple(found[key][1] for key in keys),
        _crossing(keys, wires),
    )


def _crossing(keys: list[tuple[int, int]], wires: Floats) -> Ints:
    if not keys:
        return np.empty((0, 2), dtype=np.int64)
    one, two = STRtree(wires).query(wires, predicate="intersects")
    ends = np.array(keys)
    shared = (ends[one][:, :, None] == ends[two][:, None, :]).any(axis=(1, 2))
    pairs = np.column_stack((one, two))[(one < two) & ~shared]
    return np.asarray(pairs[np.lexsort(pairs.T[::-1])], dtype=np.int64)


def _way_out(field: Field) -> Floats:
    """As far as each end may be led straight on, up to three spacings: to the edge or a keepout."""
    ends = field.ends
    far = ends + 3.0 * field.spacing * field.outward
    start = ends + 1e-3 * field.spacing * field.outward
    rays = shapely.linestrings(np.stack((start, far), axis=1))
    outlines = shapely.union_all([field.bed.exterior, *(one.exterior for one in field.keepouts)])
    hits = shapely.intersection(rays, shapely.union(outlines, shapely.union_all(field.lines)))
    reach = shapely.distance(shapely.points(ends), hits)
    reach = np.where(np.isfinite(reach), reach, 3.0 * field.spacing)
    return np.asarray(ends + 0.98 * reach[:, None] * field.outward)
