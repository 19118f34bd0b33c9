"""Leave-one-out residuals against SciPy's interpolator refitted without each point."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator

from dripfield.core.arrays import Floats
from dripfield.ground import leave_one_out as module
from dripfield.ground.leave_one_out import leave_one_out
from dripfield.ground.triangles.tin import Surface

RNG = np.random.default_rng(6)


def _refitted(shots: Floats) -> Floats:
    """The slow way: n interpolators, each without one shot."""
    return np.array(
        [
            shots[i, 2]
            - LinearNDInterpolator(np.delete(shots[:, :2], i, 0), np.delete(shots[:, 2], i))(
                shots[i : i + 1, :2]
            )[0]
            for i in range(len(shots))
        ]
    )


def test_topo_as_scipy_has_it(topo: Floats) -> None:
    """52 spot heights of Davis (1973): 40 can be tested, 12 are corners of the hull."""
    found = leave_one_out(Surface.from_points(topo))
    expected = _refitted(topo)
    assert np.isfinite(expected).sum() == 40
    np.testing.assert_allclose(found, expected, atol=1e-9)


@pytest.mark.parametrize("few", [12, 0])
def test_random_shots_by_either_way_of_filling(few: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Trying all triangles of few neighbours, and triangulating the hole, agree with SciPy."""
    monkeypatch.setattr(module, "_FEW", few)
    shots = np.column_stack((RNG.uniform(0.0, 100.0, (150, 2)), RNG.normal(size=150)))
    np.testing.assert_allclose(
        leave_one_out(Surface.from_points(shots)), _refitted(shots), atol=1e-9
    )


def test_a_shot_with_very_many_neighbours() -> None:
    """The hub of a wheel of 40 shots."""
    turn = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False) + RNG.normal(0.0, 0.01, 40)
    reach = RNG.uniform(9.0, 11.0, 40)
    rim = np.column_stack((reach * np.cos(turn), reach * np.sin(turn), RNG.normal(size=40)))
    shots = np.vstack((rim, [[0.3, -0.2, 5.0]]))
    found = leave_one_out(Surface.from_points(shots))
    assert found[-1] == pytest.approx(_refitted(shots)[-1], abs=1e-9)


def test_a_plane_has_no_residuals_on_a_grid() -> None:
    x, y = np.meshgrid(np.arange(9.0), np.arange(7.0))
    shots = np.column_stack((x.ravel(), y.ravel(), (x + 2.0 * y).ravel()))
    found = leave_one_out(Surface.from_points(shots))
    assert np.isfinite(found).sum() == 63 - 4  # all but the corners of the hull
    np.testing.assert_allclose(found[np.isfinite(found)], 0.0, atol=1e-12)


def test_breaks_bound_the_hole_and_are_not_tested_themselves() -> None:
    """Level ground either side of a crease: no shot beside it is compared across it."""
    x, y = np.meshgrid(np.arange(0.0, 100.0, 9.0), np.arange(0.0, 100.0, 9.0))
    xy = np.column_stack((x.ravel(), y.ravel())) + RNG.normal(0.0, 0.5, (x.size, 2))
    top = np.column_stack((np.linspace(-2.0, 102.0, 8), np.full(8, 50.3)))
    xy = np.vstack((xy, top))
    z = -0.5 * np.maximum(xy[:, 1] - 50.3, 0.0)
    n = len(xy)
    edges = np.column_stack((np.arange(n - 8, n - 1), np.arange(n - 7, n)))
    broken = leave_one_out(Surface.from_points(np.column_stack((xy, z)), edges))
    assert np.isnan(broken[n - 8 :]).all()
    np.testing.assert_allclose(broken[np.isfinite(broken)], 0.0, atol=1e-9)
    unbroken = leave_one_out(Surface.from_points(np.column_stack((xy, z))[: n - 8]))
    assert np.nanmax(np.abs(unbroken)) > 1.0
