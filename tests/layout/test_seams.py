"""Straight seams down the slope, and the parts they divide a bed into.

Expected numbers are hand-derived.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from laying_out import rectangle
from shapely import LineString, box

from dripfield.layout.balanced.seams import LEFT, RIGHT, WHOLE, Part, Seam, Seams

BED = box(-50.0, 20.0, 50.0, 80.0)  # 100 x 60
ELL = shapely.union_all([rectangle(100.0, 20.0), rectangle(20.0, 60.0)])
SEAMS = Seams(BED)


@st.composite
def leaning(draw) -> list[Seam]:
    """Seams from left to right, 3 apart or more, the ends of the bed among them."""
    count = draw(st.integers(0, 5))
    at = st.lists(st.floats(-48.0, 30.0), min_size=count, max_size=count).map(
        lambda u: np.sort(u) + 3.0 * np.arange(count)
    )
    return [LEFT, *map(Seam, draw(at).tolist(), draw(at).tolist()), RIGHT]


def test_right_of_a_leaning_seam():
    """From u = 10 on the top edge to 22 on the bottom: 16 half way down."""
    seam = Seam(10.0, 22.0)
    uv = np.array(((10.0, 20.0), (16.0, 50.0), (26.0, 50.0), (13.0, 80.0)))
    np.testing.assert_allclose(SEAMS.right_of(seam, uv), (0.0, 0.0, 10.0, -9.0))
    assert (SEAMS.right_of(LEFT, uv) > 0.0).all()
    assert (SEAMS.right_of(RIGHT, uv) < 0.0).all()


def test_a_halo_reaches_past_both_seams():
    part = Part(Seam(0.0, 0.0), Seam(10.0, 10.0))
    uv = np.array([(u, 50.0) for u in (-2.1, -1.9, 5.0, 11.9, 12.1)])
    assert SEAMS.holds(part, uv, 2.0).tolist() == [False, True, True, True, False]
    assert SEAMS.holds(part, uv).tolist() == [False, False, True, False, False]


def test_length_inside_the_area():
    """11-60-61 triangle; a hole of 12 ft in height takes a fifth of it; the ends have none."""
    assert SEAMS.length(Seam(-5.0, 6.0)) == pytest.approx(61.0)
    assert SEAMS.length(Seam(6.0, -5.0)) == pytest.approx(61.0)
    holed = Seams(BED.difference(box(-20.0, 40.0, 20.0, 52.0)))
    assert holed.length(Seam(-5.0, 6.0)) == pytest.approx(61.0 * 0.8)
    assert SEAMS.length(LEFT) == SEAMS.length(RIGHT) == 0.0
    assert Seams(ELL).length(Seam(60.0, 60.0)) == pytest.approx(20.0)


def test_lines_are_straight_from_the_top_of_the_box_to_its_bottom():
    line = SEAMS.line(Seam(-5.0, 6.0))
    assert (line[0, 1], line[-1, 1]) == (20.0, 80.0)
    np.testing.assert_allclose(SEAMS.right_of(Seam(-5.0, 6.0), line), 0.0, atol=1e-9)


def test_strips_of_a_rectangle_are_of_equal_width():
    seams = SEAMS.even(5)
    assert (seams[0], seams[-1]) == (LEFT, RIGHT)
    assert [seam.top for seam in seams] == [seam.bottom for seam in seams]
    np.testing.assert_allclose([seam.top for seam in seams[1:-1]], (-30, -10, 10, 30), atol=1.0)
    assert SEAMS.width == 100.0


def test_leaning_strips_lean_alike():
    """A quarter to the right for each unit down: 15 in 60."""
    seams = SEAMS.even(5, 0.25)
    assert (seams[0], seams[-1]) == (LEFT, RIGHT)
    inner = np.array(seams[1:-1])
    np.testing.assert_allclose(inner[:, 1] - inner[:, 0], 15.0)
    np.testing.assert_allclose(inner.mean(axis=1), (-30, -10, 10, 30), atol=1.5)


@pytest.mark.parametrize("lean", [0.0, -0.4, 0.25])
@pytest.mark.parametrize("count", [2, 5, 12])
def test_strips_of_any_area_are_of_equal_area(count, lean):
    """The lattice they are weighed by has columns of some width; two of them may be off."""
    seams = Seams(ELL)
    column = 60.0 * np.sqrt(seams.cell)
    for pair in pairwise(seams.even(count, lean)):
        exact = seams.between(Part(*pair)).intersection(ELL).area
        assert exact == pytest.approx(ELL.area / count, abs=2.0 * column)
        assert seams.area_of(Part(*pair)) == pytest.approx(exact, abs=2.0 * column)


def test_places_fill_the_area():
    seams = Seams(ELL)
    assert shapely.contains_xy(ELL, seams.places).all()
    assert len(seams.places) * seams.cell == pytest.approx(ELL.area)
    assert seams.area_of(WHOLE) == pytest.approx(ELL.area)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(leaning())
def test_parts_share_the_bed(cuts):
    """As polygons and as places, each place in the part whose polygon holds it."""
    parts = [Part(*pair) for pair in pairwise(cuts)]
    shapes = [SEAMS.between(part).intersection(BED) for part in parts]
    assert shapely.union_all(shapes).symmetric_difference(BED).area < 1e-6
    assert sum(shape.area for shape in shapes) == pytest.approx(BED.area, abs=1e-6)
    held = np.array([SEAMS.holds(part, SEAMS.places) for part in parts])
    assert (held.sum(axis=0) == 1).all()
    lines = [LineString(SEAMS.line(seam)) for seam in cuts[1:-1]]
    points = shapely.points(SEAMS.places)
    clear = np.min([shapely.distance(line, points) for line in lines], axis=0, initial=1.0) > 1e-9
    inside = np.array([shapely.contains_xy(shape, SEAMS.places) for shape in shapes])
    np.testing.assert_array_equal(held[:, clear], inside[:, clear])
    assert sum(SEAMS.area_of(part) for part in parts) == pytest.approx(BED.area)


def test_seams_that_nearly_meet_at_the_edge_share_the_bed():
    """Half an inch apart at the top, 10 ft at the bottom: between them 0.5 x 60 x 10.04 = 301.2."""
    cuts = [LEFT, Seam(0.0, 0.0), Seam(0.04, 10.0), RIGHT]
    areas = [SEAMS.between(Part(*pair)).intersection(BED).area for pair in pairwise(cuts)]
    assert areas == pytest.approx([3000.0, 301.2, 2698.8])
