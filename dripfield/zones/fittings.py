"""What a manifold takes to build: pipe by size, bends by angle, tees and reducers."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.zones.model import Manifold, Pipe

BENDS = (22.5, 45.0, 90.0)
"""Angles that bends are sold in [degrees]; common practice, no source."""
_PULLED = 11.25  # a smaller turn is taken up by the pipe itself [degrees]


@dataclass(frozen=True)
class Takeoff:
    """Quantities of pipe and fittings.

    Attributes
    ----------
    pipe : dict of str to float
        Length of each size [site unit]; the key is empty for an entered bore.
    fittings : dict of (str, str) to int
        Number of each item and size, such as ("bend 45", "1 in") or ("tee", "1 in");
        a reducer's size is the two sizes with "x" between.
    """

    pipe: dict[str, float]
    fittings: dict[tuple[str, str], int]


def takeoff(manifolds: Iterable[Manifold], lines: Iterable[Pipe] = ()) -> Takeoff:
    """Count pipe and fittings of manifolds and of the lines to and from the tank.

    Parameters
    ----------
    manifolds : iterable of Manifold
    lines : iterable of Pipe

    Returns
    -------
    Takeoff
    """
    length: dict[str, float] = {}
    parts: Counter[tuple[str, str]] = Counter()
    for pipe in lines:
        _along(pipe, length, parts)
    for manifold in manifolds:
        for pipe in manifold.pipes:
            _along(pipe, length, parts)
        _junctions(manifold, parts)
    return Takeoff(dict(sorted(length.items())), dict(sorted(parts.items())))


def _along(pipe: Pipe, length: dict[str, float], parts: Counter[tuple[str, str]]) -> None:
    length[pipe.size] = length.get(pipe.size, 0.0) + pipe.length
    step = np.diff(pipe.xyz[:, :2], axis=0)
    for one, two in itertools.pairwise(step):
        _bend(one, two, pipe.size, parts)


def _bend(one: Floats, two: Floats, size: str, parts: Counter[tuple[str, str]]) -> None:
    cross = one[0] * two[1] - one[1] * two[0]
    turn = abs(np.degrees(np.arctan2(cross, float(one @ two))))
    if turn < _PULLED:
        return
    while turn > 1.0:
        angle = min(BENDS, key=lambda bend: abs(bend - min(turn, 90.0)))
        parts[(f"bend {angle:g}", size)] += 1
        turn = turn - angle if turn > 90.0 + _PULLED else 0.0


def _junctions(manifold: Manifold, parts: Counter[tuple[str, str]]) -> None:
    meet: dict[int, list[tuple[Pipe, Floats]]] = {}
    for pipe, (first, last) in zip(manifold.pipes, manifold.ends, strict=True):
        meet.setdefault(first, []).append((pipe, pipe.xyz[1, :2] - pipe.xyz[0, :2]))
        meet.setdefault(last, []).append((pipe, pipe.xyz[-2, :2] - pipe.xyz[-1, :2]))
    tapped = set(manifold.taps.values())
    for node, pipes in sorted(meet.items()):
        pipes.sort(key=lambda one: (-one[0].bore, one[0].name))
        largest = pipes[0][0].size
        if len(pipes) == 1:
            if node in tapped:
                parts[("adapter to tubing", largest)] += 1
            continue
        ways = len(pipes) + (node in tapped)
        if ways == 2:
            _bend(-pipes[0][1], pipes[1][1], largest, parts)
        else:
            parts[("tee", largest)] += ways - 2
        for pipe, _ in pipes[1:]:
            if pipe.bore < pipes[0][0].bore * (1.0 - 1e-9):
                parts[("reducer", f"{largest} x {pipe.size}")] += 1
