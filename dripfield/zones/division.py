"""Laterals joined end to end into zones: contiguous groups, by an exact dynamic programme.

First the greatest flow of a zone is made as small as it can be, then, with no greater one, the
flows as equal as they can be. M(n, k) = min over i of max(M(i, k - 1), sum of i + 1 .. n) is the
linear partition of S. Skiena, The Algorithm Design Manual (from memory).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints

MOST_JOINED = 8
"""Joined laterals to a zone where nothing else decides; our judgement, no source."""


@dataclass(frozen=True)
class Limits:
    """What a zone may not exceed; infinite where there is no limit.

    Attributes
    ----------
    flow : float
        Dosing flow, in the unit of the flows given.
    height : float
        Highest less lowest set elevation [site unit].
    joined : float
        Number of joined laterals.
    """

    flow: float = float("inf")
    height: float = float("inf")
    joined: float = float("inf")


@dataclass(frozen=True)
class Division:
    """Groups of joined laterals, and why there are so many.

    Attributes
    ----------
    groups : tuple of tuple of int
        Numbers of joined laterals.
    reason : str
    misses : tuple of str
        Limits that no division keeps; empty when all are kept.
    """

    groups: tuple[tuple[int, ...], ...]
    reason: str
    misses: tuple[str, ...] = ()


def divide(
    flows: Floats,
    count: int,
    tops: Floats | None = None,
    bottoms: Floats | None = None,
    limits: Limits | None = None,
    cuts: Bools | None = None,
    slack: float = 0.0,
) -> tuple[tuple[int, ...], ...] | None:
    """Divide a row of joined laterals into contiguous groups.

    Parameters
    ----------
    flows : (n,) float array
    count : int
        Of groups, none of them empty.
    tops, bottoms : (n,) float arrays or None
        Highest and lowest elevation of each, for the limit of height [site unit].
    limits : Limits or None
    cuts : (n,) bool array or None
        Where a new panel begins: good places to cut.
    slack : float
        Share by which the greatest flow may grow for the sake of a cut between panels.

    Returns
    -------
    tuple of tuple of int or None
        Numbers in each group; None where the limits cannot be kept.
    """
    flows = np.asarray(flows, dtype=float)
    number = len(flows)
    if not 1 <= count <= number:
        return None
    allowed = _allowed(flows, tops, bottoms, limits or Limits())
    before = np.concatenate(([0.0], np.cumsum(flows)))
    sums = before[None, :] - before[:, None]  # [i, j]: group of i .. j - 1
    worst = np.where(allowed, sums, np.inf)
    least = _table(worst, count, np.maximum)[0][count, number]
    if not np.isfinite(least):
        return None
    mean = before[-1] / count
    price = np.where(
        allowed & (sums <= least * (1.0 + slack) + 1e-9 * max(1.0, mean)),
        (sums - mean) ** 2 / max(mean, 1e-300) ** 2,
        np.inf,
    )
    if cuts is not None and slack > 0.0:
        price[1:number] += slack**2 * ~np.asarray(cuts)[1:, None]
    _, last = _table(price, count, np.add)
    groups, end = [], number
    for k in range(count, 0, -1):
        start = int(last[k, end])
        groups.append(tuple(range(start, end)))
        end = start
    return tuple(groups[::-1])


def _allowed(flows: Floats, tops: Floats | None, bottoms: Floats | None, limits: Limits) -> Bools:
    number = len(flows)
    allowed = np.zeros((number + 1, number + 1), dtype=bool)
    for i in range(number):
        size = np.arange(1, number - i + 1)
        ok = (np.cumsum(flows[i:]) <= limits.flow * (1.0 + 1e-9)) & (size <= limits.joined)
        if tops is not None and bottoms is not None:
            height = np.maximum.accumulate(tops[i:]) - np.minimum.accumulate(bottoms[i:])
            ok &= height <= limits.height + 1e-9
        allowed[i, i + 1 :] = ok
    return allowed


def _table(price: Floats, count: int, join: np.ufunc) -> tuple[Floats, Ints]:
    number = len(price) - 1
    best = np.full((count + 1, number + 1), np.inf)
    last = np.zeros((count + 1, number + 1), dtype=np.int64)
    best[0, 0] = 0.0
    for k in range(1, count + 1):
        total = join(best[k - 1][:, None], price)
        total[np.tril_indices(number + 1)] = np.inf
        last[k] = np.argmin(total, axis=0)
        best[k] = total[last[k], np.arange(number + 1)]
    return best, last


def choose_division(
    flows: Floats,
    tops: Floats,
    bottoms: Floats,
    limits: Limits,
    panels: Sequence[str],
    count: int | None,
) -> Division:
    """The zones, as many as are asked for or as few as the limits allow.

    Parameters
    ----------
    flows, tops, bottoms : (n,) float arrays
        Of the joined laterals, from the top down within a panel.
    limits : Limits
    panels : sequence of str
        The panel of each.
    count : int or None
        None: the fewest that keep the limits.

    Returns
    -------
    Division
        With what is missed where no division keeps the limits.
    """
    number = len(flows)
    orders = _orders(tops, panels)
    wide = Limits(limits.flow, limits.height, min(limits.joined, MOST_JOINED))
    first = min(count, number) if count is not None else 1
    last = first if count is not None else number
    for k in range(first, last + 1):
        found = _best(orders, flows, tops, bottoms, panels, k, limits if count else wide)
        if found is not None:
            many = count is not None and count > number
            said = (f"{count} zones are more than the {number} joined laterals",) if many else ()
            return Division(found, _why(found, flows, tops, bottoms, limits, count), said)
    misses = _missed(flows, tops, bottoms, limits, count)
    loose = Limits()
    k = first if count is not None else number
    found = _best(orders, flows, tops, bottoms, panels, k, loose)
    assert found is not None
    return Division(found, "no division keeps every limit", misses)


def _orders(tops: Floats, panels: Sequence[str]) -> list[list[int]]:
    """Panel by panel down and up in turn, and all panels together from the top down."""
    names = sorted(set(panels))
    by_panel: list[int] = []
    for turn, name in enumerate(names):
        mine = [i for i, panel in enumerate(panels) if panel == name]
        mine.sort(key=lambda i: (-tops[i], i), reverse=turn % 2 == 1)
        by_panel += mine
    together = sorted(range(len(tops)), key=lambda i: (-tops[i], i))
    return [by_panel, together] if len(names) > 1 else [together]


def _best(
    orders: list[list[int]],
    flows: Floats,
    tops: Floats,
    bottoms: Floats,
    panels: Sequence[str],
    count: int,
    limits: Limits,
) -> tuple[tuple[int, ...], ...] | None:
    found = []
    for rank, order in enumerate(orders):
        names = [panels[i] for i in order]
        cuts = np.array([False] + [a != b for a, b in itertools.pairwise(names)])
        many = rank == 0 and len(orders) > 1
        groups = divide(
            flows[order], count, tops[order], bottoms[order], limits, cuts, 0.05 if many else 0.0
        )
        if groups is not None:
            real = tuple(tuple(order[i] for i in group) for group in groups)
            worst = max(float(flows[list(group)].sum()) for group in real)
            found.append((worst * (1.0 if rank == 0 else 1.05), rank, real))
    return min(found)[2] if found else None


def _missed(
    flows: Floats, tops: Floats, bottoms: Floats, limits: Limits, count: int | None
) -> tuple[str, ...]:
    misses = []
    if flows.max() > limits.flow:
        misses.append("one joined lateral alone doses more than most_flow")
    if (tops - bottoms).max() > limits.height:
        misses.append("one joined lateral alone falls by more than height")
    if not misses:
        many = f"{count} zones" if count else "any number of zones"
        misses.append(f"{many} of neighbouring joined laterals keep most_flow and height nowhere")
    return tuple(misses)


def _why(
    groups: tuple[tuple[int, ...], ...],
    flows: Floats,
    tops: Floats,
    bottoms: Floats,
    limits: Limits,
    count: int | None,
) -> str:
    if count is not None:
        return f"{len(groups)} as entered"
    if len(groups) == 1:
        return "one zone keeps every limit"
    fewer = [
        ("most_flow", np.isfinite(limits.flow) and flows.sum() / limits.flow > len(groups) - 1),
        (
            "height",
            np.isfinite(limits.height)
            and (tops.max() - bottoms.min()) / max(limits.height, 1e-12) > len(groups) - 1,
        ),
    ]
    names = [name for name, decides in fewer if decides]
    if names:
        return f"the fewest that keep {' and '.join(names)}"
    most = int(min(limits.joined, MOST_JOINED))
    return f"the fewest with no more than {most} joined laterals to a zone"
