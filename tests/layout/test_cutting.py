"""Cuts of long lines, in line with each other where they can be."""

from __future__ import annotations

import numpy as np
import pytest

from dripfield.core.lines import line_length
from dripfield.layout.lines.cutting import cut_to_length, cut_together


def straight(start: float, end: float, v: float = 0.0) -> np.ndarray:
    u = np.linspace(start, end, 30)
    return np.column_stack((u, np.full_like(u, v)))


def test_one_line_is_cut_as_it_would_be_alone():
    line = straight(0.0, 100.0)
    (parts,) = cut_together([line], 40.0, 2.0, 5.0)
    alone = cut_to_length(line, 40.0, 2.0)
    assert len(parts) == len(alone) == 3
    for one, other in zip(parts, alone, strict=True):
        np.testing.assert_allclose(one, other)


def test_cuts_of_a_panel_lie_on_one_line_down_the_slope():
    """Lines from 0, 2 and 6 to 70: halves alone would end at 35, 36 and 38; 36 suits all."""
    lines = [straight(start, 70.0, v) for v, start in enumerate((0.0, 2.0, 6.0))]
    parts = cut_together(lines, 40.0, 2.0, 5.0)
    assert [len(one) for one in parts] == [2, 2, 2]
    for one in parts:
        assert one[0][-1, 0] == pytest.approx(35.0)
        assert one[1][0, 0] == pytest.approx(37.0)


def test_no_part_is_cut_too_long_or_too_short_for_it():
    """The last line lies so far to the side that the common cut would leave it a part of 49."""
    lines = [straight(0.0, 60.0), straight(0.0, 60.0), straight(-20.0, 39.0)]
    parts = cut_together(lines, 40.0, 2.0, 5.0)
    assert all(line_length(one) <= 40.0 + 1e-9 for line in parts for one in line)
    assert parts[2][0][-1, 0] == pytest.approx(8.5)  # its own half: 28.5 long from -20


def test_lines_that_fit_and_no_limit_are_left_alone():
    lines = [straight(0.0, 30.0), straight(0.0, 60.0)]
    assert [len(one) for one in cut_together(lines, 40.0, 2.0, 5.0)] == [1, 2]
    assert [len(one) for one in cut_together(lines, 0.0, 2.0, 5.0)] == [1, 1]
