"""The parts of ``straight``, ``offset`` and ``contour`` against hand calculation."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from laying_out import Cone, Hill, Plane, lay_on, rectangle, settings_of, terrain_on
from shapely import LineString, box

from dripfield.layout.balanced.start import best_start, starts
from dripfield.layout.lines.tracing import Field, clip
from dripfield.layout.methods.contour import contour_levels, plan_spacing, step_down
from dripfield.layout.methods.offset import (
    base_lines,
    extended,
    parallels,
    signed_distance,
    worst_departure,
)
from dripfield.layout.methods.straight import straight_lines

BED = rectangle(60.0, 40.0)


# where the first lateral goes


def test_starts_are_the_corners_and_even_places_within_one_period():
    """More even ones where the lines are few: over 40 periods the start matters less."""
    few, many = np.array((-0.5, 7.3)), np.array((-0.5, 79.3))
    np.testing.assert_allclose(starts(few, 2.0), (0.0, 0.5, 1.0, 1.3, 1.5))
    np.testing.assert_allclose(starts(many, 2.0), (0.0, 1.0, 1.3, 1.5))


def test_best_start_has_the_most_tubing_that_is_long_enough():
    lengths = {0.0: [9.0, 4.0, 4.0], 1.0: [10.0], 2.0: [10.0], 3.0: []}
    got = best_start(np.array((0.0, 1.0, 2.0, 3.0)), lambda at: np.array(lengths[at]), 5.0)
    assert got == 1.0  # 10 beats 9, the first of equals


# straight


@pytest.mark.parametrize(("depth", "count"), [(10.0, 6), (9.9, 5), (8.1, 5), (0.5, 1)])
def test_straight_lines_fill_a_rectangle(depth, count):
    lines = straight_lines(box(-10.0, 3.0, 10.0, 3.0 + depth), 2.0, 5.0)
    assert len(lines) == count
    np.testing.assert_allclose(np.diff([line[0, 1] for line in lines]), 2.0)
    for line in lines:
        assert np.ptp(line[:, 0]) == pytest.approx(20.0)


def test_straight_start_prefers_the_long_lines_of_a_step():
    """Rows through the wide part (v from 0 to 2.2) where two fit, one of them just on v = 0."""
    step = shapely.union_all([box(0.0, 0.0, 50.0, 2.2), box(0.0, 2.2, 10.0, 5.1)])
    lengths = sorted(LineString(line).length for line in straight_lines(step, 2.0, 5.0))
    assert lengths == pytest.approx([10.0, 50.0, 50.0])


# offset


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 10_000))
def test_signed_distance_is_shapelys_with_a_side(seed):
    rng = np.random.default_rng(seed)
    line = np.column_stack((np.arange(8.0) * 3.0, rng.uniform(-1.0, 1.0, 8)))
    points = rng.uniform((-3.0, -6.0), (24.0, 6.0), (30, 2))
    got = signed_distance(points, line)
    want = shapely.distance(shapely.points(points), LineString(line))
    np.testing.assert_allclose(np.abs(got), want, atol=1e-12)
    inside = (points[:, 0] > 0.5) & (points[:, 0] < 20.5)
    below = points[:, 1] < np.interp(points[:, 0], line[:, 0], line[:, 1])
    np.testing.assert_array_equal(got[inside] > 0.0, below[inside])  # right hand, going east


def test_extended_lines_go_on_straight():
    line = np.array([(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (3.0, 4.0), (4.0, 8.0), (5.0, 12.0)])
    long = extended(line, 10.0)
    np.testing.assert_allclose(long[0], (-10.0, 0.0))
    np.testing.assert_allclose(long[-1], (5.0, 12.0) + 10.0 * np.array((1.0, 4.0)) / np.sqrt(17.0))
    np.testing.assert_array_equal(long[1:-1], line)


def test_parallels_of_a_straight_and_of_a_round_base():
    area = box(-30.0, -10.0, 30.0, 10.0)
    straight = np.column_stack((np.linspace(-20, 20, 9), np.zeros(9)))
    lines = parallels(straight, 2.0, 0.5, area)
    heights = sorted(np.unique(np.round(np.concatenate(lines)[:, 1], 9)).tolist())
    np.testing.assert_allclose(heights, np.arange(-8.5, 10.0, 2.0))  # right of it is below
    angle = np.linspace(0.25, np.pi - 0.25, 400)
    arc = 100.0 * np.column_stack((np.cos(angle), np.sin(angle))) - (0.0, 100.0)
    lines = clip(parallels(arc[::-1], 2.0, 0.0, area), area)
    # radii 92 to 110 cross the middle, 112 and 114 the two upper corners, 90 touches the edge
    assert len(lines) == 10 + 2 + 2
    for line in lines:
        radius = np.hypot(line[:, 0], line[:, 1] + 100.0)
        assert np.ptp(radius) < 1e-3
        assert radius.mean() / 2.0 == pytest.approx(np.round(radius.mean() / 2.0), abs=5e-4)


def test_worst_departure_by_hand():
    """Along two parallels z is 0 and 0.3, 0 and 0.1; down the slope it falls evenly."""
    distance = np.array((0.0, 0.0, 2.0, 2.0))
    z = np.array((0.15, -0.15, 0.05 - 1.0, -0.05 - 1.0))
    assert worst_departure(distance, z, 2.0) == pytest.approx(0.15)
    on_cone = Cone(0.1)
    rng = np.random.default_rng(1)
    angle, radius = rng.uniform(1.0, 2.0, 800), rng.uniform(60.0, 90.0, 800)
    xy = radius[:, None] * np.column_stack((np.cos(angle), np.sin(angle)))
    assert worst_departure(radius - 75.0, on_cone.elevation(xy), 2.0) < 1e-9


def test_bases_are_smooth_level_lines_from_left_to_right():
    ground = Hill(lambda x, y: 100 + 0.1 * y + 0.3 * np.sin(x / 6.0))
    terrain = terrain_on(ground, BED)
    field = Field(terrain.grid, terrain.z)
    bases = base_lines(field, np.array((101.0, 102.0)), 2.0, 0.5)
    for level, base in zip((101.0, 102.0), bases, strict=True):
        off = ground.elevation(terrain.frame.to_site(base)) - level
        assert np.abs(off).max() < 1e-3
        assert base[-1, 0] > base[0, 0]
    assert base_lines(field, np.array((500.0,)), 2.0, 0.5) == []


def test_offset_takes_the_bend_from_where_it_is():
    """Half plane, half cone about its rim: only bases that follow the bend stay level."""

    def fold(x, y):
        away = np.hypot(np.minimum(x - 30.0, 0.0), y - 120.0)
        return 100.0 - 0.1 * away

    bed = rectangle(70.0, 40.0)
    ground = Hill(fold)
    layout = lay_on(ground, bed, settings_of(), "offset")
    worst = max(np.ptp(ground.elevation(one.xy)) for one in layout.laterals)
    assert worst < 0.02
    straight = lay_on(ground, bed, settings_of(), "straight")
    assert max(np.ptp(ground.elevation(one.xy)) for one in straight.laterals) > 0.2


@settings(max_examples=6, deadline=None, derandomize=True)
@given(st.integers(0, 1000))
def test_offset_parallels_are_exactly_the_spacing_apart(seed):
    """Shapely's distance from every vertex to the next lateral up and down, away from the ends."""
    rng = np.random.default_rng(seed)
    a, b, phase = rng.uniform(-0.001, 0.001), rng.uniform(0.0, 0.4), rng.uniform(0, 6)
    ground = Hill(lambda x, y: 0.1 * y + a * (x - 40) ** 2 + b * np.sin(x / 14.0 + phase))
    layout = lay_on(ground, rectangle(80.0, 40.0), settings_of(), "offset")
    lines = [LineString(one.xy) for one in layout.laterals if len(one.xy) > 2]
    whole = [line for line in lines if line.bounds[0] < 1.1 and line.bounds[2] > 78.9]
    assert len(whole) > 8
    for upper, lower in pairwise(whole):
        middle = shapely.points(np.array([xy for xy in lower.coords if 6.0 < xy[0] < 74.0]))
        apart = shapely.distance(middle, upper)
        np.testing.assert_allclose(apart, 2.0, atol=2e-3)


