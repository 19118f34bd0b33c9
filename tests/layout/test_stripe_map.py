"""Which stripe belongs to an elevation: maps there and back, from the ground, and fitted anew.

Expected numbers are hand-derived.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dripfield.layout.balanced.stripe_map import StripeMap, carried_on, first_map, refit

U, V = np.meshgrid(2.0 * np.arange(41), 2.0 * np.arange(26))  # 80 x 50, v down the slope
MASK = np.ones(U.shape, dtype=bool)
TOLERANCE = 0.1


def maps_of(*knots) -> StripeMap:
    """Knots (drop, stripe) of each panel, carried on."""
    drop, stripe = (np.concatenate([np.asarray(one[k], float) for one in knots]) for k in (0, 1))
    return carried_on(drop, stripe, np.repeat(np.arange(len(knots)), [len(d) for d, _ in knots]))


def even_map(panels: int = 1, fall: float = 0.2) -> StripeMap:
    """From one stripe to the next so much of fall, stripe 0 at elevation 0."""
    stripe = np.linspace(-10.0, 30.0, 81)
    return maps_of(*[(fall * stripe, stripe)] * panels)


def rate(found: StripeMap, high: float, low: float, panel: int = 0) -> float:
    """Stripes per unit of drop between two elevations."""
    a, b = found.stripe_at(np.array((high, low)), panel)
    return float((b - a) / (high - low))


def assert_rising(found: StripeMap) -> None:
    same = np.diff(found.panel) == 0
    assert (np.diff(found.panel) >= 0).all()
    assert (np.diff(found.drop)[same] > 0.0).all()
    assert (np.diff(found.stripe)[same] > 0.0).all()


# there and back

some_knots = st.lists(
    st.tuples(st.floats(0.01, 3.0), st.floats(0.01, 3.0)), min_size=1, max_size=9
).map(lambda steps: np.vstack((np.zeros(2), np.cumsum(steps, axis=0))).T)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(some_knots, min_size=1, max_size=5), st.floats(-30.0, 30.0))
def test_maps_go_there_and_back(knots, top):
    """Every panel, also a hundred stripes beyond its ends; panels do not feel each other."""
    maps = maps_of(*[(drop - top, stripe + 10.0) for drop, stripe in knots])
    assert_rising(maps)
    for panel, (drop, stripe) in enumerate(knots):
        at = np.linspace(-90.0, stripe[-1] + 110.0, 60)
        z = maps.elevation_at(at, panel)
        assert (np.diff(z) < 0.0).all()
        np.testing.assert_allclose(maps.stripe_at(z, panel), at, atol=1e-6)
        np.testing.assert_allclose(maps.of(panel).elevation_at(at), z, atol=1e-6)
        alone = maps_of((drop - top, stripe + 10.0))
        np.testing.assert_allclose(alone.elevation_at(at), z, atol=1e-6)


def test_each_elevation_may_belong_to_a_panel_of_its_own():
    """5 and 2 stripes a unit."""
    maps = maps_of(([0.0, 1.0], [0.0, 5.0]), ([0.0, 1.0], [0.0, 2.0]))
    z, panel = np.full((2, 3), -0.5), np.array((0, 1))[:, None]
    np.testing.assert_allclose(maps.stripe_at(z, panel), [[2.5] * 3, [1.0] * 3])
    back = maps.elevation_at(np.array((2.5, 1.0)), np.array((0, 1)))
    np.testing.assert_allclose(back, -0.5)


def test_carried_on_along_the_end_legs():
    """10 stripes a unit in the first leg, 5 in the last; another panel beside it has 1."""
    maps = maps_of(([0.0, 1.0, 3.0], [0.0, 10.0, 20.0]), ([7.0, 8.0], [4.0, 5.0]))
    np.testing.assert_allclose(
        maps.stripe_at(-np.array((-2.0, 0.5, 2.0, 7.0))), (-20.0, 5.0, 15.0, 40.0)
    )
    np.testing.assert_allclose(maps.stripe_at(-np.array((-3.0, 20.0)), 1), (-6.0, 17.0))
    np.testing.assert_allclose(maps.elevation_at(np.array((-20.0, 40.0))), (2.0, -7.0))


def test_of_holds_the_knots_of_one_panel():
    maps = maps_of(([0.0, 1.0], [0.0, 5.0]), ([2.0, 3.0, 4.0], [1.0, 2.0, 5.0]))
    one = maps.of(1)
    np.testing.assert_array_equal(one.drop[1:-1], (2.0, 3.0, 4.0))
    np.testing.assert_array_equal(one.stripe[1:-1], (1.0, 2.0, 5.0))
    assert not one.panel.any()


# from the ground alone


def first(*grounds, sloped: bool = False, mask=MASK) -> StripeMap:
    z = np.stack(grounds)
    return first_map(z, np.stack([mask] * len(z)), 2.0, 2.0, TOLERANCE, sloped)


def test_on_a_plane_the_rate_is_one_stripe_for_a_spacing():
    """A slope of 0.1 falls 0.2 in 2 ft: 5 stripes a foot. At 0.25: 2 a foot."""
    maps = first(100.0 - 0.1 * V, 50.0 - 0.25 * V)
    assert rate(maps, 99.0, 96.0) == pytest.approx(5.0)
    assert rate(maps, 49.0, 38.5, panel=1) == pytest.approx(2.0)


def test_on_a_plane_along_the_slope():
    """5-12-13 triangle: 2 ft along the slope fall 10/13, which is 1.3 stripes a foot."""
    maps = first(100.0 - 5.0 / 12.0 * V, sloped=True)
    assert rate(maps, 99.0, 80.0) == pytest.approx(1.3)


def test_on_a_cone_the_rate_is_that_of_its_sides():
    """Every line down a cone of 0.1 falls 0.2 in 2 ft, wherever it starts."""
    maps = first(100.0 - 0.1 * np.hypot(U - 40.0, V + 60.0))
    assert rate(maps, 93.0, 89.5) == pytest.approx(5.0, rel=0.002)


def test_the_rate_is_that_of_the_slope_at_each_elevation():
    """0.05 above the break at v = 24, 0.15 below it: 10 and 3.33 stripes a foot."""
    maps = first(100.0 - 0.05 * np.minimum(V, 24.0) - 0.15 * np.maximum(V - 24.0, 0.0))
    assert rate(maps, 99.9, 99.5) == pytest.approx(10.0)
    assert rate(maps, 97.5, 95.5) == pytest.approx(10.0 / 3.0)


def test_only_nodes_that_count_are_looked_at():
    mask = V < 30.0
    wild = np.where(V < 34.0, 100.0 - 0.1 * V, 80.0 - 0.7 * V)
    maps = first(wild, mask=mask)
    assert rate(maps, 99.0, 97.5) == pytest.approx(5.0)


@pytest.mark.parametrize("ground", [0.0 * V, 0.1 * np.clip(V - 20.0, 0.0, 10.0)])
def test_level_ground_does_not_stop_the_map(ground):
    assert_rising(first(100.0 - ground, 90.0 - ground))


# fitted anew


def nodes(count: int, stripes: int = 12) -> np.ndarray:
    """Stripes of nodes, so many to each, evenly spread."""
    return (np.arange(count * stripes) + 0.5) / count


def refitted(now: StripeMap, phi, z, times: int = 1) -> StripeMap:
    for _ in range(times):
        now = refit(now, phi, z, np.zeros(len(phi), dtype=np.int64), TOLERANCE)
    return now


def test_a_stripe_moves_to_the_band_that_holds_most_of_it():
    """Four of five nodes lie 0.08 high, one 0.5 low: the mean, 0.036 low, is not what counts."""
    now, phi = even_map(), nodes(20)
    most = np.arange(len(phi)) % 5 > 0
    z = -0.2 * phi + np.where(most, 0.08, -0.5)
    stripe = np.arange(0.5, 12.0)
    once = refitted(now, phi, z).elevation_at(stripe) + 0.2 * stripe
    assert (once > 0.01).all()
    assert (once < 0.081).all()
    settled = refitted(now, phi, z, 30).elevation_at(stripe) + 0.2 * stripe
    np.testing.assert_allclose(settled, 0.08, atol=0.005)


def test_the_fullest_of_two_bands_is_taken():
    """Seven of twelve nodes a tenth high, five as much low, two tolerances apart."""
    phi = nodes(24)
    high = np.arange(len(phi)) % 12 < 7
    for way in (1.0, -1.0):
        z = -0.2 * phi + way * np.where(high, 0.13, -0.13)
        stripe = np.arange(1.5, 11.0)
        moved = refitted(even_map(), phi, z, 30).elevation_at(stripe) + 0.2 * stripe
        np.testing.assert_allclose(moved, way * 0.13, atol=0.005)


def test_a_map_that_fits_stays():
    phi = nodes(20)
    stripe = np.linspace(0.5, 11.5, 30)
    same = refitted(even_map(), phi, -0.2 * phi).elevation_at(stripe)
    np.testing.assert_allclose(same, -0.2 * stripe, atol=0.01 * TOLERANCE * 12)


def test_a_stripe_far_off_comes_nearer_step_by_step():
    phi = nodes(20)
    middle = np.array([6.0])
    at = [
        refitted(even_map(), phi, 5.0 - 0.2 * phi, times).elevation_at(middle)[0] + 1.2
        for times in (0, 1, 2, 80)
    ]
    assert at[0] == pytest.approx(0.0)
    assert at[0] < at[1] < at[2] < 2.0
    assert at[3] == pytest.approx(5.0, abs=0.01)


def test_two_nodes_do_not_move_a_stripe():
    phi = nodes(2)
    stripe = np.arange(0.5, 12.0)
    few = refitted(even_map(), phi, 0.08 - 0.2 * phi).elevation_at(stripe)
    np.testing.assert_allclose(few, -0.2 * stripe, atol=0.01 * TOLERANCE * 12)
    phi = nodes(3)
    enough = refitted(even_map(), phi, 0.08 - 0.2 * phi).elevation_at(stripe)
    assert (enough + 0.2 * stripe > 0.02).all()


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(0, 100_000), st.lists(st.integers(1, 150), min_size=1, max_size=5))
def test_several_panels_at_once_are_as_if_alone_and_never_rise(seed, counts):
    rng = np.random.default_rng(seed)
    panel = np.repeat(np.arange(len(counts)), counts)
    phi = rng.uniform(-5.0, 20.0, len(panel))
    fall = rng.choice((0.01, 0.2))
    z = -fall * phi + rng.normal(0.0, rng.choice((0.05, 0.3, 2.0)), len(panel))
    now = even_map(len(counts), fall)
    together = refit(now, phi, z, panel, TOLERANCE)
    assert_rising(together)
    at = np.linspace(-8.0, 25.0, 60)
    for number in range(len(counts)):
        mine = panel == number
        alone = refit(now.of(number), phi[mine], z[mine], np.zeros(mine.sum(), int), TOLERANCE)
        np.testing.assert_allclose(
            together.elevation_at(at, number), alone.elevation_at(at), atol=1e-6
        )
        assert (np.diff(alone.elevation_at(at)) < 0.0).all()
