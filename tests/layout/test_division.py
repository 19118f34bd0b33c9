"""The search for the seams, over made-up parts whose shares of good cells are known."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laying_out import rectangle
from shapely import LineString

from dripfield.layout.balanced.division import Divider, Division, best_divisions, served
from dripfield.layout.balanced.seams import LEFT, RIGHT, WHOLE, Part, Seam, Seams

BED = rectangle(100.0, 60.0)
SEAMS = Seams(BED)

Share = Callable[[Part], float]


class MadeUp:
    """Parts of a bed with a share for each, by the rough solution and by the fine one; notes which
    are asked for finely."""

    def __init__(self, share: Share, rough: Share | None = None) -> None:
        self.seams, self._share, self._rough = SEAMS, share, rough or share
        self.asked: list[Part] = []

    def rough_shares(self, parts: list[Part], _step: float) -> np.ndarray:
        return np.array([self._rough(part) for part in parts])

    def shares(self, parts: list[Part]) -> np.ndarray:
        self.asked += parts
        return np.array([self._share(part) for part in parts])


def random_share(seed: int, low: float = 0.6, high: float = 1.0) -> Share:
    """A share for each part that looks random and is the same each time."""
    return lambda part: float(np.random.default_rng([seed, hash(part) % 2**32]).uniform(low, high))


def good(_part: Part) -> float:
    return 1.0


def seam_cost(gap: float) -> float:
    """What a straight seam costs here, by a division that loses nothing else."""
    return 1.0 - Divider(MadeUp(good), gap, 0.0).divisions(2, 2, 4.0)[1].served


def total(cuts: tuple[Seam, ...], share: Share, gap: float) -> float:
    """Share of the bed that straight cuts are expected to serve."""
    parts = [Part(*pair) for pair in pairwise(cuts)]
    areas = [SEAMS.area_of(part) / BED.area for part in parts]
    kept = np.dot(areas, served(np.array([share(part) for part in parts])))
    return float(kept) - seam_cost(gap) * (len(parts) - 1)


def every_division(strips: int, count: int) -> list[tuple[Seam, ...]]:
    cuts = SEAMS.even(strips)
    return [
        (LEFT, *(cuts[k] for k in inner), RIGHT)
        for inner in combinations(range(1, strips), count - 1)
    ]


def test_served_rises_with_the_share_of_good_cells():
    """All where all are good, and never more for fewer good cells; hand-derived."""
    share = np.linspace(0.0, 1.0, 101)
    found = served(share)
    assert found[-1] == 1.0
    assert (found >= 0.0).all()
    assert (np.diff(found) >= 0.0).all()


# the best way to part a row of strips


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.integers(0, 100_000), st.integers(1, 8), st.integers(1, 10))
def test_best_divisions_are_the_best_there_are(seed, strips, most):
    """Against trying every division, for made-up values, some of them ruled out."""
    rng = np.random.default_rng(seed)
    value = np.triu(rng.uniform(-1.0, 1.0, (strips + 1, strips + 1)), 1)
    value[rng.uniform(size=value.shape) < 0.1] = -9.0
    value[np.tril_indices(strips + 1)] = -np.inf
    found = best_divisions(value, most)
    assert len(found) == min(most, strips)
    for count, (worth, ends) in enumerate(found, start=1):
        assert (len(ends), ends[0], ends[-1]) == (count + 1, 0, strips)
        assert sorted(set(ends)) == ends
        assert worth == pytest.approx(sum(value[i, j] for i, j in pairwise(ends)))
        tried = [
            sum(value[i, j] for i, j in pairwise((0, *inner, strips)))
            for inner in combinations(range(1, strips), count - 1)
        ]
        assert worth == pytest.approx(max(tried))


# divisions of a bed


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 100_000), st.integers(2, 7), st.floats(0.0, 2.0))
def test_divisions_are_the_best_there_are(seed, strips, gap):
    """Against trying every division, where the rough solution tells no more than the fine one."""
    share = random_share(seed)
    found = Divider(MadeUp(share), gap, 0.015).divisions(5, strips, 4.0)
    assert len(found) == min(5, strips)
    for count, division in enumerate(found, start=1):
        assert len(division.parts) == count
        assert division.served == pytest.approx(total(division.cuts, share, gap))
        tried = [total(cuts, share, gap) for cuts in every_division(strips, count)]
        assert division.served == pytest.approx(max(tried))


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 100_000), st.integers(2, 6), st.floats(0.0, 0.1))
def test_a_hopeful_rough_solution_does_not_mislead(seed, strips, gain):
    """Parts seem better than they are: what is worth most is worth that by the fine solution."""
    share, hope = random_share(seed, 0.6, 0.9), random_share(seed + 1, 0.0, 0.1)
    panels = MadeUp(share, lambda part: share(part) + hope(part))
    found = Divider(panels, 1.0, gain).divisions(4, strips, 4.0)

    def worth(cuts: tuple[Seam, ...], kept: float) -> float:
        return kept - gain * (len(cuts) - 2)

    best = max(found, key=lambda one: worth(one.cuts, one.served))
    tried = [
        worth(cuts, total(cuts, share, 1.0))
        for count in range(1, min(4, strips) + 1)
        for cuts in every_division(strips, count)
    ]
    assert worth(best.cuts, best.served) == pytest.approx(max(tried))
    assert best.served == pytest.approx(total(best.cuts, share, 1.0))
    assert set(best.parts) <= set(panels.asked)


def test_only_parts_of_likely_divisions_are_solved_finely():
    """Of 78 parts of twelve strips, those of the best division into each number at most."""
    panels = MadeUp(random_share(7))
    found = Divider(panels, 1.0, 0.015).divisions(5, 12, 4.0)
    parts = {part for division in found for part in division.parts}
    assert set(panels.asked) <= parts
    assert len(panels.asked) == len(set(panels.asked))
    best = max(found, key=lambda one: one.served - 0.015 * len(one.parts))
    assert set(best.parts) <= set(panels.asked)


def test_a_panel_that_gains_far_too_little_is_not_looked_at_finely():
    """All is good in one panel; a second must gain half the bed."""
    panels = MadeUp(good)
    Divider(panels, 1.0, 0.5).divisions(3, 6, 4.0)
    assert panels.asked == [WHOLE]


def test_a_division_by_leaning_seams_is_the_best_there_is():
    """Against trying every one; a seam that leans 1 in 4 is 1.03 times as long."""
    share = random_share(11)
    cuts = SEAMS.even(6, 0.25)
    assert all(seam.bottom - seam.top == pytest.approx(15.0) for seam in cuts[1:-1])
    found = Divider(MadeUp(share), 0.0, 0.015).divisions(4, 6, 4.0, lean=0.25)
    for count, division in enumerate(found, start=1):
        tried = [
            total((LEFT, *(cuts[k] for k in inner), RIGHT), share, 0.0)
            for inner in combinations(range(1, 6), count - 1)
        ]
        assert division.served == pytest.approx(max(tried))
        assert division.served == pytest.approx(total(division.cuts, share, 0.0))
    straight = seam_cost(1.0)
    leaning = 1.0 - Divider(MadeUp(good), 1.0, 0.0).divisions(2, 2, 4.0, lean=0.25)[1].served
    assert leaning == pytest.approx(straight * np.hypot(1.0, 0.25))


def test_a_seam_costs_by_its_gap():
    """A gap of 1 ft down 60 of 6000 sq ft is 0.01 of the bed, and no seam costs less than that."""
    cost = seam_cost(1.0)
    assert 0.01 <= cost < 0.05
    assert seam_cost(0.5) == pytest.approx(cost / 2.0)
    assert seam_cost(0.0) == pytest.approx(0.0)
    found = Divider(MadeUp(good), 1.0, 0.0).divisions(5, 10, 4.0)
    lost = [1.0 - division.served for division in found]
    np.testing.assert_allclose(lost, cost * np.arange(5), atol=1e-12)


def test_the_whole_is_one_part():
    panels = MadeUp(lambda _part: 0.8)
    whole = Divider(panels, 1.0, 0.015).whole()
    assert whole.parts == [WHOLE]
    assert whole.served == pytest.approx(served(np.array(0.8)))


# seams moved

BREAK = LineString([(40.0, -1.0), (52.0, 61.0)])


def broken(part: Part) -> float:
    """Ground of two halves: the share of a part that lies on one side of the break."""
    inside = SEAMS.places[SEAMS.holds(part, SEAMS.places)]
    left = inside[:, 0] < 40.0 + 12.0 * (inside[:, 1] + 1.0) / 62.0
    return float(max(left.mean(), 1.0 - left.mean())) if len(inside) else 0.0


def misfit(seam: Seam) -> float:
    """Mean distance along u between a seam and the break."""
    v = np.linspace(0.0, 60.0, 50)
    at = seam.top + (seam.bottom - seam.top) * v / 60.0
    return float(np.abs(at - (40.0 + 12.0 * (v + 1.0) / 62.0)).mean())


@pytest.mark.parametrize("seam", [Seam(55.0, 66.0), Seam(32.0, 40.0), Seam(46.0, 46.0)])
def test_a_seam_moves_and_leans_towards_a_break_in_the_ground(seam):
    divider = Divider(MadeUp(broken), 1.0, 0.015)
    moved = divider.moved(Division((LEFT, seam, RIGHT), 0.0))
    found = moved.cuts[1]
    assert misfit(found) < misfit(seam) - 0.5
    assert found.bottom > found.top
    longer = SEAMS.length(found) / 60.0  # than a seam straight down
    lost = (longer - 1.0) * seam_cost(1.0)
    assert moved.served == pytest.approx(total(moved.cuts, broken, 1.0) - lost)


def test_a_seam_that_can_gain_nothing_stays():
    division = Divider(MadeUp(good), 1.0, 0.015).divisions(3, 6, 4.0)[2]
    assert Divider(MadeUp(good), 1.0, 0.015).moved(division).cuts == division.cuts


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 100_000), st.integers(2, 20))
def test_moving_never_loses_and_keeps_panels_apart(seed, count):
    share = random_share(seed)
    cuts = tuple(SEAMS.even(count))
    moved = Divider(MadeUp(share), 1.0, 0.015).moved(Division(cuts, 0.0))
    assert len(moved.parts) == count
    assert (moved.cuts[0], moved.cuts[-1]) == (LEFT, RIGHT)
    assert moved.served > total(cuts, share, 1.0) - 1e-9
    inner = np.array(moved.cuts[1:-1])
    assert (np.diff(inner, axis=0) > 0.0).all()  # at the top and at the bottom
    assert min(SEAMS.area_of(part) for part in moved.parts) > 0.005 * BED.area


def test_every_panel_keeps_some_of_the_bed():
    """Twenty panels, the first of them never any good: its seam goes left as far as it may."""
    cuts = tuple(SEAMS.even(20))

    def share(part: Part) -> float:
        return 0.6 if part.left == LEFT else 1.0

    moved = Divider(MadeUp(share), 1.0, 0.015).moved(Division(cuts, 0.0))
    assert moved.cuts[1] != cuts[1]
    assert min(SEAMS.area_of(part) for part in moved.parts) > 0.0
