"""Emitters on a lateral, and the ground that each of them serves."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from dripfield.zones.areas import served_areas, serving_cells
from dripfield.zones.emitters import emitter_stations, points_along


@pytest.mark.parametrize(
    ("length", "spacing", "expected"),
    [
        (10.0, 2.0, [1.0, 3.0, 5.0, 7.0, 9.0]),  # hand-derived: 5 whole spacings, 4 between them
        (11.9, 2.0, [1.95, 3.95, 5.95, 7.95, 9.95]),
        (0.6 * 7, 0.6, list(0.3 + 0.6 * np.arange(7))),  # 7 but for rounding
        (1.5, 2.0, []),
    ],
)
def test_as_many_as_whole_spacings_centred(length, spacing, expected) -> None:
    stations = emitter_stations(length, spacing)
    np.testing.assert_allclose(stations, expected, atol=1e-9)


def test_points_lie_on_the_line_at_their_stations() -> None:
    xy = np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 10.0]])
    np.testing.assert_allclose(points_along(xy, np.array([5.0, 8.0])), [[3.0, 4.0], [3.0, 7.0]])


def test_a_square_grid_serves_squares() -> None:
    """Hand-derived: on a grid 2 by 2 that fills its rectangle every cell is 4."""
    x, y = np.meshgrid(np.arange(1.0, 20.0, 2.0), np.arange(1.0, 10.0, 2.0))
    points = np.column_stack((x.ravel() + 2_300_000.0, y.ravel() + 780_000.0))
    bed = box(2_300_000.0, 780_000.0, 2_300_020.0, 780_010.0)
    np.testing.assert_allclose(served_areas(points, bed), 4.0, rtol=1e-6)


def test_cells_hold_what_is_nearest_and_make_up_the_bed() -> None:
    """Brute force: the nearest emitter of random places owns the cell that they lie in."""
    from scipy.spatial import cKDTree

    rng = np.random.default_rng(5)
    points = rng.uniform(0.0, 50.0, (80, 2))
    bed = Polygon([(0, 0), (50, 5), (45, 30), (20, 22), (5, 48)])
    cells = serving_cells(points, bed)
    assert sum(cell.area for cell in cells) == pytest.approx(bed.area, rel=1e-9)
    places = rng.uniform(0.0, 50.0, (3000, 2))
    inside = places[shapely.contains_xy(bed, *places.T)]
    nearest = cKDTree(points).query(inside)[1]
    owned = shapely.distance(np.array(cells, dtype=object)[nearest], shapely.points(inside))
    assert owned.max() < 1e-6


def test_one_emitter_serves_all() -> None:
    bed = box(0, 0, 3, 4)
    assert served_areas(np.array([[1.0, 1.0]]), bed).tolist() == [12.0]
    assert len(served_areas(np.empty((0, 2)), bed)) == 0
