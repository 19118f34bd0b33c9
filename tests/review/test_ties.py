"""Ties: recomputed by trilateration, and how well they fix a point."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy.optimize import least_squares

from dripfield.review.laid.ties import fix_error, tie_line, tie_places
from dripfield.review.model.limits import Band, LineVerdict
from dripfield.site.schema.review import ReferenceTable

A = ReferenceTable(name="A", northing=599_990.0, easting=1_500_020.0)
B = ReferenceTable(name="B", northing=599_985.0, easting=1_500_110.0)
LINE = np.array(
    [
        (1_500_010.0, 600_010.0, 100.8),
        (1_500_040.0, 600_011.0, 100.8),
        (1_500_060.0, 600_018.0, 100.8),
        (1_500_095.0, 600_019.0, 100.8),
    ]
)


def tie(line: np.ndarray = LINE, references: tuple[ReferenceTable, ...] = (A, B), **options):
    return tie_line("L01", line, references, **({"accuracy": 0.5, "tie_error": 0.1} | options))


def test_trilateration_finds_every_point_again() -> None:
    """Both crossings of the two circles by scipy.optimize.least_squares; the side picks one."""
    ties = tie()
    assert [one.mark for one in ties] == ["start", "bend 1", "bend 2", "end"]
    first, second = (np.array((one.easting, one.northing)) for one in (A, B))
    along = (second - first) / np.hypot(*(second - first))
    left = np.array((-along[1], along[0]))
    for one in ties:
        way = left if one.side == "left" else -left

        def gaps(p: np.ndarray, one=one) -> np.ndarray:
            return np.hypot(*(p + first - np.array((first, second))).T) - one.distances

        found = least_squares(gaps, 40.0 * along + 30.0 * way, xtol=1e-14, ftol=1e-14).x + first
        np.testing.assert_allclose(found, one.xy, atol=1e-5)


def test_the_other_side_of_the_base_line() -> None:
    mirrored = LINE.copy()
    mirrored[:, 1] -= 60.0
    assert {one.side for one in tie()} == {"left"}
    assert {one.side for one in tie(mirrored)} == {"right"}
    assert {one.side for one in tie(references=(B, A))} == {"right"}


@pytest.mark.parametrize("angle", [12.0, 45.0, 90.0, 120.0, 170.0])
def test_the_error_of_a_fix_by_moving_the_ties(angle: float) -> None:
    """Circles drawn a little too large and too small, crossed again with shapely."""
    error, radius = 0.01, 80.0
    half = math.radians(angle) / 2.0
    centres = [radius * np.array((math.sin(s * half), -math.cos(s * half))) for s in (-1, 1)]
    worst = 0.0
    for e1 in (-error, error):
        for e2 in (-error, error):
            rings = [
                shapely.Point(*centre).buffer(radius + e, quad_segs=4096).exterior
                for centre, e in zip(centres, (e1, e2), strict=True)
            ]
            crossing = shapely.get_coordinates(rings[0].intersection(rings[1]))
            worst = max(worst, float(np.hypot(*crossing.T).min()))
    assert fix_error(angle, error) == pytest.approx(worst, rel=0.02)


def test_weak_fixes_are_marked() -> None:
    """Ties that cross at less than 30 degrees (common practice, no source), or too far off."""
    near = ReferenceTable(name="C", northing=599_989.0, easting=1_500_024.0)
    assert all(one.weak for one in tie(references=(A, near)))
    assert not any(one.weak for one in tie())
    assert all(one.weak for one in tie(tie_error=0.6))
    on_base = np.array([(1_500_065.0, 599_987.5, 100.0), (1_500_066.0, 599_987.4, 100.0)])
    assert all(one.weak and one.angle > 170.0 for one in tie(on_base))


def test_of_three_references_the_best_two_are_taken() -> None:
    near = ReferenceTable(name="C", northing=599_989.0, easting=1_500_024.0)
    ties = tie(references=(A, near, B))
    assert all("B" in one.references for one in ties)
    assert [one.error for one in ties] == pytest.approx(
        [min(a.error, b.error) for a, b in zip(tie(), tie(references=(near, B)), strict=True)]
    )


@pytest.mark.parametrize("seed", range(5))
def test_lines_between_tied_points_stay_within_half_the_accuracy(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x = np.linspace(0.0, 90.0, 46)
    xy = np.column_stack((x, 6.0 * np.sin(x / 25.0) + rng.normal(0.0, 0.05, len(x))))
    places = tie_places(xy, 0.5)
    assert places[0] == (0, "start")
    assert places[-1] == (45, "end")
    tied = shapely.LineString(xy[[i for i, _ in places]])
    assert shapely.hausdorff_distance(tied, shapely.LineString(xy)) <= 0.25 + 1e-9
    assert len(places) < 46


def test_a_sharp_bend_is_tied_however_small() -> None:
    xy = np.array([(0.0, 0.0), (40.0, 0.0), (40.5, 0.2), (41.0, 0.2), (80.0, 0.2)])
    marks = dict(tie_places(xy, 0.5))
    assert set(marks) == {0, 1, 2, 4}  # 22 degrees at the second vertex, back at the third


def test_half_a_foot_as_the_code_has_it() -> None:
    """WAC 246-272A-0265(1), half a foot: design point (100.00, 200.00); as built (100.30, 200.40)
    is 0.500 ft off and passes, (100.31, 200.40) is 0.506 ft off and fails (computed by hand)."""
    half_foot = Band(0.25, 0.5)
    assert half_foot.judge(math.hypot(100.30 - 100.0, 200.40 - 200.0)) is LineVerdict.WITHIN
    assert half_foot.judge(math.hypot(100.31 - 100.0, 200.40 - 200.0)) is LineVerdict.DIFFERS
