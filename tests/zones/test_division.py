"""Joined laterals into zones."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from dripfield.zones.division import Limits, choose_division, divide


def sums(groups, flows):
    return [float(sum(flows[i] for i in group)) for group in groups]


def brute(flows, count, allowed=lambda group: True):
    """Least greatest sum over every way to cut."""
    best = np.inf
    for cut in combinations(range(1, len(flows)), count - 1):
        bounds = [0, *cut, len(flows)]
        groups = [range(a, b) for a, b in pairwise(bounds)]
        if all(allowed(group) for group in groups):
            best = min(best, max(sums(groups, flows)))
    return best


def test_one_to_nine_in_three() -> None:
    """S. Skiena, The Algorithm Design Manual, linear partition (from memory)."""
    groups = divide(np.arange(1.0, 10.0), 3)
    assert groups == ((0, 1, 2, 3, 4), (5, 6), (7, 8))
    assert max(sums(groups, np.arange(1.0, 10.0))) == 17.0


def test_nine_ones_in_three() -> None:
    """The same book."""
    assert sums(divide(np.ones(9), 3), np.ones(9)) == [3.0, 3.0, 3.0]


@pytest.mark.parametrize("seed", range(20))
def test_no_way_to_cut_is_better(seed) -> None:
    rng = np.random.default_rng(seed)
    flows = rng.uniform(0.2, 3.0, 9)
    tops = 100.0 - np.cumsum(rng.uniform(0.1, 1.0, 9))
    limits = Limits(height=3.0, joined=5)
    for count in range(1, 6):
        groups = divide(flows, count, tops, tops - 0.2, limits)

        def allowed(group):
            low = min(tops[i] - 0.2 for i in group)
            return len(group) <= 5 and max(tops[i] for i in group) - low <= 3.0

        best = brute(flows, count, allowed)
        if groups is None:
            assert best == np.inf
        else:
            assert max(sums(groups, flows)) == pytest.approx(best)
            assert [i for group in groups for i in group] == list(range(9))
            assert all(allowed(group) for group in groups)


def test_panels_are_places_to_cut() -> None:
    """Hand-derived: 5 + 5 at the seam though 4 + 6 is no worse than a twentieth away."""
    flows = np.array([1.0] * 5 + [1.02] * 5)
    tops = np.array([10.0, 9, 8, 7, 6, 10, 9, 8, 7, 6])
    found = choose_division(flows, tops, tops - 0.1, Limits(), ["A"] * 5 + ["B"] * 5, 2)
    assert sorted(map(sorted, found.groups)) == [[0, 1, 2, 3, 4], [5, 6, 7, 8, 9]]


@pytest.mark.parametrize(
    ("limits", "count", "zones", "reason"),
    [
        (Limits(), None, 2, "the fewest with no more than 8 joined laterals to a zone"),
        (Limits(flow=4.0), None, 3, "the fewest that keep most_flow"),
        (Limits(height=2.05), None, 4, "the fewest that keep height"),
        (Limits(), 4, 4, "4 as entered"),
    ],
)
def test_as_many_as_the_limits_ask_for(limits, count, zones, reason) -> None:
    """Hand-derived: twelve of flow 1, a unit of height apart."""
    tops = 100.0 - np.arange(12.0)
    found = choose_division(np.ones(12), tops, tops, limits, ["A"] * 12, count)
    assert (len(found.groups), found.misses) == (zones, ())
    assert found.reason == reason


def test_what_cannot_be_kept_is_said() -> None:
    tops = np.array([5.0, 4.0, 3.0])
    found = choose_division(np.array([1.0, 9.0, 1.0]), tops, tops, Limits(flow=5.0), ["A"] * 3, 2)
    assert found.misses == ("one joined lateral alone doses more than most_flow",)
    found = choose_division(np.ones(3), tops, tops, Limits(flow=1.5), ["A"] * 3, 2)
    assert found.misses == (
        "2 zones of neighbouring joined laterals keep most_flow and height nowhere",
    )
    found = choose_division(np.ones(3), tops, tops, Limits(), ["A"] * 3, 7)
    assert len(found.groups) == 3
    assert found.misses == ("7 zones are more than the 3 joined laterals",)
