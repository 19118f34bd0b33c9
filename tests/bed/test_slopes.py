"""Faces outward from a ring: the envelope of its definition, cones or hips, creases between."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from dripfield.bed.pieces import Pieces, upper_of
from dripfield.bed.slopes import faces_from, overhang, steep_sides, straightened
from dripfield.bed.volumes import volume_of
from dripfield.core.arrays import Floats

TOP = np.array(((0, 0, 2), (20, 0, 2), (20, 60, 2), (0, 60, 2)), dtype=float)
ELL = np.array(((0, 0), (40, 0), (40, 20), (20, 20), (20, 40), (0, 40)), dtype=float)
BOX = shapely.box(-20.0, -20.0, 60.0, 80.0)


def graded(ring: Floats, run: float, corner: str) -> Pieces:
    """The face over level ground at elevation 0."""
    faces = faces_from([ring], run, 0.0, BOX, corner=corner)
    ground = faces.with_level("ground", np.zeros_like(faces.xy[..., 0]))
    return upper_of(ground, "face", "ground", "graded")


def by_definition(rings: list[Floats], run: float, xy: Floats) -> Floats:
    """Highest of z - d / run over points a hundredth apart along the rings."""
    best = np.full(len(xy), -np.inf)
    for ring in rings:
        for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            count = math.ceil(100.0 * float(np.hypot(*(end - start)[:2]))) + 1
            q = start + np.linspace(0.0, 1.0, count)[:, None] * (end - start)
            for low in range(0, len(xy), 200):
                part = xy[low : low + 200, None]
                away = np.hypot(part[..., 0] - q[:, 0], part[..., 1] - q[:, 1])
                over = (q[:, 2] - away / run).max(axis=1)
                best[low : low + 200] = np.maximum(best[low : low + 200], over)
    return best


def test_hipped_level_top_makes_a_frustum() -> None:
    # hand-derived: 20 x 60 top, 3:1 out, 2 ft deep: 3,456 ft3 less the 2,400 under the top
    assert volume_of(graded(TOP, 3.0, "hip"), "ground", "graded").fill == pytest.approx(
        1056.0, rel=1e-9
    )


def test_round_corners_are_quarter_cones() -> None:
    # hand-derived: wedges 160 x 6 x 2 / 2 and a cone pi (3h)^2 h / 3 in four quarters
    cone = math.pi * 6.0**2 * 2.0 / 3.0
    whole = volume_of(graded(TOP, 3.0, "round"), "ground", "graded").fill
    assert whole == pytest.approx(960.0 + cone, rel=1e-5)
    # and of any corner its turn over a whole turn: here 150, 105 and 105 degrees
    ring = np.array(((0.0, 0.0, 3.0), (20.0, -5.3589838, 3.0), (20.0, 5.3589838, 3.0)))
    around = shapely.Polygon(ring).length
    whole = volume_of(graded(ring, 2.0, "round"), "ground", "graded").fill
    assert whole == pytest.approx(around * 6.0 * 3.0 / 2.0 + math.pi * 36.0, rel=5e-5)


@pytest.mark.parametrize("tilt", [(0.0, 0.0), (0.1, 0.0), (0.15, -0.2), (-0.12, 0.25)])
@pytest.mark.parametrize("rising", [False, True])
def test_faces_are_the_envelope(tilt: tuple[float, float], rising: bool) -> None:
    # the definition itself, summed over a dense sampling of the ring; a tangent plane stands over
    # its cone by at most 1 / cos(0.5 degree) - 1, 4 in 100,000 of the distance
    ring = np.column_stack((ELL, 2.0 + ELL @ np.array(tilt)))
    sign = -1.0 if rising else 1.0
    mirrored = ring * (1.0, 1.0, sign)
    end = float(mirrored[:, 2].min()) - 4.0
    box = shapely.box(-12.0, -12.0, 52.0, 52.0)
    faces = faces_from([ring], 3.0, sign * end, box, rising=rising)
    xy = np.random.default_rng(1).uniform(-12.0, 52.0, (1500, 2))
    expected = by_definition([mirrored], 3.0, xy)
    seen = ~shapely.contains_xy(shapely.Polygon(ELL), xy) & (expected > end + 0.01)
    assert seen.sum() > 500
    standing = faces.where((sign * faces.levels["face"]).min(axis=1) > end - 0.5)
    gap = sign * standing.surface("face").elevation(xy[seen]) - expected[seen]
    assert gap.min() > -1e-6
    assert gap.max() < 5e-4
    # every face, however its side climbs, has the run asked for
    slope = standing.surface("face").slope(standing.centres)
    assert slope == pytest.approx(np.full(len(standing), 1.0 / 3.0), abs=1e-5)


def test_hole_has_faces_inward() -> None:
    # hand-derived: a hole of 10 x 10 in a top 1 high at 3:1: what is left open is 4 x 4, and the
    # slope fills 100 - (100 + 4 x 49 + 16) / 6 of a prism 1 high
    outer = np.column_stack(
        (shapely.get_coordinates(shapely.box(0, 0, 40, 40).exterior)[:-1], [1.0] * 4)
    )
    inner = np.array(((10, 10, 1), (10, 20, 1), (20, 20, 1), (20, 10, 1)), dtype=float)  # clockwise
    outer = outer[::-1] if not shapely.LinearRing(outer).is_ccw else outer
    faces = faces_from([outer, inner], 3.0, 0.0, BOX)
    part = faces.where(shapely.contains_xy(shapely.box(10, 10, 20, 20), faces.centres))
    part = part.with_level("ground", np.zeros_like(part.xy[..., 0]))
    part = upper_of(part, "face", "ground", "graded")
    assert volume_of(part, "ground", "graded").fill == pytest.approx(100.0 - 312.0 / 6.0, rel=1e-9)


def test_hip_carries_planes_to_where_they_cross() -> None:
    faces = faces_from([TOP], 3.0, -1.0, BOX, corner="hip")
    low = faces.where(faces.levels["face"].min(axis=1) > -1.5).surface("face")
    at = np.array(((-3.0, -3.0), (-3.0, -1.0), (23.0, 64.0)))
    assert low.elevation(at) == pytest.approx((1.0, 1.0, 2.0 - 4.0 / 3.0))
    # a tilted side: its plane has the true run too, and meets its neighbour over the hip
    ring = TOP + np.column_stack((np.zeros((4, 2)), 0.1 * TOP[:, 0]))
    faces = faces_from([ring], 3.0, -1.0, BOX, corner="hip")
    slope = faces.where(faces.levels["face"].min(axis=1) > -1.5).surface("face")
    places = np.array(((21.0, 30.0), (10.0, -2.0), (20.8, -0.7), (-0.5, 61.0)))
    assert slope.slope(places) == pytest.approx(np.full(4, 1.0 / 3.0), abs=1e-9)


def test_sides_as_steep_as_the_face_are_found() -> None:
    ring = np.array(((0, 0, 0), (9, 0, 3.0), (9, 9, 3), (0, 9, 0.5)), dtype=float)
    assert steep_sides(ring, 3.0).tolist() == [True, False, False, False]
    assert not steep_sides(ring, 2.9).any()
    # across a notch 3 wide one arm stands 2 over the other, and a face of 3:1 takes 6
    one, two, height = overhang(np.array(((0, 0, 2), (0, 9, 2), (3, 9, 0), (3, 0, 0.0))), 3.0)
    assert {one, two} in ({0, 3}, {1, 2})
    assert height == pytest.approx(1.0)


def test_points_on_a_straight_side_change_nothing() -> None:
    more = np.array([a + t * (b - a) for a, b in zip(TOP, np.roll(TOP, -1, axis=0), strict=True)
                     for t in np.linspace(0.0, 1.0, 40, endpoint=False)])  # fmt: skip
    assert len(straightened(more)) <= 12
    assert {tuple(p) for p in TOP} <= {tuple(p) for p in np.round(straightened(more), 9)}
    bent = more.copy()
    bent[20, 2] += 0.01
    assert bent[20].tolist() in straightened(bent).tolist()
