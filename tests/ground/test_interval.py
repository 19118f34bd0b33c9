"""The 1-2-5 series and the levels that an interval gives."""

from __future__ import annotations

import numpy as np
import pytest

from dripfield.ground.levels.interval import auto_interval, levels_between


@pytest.mark.parametrize(
    ("relief", "lines", "interval"),
    [
        (0.3, 20, 0.02),
        (1.0, 20, 0.05),
        (2.0, 20, 0.1),
        (4.0, 20, 0.2),
        (4.1, 20, 0.5),
        (100.0, 20, 5.0),
        (100.1, 20, 10.0),
        (9.0, 12, 1.0),
        (6e4, 12, 5000.0),
        (0.0, 20, 1.0),
    ],
)
def test_finest_interval_with_few_enough_lines(relief: float, lines: int, interval: float) -> None:
    """By hand: relief over lines, rounded up in the series 1, 2, 5."""
    assert auto_interval(relief, lines) == interval


def test_levels_are_the_numbers_on_their_labels() -> None:
    levels, major = levels_between(99.7, 101.6, 0.2)
    assert [f"{level:g}" for level in levels] == [
        "99.8", "100", "100.2", "100.4", "100.6", "100.8", "101", "101.2", "101.4", "101.6",
    ]  # fmt: skip
    assert levels.tolist() == [float(f"{level:g}") for level in levels]
    assert levels[major].tolist() == [100.0, 101.0]


def test_levels_below_zero_and_none_at_all() -> None:
    levels, major = levels_between(-1.2, 0.6, 0.5)
    assert levels.tolist() == [-1.0, -0.5, 0.0, 0.5]
    assert levels[major].tolist() == [0.0]
    assert len(levels_between(0.1, 0.4, 0.5)[0]) == 0
    assert np.isfinite(levels_between(2476.13, 2486.66, 1.0)[0]).all()
