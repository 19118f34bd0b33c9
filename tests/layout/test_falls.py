"""The coordinate that is constant along fall lines, and the parts it divides a bed into."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from laying_out import Cone, Hill, Plane, rectangle, terrain_on
from shapely import LineString

from dripfield.layout.falls import Falls, fall_coordinate

BED = rectangle(100.0, 60.0)


def falls_on(ground, bed=BED) -> tuple[Falls, object, object]:
    terrain = terrain_on(ground, bed)
    area = terrain.frame.geometry_to_local(bed)
    return fall_coordinate(terrain, area, 4.0, 8.0), area, terrain.frame


def test_on_a_plane_it_is_the_distance_along_the_strike():
    falls, _, _ = falls_on(Plane(0.03, 0.08))
    along = falls.place_t - falls.places[:, 0]
    assert np.ptp(along) < 0.01  # of 100


def test_on_a_cone_it_is_constant_along_radii():
    """t against the angle about the apex: one falling or rising curve, nothing left beside it."""
    ground = Cone(0.1, (50.0, 140.0))
    falls, _, frame = falls_on(ground)
    away = frame.to_site(falls.places) - ground.origin
    angle = np.arctan2(away[:, 0], -away[:, 1])
    curve = np.polynomial.Polynomial.fit(angle, falls.place_t, 7)
    assert np.abs(falls.place_t - curve(angle)).max() < 0.02 * np.ptp(falls.place_t)
    assert np.abs(np.corrcoef(angle, falls.place_t)[0, 1]) > 0.99


def test_lines_run_down_the_slope_on_waves():
    ground = Hill(lambda x, y: 0.1 * y + 0.5 * np.sin(x / 12.0))
    falls, area, frame = falls_on(ground)
    for t in falls.cuts(5)[1:-1]:
        for seam in falls.seam(float(t)):
            legs = np.diff(seam, axis=0)
            middle = (seam[1:] + seam[:-1]) / 2.0
            inside = shapely.contains_xy(area, middle)
            rise = ground.gradient(frame.to_site(middle)) @ frame.turn.T
            across = np.abs(legs[:, 0] * rise[:, 1] - legs[:, 1] * rise[:, 0])
            sine = across / (np.hypot(*legs.T) * np.hypot(*rise.T))
            assert np.median(sine[inside]) < 0.1  # within 6 degrees of straight down


def test_cuts_divide_a_rectangle_into_equal_widths():
    falls, area, _ = falls_on(Plane(0.0, 0.08))
    cuts = falls.cuts(5)
    assert np.isinf(cuts[[0, -1]]).all()
    parts = [falls.between(a, b).intersection(area) for a, b in pairwise(cuts)]
    np.testing.assert_allclose([part.area for part in parts], 1200.0, rtol=0.05)
    assert falls.seam_length(float(cuts[2])) == pytest.approx(60.0, rel=0.05)
    (seam,) = falls.seam(float(cuts[2]))
    assert LineString(seam).intersection(area).length == pytest.approx(60.0, abs=1e-6)


@pytest.mark.parametrize("count", [2, 5, 12])
def test_parts_cover_the_bed_once(count):
    falls, area, _ = falls_on(Cone(0.1, (50.0, 140.0)))
    cuts = falls.cuts(count)
    parts = [falls.between(a, b).intersection(area) for a, b in pairwise(cuts)]
    assert shapely.union_all(parts).symmetric_difference(area).area < 1e-6
    assert sum(part.area for part in parts) == pytest.approx(area.area, abs=1e-6)
    assert min(part.area for part in parts) > 0.5 * area.area / count


def test_places_fill_the_area():
    ell = shapely.union_all([rectangle(100.0, 20.0), rectangle(20.0, 60.0)])
    falls, area, _ = falls_on(Plane(0.0, 0.08), ell)
    assert shapely.contains_xy(area, falls.places).all()
    assert len(falls.places) * falls.cell == pytest.approx(ell.area)


def test_flat_places_do_no_harm():
    """A level bench across the bed: the lines cross it straight."""
    falls, area, _ = falls_on(Hill(lambda x, y: np.where(np.abs(y - 30) < 6, 3.0, 0.1 * y)))
    assert np.isfinite(falls.t).all()
    (seam,) = falls.seam(0.0)
    inside = shapely.get_coordinates(LineString(seam).intersection(area))
    assert np.ptp(inside[:, 0]) < 6.0
