"""Nominal sizes of manifold pipe: by velocity, then by head, in steps, never larger downstream."""

from __future__ import annotations

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.zones.friction import gradient
from dripfield.zones.manifolds import Tree
from dripfield.zones.pipes import PipeSize, steps
from dripfield.zones.settings import ZoneSettings

HEAD_SHARE = 0.10
"""Head that a manifold may lose while flushing, as a share of what the longest joined lateral
loses. Common practice, no source."""
GRADE = 0.02
"""Head for each length that a long way to the zone may lose in any case: our judgement, no source.
"""


def size_pipes(
    tree: Tree, flows: Floats, head: float, settings: ZoneSettings
) -> tuple[PipeSize, ...]:
    """Choose the size of the pipe to each node.

    Parameters
    ----------
    tree : Tree
    flows : (n,) float array
        The greater of dosing and flushing flow in the pipe to each node
        [site unit cubed per second].
    head : float
        Most that may be lost from node 0 to any tap [site unit].
    settings : ZoneSettings

    Returns
    -------
    tuple of PipeSize
        One for each node; that of node 0 is the largest.
    """
    count = len(tree.nodes)
    if settings.manifold is not None:
        return (settings.manifold,) * count
    table = steps(settings.unit)
    bores = np.array([size.bore for size in table])
    need = np.sqrt(np.maximum(flows, 0.0) / (0.25 * np.pi * settings.velocity_most))
    pick = np.minimum(np.searchsorted(bores, need * (1.0 - 1e-9)), len(table) - 1)
    length = np.array([_length(path) for path in tree.paths])
    lost = (
        np.array([[float(gradient(np.array(q), b, settings)) for b in bores] for q in flows])
        * length[:, None]
    )
    while True:
        _never_larger_on(tree, pick)
        total = np.zeros(count)
        for node in range(1, count):
            total[node] = total[tree.parent[node]] + lost[node, pick[node]]
        worst = int(np.argmax(total))
        if total[worst] <= max(head, GRADE * _way(tree, length, worst)):
            break
        way, gain = [], []
        node = worst
        while node > 0:
            if pick[node] + 1 < len(table):
                way.append(node)
                saved = lost[node, pick[node]] - lost[node, pick[node] + 1]
                gain.append(saved / max(length[node], 1e-9))
            node = tree.parent[node]
        if not way or max(gain) <= 0.0:
            break
        pick[way[int(np.argmax(gain))]] += 1
    pick[0] = pick.max()
    return tuple(table[i] for i in pick)


def _way(tree: Tree, length: Floats, node: int) -> float:
    total = 0.0
    while node > 0:
        total += float(length[node])
        node = tree.parent[node]
    return total


def _length(path: Floats) -> float:
    return float(np.hypot(*np.diff(path[:, :2], axis=0).T).sum()) if len(path) else 0.0


def _never_larger_on(tree: Tree, pick: Floats) -> None:
    """Enlarge pipes that feed larger ones."""
    for node in range(len(pick) - 1, 0, -1):
        up = tree.parent[node]
        if up > 0 and pick[up] < pick[node]:
            pick[up] = pick[node]
