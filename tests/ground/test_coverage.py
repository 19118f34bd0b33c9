"""Gaps in the survey against a brute-force look at distances to shots."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

from dripfield.ground.coverage import coverage
from dripfield.ground.triangles.tin import Surface

RNG = np.random.default_rng(5)
FAR = np.array([2_000_000.0, 1_000_000.0])
BED = shapely.Polygon(np.array([(10, 10), (150, 10), (150, 110), (10, 90)]) + FAR)


def _grid(step: float, keep: object = None) -> np.ndarray:
    x, y = np.meshgrid(np.arange(0.0, 161.0, step), np.arange(0.0, 121.0, step))
    xy = np.column_stack((x.ravel(), y.ravel()))
    if callable(keep):
        xy = xy[keep(xy)]
    return np.column_stack((xy + FAR, 0.1 * xy[:, 0]))


def test_a_grid_covers_a_bed_inside_it() -> None:
    found = coverage(Surface.from_points(_grid(10.0)), BED, 3.0)
    assert found.complete
    assert found.spacing == pytest.approx(10.0)
    assert found.reach == pytest.approx(30.0)
    assert found.bed_area == pytest.approx(140.0 * 90.0)  # mean height 90 over 140, by hand


def test_ground_outside_the_hull_is_a_gap_of_its_exact_area() -> None:
    """Shots only up to easting 120: the bed beyond is a strip 30 wide, 95.7 to 100 high."""
    found = coverage(Surface.from_points(_grid(10.0, lambda xy: xy[:, 0] <= 120.0)), BED, 3.0)
    slope = 20.0 / 140.0
    heights = 100.0 - 30.0 * slope, 100.0
    assert found.outside_area == pytest.approx(30.0 * sum(heights) / 2.0, abs=1e-3)
    assert not found.sparse


@pytest.mark.parametrize("count", [300, 3000])
def test_sparse_ground_is_what_lies_beyond_reach_of_every_shot(count: int) -> None:
    xy = RNG.uniform(0.0, 1.0, (count, 2)) * (160.0, 120.0)
    xy = xy[np.hypot(*(xy - (80.0, 55.0)).T) > 35.0] + FAR
    surface = Surface.from_points(np.column_stack((xy, xy[:, 0])))
    found = coverage(surface, BED, 2.0)
    assert found.sparse_area > 100.0
    places = RNG.uniform(0.0, 1.0, (20_000, 2)) * (160.0, 120.0) + FAR
    places = places[shapely.contains_xy(BED, places)]
    far = (cKDTree(xy).query(places)[0] > found.reach) & np.isfinite(surface.elevation(places))
    marked = shapely.contains_xy(shapely.MultiPolygon(found.sparse), places)
    assert (marked != far).mean() < 0.002  # circles are drawn as polygons of 128 sides


def test_a_breakline_counts_as_survey() -> None:
    """A hole in the grid with a breakline through its middle is covered along the line."""
    shots = _grid(10.0, lambda xy: np.hypot(*(xy - (80.0, 50.0)).T) > 45.0)
    ends = np.array([[60.0, 50.0], [100.0, 50.0]]) + FAR
    line = np.column_stack((ends, 0.1 * (ends[:, 0] - FAR[0])))
    without = coverage(Surface.from_points(shots), BED, 3.0)
    edge = np.array([[len(shots), len(shots) + 1]])
    found = coverage(Surface.from_points(np.vstack((shots, line)), edge), BED, 3.0)
    assert without.sparse_area > 200.0
    assert found.complete


def test_a_rounding_sliver_at_the_rim_is_no_gap() -> None:
    bed = shapely.box(*FAR, *(FAR + np.array((160.0, 120.01))))
    assert coverage(Surface.from_points(_grid(10.0)), bed, 3.0).complete
