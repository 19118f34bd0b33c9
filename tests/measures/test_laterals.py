"""Measured figures against answers known in closed form (all hand-derived)."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from dripfield.measures import measure_laterals

measure = partial(measure_laterals, spacing=2.0, level_tolerance=0.10, spacing_tolerance=0.10)
STATE_PLANE = np.array((2_000_000.0, 700_000.0))


def rows(lateral, ys, length=100.0, **more):
    """Straight laterals running east at the given northings, set at the plane's own height."""
    return [lateral(((0, y), (length, y)), 100.0 + 0.1 * y, **more) for y in ys]


def arc(radius, start, stop, count=4000):
    turn = np.linspace(start, stop, count)
    return radius * np.column_stack((np.cos(turn), np.sin(turn)))


def test_straight_laterals_on_a_plane(plane, lateral):
    first, middle, last = measure(rows(lateral, (4, 2, 0)), plane())
    assert middle.length == pytest.approx(100.0, abs=1e-9)
    assert middle.elevation_min == pytest.approx(100.2, abs=1e-9)
    assert middle.elevation_max == pytest.approx(100.2, abs=1e-9)
    assert middle.spacing_min == pytest.approx(2.0, abs=1e-9)
    assert middle.spacing_max == pytest.approx(2.0, abs=1e-9)
    assert middle.level_ok
    assert middle.spacing_ok
    assert middle.length_both == pytest.approx(100.0, abs=1e-9)
    assert np.isnan(first.gap_left).all()  # nothing north of the first
    assert first.gap_right == pytest.approx(2.0)
    assert np.isnan(last.gap_right).all()


def test_along_the_slope_the_same_laterals_are_farther_apart(plane, lateral):
    _, middle, _ = measure(rows(lateral, (4, 2, 0)), plane(north=0.1), spacing_measured="slope")
    assert middle.spacing_max == pytest.approx(2.0 * np.sqrt(1.01), abs=1e-9)
    assert middle.length == pytest.approx(100.0, abs=1e-9)  # level: no longer on the ground


def test_length_along_the_ground_of_a_lateral_down_the_slope(plane, lateral):
    downhill = [lateral(((0, 0), (0, -30)))]
    assert measure(downhill, plane())[0].length == pytest.approx(30.0, abs=1e-9)
    on_ground = measure(downhill, plane(), spacing_measured="slope")[0]
    assert on_ground.length == pytest.approx(30.0 * np.sqrt(1.01), abs=1e-9)
    assert on_ground.length_level == pytest.approx(1.0, abs=0.25)  # 0.10 of fall in 1 ft


def test_concentric_arcs_on_a_cone(cone, lateral):
    laterals = [lateral(arc(r, 0.3, 1.7), 100.0 - 0.1 * r) for r in (30, 32, 34)]
    for radius, got in zip((30, 32, 34), measure(laterals, cone()), strict=True):
        assert got.length == pytest.approx(1.4 * radius, abs=0.001)
        assert got.elevation_min == pytest.approx(100.0 - 0.1 * radius, abs=0.001)
        assert got.elevation_max == pytest.approx(100.0 - 0.1 * radius, abs=0.001)
        assert got.spacing_min == pytest.approx(2.0, abs=0.001)
        assert got.spacing_max == pytest.approx(2.0, abs=0.001)
        assert got.length_both == pytest.approx(got.length)


def test_arcs_drawn_with_chords_as_long_as_stakes_allow(cone, lateral):
    # chords of a 30 ft circle that depart 0.05 ft from it: half angle acos(1 - 0.05/30) = 0.0577
    laterals = [lateral(arc(r, 0.0, 1.5, 14), 100.0 - 0.1 * r) for r in (30, 32, 34)]
    _, middle, _ = measure(laterals, cone())
    assert middle.spacing_min == pytest.approx(2.0, abs=0.005)
    assert middle.spacing_max == pytest.approx(2.0, abs=0.005)
    assert middle.level_ok


def test_off_level_over_a_known_part(plane, lateral):
    # rises 0.40 ft in 100 ft; set at the height of its middle: level over the middle 50 ft
    got = measure([lateral(((0, 0), (100, 0)), 100.2)], plane(east=0.004, north=0.0))[0]
    assert not got.level_ok
    assert got.length_level == pytest.approx(50.0, abs=0.5)
    assert got.elevation_min == pytest.approx(100.0, abs=1e-9)
    assert got.elevation_max == pytest.approx(100.4, abs=1e-9)
    assert got.level[np.abs(got.station - 50) < 24.9].all()
    assert not got.level[np.abs(got.station - 50) > 25.1].any()


