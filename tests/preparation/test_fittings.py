"""Fittings counted from lines."""

from __future__ import annotations

import math

import numpy as np
import pytest

from dripfield.core.errors import InputError
from dripfield.preparation.fittings import (
    PipeRun,
    bends_for,
    count_fittings,
    length_along,
    run_along,
    shallow_length,
    turns,
)


def test_turns_of_a_path_in_space() -> None:
    """Hand-derived: a right angle in plan, half of one, and a climb of 3 in 4."""
    path = np.array(
        [[0, 0, 0], [10, 0, 0], [10, 10, 0], [10, 10, 0], [20, 20, 0], [24, 24, 3 * math.sqrt(2)]],
        dtype=float,
    )
    climb = math.degrees(math.atan(3 / 4))
    assert turns(path) == pytest.approx([90.0, 45.0, climb])
    assert length_along(path) == pytest.approx(20 + 10 * math.sqrt(2) + math.sqrt(50))


@pytest.mark.parametrize(
    ("angle", "bends"),
    [
        (5.0, ()),
        (20.0, (22.5,)),
        (45.0, (45.0,)),
        (68.0, (45.0, 22.5)),
        (83.0, (90.0,)),
        (110.0, (90.0, 22.5)),
        (135.0, (90.0, 45.0)),
        (180.0, (90.0, 90.0)),
    ],
)
def test_stock_bends_that_meet_a_turn(angle: float, bends: tuple[float, ...]) -> None:
    found, taken, missed = bends_for([angle])
    assert found == bends
    assert taken == (angle < 10.0)
    assert missed == ()


@pytest.mark.parametrize("angle", np.linspace(10.0, 180.0, 60))
def test_no_turn_is_met_badly(angle: float) -> None:
    """Half of the smallest bend is the most by which two bends can miss; the rest is named."""
    found, _, missed = bends_for([angle])
    assert 1 <= len(found) <= 2
    assert (abs(sum(found) - angle) > 11.25 + 1e-9) == bool(missed)


def test_shallow_length_against_fine_steps() -> None:
    """The same by a hundred thousand short steps."""
    chance = np.random.default_rng(4)
    xyz = np.column_stack([np.arange(8) * 10.0, np.zeros(8), chance.uniform(95.0, 99.0, 8)])
    ground = np.full(8, 100.0)
    many = np.linspace(0.0, 70.0, 100_001)
    cover = 100.0 - np.interp(many, xyz[:, 0], xyz[:, 2])
    middle = (cover[1:] + cover[:-1]) / 2.0 < 3.0
    z = np.interp(many, xyz[:, 0], xyz[:, 2])
    steps = np.hypot(np.diff(many), np.diff(z))
    assert shallow_length(xyz, ground, 3.0) == pytest.approx(steps[middle].sum(), abs=2e-2)


def test_exactly_at_the_frost_depth_is_deep_enough() -> None:
    xyz = np.array([[0.0, 0.0, 97.0], [10.0, 0.0, 97.0]])
    assert shallow_length(xyz, np.array([100.0, 100.0]), 3.0) == 0.0
    assert shallow_length(xyz, np.array([100.0, 100.0]), 3.01) == 10.0


def test_fittings_by_the_name_they_are_bought_under() -> None:
    run = run_along(
        "supply",
        "supply",
        "1-1/2",
        np.array([[0.0, 0.0, 0.0], [9.0, 0.0, 0.0], [9.0, 9.0, 0.0]]),
        tees=("3/4 in", "3/4 in"),
        unions=1,
    )
    assert dict(count_fittings([run, run])) == {
        "bend 90°, Schedule 40, 1-1/2 in": 2,
        "tee, Schedule 40, 1-1/2 in x 1-1/2 in x 3/4 in": 4,
        "union, Schedule 40, 1-1/2 in": 2,
    }
    assert run.sockets == 2 + 2 * 3 + 2


def test_a_pipe_of_no_length_is_refused() -> None:
    with pytest.raises(InputError, match=r"^the pipe supply is nan long; give its length$"):
        PipeRun("supply", "supply", "1 in", float("nan"))
