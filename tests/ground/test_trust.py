"""What level lines are said to hold, against what triangles really do on known ground."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from dripfield.core.arrays import Floats
from dripfield.ground.triangles.tin import Surface
from dripfield.ground.trust import bend_error, shot_noise, trust

BED = shapely.box(24.0, 24.0, 136.0, 136.0)
Height = Callable[[Floats], Floats]
GROUNDS: dict[str, Height] = {
    "waves": lambda p: 2.0 * np.sin(p[:, 0] / 25.0) * np.cos(p[:, 1] / 30.0),
    "trough": lambda p: p[:, 0] ** 2 / 400.0,
    "bowl": lambda p: (p[:, 0] ** 2 + p[:, 1] ** 2) / 800.0,
    "saddle": lambda p: p[:, 0] * p[:, 1] / 400.0,
    "cone": lambda p: -0.15 * np.hypot(p[:, 0] - 80.0, p[:, 1] + 60.0),
}


def _survey(height: Height, spacing: float, noise: float, kind: str, seed: int = 0) -> Surface:
    rng = np.random.default_rng(seed)
    if kind == "random":
        xy = rng.uniform(0.0, 160.0, (int((160.0 / spacing) ** 2), 2))
    else:
        x, y = np.meshgrid(*2 * (np.arange(0.0, 161.0, spacing),))
        xy = np.column_stack((x.ravel(), y.ravel())) + rng.normal(0.0, 0.15 * spacing, (x.size, 2))
    return Surface.from_points(
        np.column_stack((xy, height(xy) + rng.normal(0.0, 1.0, len(xy)) * noise))
    )


def _true_error(surface: Surface, height: Height) -> float:
    """What 9 places in 10 of the bed are off, looked up at 20 000 places."""
    places = np.random.default_rng(1).uniform(24.0, 136.0, (20_000, 2))
    return float(np.nanpercentile(np.abs(surface.elevation(places) - height(places)), 90.0))


@pytest.mark.parametrize("kind", ["grid", "random"])
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize(("spacing", "noise"), [(8.0, 0.0), (12.0, 0.05)])
def test_hold_is_what_the_triangles_are_off(
    ground: str, kind: str, spacing: float, noise: float
) -> None:
    surface = _survey(GROUNDS[ground], spacing, noise, kind)
    found = trust(surface, BED, spacing, 0.10)
    ratio = found.hold / _true_error(surface, GROUNDS[ground])
    assert 0.85 < ratio < 1.5
    if not noise:
        assert ratio == pytest.approx(1.0, abs=0.12)


@pytest.mark.parametrize("ground", ["trough", "bowl", "cone"])
def test_the_needed_spacing_would_do(ground: str) -> None:
    """A second survey at the spacing that the first one asks for holds the tolerance."""
    first = trust(_survey(GROUNDS[ground], 16.0, 0.0, "grid"), BED, 16.0, 0.05)
    assert first.needed_spacing is not None
    again = _survey(GROUNDS[ground], first.needed_spacing, 0.0, "grid", seed=5)
    assert _true_error(again, GROUNDS[ground]) == pytest.approx(0.05, rel=0.25)


def test_noise_beyond_the_tolerance_is_out_of_reach() -> None:
    found = trust(_survey(GROUNDS["cone"], 10.0, 0.2, "grid"), BED, 10.0, 0.10)
    assert found.needed_spacing is None
    assert not found.holds
    assert len(found.more_shots) == 0
    assert found.noise == pytest.approx(0.2, rel=0.25)


def test_a_plane_needs_no_more_shots() -> None:
    surface = _survey(lambda p: 0.1 * p[:, 0], 16.0, 0.0, "grid")
    found = trust(surface, BED, 16.0, 0.05)
    assert found.needed_spacing == np.inf
    assert found.holds
    assert found.hold == pytest.approx(0.0, abs=1e-9)


def test_more_shots_are_asked_for_where_the_ground_bends() -> None:
    """Flat but for a mound in the middle: every place named is on the mound, and apart."""
    mound: Height = lambda p: 3.0 * np.exp(-((p[:, 0] - 80) ** 2 + (p[:, 1] - 80) ** 2) / 400.0)  # noqa: E731
    found = trust(_survey(mound, 10.0, 0.0, "grid"), BED, 10.0, 0.08)
    assert len(found.more_shots) > 2
    assert np.hypot(*(found.more_shots - 80.0).T).max() < 45.0
    assert found.needed_spacing is not None
    away = np.hypot(*(found.more_shots[:, None] - found.more_shots[None]).transpose(2, 0, 1))
    apart = min(found.needed_spacing, 10.0)
    assert away[away > 0.0].min() >= apart


def test_bend_error_of_a_quadratic_is_exact() -> None:
    """z = x^2 / 100 over triangles: the departure is (x - a)(b - x) / 100 along a side a to b."""
    x, y = np.meshgrid(np.arange(0.0, 161.0, 10.0), np.arange(0.0, 161.0, 10.0))
    xy = np.column_stack((x.ravel(), y.ravel()))
    surface = Surface.from_points(np.column_stack((xy, xy[:, 0] ** 2 / 100.0)))
    places = np.random.default_rng(2).uniform(30.0, 130.0, (500, 2))
    found, _ = bend_error(surface, places)
    expected = np.abs(surface.elevation(places) - places[:, 0] ** 2 / 100.0)
    np.testing.assert_allclose(found, expected, atol=0.004)


def test_shot_noise_is_the_surveys_own() -> None:
    surface = _survey(GROUNDS["bowl"], 8.0, 0.04, "random")
    assert shot_noise(surface) == pytest.approx(0.04, rel=0.2)
    assert shot_noise(Surface.from_points(np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0.0]]))) is None


def test_half_interval_rule() -> None:
    """US National Map Accuracy Standards 1947: 9 in 10 within half the interval (published)."""
    found = trust(_survey(GROUNDS["bowl"], 8.0, 0.04, "random"), BED, 8.0, 0.10)
    assert found.contour_interval is not None
    off = np.abs(found.residuals[np.isfinite(found.residuals)])
    assert (off > found.contour_interval / 2.0).mean() <= 0.10 + 1.0 / len(off)