def test_off_spacing_over_a_known_part(plane, lateral):
    # the lower line lies 2.0 ft off for 60 ft, slants out over 1 ft and lies 2.5 ft off for 39 ft
    lower = lateral(((0, -2), (60, -2), (61, -2.5), (100, -2.5)), 99.8)
    upper, _ = measure([lateral(((0, 0), (100, 0))), lower], plane())
    assert upper.length_spaced == pytest.approx(60.4, abs=0.3)  # 2.2 ft is passed 0.4 ft along
    assert upper.length_level == pytest.approx(100.0)
    assert upper.length_both == pytest.approx(upper.length_spaced)
    assert upper.spacing_min == pytest.approx(2.0, abs=1e-9)
    assert upper.spacing_max == pytest.approx(2.5, abs=1e-9)
    assert not upper.spacing_ok


@pytest.mark.parametrize(
    ("gap", "within"), [(1.80, True), (1.79, False), (2.20, True), (2.21, False)]
)
def test_a_gap_exactly_at_the_tolerance_passes(plane, lateral, gap, within):
    got = measure(rows(lateral, (gap, 0)), plane())
    assert [one.spacing_ok for one in got] == [within, within]


@pytest.mark.parametrize(("off", "within"), [(0.10, True), (0.101, False), (-0.10, True)])
def test_a_height_exactly_at_the_tolerance_passes(plane, lateral, off, within):
    got = measure([lateral(((0, 0), (50, 0)), 100.0 + off)], plane())[0]
    assert got.level_ok is within
    assert got.length_level == pytest.approx(50.0 if within else 0.0)


@pytest.mark.parametrize(("gap", "neighbour"), [(3.5, True), (3.51, False)])
def test_beyond_a_spacing_and_three_quarters_there_is_no_neighbour(plane, lateral, gap, neighbour):
    got = measure(rows(lateral, (gap, 0)), plane())
    assert [one.spacing_ok for one in got] == [not neighbour, not neighbour]
    assert np.isnan(got[0].spacing_max) == (not neighbour)


def test_a_lone_lateral_has_no_spacing_to_miss(plane, lateral):
    got = measure([lateral(((0, 0), (50, 0)))], plane())[0]
    assert got.spacing_ok
    assert np.isnan((got.spacing_min, got.spacing_max)).all()


def test_normals_look_for_neighbours_within_the_panel(plane, lateral):
    pair = [lateral(((0, 2.5), (50, 2.5)), panel="B"), lateral(((0, 0), (50, 0)))]
    assert all(one.spacing_ok for one in measure(pair, plane()))
    assert all(np.isnan(one.spacing_max) for one in measure(pair, plane()))


def test_too_near_a_lateral_of_another_panel(plane, lateral):
    pair = [lateral(((0, 1.5), (50, 1.5)), panel="B"), lateral(((0, 0), (50, 0)))]
    for one in measure(pair, plane()):
        assert one.spacing_min == pytest.approx(1.5)
        assert one.length_spaced == 0.0


def test_ends_too_near_across_a_seam(plane, lateral):
    # ends 1 ft apart along and 1 ft aside: 1.41 ft, and nothing stands square to either line
    left = lateral(((0, 0), (50, 0)))
    right = lateral(((51, 1), (100, 1)), panel="B")
    for one in measure([left, right], plane()):
        assert not one.spacing_ok
        assert np.isnan(one.spacing_max)
        assert one.spacing_min == pytest.approx(np.sqrt(2.0))
        # 1.8 ft to the other end is passed sqrt(1.8^2 - 1) - 1 = 0.497 ft back
        assert one.length - one.length_spaced == pytest.approx(0.497, abs=0.25)


@pytest.mark.parametrize("joint", [0.0, 0.5, 1.7])
@pytest.mark.parametrize("other", ["A", "B"])
def test_a_lateral_cut_in_two_is_not_too_near_itself(plane, lateral, joint, other):
    parts = [lateral(((0, 0), (50, 0))), lateral(((50 + joint, 0), (90, 0)), panel=other)]
    assert all(one.spacing_ok for one in measure(parts, plane()))


