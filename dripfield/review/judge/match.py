"""Which run of the plan is which lateral of the layout: the best one-to-one pairing of all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Bools, Floats
from dripfield.core.lines import line_length
from dripfield.layout.model import Lateral
from dripfield.review.judge.distances import mean_gaps
from dripfield.review.model.plan import Plan, name_key

_REACH = 0.75  # a run farther from a lateral than so many spacings, on average, is not it
_DRAWN_GATE = 1.2
_LISTED_GATE = 1.5
_UNLEVEL_GATE = 0.9
_PART_SLACK = 0.1  # of the whole length, that parts of a run may be longer or shorter in all


@dataclass(frozen=True)
class Match:
    """A pairing, by number in the plan and in the layout.

    Attributes
    ----------
    pairs : tuple of (run, lateral)
    missing, extra : tuple of int
        Runs without a lateral, laterals without a run.
    joined : dict of run to lateral
        Runs without a lateral of their own that lie along a lateral paired with another run; in a
        table, that make up the length it has beyond that run.
    split : dict of lateral to run
        Laterals without a run of their own that lie along a run paired with another lateral; in a
        table, that make up the length it has beyond that lateral.
    basis : str
        What the pairing was made by, in words.
    """

    pairs: tuple[tuple[int, int], ...]
    missing: tuple[int, ...]
    extra: tuple[int, ...]
    joined: dict[int, int]
    split: dict[int, int]
    basis: str


def assign(cost: Floats, gate: float) -> list[tuple[int, int]]:
    """The pairing of least total cost, where leaving two unpaired costs ``gate``.

    Parameters
    ----------
    cost : (n, m) float array
        Cost of each pair.
    gate : float
        A pair that costs as much or more is not made.

    Returns
    -------
    list of (row, column)
        In row order. Optimal: clipping at the gate makes a pair that is not worth its cost the same
        as none, and differs from counting each unpaired half by a constant only.
    """
    from scipy.optimize import linear_sum_assignment

    if cost.size == 0:
        return []
    rows, columns = linear_sum_assignment(np.minimum(cost, gate))
    return [(int(i), int(j)) for i, j in zip(rows, columns, strict=True) if cost[i, j] < gate]


def match_runs(plan: Plan, laterals: Sequence[Lateral], spacing: float) -> Match:
    """Pair the plan's runs with the laterals.

    Where runs are drawn, by how far apart they lie, then by elevation, length and name; else by
    elevation, length, name and order, as far as the plan gives them.

    Parameters
    ----------
    plan : Plan
        In site coordinates when drawn.
    laterals : sequence of Lateral
    spacing : float
        On-centre distance [site unit].

    Returns
    -------
    Match
    """
    if not plan.runs or not laterals:
        return Match(
            (), tuple(range(len(plan.runs))), tuple(range(len(laterals))), {}, {}, "nothing"
        )
    if plan.is_drawn:
        runs = [run.xy for run in plan.runs if run.xy is not None]
        lines = [one.xy for one in laterals]
        to_lateral, to_run = mean_gaps(runs, lines), mean_gaps(lines, runs).T
        cost, basis = _drawn_cost(plan, laterals, np.minimum(to_lateral, to_run), spacing)
        gate = _DRAWN_GATE
    else:
        cost, gate, basis = _listed_cost(plan, laterals)
    pairs = assign(cost, gate)
    paired_runs, paired_laterals = {i for i, _ in pairs}, {j for _, j in pairs}
    missing = tuple(i for i in range(len(plan.runs)) if i not in paired_runs)
    extra = tuple(j for j in range(len(laterals)) if j not in paired_laterals)
    joined: dict[int, int] = {}
    split: dict[int, int] = {}
    if not plan.is_drawn:
        joined, split = _listed_parts(plan, laterals, pairs, missing, extra)
    else:
        near = 0.5 * spacing
        joined = {
            i: int(np.argmin(to_lateral[i]))
            for i in missing
            if to_lateral[i].min() < near and int(np.argmin(to_lateral[i])) in paired_laterals
        }
        split = {
            j: int(np.argmin(to_run[:, j]))
            for j in extra
            if to_run[:, j].min() < near and int(np.argmin(to_run[:, j])) in paired_runs
        }
    return Match(tuple(pairs), missing, extra, joined, split, basis)


def _listed_parts(
    plan: Plan,
    laterals: Sequence[Lateral],
    pairs: Sequence[tuple[int, int]],
    missing: Sequence[int],
    extra: Sequence[int],
) -> tuple[dict[int, int], dict[int, int]]:
    """Runs and laterals of a table that make up what a pair lacks, at the pair's elevation.

    Returns
    -------
    joined, split
        As in :class:`Match`.
    """
    height = _height_gap(plan, laterals)
    lengths = [run.length for run in plan.runs]
    if height is None or not pairs:
        return {}, {}
    lacks = {
        (i, j): line_length(laterals[j].xy) - own
        for i, j in pairs
        if (own := lengths[i]) is not None
    }
    joined: dict[int, int] = {}
    split: dict[int, int] = {}
    for (i, j), lack in lacks.items():
        slack = _PART_SLACK * line_length(laterals[j].xy)
        for k in missing:
            part = lengths[k]
            if k in joined or part is None or height[k, j] >= 0.5:
                continue
            if slack < lack and part <= lack + slack:
                joined[k], lack = j, lack - part
        slack = _PART_SLACK * (lengths[i] or 0.0)
        for k in extra:
            part = line_length(laterals[k].xy)
            if k not in split and height[i, k] < 0.5 and slack < -lack and part <= slack - lack:
                split[k], lack = i, lack + part
    return joined, split


def _drawn_cost(
    plan: Plan, laterals: Sequence[Lateral], gap: Floats, spacing: float
) -> tuple[Floats, str]:
    cost = gap / spacing + 0.1 * _length_gap(plan, laterals)
    height = _height_gap(plan, laterals)
    if height is not None:
        cost += 0.25 * np.minimum(height, 1.0)
    cost += 0.05 * ~_same_name(plan, laterals)
    cost[gap > _REACH * spacing] = _DRAWN_GATE
    return cost, "where the runs lie, then their elevation, length and name"


def _listed_cost(plan: Plan, laterals: Sequence[Lateral]) -> tuple[Floats, float, str]:
    length = _length_gap(plan, laterals)
    same = _same_name(plan, laterals)
    names_tell = bool(same.any(axis=1).mean() >= 0.5)
    height = _height_gap(plan, laterals)
    if height is not None:
        cost = 0.5 * length
        if names_tell:
            # a wrong elevation does not take a run from the lateral of its name
            cost += np.minimum(height, np.where(same, 0.9, 3.0)) + 0.5 * ~same
            return cost, _LISTED_GATE, "elevation, length and name"
        return cost + np.minimum(height, 3.0), _LISTED_GATE, "elevation and length"
    if names_tell:
        return length * 0.8 + 0.8 * ~same, _UNLEVEL_GATE, "name and length"
    return length + 0.2 * _order_gap(*length.shape), _UNLEVEL_GATE, "order and length"


def _order_gap(n: int, m: int) -> Floats:
    """How far each pair is from any order in which the surplus of one side is left out."""
    ahead = np.arange(n)[:, None] - np.arange(m)[None, :]
    low, high = min(0, n - m), max(0, n - m)
    gap: Floats = np.maximum(np.maximum(low - ahead, ahead - high), 0).astype(np.float64)
    return gap


def _length_gap(plan: Plan, laterals: Sequence[Lateral]) -> Floats:
    """Difference of lengths as a share of the greater, (n, m); 0 where the plan gives none."""
    own = np.array([one.length for one in plan.runs], dtype=np.float64)
    drawn = np.array([np.nan if one.xy is None else line_length(one.xy) for one in plan.runs])
    own = np.where(np.isnan(own), drawn, own)[:, None]
    other = np.array([line_length(one.xy) for one in laterals])[None, :]
    gap: Floats = np.nan_to_num(np.abs(own - other) / np.fmax(own, other))
    return gap


def _height_gap(plan: Plan, laterals: Sequence[Lateral]) -> Floats | None:
    """Difference of elevations in steps between laterals, (n, m); None where few runs have one."""
    own = np.array([one.elevation for one in plan.runs], dtype=np.float64)
    if np.isnan(own).mean() > 0.5:
        return None
    other = np.array([one.elevation for one in laterals])
    steps = np.diff(np.unique(np.round(other, 3)))
    step = float(np.median(steps)) if len(steps) else 1.0
    gap: Floats = np.nan_to_num(np.abs(own[:, None] - other[None, :]) / max(step, 1e-3), nan=0.5)
    return gap


def _same_name(plan: Plan, laterals: Sequence[Lateral]) -> Bools:
    own = np.array([name_key(run.name) if run.named else "" for run in plan.runs])
    other = np.array([name_key(one.name) for one in laterals])
    same: Bools = own[:, None] == other[None, :]
    return same
