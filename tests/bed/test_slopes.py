"""Faces outward from a ring: planes square to its sides, hips at corners, creases between."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from dripfield.bed.pieces import upper_of
from dripfield.bed.slopes import faces_from
from dripfield.bed.volumes import volume_of

TOP = np.array(((0, 0, 2), (20, 0, 2), (20, 60, 2), (0, 60, 2)), dtype=float)
ELL = np.array(((0, 0), (40, 0), (40, 20), (20, 20), (20, 40), (0, 40)), dtype=float)


def test_level_top_makes_a_frustum() -> None:
    # hand-derived: 20 x 60 top, 3:1 out, 2 ft deep: 3,456 ft3 less the 2,400 under the top
    faces = faces_from(TOP, 3.0, 10.0)
    ground = faces.with_level("ground", np.zeros_like(faces.xy[..., 0]))
    graded = upper_of(ground, "falling", "ground", "graded")
    assert volume_of(graded, "ground", "graded").fill == pytest.approx(1056.0, rel=1e-9)
    assert faces.areas.sum() == pytest.approx(40.0 * 80.0 - 1200.0)


@pytest.mark.parametrize("tilt", [0.0, 0.01])
def test_faces_stand_at_the_mitred_distance_from_an_ell(tilt: float) -> None:
    ring = np.column_stack((ELL, 2.0 + tilt * ELL[:, 0]))
    faces = faces_from(ring, 3.0, 12.0)
    low, high = (faces.surface(name) for name in ("falling", "rising"))
    shape = shapely.Polygon(ELL)
    rng = np.random.default_rng(0)
    xy = rng.uniform(-8.0, 48.0, (3000, 2))
    gap = shapely.distance(shapely.points(xy), shape)
    beside = (gap > 0.0) & (gap < 6.0)
    # away from corners the distance is that to the ring
    foot = shapely.get_coordinates(
        shapely.line_interpolate_point(
            shape.exterior, shapely.line_locate_point(shape.exterior, shapely.points(xy))
        )
    )
    corner = np.min(np.hypot(*(foot[:, None] - ELL[None]).T), axis=0) < 1e-9
    on_side = beside & ~corner
    base = 2.0 + tilt * foot[:, 0]
    assert on_side.sum() > 500
    # in the crease of the inward corner of a tilted ring the higher face stands, not the nearer
    tolerance = 0.03 if tilt else 1e-9
    assert low.elevation(xy)[on_side] == pytest.approx(
        base[on_side] - gap[on_side] / 3, abs=tolerance
    )
    assert high.elevation(xy)[on_side] == pytest.approx(
        base[on_side] + gap[on_side] / 3, abs=tolerance
    )


def test_mitre_carries_planes_to_the_hip() -> None:
    low = faces_from(TOP, 3.0, 10.0).surface("falling")
    at = np.array(((-3.0, -3.0), (-3.0, -1.0), (23.0, 64.0)))
    assert low.elevation(at) == pytest.approx((1.0, 1.0, 2.0 - 4.0 / 3.0))


def test_sharp_corner_is_cut_off_between() -> None:
    # a corner turning 150 degrees gets a third face square to its bisector
    ring = np.array(((0.0, 0.0, 5.0), (100.0, -26.7949, 5.0), (100.0, 26.7949, 5.0)))
    low = faces_from(ring, 2.0, 4.0)
    reach = np.hypot(*low.xy.reshape(-1, 2).T)[low.xy.reshape(-1, 2)[:, 0] < 0].max()
    assert reach < 4.0 * 2.0
    surface = low.surface("falling")
    assert surface.elevation(np.array(((-2.0, 0.0),))) == pytest.approx(4.0)
