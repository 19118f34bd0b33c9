"""The stripe field on grounds where the answer is known, and what it promises elsewhere."""

from __future__ import annotations

import numpy as np
import pytest

from dripfield.layout.balanced.stripes import Tolerances, solve_stripes

WANT = Tolerances(spacing=2.0, level=0.1, fraction=0.1, wave_along=13.0, wave_across=8.0)
U, V = np.meshgrid(2.0 * np.arange(41), 2.0 * np.arange(26))  # 80 x 50, v down the slope
MASK = np.ones(U.shape, dtype=bool)
INNER = np.zeros_like(MASK)
INNER[2:-2, 2:-2] = True


def solve(*grounds, mask=MASK, rounds=110, rough=None, steepness=None):
    z = np.stack(grounds)
    rough = z if rough is None else np.stack(rough)
    return solve_stripes(z, rough, np.stack([mask] * len(z)), steepness, 2.0, WANT, rounds)


def nose(bend: float) -> np.ndarray:
    return 100.0 - 0.1 * V - bend * (U - 40.0) ** 2


def test_on_a_plane_the_field_is_linear():
    """One stripe for every 2 ft down the slope. The rim is free, so the inside is looked at."""
    (field,) = solve(100.0 - 0.1 * V)
    assert field.share_good == 1.0
    down, along = np.gradient(field.phi, 2.0)
    np.testing.assert_allclose(along[INNER], 0.0, atol=1e-4)
    spacing = 1.0 / down[INNER]
    assert 1.8 < spacing.min() <= spacing.max() < 2.2
    assert np.ptp(field.phi, axis=1)[2:-2].max() < 0.02  # of a stripe: 0.04 ft over 80 ft


@pytest.mark.parametrize("apex", [80.0, 150.0])
def test_on_a_cone_both_tolerances_hold(apex):
    (field,) = solve(100.0 - 0.1 * np.hypot(U - 40.0, V + apex))
    assert field.share_good == 1.0


def test_tolerances_are_used_where_level_lines_alone_fail():
    """On a nose that bends too much for level lines, more holds both than by z alone."""
    z = nose(0.0010)
    (field,) = solve(z)
    down, along = np.gradient(z, 2.0)
    by_level_lines = np.abs(0.1 / np.hypot(down, along) - 1.0) <= WANT.fraction
    assert by_level_lines.mean() < 0.7
    assert field.share_good > 0.9


def test_good_cells_are_those_that_hold_both():
    """Measured here by finite differences of the field and its own map."""
    (field,) = solve(nose(0.002))
    corners = [field.phi[i : i + 25, j : j + 40] for i in (0, 1) for j in (0, 1)]
    a, b, c, d = corners  # upper left, upper right, lower left, lower right
    size = np.hypot((b + d - a - c) / 2.0, (c + d - a - b) / 2.0)  # stripes in 2 ft
    spaced = np.abs(1.0 / size - 1.0) <= WANT.fraction
    z = nose(0.002)
    middle = (z[1:, 1:] + z[1:, :-1] + z[:-1, 1:] + z[:-1, :-1]) / 4.0
    level = np.abs(middle - field.map.elevation_at((a + b + c + d) / 4.0)) <= WANT.level
    np.testing.assert_array_equal(field.good, level & spaced)
    assert field.share_good == pytest.approx((level & spaced).mean())


def test_spacing_along_the_slope():
    """5-12-13 triangle: at 5 in 12 a foot in plan is 13/12 along the slope."""
    steep = np.full((1, 25, 40), 13.0 / 12.0)
    (field,) = solve(100.0 - V * 5.0 / 12.0, steepness=steep)
    down, _ = np.gradient(field.phi, 2.0)
    assert 1.8 < (13.0 / 12.0) / down[INNER].mean() < 2.2
    assert field.share_good > 0.9


def test_only_the_mask_makes_demands():
    """Ground beyond the mask may do what it likes."""
    mask = MASK.copy()
    mask[:, 25:] = False
    wild = np.where(mask, 100.0 - 0.1 * V, 90.0 + 0.3 * V)
    (field,) = solve(wild, mask=mask)
    assert field.cells.sum() == 24 * 25
    assert field.share_good > 0.9


def test_stripes_lean_towards_the_ground_as_surveyed():
    """Elevations rise where the survey lies above the smoothed ground, fall where below."""
    z = 100.0 - 0.1 * V
    rough = z + 0.24 * np.tanh((U - 40.0) / 5.0)
    for surveyed, least, most in ((z, -0.02, 0.02), (rough, 0.02, 0.22)):
        (field,) = solve(z, rough=[surveyed])
        above = field.map.elevation_at(field.phi) - z
        assert least < np.median(above[INNER & (U > 55.0)]) < most
        assert least < -np.median(above[INNER & (U < 25.0)]) < most


def test_the_same_again_to_the_bit():
    (one,) = solve(nose(0.001))
    (two,) = solve(nose(0.001))
    np.testing.assert_array_equal(one.phi, two.phi)
    np.testing.assert_array_equal(one.map.drop, two.map.drop)


def test_several_panels_at_once_are_as_if_alone():
    """To rounding in single precision, amplified: a ten-thousandth of a stripe."""
    grounds = [nose(0.0003), nose(0.001), 100.0 - 0.1 * V]
    for together, ground in zip(solve(*grounds, rounds=30), grounds, strict=True):
        (alone,) = solve(ground, rounds=30)
        np.testing.assert_allclose(together.phi, alone.phi, atol=1e-4)
        assert together.share_good == pytest.approx(alone.share_good, abs=0.002)


def test_nothing_to_serve():
    (field,) = solve(100.0 - 0.1 * V, mask=INNER & (U > 38.0) & (U < 42.0) & (V > 20) & (V < 32))
    assert field.share_good == 0.0
    assert not field.cells.any()
