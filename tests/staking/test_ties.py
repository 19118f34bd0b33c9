"""Two-tape ties recomputed from coordinates, and their error ellipse by throwing dice."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import box

from dripfield.staking.model import FindablePoint
from dripfield.staking.ties import best_ties, check_lengths, crossing, tape_ellipse


def point(name: str, x: float, y: float, kind: str = "bed corner") -> FindablePoint:
    return FindablePoint(name, x, y, float("nan"), kind, kind)  # type: ignore[arg-type]


CORNERS = [point(*p) for p in (("A", 0, 0), ("B", 80, 0), ("C", 80, 50), ("D", 0, 50))]


def test_distances_and_angle_are_those_of_the_coordinates() -> None:
    places = np.random.default_rng(3).uniform((5, 5), (75, 45), (40, 2))
    known = {p.name: p.xy for p in CORNERS}
    for place, tie in zip(places, best_ties(["m"] * 40, places, CORNERS, 200.0), strict=True):
        assert tie is not None
        a, b = known[tie.point_1] - place, known[tie.point_2] - place
        assert tie.distance_1 == pytest.approx(np.hypot(*a))
        assert tie.distance_2 == pytest.approx(np.hypot(*b))
        # law of cosines
        base = np.hypot(*(known[tie.point_1] - known[tie.point_2]))
        cosine = (tie.distance_1**2 + tie.distance_2**2 - base**2) / (
            2 * tie.distance_1 * tie.distance_2
        )
        assert tie.angle == pytest.approx(np.degrees(np.arccos(cosine)))
        assert 30.0 <= tie.angle <= 150.0
        back = crossing(
            known[tie.point_1][None],
            np.array([tie.distance_1]),
            known[tie.point_2][None],
            np.array([tie.distance_2]),
            place[None],
        )
        assert back[0] == pytest.approx(place, abs=1e-9)


@pytest.mark.parametrize("angle", [40.0, 90.0, 130.0])
def test_error_ellipse_is_what_wrong_distances_give(angle: float) -> None:
    """Covariance of 200,000 crossings with a standard error of 0.05 ft a tape."""
    half = np.radians(angle / 2.0)
    a, b = (
        50.0 * np.array((-np.sin(half), -np.cos(half))),
        50.0 * np.array((np.sin(half), -np.cos(half))),
    )
    draw = np.random.default_rng(1)
    n = 200_000
    r1, r2 = (50.0 + draw.normal(0.0, 0.05, n) for _ in range(2))
    places = crossing(np.tile(a, (n, 1)), r1, np.tile(b, (n, 1)), r2, np.zeros((n, 2)))
    across, along = tape_ellipse(np.array([angle]))
    assert places[:, 0].std() == pytest.approx(0.05 * across[0], rel=0.01)
    assert places[:, 1].std() == pytest.approx(0.05 * along[0], rel=0.01)


def test_no_tape_is_pulled_across_a_keepout_where_another_will_do() -> None:
    wall = box(30.0, -1.0, 34.0, 45.0)
    (tie,) = best_ties(["m"], np.array([(60.0, 20.0)]), CORNERS, 200.0, [wall])
    assert tie is not None
    assert {tie.point_1, tie.point_2} == {"B", "C"}


def test_a_corner_of_the_keepout_itself_can_be_measured_from() -> None:
    rock = box(30.0, 20.0, 34.0, 24.0)
    hubs = [point("K", 34.0, 22.0), point("B", 80.0, 0.0)]
    (tie,) = best_ties(["m"], np.array([(50.0, 30.0)]), hubs, 200.0, [rock])
    assert tie is not None


def test_too_few_points_give_no_tie() -> None:
    assert best_ties(["m"], np.array([(1.0, 1.0)]), CORNERS[:1], 200.0) == [None]


def test_check_lengths_are_diagonals_and_sides() -> None:
    lengths = {frozenset((c.point_1, c.point_2)): c.distance for c in check_lengths(CORNERS)}
    assert lengths[frozenset("AC")] == pytest.approx(np.hypot(80.0, 50.0))
    assert lengths[frozenset("BD")] == pytest.approx(np.hypot(80.0, 50.0))
    assert lengths[frozenset("AB")] == 80.0
    assert len(lengths) == 6
