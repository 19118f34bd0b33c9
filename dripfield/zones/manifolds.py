"""Supply and return manifolds: trees of pipe along the corridors to the ends of joined laterals."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.zones.corridors import Corridors
from dripfield.zones.model import Manifold, Pipe
from dripfield.zones.pipes import PipeSize

Elevation = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Tree:
    """A manifold before its pipes have sizes.

    Attributes
    ----------
    nodes : (n, 3) float array
        Node 0 is where the supply arrives or the return leaves [site unit].
    parent : tuple of int
        Of each node towards node 0; -1 for node 0.
    paths : tuple of (k, 3) float arrays
        From the parent to each node; empty for node 0.
    taps : dict of str to int
    unclear : float
        Length that lies within setbacks [site unit].
    missed : tuple of str
        Joined laterals that no pipe reaches.
    """

    nodes: Floats
    parent: tuple[int, ...]
    paths: tuple[Floats, ...]
    taps: dict[str, int]
    unclear: float
    missed: tuple[str, ...]


def grow_tree(
    corridors: Corridors,
    ends: int,
    root: int,
    taps: dict[str, int],
    elevation: Elevation,
) -> Tree:
    """Join the taps to the root by little pipe: always the nearest tap to what is there already.

    The heuristic of Takahashi and Matsuyama (1980) for Steiner trees in graphs: never more than
    twice the least length.

    Parameters
    ----------
    corridors : Corridors
    ends : int
        How many of its nodes are ends of laterals.
    root : int
        Node where the supply arrives or the return leaves.
    taps : dict of str to int
        Node of each joined lateral's end.
    elevation : callable
        Elevations (k,) at places (k, 2) [site unit].

    Returns
    -------
    Tree
    """
    parent: dict[int, int] = {root: -1}
    left = dict(sorted(taps.items()))
    missed = []
    while left:
        inner = np.array([node for node in sorted(parent) if node >= ends or node == root])
        away, before = corridors.reach(ends, inner)
        names = list(left)
        targets = np.array([left[name] for name in names])
        table = away[:, targets]
        row, column = np.unravel_index(int(np.argmin(table)), table.shape)
        if not np.isfinite(table[row, column]):
            missed += names
            break
        node = int(targets[column])
        while node not in parent:
            step = int(before[row, node])
            parent[node] = step
            node = step
        del left[names[column]]
    parent = _from_root(parent, root)
    kept = {name: node for name, node in taps.items() if node in parent}
    unclear = _unclear(corridors, parent)
    return _gather(corridors.nodes, parent, root, kept, unclear, tuple(missed), elevation)


def _from_root(parent: dict[int, int], root: int) -> dict[int, int]:
    """The same tree with every node's parent towards the root."""
    near: dict[int, list[int]] = {}
    for node, up in parent.items():
        if up >= 0:
            near.setdefault(node, []).append(up)
            near.setdefault(up, []).append(node)
    turned, ahead = {root: -1}, [root]
    while ahead:
        node = ahead.pop()
        for other in sorted(near.get(node, [])):
            if other not in turned:
                turned[other] = node
                ahead.append(other)
    return turned


def _unclear(corridors: Corridors, parent: dict[int, int]) -> float:
    lookup = {
        (int(a), int(b)): float(part)
        for (a, b), part in zip(corridors.pairs, corridors.unclear, strict=True)
        if part > 0.0
    }
    return sum(
        lookup.get((min(node, up), max(node, up)), 0.0) for node, up in parent.items() if up >= 0
    )


def _gather(
    places: Floats,
    parent: dict[int, int],
    root: int,
    taps: dict[str, int],
    unclear: float,
    missed: tuple[str, ...],
    elevation: Elevation,
) -> Tree:
    """Bends become vertices of pipes; junctions and taps stay nodes."""
    below: dict[int, list[int]] = {}
    for node, up in parent.items():
        below.setdefault(up, []).append(node)
    tapped = set(taps.values())
    stays = {root} | tapped | {n for n in parent if len(below.get(n, [])) > 1}
    number = {root: 0}
    parents, paths, order = [-1], [np.empty((0, 3))], [root]
    ahead = [root]
    while ahead:
        start = ahead.pop(0)
        for first in sorted(below.get(start, [])):
            way = [start, first]
            while way[-1] not in stays:
                way.append(below[way[-1]][0])
            xy = _straightened(places[way])
            number[way[-1]] = len(order)
            order.append(way[-1])
            parents.append(number[start])
            paths.append(np.column_stack((xy, elevation(xy))))
            ahead.append(way[-1])
    xy = places[order]
    nodes = np.column_stack((xy, elevation(xy)))
    found = {name: number[node] for name, node in taps.items()}
    return Tree(nodes, tuple(parents), tuple(paths), found, unclear, missed)


def _straightened(xy: Floats) -> Floats:
    """Without vertices at which the line does not bend."""
    if len(xy) < 3:
        return xy
    keep = [0]
    for i in range(1, len(xy) - 1):
        one, two = xy[i] - xy[keep[-1]], xy[i + 1] - xy[i]
        across = abs(one[0] * two[1] - one[1] * two[0])
        if across > 0.02 * np.hypot(*one) * np.hypot(*two):
            keep.append(i)
    return xy[[*keep, len(xy) - 1]]


def flows_in(tree: Tree, taken: dict[str, float]) -> Floats:
    """Flow in the pipe to each node, from what the joined laterals take or give.

    Parameters
    ----------
    tree : Tree
    taken : dict of str to float
        By joined lateral [site unit cubed per second].

    Returns
    -------
    (n,) float array
        Of the pipe from the parent to each node; the whole flow for node 0.
    """
    flow = np.zeros(len(tree.nodes))
    for name, node in tree.taps.items():
        flow[node] += taken[name]
    for node in range(len(flow) - 1, 0, -1):
        flow[tree.parent[node]] += flow[node]
    return flow


def with_sizes(tree: Tree, zone: str, side: str, sizes: Sequence[PipeSize]) -> Manifold:
    """The manifold of a tree whose pipes have sizes.

    Parameters
    ----------
    tree : Tree
    zone : str
    side : {"supply", "return"}
    sizes : sequence of PipeSize
        Of the pipe to each node; the first is not used.

    Returns
    -------
    Manifold
        Pipes run away from the supply, or towards the return's outlet.
    """
    pipes, ends = [], []
    for node in range(1, len(tree.nodes)):
        up, path = tree.parent[node], tree.paths[node]
        back = side == "return"
        name = f"{zone}-{'R' if back else 'S'}{node:02}"
        pipes.append(Pipe(name, path[::-1] if back else path, sizes[node].bore, sizes[node].size))
        ends.append((node, up) if back else (up, node))
    return Manifold(zone, side, tree.nodes, tuple(pipes), tuple(ends), dict(tree.taps))