# contour


def test_spacing_in_plan_and_along_the_slope():
    terrain = terrain_on(Plane(0.0, 0.75), BED)
    places = np.zeros((3, 2))
    np.testing.assert_allclose(plan_spacing(terrain, places, 2.0, False), 2.0)
    np.testing.assert_allclose(plan_spacing(terrain, places, 2.0, True), 1.6)  # 3-4-5 triangle


def step_at_middle(ground, along_slope=False):
    terrain = terrain_on(ground, BED)
    field = Field(terrain.grid, terrain.z)
    area = terrain.frame.geometry_to_local(BED)
    level = float(terrain.elevation(np.zeros((1, 2)))[0])
    (line,) = clip(field.rough_lines(level), area)
    line = field.settle(line, level)
    return step_down(terrain, line, level, area, 2.0, 0.10, along_slope)


def test_step_on_a_plane_is_slope_times_spacing():
    assert step_at_middle(Plane(0.03, 0.08)) == pytest.approx(2.0 * np.hypot(0.03, 0.08), abs=1e-6)
    plan = 2.0 / np.hypot(1.0, 0.25)
    assert step_at_middle(Plane(0.0, 0.25), True) == pytest.approx(0.25 * plan, abs=1e-6)


def test_step_where_one_side_is_steeper():
    """Slopes from 8 to 12 % along the line: 90 % of the spacing at the steepest is 0.216, which
    is more than the median's 0.2; from 9.6 to 10.4 % the median decides."""
    level = rectangle(60.0, 40.0).centroid.y

    def fan(least, most):
        slope = lambda x: least + (most - least) * np.clip(x, 0, 60) / 60.0  # noqa: E731
        return Hill(lambda x, y: 100.0 + slope(x) * (y - level))

    assert step_at_middle(fan(0.08, 0.12)) == pytest.approx(0.9 * 2.0 * 0.12, rel=0.01)
    assert step_at_middle(fan(0.096, 0.104)) == pytest.approx(0.2, rel=0.01)


