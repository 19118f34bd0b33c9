"""The bed's own frame."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laying_out import STATE_PLANE, Hill, Plane, rectangle
from shapely import MultiPolygon, Polygon, contains_xy

from dripfield.core.errors import InputError
from dripfield.layout.lines.frame import best_fit_plane, fit_frame, points_inside

BED = rectangle(60.0, 40.0)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.floats(0.0, 360.0))
def test_v_runs_down_the_slope_and_u_to_the_right(bearing):
    """Hand-derived: down is the direction of fall, right of it is 90 degrees clockwise."""
    angle = np.radians(bearing)
    down = np.array((np.sin(angle), np.cos(angle)))
    right = np.array((np.sin(angle + np.pi / 2), np.cos(angle + np.pi / 2)))
    frame = fit_frame(Plane(*(-0.08 * down)), BED)
    np.testing.assert_allclose(frame.turn, (right, down), atol=1e-9)


def test_there_and_back_at_state_plane_size():
    frame = fit_frame(Plane(0.03, -0.08, STATE_PLANE), rectangle(60.0, 40.0, STATE_PLANE))
    places = np.random.default_rng(1).uniform(0.0, 60.0, (50, 2)) + STATE_PLANE
    own = frame.to_local(places)
    np.testing.assert_allclose(frame.to_site(own), places, atol=1e-8, rtol=0)
    np.testing.assert_allclose(
        np.hypot(*np.diff(own, axis=0).T), np.hypot(*np.diff(places, axis=0).T), atol=1e-8
    )
    area = frame.geometry_to_local(rectangle(60.0, 40.0, STATE_PLANE))
    assert area.area == pytest.approx(2400.0, abs=1e-6)
    assert frame.geometry_to_site(area).equals_exact(rectangle(60.0, 40.0, STATE_PLANE), 1e-8)


@pytest.mark.parametrize(("bearing", "along"), [(0.0, (0, 1)), (90.0, (1, 0)), (225.0, (1, 1))])
def test_a_bearing_gives_u_and_v_still_falls(bearing, along):
    ground = Plane(0.05, 0.06)
    frame = fit_frame(ground, BED, bearing)
    u, v = frame.turn
    assert abs(u @ along) == pytest.approx(np.hypot(*along))
    assert v @ (ground.east, ground.north) < 0.0
    assert u @ v == pytest.approx(0.0, abs=1e-12)
    assert u[0] * v[1] - u[1] * v[0] == pytest.approx(1.0)  # turned, not mirrored


def test_flat_ground_has_no_contour_direction():
    with pytest.raises(InputError) as caught:
        fit_frame(Plane(0.0001, 0.0001), BED)
    assert str(caught.value) == (
        "site.toml, [layout] method: the survey is flat over the bed (best-fit fall 0.014 %), so "
        'it has no contour direction; set method = "straight" and a bearing [degrees clockwise '
        "from grid north]"
    )
    fit_frame(Plane(0.0001, 0.0001), BED, bearing=10.0)
    fit_frame(Plane(0.0, 0.0003), BED)


def test_no_known_ground_is_an_error():
    with pytest.raises(InputError) as caught:
        fit_frame(Hill(lambda x, y: np.full(len(x), np.nan)), BED)
    assert str(caught.value) == (
        "site.toml, [bed] boundary: the bed holds no ground with a known elevation; survey the "
        "bed, or mend its boundary"
    )


def test_the_plane_is_fitted_where_the_ground_is_known():
    frame = fit_frame(Hill(lambda x, y: np.where(x < 30, 0.1 * x, np.nan)), BED)
    np.testing.assert_allclose(frame.turn[1], (-1.0, 0.0), atol=1e-9)


def test_best_fit_plane_is_numpys_least_squares():
    rng = np.random.default_rng(3)
    xy, z = rng.uniform(0, 9, (30, 2)), rng.uniform(0, 1, 30)
    centre, rise = best_fit_plane(xy, z)
    (a, b, c), *_ = np.linalg.lstsq(np.column_stack((xy, np.ones(30))), z, rcond=None)
    np.testing.assert_allclose(rise, (a, b))
    assert centre[2] == pytest.approx(a * centre[0] + b * centre[1] + c)


def test_points_inside():
    el = Polygon([(0, 0), (140, 0), (140, 45), (65, 45), (65, 95), (0, 95)])
    two = MultiPolygon([rectangle(10, 10), rectangle(10, 40, (50, 0))])
    for area in (el, two, el.difference(rectangle(20, 20, (5, 5)))):
        places = points_inside(area, 500)
        assert contains_xy(area, places).all()
        assert 400 < len(places) < 600