def test_a_cut_lateral_carried_on_within_the_tolerance_aside(plane, lateral):
    def beside(aside):
        parts = [lateral(((0, 0), (50, 0))), lateral(((50.5, aside), (90, aside)))]
        return [one.spacing_ok for one in measure(parts, plane())]

    assert beside(0.2) == [True, True]
    assert beside(0.25) == [False, False]


def test_an_end_that_meets_the_side_of_another_is_too_near(plane, lateral):
    through, stem = lateral(((0, 0), (50, 0))), lateral(((25, -1), (25, -20)))
    got_through, got_stem = measure([through, stem], plane())
    assert got_through.spacing_min == pytest.approx(1.0)
    assert got_stem.spacing_min == pytest.approx(1.0)
    assert not got_through.spacing_ok
    assert not got_stem.spacing_ok


def test_laterals_that_overlap_in_line_are_too_near(plane, lateral):
    pair = [lateral(((0, 0), (50, 0))), lateral(((40, 0.1), (90, 0.1)))]
    first, _ = measure(pair, plane())
    assert first.spacing_min == pytest.approx(0.1)
    assert first.length_spaced == pytest.approx(40.0 - np.sqrt(1.8**2), abs=2.0)


def test_a_hairpin_is_too_near_itself(plane, lateral):
    turn = np.linspace(-np.pi / 2, np.pi / 2, 60)
    bend = np.column_stack((50 + 0.6 * np.cos(turn), 0.6 + 0.6 * np.sin(turn)))
    hairpin = np.vstack(((0, 0), bend, (0, 1.2)))
    got = measure([lateral(hairpin)], plane())[0]
    assert got.spacing_min == pytest.approx(1.2, abs=0.01)
    assert got.length_spaced < 6.0


def test_a_closed_lateral_on_a_knoll_meets_its_own_start(cone, lateral):
    rings = [lateral(arc(r, 0, 2 * np.pi), 100.0 - 0.1 * r) for r in (10, 12)]
    assert all(one.spacing_ok for one in measure(rings, cone()))


def test_unknown_ground_is_not_level(plane, lateral):
    got = measure([lateral(((0, 0), (100, 0)))], plane(known_to=75.0))[0]
    assert not got.level_ok
    assert got.length_level == pytest.approx(75.0, abs=0.25)
    assert got.elevation_min == pytest.approx(100.0)
    nowhere = measure([lateral(((0, 0), (100, 0)))], plane(known_to=-1.0))[0]
    assert np.isnan(nowhere.elevation_min)
    assert nowhere.length_level == 0.0


@pytest.mark.parametrize("measured", ["plan", "slope"])
def test_the_same_at_state_plane_coordinates(cone, lateral, measured):
    radii = (30, 32, 34.1, 36, 37.6)
    here = [lateral(arc(r, 0.3, 1.7, 200), 100.0 - 0.1 * r) for r in radii]
    there = [lateral(one.xy + STATE_PLANE, one.elevation) for one in here]
    near = measure(here, cone(), spacing_measured=measured)
    far = measure(there, cone(origin=tuple(STATE_PLANE)), spacing_measured=measured)
    for a, b in zip(near, far, strict=True):
        for field in ("length", "elevation_min", "spacing_min", "spacing_max", "length_both"):
            assert getattr(b, field) == pytest.approx(getattr(a, field), abs=1e-6)
        np.testing.assert_allclose(b.gap_left, a.gap_left, atol=1e-6)
        np.testing.assert_allclose(b.xy - STATE_PLANE, a.xy, atol=1e-6)


def test_repeated_vertices_change_nothing(plane, lateral):
    plain = measure(rows(lateral, (2, 0)), plane())
    doubled = [
        lateral(np.repeat(one.xy, 3, axis=0), one.elevation) for one in rows(lateral, (2, 0))
    ]
    for a, b in zip(plain, measure(doubled, plane()), strict=True):
        assert b.length == pytest.approx(a.length)
        assert b.spacing_min == pytest.approx(a.spacing_min)


def test_samples_are_an_eighth_of_the_spacing_apart_and_hold_both_ends(plane, lateral):
    got = measure([lateral(((0, 0), (10, 0)))], plane())[0]
    assert len(got.station) == 41
    np.testing.assert_allclose(got.xy[[0, -1]], ((0, 0), (10, 0)), atol=1e-12)
    finer = measure([lateral(((0, 0), (10, 0)))], plane(), step=0.1)[0]
    assert len(finer.station) == 101


def test_nothing_laid_nothing_measured(plane):
    assert measure([], plane()) == ()