def test_levels_step_as_the_ladder_says():
    got = contour_levels(10.0, 8.9, np.array((8.0, 10.0)), np.array((0.2, 0.4)))
    want = [10.0]
    while want[-1] > 8.9:  # linear between 0.2 at 8 and 0.4 at 10
        want.append(want[-1] - (0.2 + 0.1 * (want[-1] - 8.0)))
    np.testing.assert_allclose(got, want)


def test_contour_laterals_are_level_on_any_ground():
    ground = Hill(lambda x, y: 100 + 0.1 * y + 0.6 * np.sin(x / 9.0) + 0.002 * x * y)
    layout = lay_on(ground, BED, settings_of(), "contour")
    for one in layout.laterals:
        assert np.abs(ground.elevation(one.xy) - one.elevation).max() < 2e-3


def test_contours_never_crowd_by_more_than_the_tolerance():
    """Slope from 6 to 14 % along the bed: nowhere nearer than 90 % of the spacing."""
    ground = Hill(lambda x, y: 100 + (0.06 + 0.08 * x / 60.0) * y)
    layout = lay_on(ground, BED, settings_of(), "contour")
    lines = [LineString(one.xy) for one in layout.laterals]
    nearest = min(a.distance(b) for k, a in enumerate(lines) for b in lines[k + 1 :])
    assert nearest == pytest.approx(1.8, abs=0.002)
