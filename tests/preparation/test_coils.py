"""The coil plan: nothing better exists, where it says so, and every length is cut once."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from dripfield.core.errors import InputError
from dripfield.preparation.coils import coil_plan
from dripfield.preparation.packing import (
    MOST_EXACT,
    best_fit,
    fewest_bound,
    least_bought,
    least_slack,
    pack,
)


def partitions(items: list[int]) -> itertools.chain[list[list[int]]]:
    """Every way to part items into groups."""
    if not items:
        return itertools.chain([[]])
    first, rest = items[0], items[1:]

    def grown() -> itertools.chain[list[list[int]]]:
        for part in partitions(rest):
            yield [[first], *part]
            for i in range(len(part)):
                yield [*part[:i], [first, *part[i]], *part[i + 1 :]]

    return itertools.chain(grown())


def exhaustive(lengths: list[float], sizes: list[float]) -> tuple[float, int]:
    """Least length bought and fewest coils over every partition."""
    best = (float("inf"), 0)
    for part in partitions(list(range(len(lengths)))):
        total = 0.0
        for group in part:
            need = sum(lengths[i] for i in group)
            fits = [size for size in sizes if size >= need - 1e-9]
            total += min(fits, default=float("inf"))
        best = min(best, (total, len(part)))
    return best


@pytest.mark.parametrize("seed", range(25))
def test_one_length_of_coil_against_exhaustive_search(seed: int) -> None:
    chance = random.Random(seed)
    stock = [30.0, 45.0, 50.0, 55.0, 61.0, 70.0]
    lengths = [chance.choice(stock) for _ in range(chance.randint(1, 8))]
    packing = pack(lengths, [100.0])
    fewest = exhaustive(lengths, [100.0])[1]
    assert packing.exact
    assert len(packing.bins) == fewest
    assert fewest_bound(lengths, 100.0) <= fewest <= len(best_fit(lengths, 100.0))
    slack = least_slack(lengths, 100.0)
    assert sorted(itertools.chain(*slack)) == list(range(len(lengths)))
    assert all(sum(lengths[i] for i in one) <= 100.0 + 1e-6 for one in slack)
    assert len(slack) >= fewest


@pytest.mark.parametrize("seed", range(12))
def test_several_lengths_of_coil_against_exhaustive_search(seed: int) -> None:
    chance = random.Random(100 + seed)
    lengths = [float(chance.randint(10, 95)) for _ in range(chance.randint(1, 7))]
    sizes = [60.0, 100.0, 250.0]
    packing = pack(lengths, sizes)
    assert packing.exact
    assert (sum(packing.sizes), len(packing.bins)) == exhaustive(lengths, sizes)


def milp_fewest(lengths: list[float], coil: float, bins: int) -> int:
    """Fewest coils by SciPy's mixed-integer solver: x[i, b] piece i in coil b, y[b] coil used."""
    count = len(lengths)
    cost = np.concatenate([np.zeros(count * bins), np.ones(bins)])
    once = np.zeros((count, cost.size))
    for i in range(count):
        once[i, i * bins : (i + 1) * bins] = 1.0
    room = np.zeros((bins, cost.size))
    for b in range(bins):
        room[b, [i * bins + b for i in range(count)]] = lengths
        room[b, count * bins + b] = -coil
    found = milp(
        cost,
        integrality=np.ones(cost.size),
        bounds=Bounds(0, 1),
        constraints=[LinearConstraint(once, 1, 1), LinearConstraint(room, -np.inf, 1e-9)],
    )
    return round(found.fun)


@pytest.mark.parametrize("seed", range(4))
def test_a_search_that_must_branch_agrees_with_a_mixed_integer_solver(seed: int) -> None:
    """Triples that fill a coil exactly: the hard case for the rule of thumb."""
    chance = random.Random(seed)
    lengths = []
    for _ in range(4):
        a = chance.randint(26, 45)
        b = chance.randint(26, 45)
        lengths += [float(a), float(b), float(100 - a - b)]
    chance.shuffle(lengths)
    packing = pack(lengths, [100.0])
    assert packing.exact
    assert len(packing.bins) == milp_fewest(lengths, 100.0, 5) == 4


@pytest.mark.parametrize("sizes", [[500.0], [250.0, 500.0, 1000.0]])
@pytest.mark.parametrize("count", [MOST_EXACT, MOST_EXACT + 1, 60, 300])
def test_every_piece_is_cut_once_and_no_coil_is_overdrawn(sizes: list[float], count: int) -> None:
    chance = random.Random(count)
    lengths = [chance.uniform(20.0, 240.0) for _ in range(count)]
    packing = pack(lengths, sizes)
    assert sorted(itertools.chain(*packing.bins)) == list(range(count))
    for group, size in zip(packing.bins, packing.sizes, strict=True):
        assert sum(lengths[i] for i in group) <= size * (1 + 1e-9)
        assert size in sizes
    total = len(packing.bins) if len(sizes) == 1 else sum(packing.sizes)
    assert packing.least <= total
    assert sum(packing.sizes) >= least_bought(sum(lengths), sizes) - 1e-6
    assert packing.exact or packing.least < total


def test_least_bought_is_the_cheapest_cover_by_counting() -> None:
    """Exhaustive: all counts of two sizes."""
    for total in (0.0, 1.0, 249.0, 251.0, 1234.0, 5000.0, 7777.0):
        ways = [
            a * 300.0 + b * 700.0
            for a, b in itertools.product(range(30), range(14))
            if a * 300.0 + b * 700.0 >= total
        ]
        assert least_bought(total, [300.0, 700.0]) == min(ways)


def test_a_lateral_longer_than_a_coil_is_refused_or_spliced() -> None:
    cuts = [("L01", 90.0), ("L02", 250.0), ("L03", 50.0)]
    with pytest.raises(InputError) as refusal:
        coil_plan(cuts, [100.0])
    assert str(refusal.value) == (
        "site.toml, "
        "[prepare] coils: L02 takes 250.0 ft with its tails and the longest coil holds 100 ft;"
        " give a longer coil, or allow splices with splices = true"
    )
    plan = coil_plan(cuts, [100.0], splices=True)
    # hand-derived: 250 is two whole coils and 50, which shares a coil with L03: four coils in all
    assert (plan.splices, len(plan.coils), plan.bought) == (2, 4, 400.0)
    assert [piece.name for coil in plan.coils for piece in coil.pieces] == [
        "L01",
        "L02 (1 of 3)",
        "L02 (2 of 3)",
        "L02 (3 of 3)",
        "L03",
    ]
    assert plan.length == pytest.approx(390.0)


@pytest.mark.parametrize("length", [0.0, -3.0])
def test_a_length_of_nothing_is_refused(length: float) -> None:
    with pytest.raises(InputError, match=r"^L01 is .* ft long; give a length above zero$"):
        coil_plan([("L01", length)], [100.0])


def test_thousands_of_laterals_end_with_a_stated_bound() -> None:
    chance = random.Random(7)
    lengths = [chance.uniform(100.0, 240.0) for _ in range(3000)]
    packing = pack(lengths, [500.0])
    assert packing.least <= len(packing.bins) <= len(best_fit(lengths, 500.0))
    assert not packing.exact
