"""Design grades: smoothed ground, planes by strike and dip, planes that move the least earth."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from bed_sites import RECTANGLE, write_site

from dripfield.bed.design import design_bed, laying_surface
from dripfield.bed.grade import fit_slope, least_rise, plane_over, smoothed
from dripfield.bed.pieces import Pieces, overlay, pieces_of, pieces_of_area
from dripfield.bed.volumes import volume_of
from dripfield.ground.ground import build_ground
from dripfield.ground.triangles.tin import Surface

AREA = shapely.Polygon(RECTANGLE)


def noisy(seed: int, slope: tuple[float, float] = (0.02, -0.06)) -> Surface:
    rng = np.random.default_rng(seed)
    x, y = (part.ravel() for part in np.meshgrid(np.arange(-20, 81, 4.0), np.arange(-20, 41, 4.0)))
    xy = np.column_stack((x, y)) + rng.uniform(-1.0, 1.0, (len(x), 2))
    z = 50.0 + xy @ slope + rng.normal(0.0, 0.15, len(xy))
    return Surface.from_points(np.column_stack((xy, z)))


def base_over(ground: Surface) -> Pieces:
    return overlay(pieces_of(ground, "base"), pieces_of_area(AREA))


def test_smoothing_keeps_a_plane_and_calms_the_rest() -> None:
    xy = shapely.get_coordinates(AREA.segmentize(1.0))
    x, y = np.meshgrid((-30.0, 90.0), (-30.0, 50.0))
    corners = np.column_stack((x.ravel(), y.ravel(), 10.0 + 0.03 * x.ravel() - 0.05 * y.ravel()))
    kept = smoothed(Surface.from_points(corners), AREA, 10.0)
    assert kept.elevation(xy) == pytest.approx(10.0 + xy @ (0.03, -0.05), abs=1e-9)
    ground = noisy(1)
    calm = smoothed(ground, AREA, 15.0)
    inside = np.random.default_rng(2).uniform((2.0, 2.0), (58.0, 18.0), (500, 2))
    plane = 50.0 + inside @ (0.02, -0.06)
    rough, left = (np.std(s.elevation(inside) - plane) for s in (ground, calm))
    assert left < 0.5 * rough
    assert np.isfinite(calm.elevation(xy)).all()


def test_plane_by_strike_dip_and_one_elevation(tmp_path: Path) -> None:
    # right-hand rule: facing along the strike the plane falls to the right; strike 30 falls to 120
    section = (
        'sand = 0.5\ndeepen = true\ngrade = "plane"\nstrike = 30.0\ndip = 0.04\n'
        "elevation = 101.25\nat = [9004.0, 5011.0]\n"
    )
    site = write_site(tmp_path, section, lambda x, y: 100.0 + 0.01 * x - 0.02 * y)
    top = laying_surface(site, build_ground(site).surface)
    at = np.array((5011.0, 9004.0))
    along = np.array((math.sin(math.radians(30.0)), math.cos(math.radians(30.0))))
    right = np.array((along[1], -along[0]))
    xy = at + np.array((0.0 * along, 10.0 * along, 10.0 * right))
    assert top.elevation(xy) == pytest.approx((101.25, 101.25, 100.85), abs=1e-9)
    assert top.surface.aspect(xy) == pytest.approx(np.full(3, 120.0))


def test_grade_that_may_not_dig_rests_on_its_highest_point() -> None:
    ground = noisy(3)
    base = base_over(ground)
    shape = plane_over(AREA, np.zeros(2), 0.0, np.array((0.02, -0.06)))
    rise = least_rise(base, shape, deepen=False)
    above = shape.elevation(base.xy.reshape(-1, 2)) + rise - base.levels["base"].reshape(-1)
    assert above.min() == pytest.approx(0.0, abs=1e-9)


def test_grade_that_may_dig_moves_least_earth_at_its_height() -> None:
    ground = noisy(3)
    base = base_over(ground)
    shape = plane_over(AREA, np.zeros(2), 0.0, np.array((0.02, -0.06)))
    best = least_rise(base, shape, deepen=True)

    def earth(rise: float) -> float:
        both = overlay(base, pieces_of(shape, "shape"))
        both = both.with_level("shape", both.levels["shape"] + rise)
        volume = volume_of(both, "base", "shape")
        return volume.cut + volume.fill

    assert all(earth(best) <= earth(best + step) for step in (-0.02, -0.002, 0.002, 0.02))


def earth_moved(base: Pieces, plane: np.ndarray) -> float:
    """Cut and fill against a plane through the origin's elevation, at its best height."""
    shape = plane_over(AREA, np.zeros(2), 0.0, plane)
    rise = least_rise(base, shape, deepen=True)
    both = overlay(base, pieces_of(shape, "shape"))
    both = both.with_level("shape", both.levels["shape"] + rise)
    volume = volume_of(both, "base", "shape")
    return volume.cut + volume.fill


def test_best_fit_plane_moves_less_earth_than_its_neighbours() -> None:
    # independent: a search of gradients about the answer, each at its own best height
    base = base_over(noisy(4))
    best = fit_slope(base, 0.2, deepen=True)
    least = earth_moved(base, best)
    for step in (0.004, 0.0005):
        for angle in np.arange(0.0, 2.0 * np.pi, np.pi / 6.0):
            near = best + step * np.array((np.cos(angle), np.sin(angle)))
            assert earth_moved(base, near) >= least - 1e-6 * least
    assert best == pytest.approx((0.02, -0.06), abs=0.01)


@pytest.mark.parametrize("deepen", [False, True])
def test_best_fit_plane_keeps_its_slope_limit(deepen: bool) -> None:
    base = base_over(noisy(5, (0.03, -0.09)))
    best = fit_slope(base, 0.05, deepen)
    assert np.hypot(*best) <= 0.05 + 1e-12
    assert np.hypot(*best) == pytest.approx(0.05, rel=1e-3)


def test_lowest_plane_over_the_ground_is_the_least_of_its_hull() -> None:
    # independent: the lowest plane above points is a facet of their upper hull (scipy's Qhull);
    # the one over the centroid is the least in volume
    from scipy.spatial import ConvexHull

    base = base_over(noisy(6))
    best = fit_slope(base, 1.0, deepen=False)
    shape = plane_over(AREA, np.zeros(2), 0.0, best)
    height = least_rise(base, shape, deepen=False) + best @ (30.0, 10.0)
    points = np.column_stack((base.xy.reshape(-1, 2), base.levels["base"].reshape(-1)))
    facets = ConvexHull(points).equations
    upper = facets[facets[:, 2] > 1e-9]
    at_centroid = -(upper[:, :2] @ (30.0, 10.0) + upper[:, 3]) / upper[:, 2]
    assert height == pytest.approx(at_centroid.min(), rel=1e-9)


def test_fit_recovers_a_plane(tmp_path: Path) -> None:
    section = 'strip = 0.5\nsand = 1.0\ngrade = "fit"\nmax_slope = 0.2\n'
    site = write_site(tmp_path, section, lambda x, y: 100.0 + 0.03 * x - 0.08 * y)
    bed = design_bed(site, build_ground(site).surface)
    assert bed.sand_under_tubing() == pytest.approx(1.0, abs=1e-6)
    assert volume_of(bed.inside, "stripped", "sand").fill == pytest.approx(1200.0, rel=1e-6)
