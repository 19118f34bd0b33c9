"""The ground sampled on a grid, against the formulas behind it."""

from __future__ import annotations

import numpy as np
import pytest
from laying_out import Hill, Plane, rectangle, terrain_on
from shapely import box

from dripfield.layout.lines.frame import fit_frame
from dripfield.layout.lines.terrain import Terrain, grid_over, sample_terrain

BED = rectangle(60.0, 40.0)
WAVY = Hill(lambda x, y: 100 + 0.1 * y + 0.5 * np.sin(x / 8.0) * np.cos(y / 11.0))


def places(count: int = 400) -> np.ndarray:
    return np.random.default_rng(1).uniform((0, 0), (60, 40), (count, 2))


def test_grid_holds_the_area_and_its_margin():
    grid = grid_over(box(-3.0, 2.0, 7.1, 9.0), 0.5, 2.0)
    assert grid.u[0] <= -5.0
    assert grid.u[-1] >= 9.1
    assert grid.v[0] <= 0.0
    assert grid.v[-1] >= 11.0
    np.testing.assert_allclose(np.diff(grid.u), 0.5)
    np.testing.assert_allclose(np.diff(grid.v), 0.5)
    assert grid.shape == (len(grid.v), len(grid.u))
    np.testing.assert_array_equal(grid.nodes[3, 5], (grid.u[5], grid.v[3]))


def test_spline_against_the_formula():
    """Cubic splines err with the fourth power of the step: 1/16 at half the step (hand-derived)."""
    worst = []
    for step in (2.0, 1.0):
        terrain = terrain_on(WAVY, BED, step)
        own = terrain.frame.to_local(places())
        worst.append(np.abs(terrain.elevation(own) - WAVY.elevation(places())).max())
        rise = terrain.gradient(own) @ terrain.frame.turn
        assert np.abs(rise - WAVY.gradient(places())).max() < 0.002 * step**3
    assert worst[1] < 1e-4
    assert worst[0] / worst[1] == pytest.approx(16.0, rel=0.5)


def test_plane_is_exact():
    terrain = terrain_on(Plane(0.03, 0.08), BED)
    own = terrain.frame.to_local(places())
    np.testing.assert_allclose(terrain.elevation(own), Plane(0.03, 0.08).elevation(places()))
    np.testing.assert_allclose(terrain.slope, np.hypot(0.03, 0.08), atol=1e-9)
    np.testing.assert_allclose(
        terrain.gradient(own), [(0.0, -np.hypot(0.03, 0.08))] * 400, atol=1e-9
    )


def test_ground_as_surveyed_is_kept_beside_the_smoothed():
    frame = fit_frame(WAVY, BED)
    grid = grid_over(frame.geometry_to_local(BED), 1.0, 4.0)
    rough = Hill(lambda x, y: WAVY.height(x, y) + 0.03 * np.sin(x / 3.0))
    terrain = sample_terrain(WAVY, frame, grid, rough)
    own = frame.to_local(places())
    apart = terrain.rough_elevation(own) - terrain.elevation(own)
    np.testing.assert_allclose(apart, 0.03 * np.sin(places()[:, 0] / 3.0), atol=2e-4)
    same = sample_terrain(WAVY, frame, grid)
    np.testing.assert_array_equal(same.rough_elevation(own), same.elevation(own))
    coarse = terrain.on(grid_over(frame.geometry_to_local(BED), 2.5, 3.0))
    assert isinstance(coarse, Terrain)
    nodes = coarse.grid.nodes.reshape(-1, 2)
    np.testing.assert_allclose(coarse.z.ravel(), terrain.elevation(nodes))
    np.testing.assert_allclose(coarse.rough.ravel(), terrain.rough_elevation(nodes))


def test_unknown_ground_is_filled_from_the_nearest_about_the_plane():
    plane = Plane(0.0, 0.1)
    holed = Hill(lambda x, y: np.where(np.hypot(x - 30, y - 20) < 8, np.nan, 100 + 0.1 * y))
    terrain = terrain_on(holed, BED)
    nodes = terrain.frame.to_site(terrain.grid.nodes.reshape(-1, 2))
    assert np.isfinite(terrain.z).all()
    np.testing.assert_allclose(terrain.z.ravel(), plane.elevation(nodes), atol=1e-9)
