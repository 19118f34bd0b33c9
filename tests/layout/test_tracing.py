"""Level lines of functions known in closed form; evening, clipping."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, box, contains_xy

from dripfield.layout.lines.terrain import grid_over
from dripfield.layout.lines.tracing import Field, clip, clipped_lengths, evened, split

GRID = grid_over(box(-20, -15, 20, 15), 1.0, 3.0)


def field_of(function) -> Field:
    return Field(GRID, function(GRID.nodes[..., 0], GRID.nodes[..., 1]))


WAVY = field_of(lambda u, v: 0.5 * v + 1.5 * np.sin(u / 4.0) * np.cos(v / 9.0))
RADIUS = field_of(lambda u, v: np.hypot(u, v - 60.0))


def within(line: np.ndarray) -> np.ndarray:
    """Vertices inside the grid: at its rim a step may leave what the spline knows."""
    (left, right), (top, bottom) = GRID.u[[0, -1]], GRID.v[[0, -1]]
    return line[contains_xy(box(left, top, right, bottom).buffer(-0.1), line)]


def length(line: np.ndarray) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def test_lines_lie_on_their_level():
    levels = [-5.0, -1.3, 0.0, 2.7]
    lines = WAVY.lines(levels, 0.5)
    assert len(lines) == 4
    for level, line in zip(levels, lines, strict=True):
        assert len(within(line)) > len(line) - 4
        np.testing.assert_allclose(WAVY.value(within(line)), level, atol=1e-6, rtol=0)
        steps = np.hypot(*np.diff(line, axis=0).T)
        assert steps.max() < 0.55
        assert steps.min() > 0.4


def test_circles_come_out_as_circles():
    """Radius 50 to 68 about (0, 60), from nodes one unit apart."""
    for level in (50.0, 55.5, 68.0):
        (line,) = RADIUS.lines([level], 0.5)
        from_apex = np.hypot(*(within(line) - (0.0, 60.0)).T)
        np.testing.assert_allclose(from_apex, level, atol=1e-6, rtol=0)


def test_a_level_at_the_nodes_themselves():
    """v is a whole number on every row of nodes: the line is that row."""
    field = field_of(lambda u, v: v)
    (line,) = field.lines([float(GRID.v[10])], 0.5)
    np.testing.assert_allclose(line[:, 1], GRID.v[10], atol=1e-9)
    assert abs(line[-1, 0] - line[0, 0]) == pytest.approx(GRID.u[-1] - GRID.u[0])
    assert field.lines([1e6], 0.5) == []


def test_closed_lines_repeat_their_first_point():
    field = field_of(lambda u, v: u**2 + v**2)
    (line,) = field.lines([49.0], 0.5)
    np.testing.assert_array_equal(line[0], line[-1])
    np.testing.assert_allclose(np.hypot(*line.T), 7.0, atol=1e-6)
    assert length(line) == pytest.approx(14.0 * np.pi, rel=1e-3)


def test_rough_lines_are_the_same_lines_within_the_cells():
    for level in (-1.3, 2.7):
        (fine,), (rough,) = WAVY.lines([level], 0.25), WAVY.rough_lines(level)
        assert LineString(fine).hausdorff_distance(LineString(rough)) < 0.1


def test_gradient_and_value():
    places = np.random.default_rng(1).uniform(-15, 15, (50, 2))
    plane = field_of(lambda u, v: 2.0 * u - 3.0 * v + 1.0)
    np.testing.assert_allclose(plane.value(places), 2 * places[:, 0] - 3 * places[:, 1] + 1)
    np.testing.assert_allclose(plane.gradient(places), [(2.0, -3.0)] * 50)


def test_points_settle_on_a_level():
    start = np.column_stack((np.linspace(-15, 15, 40), np.full(40, 1.0)))
    settled = RADIUS.settle(start, 60.0)
    assert np.abs(RADIUS.value(settled) - 60.0).max() < 1e-6
    far = RADIUS.settle(start, 500.0, steps=3)  # never farther than half a cell a step
    assert np.hypot(*(far - start).T).max() <= 1.5 + 1e-9


def test_evened_lines_keep_their_ends_and_their_path():
    bent = np.array([(0.0, 0.0), (3.0, 0.0), (3.0, 4.0)])
    straight = np.array([(10.0, 10.0), (10.3, 10.0)])
    points, count = evened([bent, straight], 0.5)
    one, two = split(points, count)
    assert count.tolist() == [15, 2]  # 7 long: 14 steps of a half; 0.3 long: one step
    np.testing.assert_allclose(one[[0, 6, -1]], [(0, 0), (3, 0), (3, 4)], atol=1e-12)
    np.testing.assert_allclose(np.abs(np.diff(one, axis=0)).sum(axis=1), 0.5)
    np.testing.assert_array_equal(two, straight)


def test_repeated_vertices_do_no_harm():
    line = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 0.0), (2.0, 0.0), (2.0, 0.0)])
    points, count = evened([line], 0.5)
    assert count.tolist() == [5]
    np.testing.assert_allclose(points[:, 0], (0, 0.5, 1, 1.5, 2))


def test_clip_keeps_order_and_counts_parts():
    area = box(0, 0, 10, 10).difference(box(4, 0, 6, 10))
    lines = [np.array([(-5.0, y), (15.0, y)]) for y in (3.0, 20.0, 7.0)]
    parts = clip(lines, area)
    assert [part[0, 1] for part in parts] == [3.0, 3.0, 7.0, 7.0]
    assert sorted(part[:, 0].tolist() for part in parts[:2]) == [[0.0, 4.0], [6.0, 10.0]]
    np.testing.assert_allclose(clipped_lengths(lines, area), 4.0)
    assert clip([], area) == []
    assert clip(lines[1:2], area) == []
    assert len(clipped_lengths([], area)) == 0


def test_clip_drops_touches():
    assert clip([np.array([(-5.0, 5.0), (0.0, 10.0), (-5.0, 15.0)])], box(0, 0, 10, 10)) == []


def test_a_closed_line_is_one_part_wherever_it_begins():
    """Two thirds of a circle lie in the area: one part, though the circle begins within it."""
    for begin in np.linspace(0.0, 6.0, 7):
        angle = begin + np.linspace(0.0, 2 * np.pi, 101)
        circle = np.column_stack((np.cos(angle), np.sin(angle)))
        circle[-1] = circle[0]
        (part,) = clip([circle], box(-2.0, -0.5, 2.0, 2.0))
        np.testing.assert_allclose(part[[0, -1], 1], -0.5, atol=1e-9)
        assert length(part) == pytest.approx(4 * np.pi / 3, rel=2e-3)


def test_a_line_that_touches_a_corner_is_one_part():
    area = box(-5, -5, 5, 5).difference(Polygon([(0, 0), (1, 1), (-1, 1)]))
    (part,) = clip([np.array([(-6.0, 0.0), (0.0, 0.0), (6.0, 0.0)])], area)
    assert shapely.length(shapely.linestrings(part)) == pytest.approx(10.0)
