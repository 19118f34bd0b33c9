from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from dripfield.staking.stakes import first_point_number, stake_places, stakes


def deviation(line: np.ndarray, places: np.ndarray) -> float:
    """Greatest distance either way, by shapely's densified Hausdorff distance (independent)."""
    a, b = shapely.linestrings(line - line[0]), shapely.linestrings(places - line[0])
    return float(shapely.hausdorff_distance(a, b, densify=0.02))


def test_straight_lateral_is_divided_evenly():
    # hand-derived: 78 ft at most 25 ft apart is four parts of 19.5 ft
    xy = np.array([(1.0, 19.0), (79.0, 19.0)])
    places, station = stake_places(xy, 0.05, 25.0)
    np.testing.assert_allclose(station, [0.0, 19.5, 39.0, 58.5, 78.0], atol=1e-9)
    np.testing.assert_allclose(places[:, 1], 19.0, atol=1e-12)


def test_line_of_just_one_interval_needs_no_stake_between():
    places, _ = stake_places(np.array([(0.0, 0.0), (15.0, 20.0)]), 0.05, 25.0)
    np.testing.assert_array_equal(places, [(0.0, 0.0), (15.0, 20.0)])


@pytest.mark.parametrize(("radius", "tolerance"), [(30.0, 0.05), (100.0, 0.05), (12.0, 0.2)])
def test_arc_has_as_few_stakes_as_its_rise_allows(radius, tolerance):
    # hand-derived: a chord over the angle a rises R (1 - cos(a / 2)) above its middle
    angle = np.linspace(0.0, 1.4, 2801)
    xy = radius * np.column_stack((np.cos(angle), np.sin(angle)))
    widest = 2.0 * math.acos(1.0 - tolerance / radius)
    places, station = stake_places(xy, tolerance, 1e6)
    assert len(places) == math.ceil(1.4 / widest) + 1
    assert deviation(xy, places) <= tolerance
    assert np.ptp(np.diff(station)) < 0.1 * radius * widest  # evenly spread


def wave(amplitude: float, period: float, length: float, step: float) -> np.ndarray:
    x = np.arange(0.0, length, step)
    return np.column_stack((x, amplitude * np.sin(x * 2.0 * np.pi / period)))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    amplitude=st.floats(0.0, 8.0),
    period=st.floats(15.0, 200.0),
    length=st.floats(3.0, 160.0),
    step=st.floats(0.1, 3.0),
    tolerance=st.floats(0.01, 0.5),
    interval=st.floats(3.0, 60.0),
)
def test_both_limits_hold_on_any_wave(amplitude, period, length, step, tolerance, interval):
    xy = wave(amplitude, period, length, step)
    xy = xy if len(xy) > 1 else np.array([(0.0, 0.0), (length, 0.0)])
    places, station = stake_places(xy, tolerance, interval)
    assert deviation(xy, places) <= tolerance
    assert np.diff(station).max() <= interval * (1.0 + 1e-6)
    assert np.diff(station).min() > 0.0
    np.testing.assert_allclose(places[[0, -1]], xy[[0, -1]], atol=1e-9)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    turns=st.lists(st.floats(-0.7, 0.7), min_size=2, max_size=8),
    tolerance=st.floats(0.05, 1.0),
)
def test_no_choice_of_vertices_has_fewer_stakes(turns, tolerance):
    """Against every subset of the vertices, measured by shapely."""
    heading = np.cumsum([0.0, *turns])
    steps = np.column_stack((np.cos(heading), np.sin(heading)))
    xy = np.vstack(((0.0, 0.0), np.cumsum(steps, axis=0)))
    places, _ = stake_places(xy, tolerance, 1e6)
    # the search keeps 0.0001 in hand, so the rival must too
    line = shapely.linestrings(xy)
    for inner in range(len(places) - 2):
        for chosen in itertools.combinations(range(1, len(xy) - 1), inner):
            rival = [0, *chosen, len(xy) - 1]
            worst = max(
                shapely.distance(
                    shapely.linestrings(xy[[a, b]]), shapely.points(xy[a : b + 1])
                ).max()
                for a, b in itertools.pairwise(rival)
            )
            assert worst > tolerance - 1.01e-4, (line, rival)


def test_a_hairpin_keeps_its_turn():
    xy = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, 0.02), (0.0, 0.02)])
    places, _ = stake_places(xy, 0.05, 100.0)
    assert deviation(xy, places) <= 0.05
    assert places[:, 0].max() == 20.0


def test_millions_of_feet_lose_nothing():
    near = wave(4.0, 60.0, 100.0, 0.5)
    shift = np.array((6_543_210.25, 1_234_567.75))
    here, _ = stake_places(near, 0.05, 25.0)
    there, _ = stake_places(near + shift, 0.05, 25.0)
    np.testing.assert_allclose(there - shift, here, atol=1e-8)


def test_stakes_of_a_field(awkward):
    found = stakes(awkward.layout, awkward.site.settings, first=1001)
    assert [one.point for one in found] == list(range(1001, 1001 + len(found)))
    assert list(dict.fromkeys(one.lateral for one in found)) == [
        one.name for one in awkward.layout.laterals
    ]
    for lateral in awkward.layout.laterals:
        own = [one for one in found if one.lateral == lateral.name]
        assert (own[0].kind, own[-1].kind) == ("start", "end")
        assert all(one.kind in ("bend", "run") for one in own[1:-1])
        assert {one.elevation for one in own} == {lateral.elevation}
        assert all(one.description.split(" ")[0] == lateral.name for one in own)
        stations = [one.station for one in own]
        assert stations == sorted(stations)
        assert max(np.diff(stations)) <= awkward.site.settings.stake_interval * (1 + 1e-9)
        places = np.array([(one.easting, one.northing) for one in own])
        assert deviation(lateral.xy, places) <= awkward.site.settings.chord_tolerance


def test_straight_runs_and_bends_are_told_apart(plane, cone):
    inner = [one.kind for one in stakes(plane.layout, plane.site.settings)[1:-1]]
    assert set(inner) - {"start", "end"} == {"run"}
    inner = [one.kind for one in stakes(cone.layout, cone.site.settings)]
    assert set(inner) == {"start", "bend", "end"}


def test_numbers_start_clear_of_the_survey(plane):
    survey = replace(plane.ground.read, names=("7", "BM", "2350", "12a", "²"))
    assert first_point_number(survey) == 3001
    assert first_point_number(replace(survey, names=("BM", "x"))) == 1001
