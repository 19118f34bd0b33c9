"""The pairing of runs and laterals: optimal, one to one, whatever the order."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from dripfield.layout.model import Lateral
from dripfield.review.judge.match import assign, match_runs
from dripfield.review.model.plan import Plan, PlanRun


def brute_force(cost: np.ndarray, gate: float) -> float:
    """Least total cost over every one-to-one pairing, ``gate`` for each two left unpaired."""
    n, m = cost.shape
    best = np.inf
    for count in range(min(n, m) + 1):
        for rows in itertools.combinations(range(n), count):
            for columns in itertools.permutations(range(m), count):
                total = sum(cost[i, j] for i, j in zip(rows, columns, strict=True))
                best = min(best, total + gate * (n + m - 2 * count) / 2.0)
    return float(best)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 4), st.integers(1, 4), st.integers(0, 10_000), st.floats(0.1, 1.2))
def test_no_pairing_costs_less(n: int, m: int, seed: int, gate: float) -> None:
    """Against every pairing there is, and where nothing is gated against SciPy's assignment."""
    cost = np.random.default_rng(seed).random((n, m))
    pairs = assign(cost, gate)
    assert len({i for i, _ in pairs}) == len({j for _, j in pairs}) == len(pairs)
    total = sum(cost[i, j] for i, j in pairs) + gate * (n + m - 2 * len(pairs)) / 2.0
    assert total == pytest.approx(brute_force(cost, gate), abs=1e-9)
    rows, columns = linear_sum_assignment(cost)
    assert sum(cost[i, j] for i, j in assign(cost, 10.0)) == pytest.approx(
        cost[rows, columns].sum()
    )


def laterals(count: int = 12) -> list[Lateral]:
    return [
        Lateral(
            f"L{i + 1:02d}",
            "A",
            np.array([(5.0, -2.0 * i), (55.0 + 1.3 * i, -2.0 * i)]),
            100.0 - 0.16 * i,
        )
        for i in range(count)
    ]


def plan_of(lines: list[Lateral], what: str, seed: int = 3) -> Plan:
    """A plan of the same laterals in another order, with only some of what is known of them."""
    order = np.random.default_rng(seed).permutation(len(lines)) if "shuffled" in what else None
    runs = [
        PlanRun(
            one.name if "name" in what else f"run {k}",
            named="name" in what,
            xy=one.xy[::-1] if "drawn" in what else None,
            length=float(one.xy[1, 0] - one.xy[0, 0]) if "length" in what else None,
            elevation=one.elevation if "elevation" in what else None,
        )
        for k, one in enumerate(lines)
    ]
    return Plan(Path("p"), tuple(runs if order is None else [runs[i] for i in order]))


@pytest.mark.parametrize(
    "what",
    [
        "drawn, shuffled",
        "elevation length shuffled",
        "name length shuffled",
        "name length elevation shuffled",
        "length",
    ],
)
def test_the_same_runs_in_any_order(what: str) -> None:
    design = laterals()
    plan = plan_of(design, what)
    match = match_runs(plan, design, 2.0)
    assert match.missing == match.extra == ()
    for i, j in match.pairs:
        run, lateral = plan.runs[i], design[j]
        if run.xy is not None:
            assert (run.xy[::-1] == lateral.xy).all()
        else:
            assert run.length == pytest.approx(lateral.xy[1, 0] - lateral.xy[0, 0])


@pytest.mark.parametrize("what", ["drawn", "elevation length", "name length", "length"])
def test_one_run_left_out_leaves_the_others_paired(what: str) -> None:
    design = laterals()
    match = match_runs(plan_of([*design[:4], *design[5:]], what), design, 2.0)
    assert match.missing == ()
    assert match.extra == (4,)
    assert [j for _, j in match.pairs] == [0, 1, 2, 3, 5, 6, 7, 8, 9, 10, 11]


def test_a_renumbered_table_follows_the_elevations() -> None:
    design = laterals()
    names = [one.name for one in design]
    plan = plan_of(design, "name length elevation")
    renamed = tuple(
        PlanRun(name, length=run.length, elevation=run.elevation)
        for name, run in zip(reversed(names), plan.runs, strict=True)
    )
    match = match_runs(Plan(Path("p"), renamed), design, 2.0)
    assert match.pairs == tuple((i, i) for i in range(len(design)))


def test_a_wrong_elevation_does_not_take_a_run_from_its_name() -> None:
    design = laterals()
    runs = list(plan_of(design, "name length elevation").runs)
    runs[3] = PlanRun("L04", length=runs[3].length, elevation=runs[3].elevation + 5.0)
    match = match_runs(Plan(Path("p"), tuple(runs)), design, 2.0)
    assert match.pairs == tuple((i, i) for i in range(len(design)))


def whole_and_divided() -> tuple[list[Lateral], list[Lateral]]:
    """Six laterals, and the same with the third cut in two unequal halves."""
    design = laterals(6)
    whole = design[2]
    halves = [
        Lateral("L03", "A", np.array([whole.xy[0], (28.0, -4.0)]), whole.elevation),
        Lateral("L04", "A", np.array([(31.0, -4.0), whole.xy[1]]), whole.elevation),
    ]
    return design, [*design[:2], *halves, *design[3:]]


def test_split_and_joined_runs() -> None:
    design, divided = whole_and_divided()
    split = match_runs(plan_of(design, "drawn"), divided, 2.0)
    assert (split.missing, split.joined) == ((), {})
    assert split.split == {2: 2}  # the shorter half lies along the run of the longer
    joined = match_runs(plan_of(divided, "drawn"), design, 2.0)
    assert (joined.extra, joined.split) == ((), {})
    assert joined.joined == {2: 2}


def test_split_and_joined_runs_of_a_table() -> None:
    """The two halves have the whole one's elevation and, but for the gap, its length."""
    design, divided = whole_and_divided()
    split = match_runs(plan_of(design, "length elevation"), divided, 2.0)
    (part,) = split.extra
    assert split.missing == ()
    assert split.split == {part: 2}
    assert part in (2, 3)
    joined = match_runs(plan_of(divided, "length elevation"), design, 2.0)
    (part,) = joined.missing
    assert joined.extra == ()
    assert joined.joined == {part: 2}
    assert part in (2, 3)
    # a run at another elevation is missing and no part of anything
    lower = Lateral("L04", "A", divided[3].xy, divided[3].elevation - 30.0)
    lowered = [*divided[:3], lower, *divided[4:]]
    other = match_runs(plan_of(lowered, "length elevation"), design, 2.0)
    assert (other.missing, other.joined) == ((3,), {})
