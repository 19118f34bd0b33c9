"""Queries on the surface against SciPy's linear interpolator and matplotlib's gradients."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.tri import LinearTriInterpolator, Triangulation
from scipy.interpolate import LinearNDInterpolator

from dripfield.core.arrays import Floats
from dripfield.ground.triangles.tin import Surface

RNG = np.random.default_rng(8)
FAR = np.array([2_100_000.0, 7_300_000.0])  # state-plane size [ft]


def test_elevations_as_scipy_interpolates(topo: Floats) -> None:
    for shots in (topo, np.column_stack((RNG.uniform(0, 90, (400, 2)), RNG.normal(size=400)))):
        surface = Surface.from_points(shots)
        places = RNG.uniform(shots[:, :2].min(axis=0) - 5, shots[:, :2].max(axis=0) + 5, (5000, 2))
        expected = LinearNDInterpolator(shots[:, :2], shots[:, 2])(places)
        np.testing.assert_allclose(surface.elevation(places), expected, atol=1e-9)


def test_gradients_as_matplotlib_has_them(topo: Floats) -> None:
    surface = Surface.from_points(topo)
    mesh = Triangulation(topo[:, 0], topo[:, 1], surface.triangles)
    places = RNG.uniform(60.0, 250.0, (2000, 2))
    east, north = LinearTriInterpolator(mesh, topo[:, 2]).gradient(*places.T)
    expected = np.column_stack((east.filled(np.nan), north.filled(np.nan)))
    np.testing.assert_allclose(surface.gradient(places), expected, atol=1e-9)


def test_vertices_and_rim_are_inside_and_the_rest_is_not_known() -> None:
    shots = np.column_stack((RNG.uniform(0, 100, (300, 2)), RNG.normal(size=300)))
    surface = Surface.from_points(shots)
    np.testing.assert_allclose(surface.elevation(shots[:, :2]), shots[:, 2], atol=1e-9)
    middles = np.asarray(surface.outline.exterior.coords)
    middles = (middles[1:] + middles[:-1]) / 2.0
    assert np.isfinite(surface.elevation(middles)).all()
    away = np.array([[-1.0, 50.0], [1e9, 1e9], [np.nan, 0.0], [np.inf, 0.0]])
    assert np.isnan(surface.elevation(away)).all()
    assert np.isnan(surface.gradient(away)).all()


def test_large_coordinates_lose_nothing() -> None:
    """The same survey near the origin and at state-plane coordinates, to 1e-7 ft."""
    shots = np.round(np.column_stack((RNG.uniform(0, 200, (200, 2)), RNG.uniform(0, 9, 200))), 2)
    near = Surface.from_points(shots)
    far = Surface.from_points(shots + np.append(FAR, 0.0))
    places = RNG.uniform(20.0, 180.0, (3000, 2))
    np.testing.assert_allclose(far.elevation(places + FAR), near.elevation(places), atol=1e-6)


def test_slope_and_aspect_of_a_plane() -> None:
    """Rising 3 in 100 to the east and 4 in 100 to the south: 5 %, falling to the northwest."""
    xy = RNG.uniform(0, 100, (50, 2))
    surface = Surface.from_points(np.column_stack((xy, 0.03 * xy[:, 0] - 0.04 * xy[:, 1])))
    at = np.array([[50.0, 50.0]])
    assert surface.slope(at)[0] == pytest.approx(0.05, abs=1e-12)
    assert surface.aspect(at)[0] == pytest.approx(360.0 - np.degrees(np.arctan(0.75)), abs=1e-6)
    level = Surface.from_points(np.column_stack((xy, np.full(50, 7.0))))
    assert np.isnan(level.aspect(at)[0])
