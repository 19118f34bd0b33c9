"""Ways for manifold pipe: past the ends of laterals, along seams and about the bed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.zones.field import Field

_NEAREST = 12
_UNCLEAR = 20.0  # a length within a setback counts for so many
_OVER_TUBING = 4.0  # crossing blank tubing costs so many spacings


@dataclass(frozen=True)
class Corridors:
    """A graph that manifold pipe may follow without crossing a lateral or a keepout.

    Attributes
    ----------
    nodes : (k, 2) float array
        First the 2 n ends of the laterals, which lead nowhere on, then where pipe may bend
        [site unit].
    pairs : (m, 2) int array
    weight, length, unclear : (m,) float arrays
        What an edge counts for, its length, and how much of it lies within setbacks [site unit].
    """

    nodes: Floats
    pairs: Ints
    weight: Floats
    length: Floats
    unclear: Floats

    def reach(self, ends: int, start: Ints) -> tuple[Floats, Ints]:
        """Weighted distance from some nodes to every node, not through ends of laterals.

        Parameters
        ----------
        ends : int
            How many of the nodes are ends.
        start : (s,) int array

        Returns
        -------
        (s, k) float array, (s, k) int array
            Distance, infinite where there is no way, and the node before on the way.
        """
        from scipy.sparse import csr_matrix
        from scipy.sparse.csgraph import dijkstra

        total = len(self.nodes)
        both = np.concatenate((self.pairs, self.pairs[:, ::-1]))
        target = np.where(both[:, 1] < ends, both[:, 1] + total, both[:, 1])
        graph = csr_matrix(
            (np.tile(self.weight, 2), (both[:, 0], target)), shape=(total + ends, total + ends)
        )
        distance, before = dijkstra(graph, indices=start, return_predecessors=True)
        away, back = distance[:, :total].copy(), before[:, :total].copy()
        away[:, :ends], back[:, :ends] = distance[:, total:], before[:, total:]
        away[np.arange(len(start)), start] = 0.0
        return away, back


def find_corridors(
    field: Field, offset: float, extra: Floats | None = None, tubing: tuple[Floats, ...] = ()
) -> Corridors:
    """The graph for pipe that passes the ends of laterals at a distance.

    Parameters
    ----------
    field : Field
    offset : float
        From an end of a lateral to the pipe that passes it [site unit].
    extra : (e, 2) float array or None
        Places that lines from outside lead to; the last nodes of the graph.
    tubing : tuple of (k, 2) float arrays
        Blank tubing that is better not crossed.

    Returns
    -------
    Corridors
    """
    extra = np.empty((0, 2)) if extra is None else np.asarray(extra, dtype=float).reshape(-1, 2)
    ends = field.ends
    nodes = np.concatenate((ends, _bends(field, offset), extra))
    pairs = _pairs(nodes, len(ends), len(extra), field.spacing)
    segments = nodes[pairs]
    numbers = np.where(pairs < len(ends), pairs, -1)
    wires = shapely.linestrings(segments)
    clear = ~field.crossed(segments, numbers, 0.0)
    for keepout in field.keepouts:
        inner = keepout.buffer(-1e-6 * field.spacing)
        clear[clear] &= ~shapely.intersects(wires[clear], inner)
    pairs, wires = pairs[clear], wires[clear]
    length = shapely.length(wires) + 1e-9
    unclear = np.zeros(len(pairs))
    if not field.kept_clear.is_empty:
        unclear = shapely.length(shapely.intersection(wires, field.kept_clear))
    weight = length + (_UNCLEAR - 1.0) * unclear
    if tubing:
        inner = shapely.line_interpolate_point(wires, 0.02, normalized=True)
        outer = shapely.line_interpolate_point(wires, 0.98, normalized=True)
        ends_off = np.stack((shapely.get_coordinates(inner), shapely.get_coordinates(outer)), 1)
        tree = shapely.STRtree([shapely.LineString(path) for path in tubing])
        hit = tree.query(shapely.linestrings(ends_off), predicate="intersects")[0]
        np.add.at(weight, hit, _OVER_TUBING * field.spacing)
    return Corridors(nodes, pairs, weight, length, unclear)


def _bends(field: Field, offset: float) -> Floats:
    """Beyond the ends, about the bed and its keepouts."""
    marks = [field.ends + offset * field.outward, field.ends + 0.4 * offset * field.outward]
    ring = field.bed.buffer(max(offset - field.clearance, 0.0) + 0.25 * field.spacing)
    around = ring.exterior.segmentize(2.0 * field.spacing)
    marks.append(shapely.get_coordinates(around)[:-1])
    for keepout in field.keepouts:
        outline = keepout.buffer(0.25 * field.clearance + 1e-3 * field.spacing)
        marks.append(shapely.get_coordinates(outline.simplify(0.05 * field.spacing)))
    found = np.concatenate(marks)
    where = shapely.points(found)
    ok = np.ones(len(found), dtype=bool)
    for keepout in field.keepouts:
        ok &= ~shapely.intersects(where, keepout)
    ok[field.tree.query(where, predicate="dwithin", distance=0.1 * field.spacing)[0]] = False
    return found[ok]


def _pairs(nodes: Floats, ends: int, extra: int, spacing: float) -> Ints:
    from scipy.spatial import cKDTree

    count = min(_NEAREST + 1, len(nodes) - ends)
    tree = cKDTree(nodes[ends:])
    limit = 12.0 * spacing
    away, other = tree.query(nodes, k=count, distance_upper_bound=limit)
    first = np.repeat(np.arange(len(nodes)), count)
    good = np.isfinite(away.ravel())
    found = [np.column_stack((first, other.ravel() + ends))[good]]
    inner = np.arange(ends, len(nodes) - extra)
    for place in range(len(nodes) - extra, len(nodes)):  # from outside the way may be long
        near = np.argsort(np.hypot(*(nodes[inner] - nodes[place]).T), kind="stable")[:60]
        found.append(np.column_stack((np.full(len(near), place), inner[near])))
    pairs = np.unique(np.sort(np.concatenate(found), axis=1), axis=0)
    return np.asarray(pairs[pairs[:, 0] != pairs[:, 1]], dtype=np.int64)


def main_side(field: Field, distance: Floats, side: int) -> Bools:
    """Which ends are those of the corridor along one side of each panel.

    Of the ends on that side, the largest group that pipe passes one after the other: ends at a
    keepout, or across a notch of the bed, are not among them.

    Parameters
    ----------
    field : Field
    distance : (2 n, 2 n) float array
        By pipe between ends [site unit].
    side : int
        0 for left, 1 for right, looking down the slope.

    Returns
    -------
    (2 n,) bool array
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components

    chosen = np.zeros(len(distance), dtype=bool)
    panels = np.array([lateral.panel for lateral in field.laterals])
    for panel in np.unique(panels):
        mine = 2 * np.nonzero(panels == panel)[0] + side
        near = distance[np.ix_(mine, mine)] <= 9.0 * field.spacing
        count, group = connected_components(csr_matrix(near), directed=False)
        sizes = np.bincount(group, minlength=count)
        chosen[mine[group == int(np.argmax(sizes))]] = True
    return chosen
