"""The tube is SciPy's natural cubic spline over the length of the chords."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from dripfield.staking.tube import Tube


def marks(seed: int, n: int) -> np.ndarray:
    draw = np.random.default_rng(seed)
    x = np.cumsum(draw.uniform(2.0, 15.0, n))
    return np.column_stack((x + 2_100_000.0, 6.0 * np.sin(x / 17.0) + 650_000.0))


def reference(places: np.ndarray) -> tuple[CubicSpline, float]:
    chord = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))))
    return CubicSpline(chord, places - places[0], bc_type="natural"), float(chord[-1])


@pytest.mark.parametrize(("seed", "n"), [(1, 2), (2, 3), (3, 5), (4, 14)])
def test_places_and_stations_are_those_of_scipy(seed: int, n: int) -> None:
    places = marks(seed, n)
    spline, total = reference(places)
    t = np.linspace(0.0, total, 20_001)
    dense = spline(t)
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(dense, axis=0).T))))
    tube = Tube(places)
    assert tube.length == pytest.approx(along[-1], abs=2e-4)
    asked = np.linspace(0.0, along[-1], 101)
    expected = np.column_stack([np.interp(asked, along, dense[:, i]) for i in (0, 1)])
    assert np.abs(tube.at(asked) - places[0] - expected).max() < 2e-3
    slope = spline(np.interp(asked, along, t), 1)
    slope /= np.hypot(*slope.T)[:, None]
    assert np.abs(tube.tangent(asked) - slope).max() < 2e-3
    assert np.abs(tube.at(tube.mark_stations) - places).max() < 1e-6


def test_foot_and_place_beside_are_each_others_inverse() -> None:
    tube = Tube(marks(5, 12))
    station = np.linspace(0.5, tube.length - 0.5, 60)
    offset = np.where(np.arange(60) % 2, 2.0, -2.2)
    feet = tube.feet(tube.beside(station, offset))
    assert feet.beyond.max() < 1e-6
    assert feet.station == pytest.approx(station, abs=2e-3)
    assert feet.offset == pytest.approx(offset, abs=1e-5)


def test_a_place_beyond_an_end_has_no_square_on_the_tube() -> None:
    tube = Tube(np.array([(0.0, 0.0), (10.0, 0.0), (20.0, 0.0)]))
    feet = tube.feet(np.array([(-0.5, 2.0), (20.1, 2.0), (0.0, 2.0), (7.0, -1.5)]))
    assert feet.beyond == pytest.approx([0.5, 0.1, 0.0, 0.0])
    assert feet.offset[2:] == pytest.approx([2.0, -1.5])  # left of the way is positive
