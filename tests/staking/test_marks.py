"""Marks: few, closer where the line bends, and the tube through them keeps to the line."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from shapely import LineString, hausdorff_distance

from dripfield.staking.marks import DesignLine, choose_marks, fitted, tube_distance, tube_errors
from dripfield.staking.tube import Tube


def arc(radius: float, length: float) -> DesignLine:
    turn = np.linspace(0.0, length / radius, 400)
    return DesignLine.of(radius * np.column_stack((np.sin(turn), 1.0 - np.cos(turn))))


def chosen(line: DesignLine, tolerance: float, longest: float = 20.0) -> np.ndarray:
    station = line.divided(1.0)
    return station[choose_marks(line, station, np.ones(len(station)), tolerance, longest)]


def spline_distance(line: DesignLine, marks: np.ndarray) -> float:
    """Greatest distance of SciPy's spline through marks from the line, either way."""
    chord = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(marks, axis=0).T))))
    bent = CubicSpline(chord, marks, bc_type="natural")(np.linspace(0.0, chord[-1], 2000))
    return hausdorff_distance(LineString(bent), LineString(line.xy))


@pytest.mark.parametrize("radius", [15.0, 30.0, 60.0, 200.0])
@pytest.mark.parametrize("tolerance", [0.02, 0.05])
def test_scipys_spline_through_the_marks_keeps_to_an_arc(radius: float, tolerance: float) -> None:
    line = arc(radius, 60.0)
    station = chosen(line, tolerance)
    assert spline_distance(line, line.at(station)) <= 1.15 * tolerance
    assert tube_distance(line, Tube(line.at(station))) <= 1.15 * tolerance


def test_no_even_choice_with_fewer_marks_keeps_to_the_arc() -> None:
    line = arc(30.0, 60.0)
    count = len(chosen(line, 0.05))
    fewer = np.linspace(0.0, line.length, count - 1)
    assert spline_distance(line, line.at(fewer)) > 0.05


def test_a_straight_line_is_marked_at_the_longest_step() -> None:
    line = DesignLine.of(np.array([(0.0, 0.0), (60.0, 0.0), (100.0, 0.0)]))
    assert np.diff(chosen(line, 0.05)) == pytest.approx(20.0)


def test_marks_stand_closer_where_the_line_bends_more() -> None:
    bend = arc(12.0, 18.0)
    straight = bend.xy[-1] + np.arange(1.0, 60.0)[:, None] * bend.tangent(np.array([18.0]), 0.1)
    line = DesignLine.of(np.vstack((bend.xy, straight)))
    step = np.diff(chosen(line, 0.05))
    assert step[:2].mean() < 0.6 * step[-2:].mean()


def test_marks_that_cost_more_are_passed_over() -> None:
    line = arc(60.0, 60.0)
    station = line.divided(1.0)
    cost = np.ones(len(station))
    cost[20:40] = 5.0
    kept = choose_marks(line, station, cost, 0.05, 25.0)
    assert not ((kept >= 20) & (kept < 40)).any()


def test_fitted_marks_bring_the_tube_nearer() -> None:
    line = arc(20.0, 60.0)
    station = np.linspace(0.0, 60.0, 7)
    before = tube_errors(line, station, line.at(station)).max()
    assert tube_errors(line, station, fitted(line, station)).max() < 0.7 * before
