"""From lines to laterals: elevation to set, cutting, dropping, names and order."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laying_out import Hill, Plane, rectangle, settings_of, terrain_on
from shapely import LineString

from dripfield.core.lines import line_length
from dripfield.layout.lines.laying import (
    cut_to_length,
    elevations_to_set,
    lay,
    opened,
    panel_name,
    set_elevation,
    thinned,
    uncrossed,
)
from dripfield.layout.lines.terrain import sample_terrain

BED = rectangle(60.0, 40.0)
TERRAIN = terrain_on(Plane(0.0, 0.1), BED)  # u runs west, v south, from the middle


def row(v: float, start: float = -20.0, stop: float = 20.0, count: int = 9) -> np.ndarray:
    return np.column_stack((np.linspace(start, stop, count), np.full(count, v)))


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=25), st.floats(0.01, 0.3))
def test_set_elevation_holds_as_many_places_as_any_elevation_can(z, tolerance):
    """Brute force: an interval that holds the most can start at one of the values."""
    z = np.array(z)
    got = set_elevation(z, tolerance)
    held = np.sum(np.abs(z - got) <= tolerance + 1e-9)
    most = max(np.sum((z >= low) & (z <= low + 2 * tolerance)) for low in z)
    assert held >= most
    if np.ptp(z) <= 2 * tolerance:
        assert got == pytest.approx((z.min() + z.max()) / 2.0)


def test_set_elevation_by_hand():
    assert set_elevation(np.array([5.0]), 0.1) == 5.0
    assert set_elevation(np.array([5.0, 5.1, 5.16, 9.0]), 0.1) == pytest.approx(5.08)
    assert set_elevation(np.array([5.0, 5.3, 5.4, 5.45, 9.0]), 0.1) == pytest.approx(5.375)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.floats(1.0, 200.0), st.floats(3.0, 70.0), st.floats(0.1, 2.5))
def test_cut_to_length(total, longest, gap):
    line = np.column_stack((np.linspace(0, total, 12), np.zeros(12)))
    pieces = cut_to_length(line, longest, gap)
    lengths = [line_length(piece) for piece in pieces]
    assert max(lengths) <= longest + 1e-9
    np.testing.assert_allclose(lengths, lengths[0], atol=1e-9)
    assert pieces[0][0, 0] == 0.0
    assert pieces[-1][-1, 0] == pytest.approx(total)
    for one, two in pairwise(pieces):
        assert two[0, 0] - one[-1, 0] == pytest.approx(gap, abs=1e-9)
    if len(pieces) > 1:  # one piece fewer would be too long
        fewer = len(pieces) - 1
        assert (total - (fewer - 1) * gap) / fewer > longest - 1e-9


def test_cut_line_follows_its_bends():
    bent = np.array([(0.0, 0.0), (6.0, 0.0), (6.0, 8.0)])
    one, two = cut_to_length(bent, 10.0, 2.0)  # 14 long: two of 6 and the gap
    np.testing.assert_allclose(one, [(0, 0), (6, 0)], atol=1e-12)
    np.testing.assert_allclose(two, [(6, 2), (6, 8)])
    assert cut_to_length(bent, 0.0, 2.0) == [bent]
    assert cut_to_length(bent, 14.0, 2.0) == [bent]


def test_opened_lines():
    square = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0), (0.0, 0.0)])
    assert line_length(opened(square, 1.8)) == pytest.approx(38.2)
    np.testing.assert_allclose(opened(square, 1.8)[[0, -1]], [(0, 0), (0, 1.8)], atol=1e-12)
    assert opened(square[:-1], 1.8) is not None
    np.testing.assert_array_equal(opened(square[:-1], 1.8), square[:-1])


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.floats(0.2, 3.0), st.floats(1e-4, 0.05))
def test_thinned_lines_stay_within_the_distance(height, within):
    x = np.linspace(0.0, 30.0, 121)
    line = np.column_stack((x, height * np.sin(x / 5.0)))
    thin, straight = thinned([line, row(3.0)], within)
    assert LineString(line).hausdorff_distance(LineString(thin)) <= within
    assert len(thin) < len(line)
    np.testing.assert_array_equal(thin[[0, -1]], line[[0, -1]])
    np.testing.assert_array_equal(straight, row(3.0)[[0, -1]])
    assert thinned([], within) == []


def test_names_and_order_in_one_panel():
    """Highest first; at one height from the left (u) on. Down is v."""
    lines = [row(6.0), row(-8.0), row(0.0, 2.0, 12.0), row(0.0, -15.0, -1.0)]
    laid = lay([lines], TERRAIN, settings_of())
    assert [one.name for one in laid.laterals] == ["L01", "L02", "L03", "L04"]
    assert {one.panel for one in laid.laterals} == {"A"}
    middle = 100.0 + 0.1 * TERRAIN.frame.origin[1]
    elevations = [one.elevation for one in laid.laterals]
    np.testing.assert_allclose(elevations, middle + np.array((0.8, 0.0, 0.0, -0.6)), atol=1e-9)
    own = [TERRAIN.frame.to_local(one.xy) for one in laid.laterals]
    assert own[1][:, 0].mean() < own[2][:, 0].mean()
    assert all(xy[0, 0] < xy[-1, 0] for xy in own)  # each from left to right
    assert (laid.dropped_count, laid.dropped_length) == (0, 0.0)


def test_names_in_several_panels():
    panels = [[row(0.0, -20, -10)], [row(0.0, -5, 5), row(-4.0, -5, 5)], [row(2.0, 8, 20)]]
    laid = lay(panels, TERRAIN, settings_of())
    assert [one.name for one in laid.laterals] == ["A-L01", "B-L01", "B-L02", "C-L01"]
    assert [one.panel for one in laid.laterals] == ["A", "B", "B", "C"]


def test_a_panel_with_short_pieces_only_is_none():
    laid = lay([[row(0.0, -20, -10)], [row(0.0, 0, 3)], [row(2.0, 8, 20)]], TERRAIN, settings_of())
    assert [one.name for one in laid.laterals] == ["A-L01", "B-L01"]
    assert laid.panels == (0, 2)
    assert laid.dropped_count == 1


def test_the_shorter_of_two_that_cross_ends_before_the_longer():
    """Hand-derived: 1.8 (90 % of the spacing) of the shorter is lost on either side."""
    across = np.array([(4.0, -9.0), (4.0, 7.0)])
    free = row(20.0)
    parts, owner = uncrossed([across, row(0.0), free], 1.8)
    assert owner == [0, 0, 1, 2]
    np.testing.assert_allclose(parts[0], [(4, -9), (4, -1.8)], atol=1e-9)
    np.testing.assert_allclose(parts[1], [(4, 1.8), (4, 7)], atol=1e-9)
    np.testing.assert_array_equal(parts[2], row(0.0))
    np.testing.assert_array_equal(parts[3], free)
    assert uncrossed([], 1.8) == ([], [])
    laid = lay([[across, row(0.0)]], TERRAIN, settings_of(min_length=6.0))
    assert sorted(line_length(one.xy) for one in laid.laterals) == pytest.approx([7.2, 40.0])
    assert laid.dropped_length == pytest.approx(5.2)


def test_names_get_a_third_digit_for_a_hundred():
    laid = lay([[row(0.1 * k) for k in range(100)]], TERRAIN, settings_of())
    assert [laid.laterals[k].name for k in (0, 9, 99)] == ["L001", "L010", "L100"]


def test_short_pieces_are_dropped_and_counted_and_slivers_are_not():
    lines = [row(0.0, 0.0, 5.0), row(2.0, 0.0, 4.9), row(4.0, 0.0, 1.0), row(6.0, 0.0, 0.09)]
    laid = lay([lines], TERRAIN, settings_of(min_length=5.0))
    assert len(laid.laterals) == 1
    assert laid.dropped_count == 2
    assert laid.dropped_length == pytest.approx(5.9)
    nothing = lay([[], []], TERRAIN, settings_of())
    assert nothing.laterals == ()


def test_pieces_cut_from_a_long_line_are_laid_each_with_its_elevation():
    laid = lay([[row(0.0)]], TERRAIN, settings_of(max_length=15.0))
    assert [line_length(one.xy) for one in laid.laterals] == pytest.approx(3 * [36.4 / 3])
    first = TERRAIN.frame.to_local(laid.laterals[0].xy)
    np.testing.assert_allclose(first[[0, -1], 0], (-20.0, -20.0 + 36.4 / 3), atol=1e-9)


def test_elevation_counts_the_smoothed_and_the_surveyed_ground():
    """From 0 (smoothed) the surveyed ground wavers between -0.04 and 0.12: the middle is 0.04."""
    rough = Hill(lambda x, y: 100.04 + 0.1 * y + 0.08 * np.sin(x))
    both = sample_terrain(Plane(0.0, 0.1), TERRAIN.frame, TERRAIN.grid, rough)
    (elevation,) = elevations_to_set([row(0.0)], both, settings_of())
    middle = 100.0 + 0.1 * TERRAIN.frame.origin[1]
    assert elevation == pytest.approx(middle + 0.04, abs=1e-3)
    high = sample_terrain(
        Plane(0.0, 0.1), TERRAIN.frame, TERRAIN.grid, Hill(lambda x, y: 100.08 + 0.1 * y)
    )
    (elevation,) = elevations_to_set([row(0.0)], high, settings_of())
    assert elevation == pytest.approx(middle + 0.08, abs=1e-9)  # one that the survey has there
    assert elevations_to_set([], both, settings_of()) == []


def test_panel_names():
    assert [panel_name(k) for k in (0, 1, 11)] == ["A", "B", "L"]
