"""Bend radii, and lines eased until none is too tight."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

from dripfield.layout.lines.fairing import bend_radii, eased


def test_radius_of_a_circle_and_of_a_straight_line():
    angle = np.linspace(0.0, 4.0, 60)
    circle = 7.0 * np.column_stack((np.cos(angle), np.sin(angle))) + (3.0, 9.0)
    np.testing.assert_allclose(bend_radii(circle), 7.0)
    np.testing.assert_allclose(bend_radii(circle[::-1]), 7.0)
    line = np.column_stack((np.arange(5.0), 2.0 * np.arange(5.0)))
    assert np.isinf(bend_radii(line)).all()
    # hand-derived: right angle with legs 3 and 4, the circle's diameter is the hypotenuse
    assert bend_radii(np.array([(0.0, 0.0), (3.0, 0.0), (3.0, 4.0)])) == pytest.approx(2.5)


def test_what_needs_nothing_is_returned_as_it_is():
    smooth = np.column_stack((np.linspace(0, 40, 161), 2.0 * np.sin(np.linspace(0, 6, 161))))
    (same,) = eased([smooth], 2.0)
    assert same is smooth
    assert eased([], 2.0) == []
    kinked = np.array([(0.0, 0.0), (5.0, 0.0), (5.0, 5.0)])
    (same,) = eased([kinked], 0.0)
    assert same is kinked


def test_a_corner_is_rounded_and_its_neighbour_line_is_left():
    corner = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, 20.0)])
    straight = np.array([(0.0, 5.0), (20.0, 5.0), (40.0, 5.0)])
    round_corner, same = eased([corner, straight], 3.0)
    assert same is straight
    assert bend_radii(round_corner).min() >= 3.0
    np.testing.assert_array_equal(round_corner[[0, -1]], corner[[0, -1]])
    # a bell as wide as the radius leaves the corner by less than the radius itself
    assert LineString(round_corner).hausdorff_distance(LineString(corner)) < 3.0
    assert np.hypot(*(round_corner - (20.0, 0.0)).T).min() < 3.0


def test_what_bends_gently_stays_where_it_is():
    """A long line with one corner moves near the corner alone."""
    wave = np.column_stack((np.linspace(0, 60, 241), 3.0 * np.sin(np.linspace(0, 60, 241) / 10)))
    corner = np.array([(60.0, wave[-1, 1] + k) for k in np.arange(0.25, 30.0, 0.25)])
    line = np.concatenate((wave, corner))
    (smooth,) = eased([line], 2.0)
    assert bend_radii(smooth).min() >= 2.0
    moved = shapely.distance(shapely.points(smooth), LineString(line))
    near = np.hypot(*(smooth - (60.0, wave[-1, 1])).T) < 15.0
    assert moved[near].max() > 0.2
    assert moved[~near].max() < 1e-3


def test_a_corner_between_long_legs_is_seen():
    """Vertices ten apart: their circle is wide, the corner is not."""
    line = np.array([(0.0, 0.0), (10.0, 0.0), (18.0, 6.0)])
    assert bend_radii(line)[0] > 15.0
    # hand-derived: legs of 1, angle turned atan(3/4): half the chord over the sine of it
    assert bend_radii(line, 1.0)[0] == pytest.approx(np.hypot(1.8, 0.6) / 2.0 / 0.6)
    (smooth,) = eased([line], 2.0)
    assert bend_radii(smooth).min() >= 2.0
    assert len(smooth) > 10


def test_a_closed_line_is_eased_where_it_begins_too():
    """A teardrop begun at its point."""
    angle = np.linspace(0.0, 2 * np.pi, 121)
    drop = 10.0 * np.column_stack((np.sin(angle) * np.sin(angle / 2) ** 1.5, np.cos(angle)))
    drop[-1] = drop[0]
    around = np.concatenate((drop[-2:-1], drop))
    assert bend_radii(around)[0] < 1.0
    (smooth,) = eased([drop], 2.0)
    np.testing.assert_array_equal(smooth[0], smooth[-1])
    assert bend_radii(np.concatenate((smooth[-2:-1], smooth)), 0.3).min() >= 1.9


@st.composite
def wiggles(draw):
    count = draw(st.integers(3, 30))
    steps = draw(st.lists(st.floats(-1.5, 1.5), min_size=count, max_size=count))
    return np.column_stack((0.7 * np.arange(count), np.cumsum(steps)))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(wiggles(), st.floats(0.5, 4.0))
def test_any_line_keeps_the_radius_and_its_ends(line, radius):
    (smooth,) = eased([line], radius)
    if len(smooth) > 2:
        assert bend_radii(smooth).min() >= radius
    np.testing.assert_array_equal(smooth[[0, -1]], line[[0, -1]])
