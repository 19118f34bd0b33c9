"""Which line of a panel is set first, and in what order the others follow it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Bools, Ints
from dripfield.staking.gauge import gauge_from
from dripfield.staking.marks import DesignLine
from dripfield.staking.tube import Tube

_CANDIDATES = 10
_LONG = 0.75  # a guide is at least this share of its panel's longest line
_MARK_EVERY = 4.0  # spacings of line that one mark not gauged stands for
_NEXT_BESIDE = 0.05  # of a line: what staying beside the line just set is worth


@dataclass(frozen=True)
class Reach:
    """What of each line could be gauged from which other, from the designed lines.

    Attributes
    ----------
    samples : tuple of int
        Places looked at along each line.
    covered : tuple of dict of int to (k,) bool array
        For each line, by the number of the line beside: where the stick reaches.
    """

    samples: tuple[int, ...]
    covered: tuple[dict[int, Bools], ...]


def reach_of(lines: Sequence[DesignLine], beside: Sequence[Ints], spacing: float) -> Reach:
    """Look how far each line could be gauged from every line near it.

    Parameters
    ----------
    lines : sequence of DesignLine
    beside : sequence of int arrays
        Numbers of the lines near each.
    spacing : float
        On-centre distance [site unit].

    Returns
    -------
    Reach
    """
    stations = [line.divided(spacing) for line in lines]
    tubes = [Tube(line.at(at)) for line, at in zip(lines, stations, strict=True)]
    covered: list[dict[int, Bools]] = []
    for line, at, near in zip(lines, stations, beside, strict=True):
        places, along = line.at(at), line.tangent(at, 0.25 * spacing)
        found = {int(i): gauge_from(tubes[i], places, along, spacing).ok for i in near}
        covered.append({i: ok for i, ok in found.items() if ok.any()})
    return Reach(tuple(len(at) for at in stations), tuple(covered))


def setting_order(
    members: Sequence[int], lengths: Sequence[float], reach: Reach, spacing: float
) -> tuple[list[int], list[int]]:
    """The order in which a panel's lines are set, and those of them that are guides.

    Parameters
    ----------
    members : sequence of int
        Numbers of the panel's lines, from the highest down.
    lengths : sequence of float
        Of all lines [site unit].
    reach : Reach
    spacing : float
        On-centre distance [site unit].

    Returns
    -------
    order, guides : lists of int
        Among long lines the guide is the one that leaves the fewest marks beyond the stick;
        each next line is the one most of which can be gauged from lines already set. A line that
        nothing reaches starts anew.
    """
    longest = max(lengths[i] for i in members)
    long = [i for i in members if lengths[i] >= _LONG * longest]
    long.sort(key=lambda i: -lengths[i])
    trials = sorted({long[k] for k in np.linspace(0, len(long) - 1, _CANDIDATES).astype(int)})
    best: tuple[float, list[int], list[int]] | None = None
    for guide in trials:
        order, guides, missed = _grown(guide, members, lengths, reach, spacing)
        if best is None or missed < best[0] - 1e-9:
            best = missed, order, guides
    assert best is not None
    return best[1], best[2]


def _grown(
    guide: int, members: Sequence[int], lengths: Sequence[float], reach: Reach, spacing: float
) -> tuple[list[int], list[int], float]:
    """Order and guides from a first guide, and about how many marks no stick reaches."""
    inside = set(members)
    covered = {i: np.zeros(reach.samples[i], dtype=np.bool_) for i in members}
    share = dict.fromkeys(members, 0.0)
    follows: dict[int, list[int]] = {i: [] for i in members}
    for i in members:
        for j in reach.covered[i]:
            if j in inside:
                follows[j].append(i)
    order: list[int] = []
    guides: list[int] = []
    missed = 0.0
    waiting = set(members)
    following = guide
    while True:
        waiting.discard(following)
        order.append(following)
        if share[following] == 0.0:
            guides.append(following)
        missed += _marks_missed(~covered[following], lengths[following], spacing)
        for j in follows[following]:
            if j in waiting:
                covered[j] |= reach.covered[j][following]
                share[j] = float(covered[j].mean())
        if not waiting:
            return order, guides, missed
        next_to = set(follows[following])
        following = max(
            waiting,
            key=lambda i: (
                share[i] + (_NEXT_BESIDE if i in next_to else 0.0),
                lengths[i] if share[i] == 0.0 else 0.0,
                -i,
            ),
        )


def _marks_missed(open_: Bools, length: float, spacing: float) -> float:
    """About how many marks the open parts of a line take: one a part, and one every so often."""
    if not open_.any():
        return 0.0
    runs = int(open_[0]) + int((np.diff(open_.astype(np.int8)) == 1).sum())
    return runs + float(open_.mean()) * length / (_MARK_EVERY * spacing)
