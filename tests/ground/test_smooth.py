"""The smoothed ground: how far it moves shots, and how much nearer the true ground it is."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from dripfield.core.arrays import Floats
from dripfield.ground.smoothing.smooth import smooth_ground
from dripfield.ground.triangles.tin import Surface

FAR = np.array([2_100_000.0, 730_000.0])
PLACES = np.random.default_rng(1).uniform(0.05, 0.95, (4000, 2)) * (160.0, 100.0)
Height = Callable[[Floats], Floats]


def _cone(xy: Floats) -> Floats:
    return np.asarray(120.0 - 0.15 * np.hypot(xy[:, 0] - 80.0, xy[:, 1] + 60.0))


def _waves(xy: Floats) -> Floats:
    return np.asarray(0.1 * xy[:, 1] + 2.0 * np.sin(xy[:, 0] / 25.0) * np.cos(xy[:, 1] / 30.0))


def _survey(height: Height, count: int, noise: float = 0.0, seed: int = 3) -> Surface:
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0.0, 1.0, (count, 2)) * (160.0, 100.0)
    z = height(xy) + noise * rng.standard_normal(count)
    return Surface.from_points(np.column_stack((xy + FAR, z)))


def test_a_plane_stays_a_plane() -> None:
    def plane(xy: Floats) -> Floats:
        return np.asarray(1000.0 + 0.11 * xy[:, 0] - 0.07 * xy[:, 1])

    ground = smooth_ground(_survey(plane, 200), 0.05)
    known = np.isfinite(ground.elevation(PLACES + FAR))
    assert known.mean() > 0.95
    at = PLACES[known]
    np.testing.assert_allclose(ground.elevation(at + FAR), plane(at), atol=1e-9)
    np.testing.assert_allclose(
        ground.gradient(at + FAR), np.tile((0.11, -0.07), (len(at), 1)), atol=1e-9
    )
    np.testing.assert_allclose(ground.curvature(at + FAR), 0.0, atol=1e-12)


@pytest.mark.parametrize("height", [_cone, _waves])
def test_nearer_the_true_ground_than_the_triangles(height: Height) -> None:
    surface = _survey(height, 300)
    ground = smooth_ground(surface, 0.05)
    smooth = ground.elevation(PLACES + FAR) - height(PLACES)
    flat = surface.elevation(PLACES + FAR) - height(PLACES)
    assert np.sqrt(np.nanmean(smooth**2)) < 0.15 * np.sqrt(np.nanmean(flat**2))


@pytest.mark.parametrize(("count", "share"), [(40, 1.1), (300, 0.6), (4000, 0.3)])
def test_noise_is_smoothed_out(count: int, share: float) -> None:
    """Shots of 0.03 ft error: the more of them, the nearer the ground is to the truth."""
    surface = _survey(_cone, count, noise=0.03)
    off = smooth_ground(surface, 0.15).elevation(PLACES + FAR) - _cone(PLACES)
    assert np.sqrt(np.nanmean(off**2)) < share * 0.03


@pytest.mark.parametrize("most", [0.0, 0.01, 0.05])
@pytest.mark.parametrize("count", [4, 30, 200, 5000])
def test_no_shot_is_moved_farther_than_the_bound(count: int, most: float) -> None:
    """Also where close pairs of shots differ by more than the bound, and with 5000 of them."""
    surface = _survey(_waves, count, noise=0.05)
    shots = surface.vertices
    ground = smooth_ground(surface, most)
    moved = np.abs(ground.elevation(shots[:, :2]) - shots[:, 2])
    assert np.nanmax(moved) <= most + 1e-9
    assert ground.moved == pytest.approx(np.nanmax(moved), abs=1e-9)


def test_a_blunder_stays_within_the_bound_and_does_not_spoil_the_rest() -> None:
    surface = _survey(_cone, 300)
    middle = int(np.argmin(np.hypot(*(surface.vertices[:, :2] - FAR - (80.0, 50.0)).T)))
    shots = surface.vertices.copy()
    shots[middle, 2] += 2.0
    ground = smooth_ground(Surface.from_points(shots), 0.05)
    moved = np.abs(ground.elevation(shots[:, :2]) - shots[:, 2])
    assert np.nanmax(moved) <= 0.05 + 1e-9
    away = np.hypot(*(PLACES - (shots[middle, :2] - FAR)).T) > 30.0
    off = ground.elevation(PLACES[away] + FAR) - _cone(PLACES[away])
    assert np.nanmax(np.abs(off)) < 0.2


def test_gradient_is_that_of_the_elevations() -> None:
    """Central differences, also in bumps and towards a breakline, to 1e-5."""
    surface = _survey(_waves, 300, noise=0.08)
    ends = np.array([[30.0, 20.0], [120.0, 70.0]])
    line = np.column_stack((ends + FAR, _waves(ends) - 0.5))
    broken = Surface.from_points(
        np.vstack((surface.vertices, line)),
        np.array([[len(surface.vertices), len(surface.vertices) + 1]]),
    )
    step = 1e-3
    for ground in (smooth_ground(surface, 0.02), smooth_ground(broken, 0.02)):
        places = PLACES[ground.surface.locate(PLACES + FAR)[0] >= 0] + FAR
        same = [
            ground.surface.locate(places + shift)[0] == ground.surface.locate(places)[0]
            for shift in ((step, 0), (-step, 0), (0, step), (0, -step))
        ]
        places = places[np.all(same, axis=0)]  # a kink of the triangles shows only near the break
        numeric = np.column_stack(
            [
                (ground.elevation(places + d) - ground.elevation(places - d)) / (2.0 * step)
                for d in ((step, 0.0), (0.0, step))
            ]
        )
        np.testing.assert_allclose(ground.gradient(places), numeric, atol=2e-5)


def test_gradient_does_not_jump_at_triangle_sides() -> None:
    surface = _survey(_waves, 300)
    ground = smooth_ground(surface, 0.05)
    a, b = np.moveaxis(surface.vertices[surface.triangles[:, :2]][:, :, :2], 1, 0)
    normal = np.column_stack((a[:, 1] - b[:, 1], b[:, 0] - a[:, 0]))
    normal /= np.hypot(*normal.T)[:, None]
    middle, step = (a + b) / 2.0, 1e-4

    def jump(kind: Surface) -> Floats:
        both = kind.gradient(middle + step * normal) - kind.gradient(middle - step * normal)
        return np.asarray(np.hypot(*both.T))

    assert np.nanmax(jump(ground)) < 1e-4  # type: ignore[arg-type]
    assert np.nanmedian(jump(surface)) > 5e-3


def test_a_breakline_keeps_its_kink() -> None:
    """A bank: level ground, then a drop of 1 in 2, with the top of bank as a breakline."""
    rng = np.random.default_rng(2)
    xy = rng.uniform(0.0, 100.0, (300, 2))

    def bank(at: Floats) -> Floats:
        return np.asarray(50.0 - 0.5 * np.maximum(at[:, 1] - 50.0, 0.0))

    top = np.column_stack((np.linspace(0.0, 100.0, 11), np.full(11, 50.0)))
    shots = np.vstack((xy, top))
    edges = np.column_stack((np.arange(300, 310), np.arange(301, 311)))
    surface = Surface.from_points(np.column_stack((shots, bank(shots))), edges)
    ground = smooth_ground(surface, 0.05)
    along = np.column_stack((np.linspace(10.0, 90.0, 60), np.full(60, 50.0)))
    np.testing.assert_allclose(ground.elevation(along), 50.0, atol=1e-9)
    np.testing.assert_allclose(ground.gradient(along - np.array((0.0, 0.01)))[:, 1], 0.0, atol=5e-3)
    np.testing.assert_allclose(
        ground.gradient(along + np.array((0.0, 0.01)))[:, 1], -0.5, atol=5e-3
    )
    shots = surface.vertices
    assert np.nanmax(np.abs(ground.elevation(shots[:, :2]) - shots[:, 2])) <= 0.05 + 1e-9
    places = rng.uniform(10.0, 90.0, (2000, 2))
    off = np.abs(ground.elevation(places) - bank(places))
    assert off.max() < 0.06
    assert np.percentile(off, 90.0) < 0.015


def test_not_known_outside_the_triangles() -> None:
    ground = smooth_ground(_survey(_cone, 50), 0.05)
    outside = np.array([[-50.0, 50.0], [80.0, 300.0]]) + FAR
    assert np.isnan(ground.elevation(outside)).all()
    assert np.isnan(ground.gradient(outside)).all()
