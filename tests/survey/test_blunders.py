"""Suspect shots: blunders put into made surveys are found, and nothing else is."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dripfield.core.arrays import Floats
from dripfield.core.units import Unit
from dripfield.survey.doubt.blunders import suspects
from dripfield.survey.shots import Survey


def _ground(xy: Floats) -> Floats:
    bend = np.sin(xy[:, 0] / 30.0) * np.cos(xy[:, 1] / 35.0)
    return np.asarray(100.0 + 0.1 * xy[:, 1] + bend)


def _shots(seed: int, count: int = 200, noise: float = 0.03) -> Floats:
    """Shots walked in strips of 15 ft, with errors of 0.03 ft."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0.0, 1.0, (count, 2)) * (200.0, 140.0)
    xy = xy[np.lexsort((xy[:, 1], xy[:, 0] // 15.0))]
    return np.column_stack((xy, _ground(xy) + noise * rng.standard_normal(count)))


def _survey(xyz: Floats, names: list[str] | None = None, kinds: list[str] | None = None) -> Survey:
    n = len(xyz)
    return Survey(
        xyz=xyz,
        names=tuple(names or [str(i + 1) for i in range(n)]),
        descriptions=tuple(kinds or ["GS"] * n),
        rows=np.arange(2, n + 2),
        source=Path("survey.csv"),
    )


def test_sound_surveys_raise_no_suspicion() -> None:
    """40 surveys of 12 to 400 shots, some 8000 in all: one false alarm at most."""
    counts = np.random.default_rng(0).integers(12, 400, 40)
    found = [suspects(_survey(_shots(seed, int(n))), Unit.FOOT) for seed, n in enumerate(counts)]
    assert sum(map(len, found)) <= 1


def test_single_blunders_are_found_and_only_they() -> None:
    """Three shots off by 0.5 to 2 ft in each of 30 surveys of 200: 9 in 10 found, and few others.

    False ones come where two blunders happen to be neighbours: what lies between is then doubtful.
    """
    missed = false = 0
    for seed in range(30):
        shots, rng = _shots(seed), np.random.default_rng(1000 + seed)
        wrong = rng.choice(len(shots), 3, replace=False)
        shots[wrong, 2] += rng.choice((-1.0, 1.0), 3) * rng.uniform(0.5, 2.0, 3)
        found = {one.shot for one in suspects(_survey(shots), Unit.FOOT)}
        missed += len(set(wrong.tolist()) - found)
        false += len(found - set(wrong.tolist()))
    assert missed <= 9
    assert false <= 6


def test_a_blunder_is_named_with_its_size() -> None:
    shots = _shots(5)
    middle = int(np.argmin(np.hypot(shots[:, 0] - 100.0, shots[:, 1] - 70.0)))
    shots[middle, 2] -= 1.0
    (found,) = suspects(_survey(shots), Unit.FOOT)
    assert (found.shot, found.point, found.row) == (middle, str(middle + 1), middle + 2)
    assert found.residual == pytest.approx(-1.0, abs=0.15)
    assert found.reason == (
        f"stands {-found.residual:.2f} ft below the surface of the shots around it"
    )


@pytest.mark.parametrize(("first", "count"), [(40, 4), (100, 12), (3, 20)])
def test_a_rod_height_bust_is_one_run(first: int, count: int) -> None:
    shots = _shots(7)
    shots[first : first + count, 2] += 0.5
    found = suspects(_survey(shots), Unit.FOOT)
    assert [one.shot for one in found] == list(range(first, first + count))
    assert {one.reason for one in found} == {
        f"{count} consecutive shots, {first + 1} to {first + count}, stand "
        f"{found[0].residual:.2f} ft above the surface of the others: "
        "rod height, or a step in the ground along them?"
    }
    assert found[0].residual == pytest.approx(0.5, abs=0.08)


def test_marks_that_stand_off_the_ground_make_no_run_of_the_shots_between_them() -> None:
    """Control points at the corners, 0.3 to 0.8 ft off the ground, shot last, in each of 25 sites.

    Counts over all of them: 100 wrong shots among 5100.
    """
    missed = false = 0
    for seed in range(25):
        rng = np.random.default_rng(2000 + seed)
        corners = np.array(((0.0, 0.0), (200.0, 0.0), (200.0, 140.0), (0.0, 140.0)))
        marks = np.column_stack((corners, _ground(corners)))
        marks[:, 2] += rng.choice((-1.0, 1.0), 4) * rng.uniform(0.3, 0.8, 4)
        found = {one.shot for one in suspects(_survey(np.vstack((_shots(seed), marks))), Unit.FOOT)}
        missed += len({200, 201, 202, 203} - found)
        false += len(found - {200, 201, 202, 203})
    assert missed <= 35
    assert false <= 10


def test_a_wrong_rod_height_is_found_among_single_blunders() -> None:
    """A run of 30 with a misread shot inside it, and another elsewhere, in each of 20 surveys."""
    missed = false = 0
    for seed in range(20):
        shots, rng = _shots(seed), np.random.default_rng(3000 + seed)
        first = int(rng.integers(0, 160))
        run = set(range(first, first + 30))
        shots[first : first + 30, 2] += rng.choice((-1.0, 1.0)) * rng.uniform(0.5, 1.5)
        shots[first + 15, 2] += 0.6
        shots[(first + 90) % 200, 2] -= 0.9
        found = {one.shot for one in suspects(_survey(shots), Unit.FOOT)}
        missed += len(run - found)
        false += len(found - run - {(first + 90) % 200})
    assert missed <= 3
    assert false <= 15


def test_a_feature_with_its_own_description_is_no_bust() -> None:
    """A ditch bottom shot in one go and called DITCH is ground, not a slip."""
    shots = _shots(7)
    shots[100:112, 2] -= 1.0
    kinds = ["GS"] * 200
    kinds[100:112] = ["DITCH"] * 12
    assert suspects(_survey(shots, kinds=kinds), Unit.FOOT) == []


@pytest.mark.parametrize("value", [0.0, -9999.0])
def test_no_reading(value: float) -> None:
    shots = _shots(9)
    shots[30, 2] = value
    (found,) = suspects(_survey(shots), Unit.FOOT)
    assert found.point == "31"
    assert found.reason == f"elevation {value:g} looks like no reading"
    assert np.isnan(found.residual)


def test_an_elevation_of_zero_among_others_near_zero_is_a_reading() -> None:
    shots = _shots(9) - np.array((0.0, 0.0, 107.0))
    shots[30, 2] = 0.0 if abs(shots[30, 2]) < 0.1 else shots[30, 2]
    flat = np.round(shots, 1)
    assert not any("no reading" in one.reason for one in suspects(_survey(flat), Unit.FOOT))


@pytest.mark.parametrize(
    ("order", "what"),
    [
        ([1, 0, 2], "northing and easting look swapped"),
        ([2, 1, 0], "easting and elevation look swapped"),
        ([0, 2, 1], "northing and elevation look swapped"),
    ],
)
def test_swapped_columns_of_one_shot(order: list[int], what: str) -> None:
    shots = _shots(11) + np.array((2_000_000.0, 700_000.0, 0.0))
    shots[17] = shots[17][order]
    (found,) = suspects(_survey(shots), Unit.FOOT)
    assert (found.point, found.reason) == ("18", what)


def test_a_number_used_twice() -> None:
    shots = _shots(13)
    names = [str(i + 1) for i in range(200)]
    names[50] = "7"
    found = suspects(_survey(shots, names), Unit.FOOT)
    low, high = sorted(shots[[6, 50], 2])
    assert [one.row for one in found] == [8, 52]
    assert {one.reason for one in found} == {
        f"point number 7 is used 2 times (rows 8, 52), elevations {low:.2f} to {high:.2f}"
    }


def test_metric_surveys_have_metric_limits() -> None:
    """0.06 m off among shots true to 3 mm is a suspect in metres; 0.06 ft is not one in feet."""
    shots = _shots(15, noise=0.003)
    middle = int(np.argmin(np.hypot(shots[:, 0] - 100.0, shots[:, 1] - 70.0)))
    shots[middle, 2] += 0.06
    assert [one.shot for one in suspects(_survey(shots), Unit.METRE)] == [middle]
    assert suspects(_survey(shots), Unit.FOOT) == []


@pytest.mark.parametrize("count", [3, 7, 8, 19])
def test_few_shots(count: int) -> None:
    assert suspects(_survey(_shots(1, count)), Unit.FOOT) == []
