"""Errors spread as closed forms say, before any layout is simulated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from dripfield.core.errors import InputError
from dripfield.crew.bent import along, bent_through
from dripfield.crew.errors import CrewErrors
from dripfield.crew.setting import set_marks
from dripfield.staking.model import FieldMark, FieldPlan, FindablePoint

NONE = CrewErrors(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
CREWS = 4000


def mark(order: int, lateral: str, x: float, y: float, **how: object) -> FieldMark:
    return FieldMark(
        order, order, lateral, "A", how.pop("method", "instrument"), x, y, 100.0, 100.0, 0.0, **how
    )  # type: ignore[arg-type]


def chain(lines: int, gap: float = 2.0) -> FieldPlan:
    """Straight lines of three marks, each gauged downhill from the one before."""
    rows = []
    for k in range(lines):
        for x in (0.0, 20.0, 40.0):
            how = {"method": "gauge", "above": f"L{k - 1}", "above_station": x, "gap": gap}
            rows.append(mark(len(rows) + 1, f"L{k}", x, -gap * k, **(how if k else {})))
    return FieldPlan("instrument", True, tuple(rows), ("L0",), ())


def test_a_gauge_chain_walks_at_random() -> None:
    """After n lines the standard error square to them is sigma sqrt(n)."""
    n = 16
    done = set_marks(chain(n + 1), replace(NONE, gauge=0.02), CREWS, 1, 1.0)
    for k in (1, 4, n):
        middle = done.marks[f"L{k}"][:, 1, 1]
        assert middle.mean() == pytest.approx(-2.0 * k, abs=0.01)
        assert middle.std() == pytest.approx(0.02 * np.sqrt(k), rel=0.05)


def test_the_gap_to_the_next_line_keeps_the_error_of_one_stick() -> None:
    done = set_marks(chain(17), replace(NONE, gauge=0.02), CREWS, 2, 1.0)
    gap = done.marks["L15"][:, 1, 1] - done.marks["L16"][:, 1, 1]
    assert gap.std() == pytest.approx(0.02, rel=0.05)


def test_a_right_angle_off_moves_a_mark_along_and_hardly_nearer() -> None:
    """Along by gap times sin 3 degrees = 0.105, nearer by gap times (1 - cos) = 0.003."""
    done = set_marks(chain(2), replace(NONE, square=3.0), CREWS, 3, 1.0)
    shift = done.marks["L1"][:, 1] - (20.0, -2.0)
    assert shift[:, 0].std() == pytest.approx(2.0 * np.sin(np.radians(3.0)), rel=0.05)
    assert shift[:, 1].mean() == pytest.approx(2.0 * np.radians(3.0) ** 2 / 2.0, rel=0.1)


def test_a_station_off_moves_a_mark_along() -> None:
    done = set_marks(chain(2), replace(NONE, station=0.1), CREWS, 4, 1.0)
    assert done.marks["L1"][:, 1, 0].std() == pytest.approx(0.1, rel=0.05)
    assert np.abs(done.marks["L1"][:, 1, 1] + 2.0).max() < 1e-9


def test_an_instrument_is_off_as_much_in_either_coordinate() -> None:
    done = set_marks(chain(1), replace(NONE, instrument=0.03), CREWS, 5, 1.0)
    assert done.marks["L0"].std(axis=0) == pytest.approx(np.full((3, 2), 0.03), rel=0.06)


@pytest.mark.parametrize("height", [10.0, 25.0, 60.0])
def test_a_swing_tie_scatters_over_its_ellipse(height: float) -> None:
    """Semi-axes sigma / (sqrt 2 sin g/2) and sigma / (sqrt 2 cos g/2), g the angle of crossing."""
    points = tuple(
        FindablePoint(name, x, 0.0, 0.0, "bed corner", "")
        for name, x in (("A", -25.0), ("B", 25.0))
    )
    r = float(np.hypot(25.0, height))
    rows = [
        mark(
            k + 1,
            "L0",
            0.0,
            height,
            method="tape",
            point_1="A",
            distance_1=r,
            point_2="B",
            distance_2=r,
        )
        for k in range(2)
    ]
    plan = FieldPlan("tape", True, tuple(rows), ("L0",), points)
    done = set_marks(plan, replace(NONE, tape=0.05), CREWS, 6, 1.0)
    half = np.arctan2(25.0, height)
    scatter = done.marks["L0"][:, 0].std(axis=0)
    expected = 0.05 / np.sqrt(2.0) / np.array((np.sin(half), np.cos(half)))
    assert scatter == pytest.approx(expected, rel=0.05)


def test_the_rod_finds_marks_that_stand_too_high() -> None:
    """On a slope of one in ten, marks an instrument puts 1 ft off are 0.1 ft off in height."""

    class Slope:
        def elevation(self, xy: np.ndarray) -> np.ndarray:
            return 100.0 + 0.1 * xy[:, 1]

        def gradient(self, xy: np.ndarray) -> np.ndarray:
            return np.tile((0.0, 0.1), (len(xy), 1))

    off = replace(NONE, instrument=1.0, rod=0.0)
    done = set_marks(chain(1), off, CREWS, 7, 1.0, Slope())
    # a normal deviate beyond 0.8 standard errors either way: 0.4237 (tables of the normal law)
    assert done.again.mean() / 3.0 == pytest.approx(0.4237, abs=0.02)
    assert set_marks(chain(1), NONE, 3, 7, 1.0, Slope()).again.sum() == 0


def test_bent_tubes_are_scipys_natural_splines() -> None:
    draw = np.random.default_rng(8)
    x = np.cumsum(draw.uniform(3.0, 12.0, 9))
    marks = np.stack([np.column_stack((x, 4.0 * np.sin(x / 9.0 + c))) for c in range(3)])
    marks += draw.normal(0.0, 0.1, marks.shape)
    bent = bent_through(marks, 0.1)
    for crew in range(3):
        chord = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(marks[crew], axis=0).T))))
        spline = CubicSpline(chord, marks[crew], bc_type="natural")
        dense = spline(np.linspace(0.0, chord[-1], 40_001))
        length = np.hypot(*np.diff(dense, axis=0).T).sum()
        walked = np.hypot(*np.diff(bent[crew], axis=0).T)
        assert walked.sum() == pytest.approx(length, abs=1e-3)
        away = np.hypot(*(bent[crew][::7, None] - dense[None, ::20]).transpose(2, 0, 1)).min(axis=1)
        assert away.max() < 0.02
    places, way = along(bent, np.tile([0.0, 10.0, 1e6], (3, 1)))
    assert places[:, 0] == pytest.approx(marks[:, 0])
    assert places[:, 2] == pytest.approx(marks[:, -1])
    assert np.hypot(way[..., 0], way[..., 1]) == pytest.approx(np.ones((3, 3)))


def test_a_mark_gauged_from_a_line_not_yet_set_is_refused() -> None:
    plan = chain(3)
    rows = (*plan.rows[:3], *plan.rows[6:], *plan.rows[3:6])
    with pytest.raises(InputError) as caught:
        set_marks(replace(plan, rows=rows), NONE, 2, 1, 1.0)
    assert str(caught.value) == (
        "field.csv, row 8: mark 7 is measured from L1, which is not set by then; put the marks in"
        " an order in which everything measured from stands before"
    )
