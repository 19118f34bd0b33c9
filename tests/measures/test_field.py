"""Merit, coverage and shares of whole layouts against hand-derived figures."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point, Polygon, box

from dripfield.layout.model import Layout
from dripfield.measures import measure_layout, served_area
from dripfield.measures.field import measure_merit
from dripfield.site.model import Bed, LayoutSettings, Setback


@pytest.fixture
def settings():
    def make(**more) -> LayoutSettings:
        values = {
            "spacing": 2.0,
            "spacing_measured": "plan",
            "edge_clearance": 1.0,
            "method": "balanced",
            "level_tolerance": 0.10,
            "spacing_tolerance": 0.10,
            "min_length": 5.0,
            "max_length": 0.0,
            "bearing": None,
            "bend_radius": 3.0,
            "smoothing": 0.0,
            "panels": None,
            "max_panels": 6,
            "panel_gain": 0.015,
            "stake_interval": 25.0,
            "contour_interval": None,
            "coverage_multiple": 3.0,
        }
        return LayoutSettings(**(values | more))

    return make


BED = Bed(box(0, 0, 100, 50))


@pytest.fixture
def filled(lateral):
    """25 laterals of 98 ft that fill the bed of 100 by 50 ft with 1 ft of clearance."""
    laterals = [lateral(((1, y), (99, y)), 100.0 + 0.1 * y) for y in range(49, 0, -2)]
    return Layout("straight", tuple(laterals), BED.open_area(1.0))


def test_an_ideally_filled_rectangle(plane, filled, settings):
    got = measure_layout(filled, plane(), settings(), BED)
    assert got.served_area == pytest.approx(99 * 49)
    assert got.tubing == pytest.approx(25 * 98)
    assert got.merit == pytest.approx(25 * 98 * 2 / (99 * 49), abs=1e-9)  # 1.0101
    # the half-round ends leave 24 pairs of slivers at each side of the bed, each of
    # 0.5 - (0.25 sqrt(0.75) + asin(0.5) / 2) = 0.021694 ft2
    assert got.coverage == pytest.approx(1 - 2 * 48 * 0.021694 / (99 * 49), abs=2e-4)
    assert (got.share_level, got.share_spaced, got.share_both) == (1.0, 1.0, 1.0)
    assert (got.panels, got.missed_level, got.missed_spacing) == (1, 0, 0)
    assert got.smoothed is None
    assert got.notes == ()


def test_merit_at_state_plane_coordinates(plane, filled, settings, lateral):
    away = np.array((2_000_000.0, 700_000.0))
    moved = [lateral(one.xy + away, one.elevation) for one in filled.laterals]
    bed = Bed(box(*away, *(away + np.array((100.0, 50.0)))))
    here = measure_layout(filled, plane(), settings(), BED)
    there = measure_layout(
        Layout("straight", tuple(moved), bed.boundary), plane(origin=tuple(away)), settings(), bed
    )
    assert there.merit == pytest.approx(here.merit, abs=1e-6)
    assert there.coverage == pytest.approx(here.coverage, abs=1e-6)


def test_along_the_slope_the_bed_is_larger(plane, settings, lateral):
    # rows 2 ft apart along a 20 % slope: 2 / sqrt(1.04) apart in plan
    rows = np.arange(1.0, 49.0, 2.0 / np.sqrt(1.04))
    laterals = [lateral(((1, y), (99, y)), 100.0 + 0.2 * y) for y in rows]
    layout = Layout("straight", tuple(laterals), BED.boundary)
    got = measure_layout(layout, plane(north=0.2), settings(spacing_measured="slope"), BED)
    assert got.share_spaced == 1.0
    assert got.laterals[3].spacing_min == pytest.approx(2.0, abs=1e-9)
    area = 99 * 49 * np.sqrt(1.04)
    assert got.merit == pytest.approx(len(rows) * 98 * 2 / area, abs=1e-6)
    assert got.served_area == pytest.approx(99 * 49)
    assert got.coverage > 0.98


def test_shares_and_counts_of_a_layout_with_known_faults(plane, settings, lateral):
    # five rows of 80 ft: the third set 0.2 ft high, the fifth 2.5 ft from the fourth
    heights = (8.5, 6.5, 4.5, 2.5, 0.0)
    laterals = [lateral(((0, y), (80, y)), 100 + 0.1 * y + 0.2 * (y == 4.5)) for y in heights]
    bed = Bed(box(-1, -1, 81, 9.5))
    got = measure_layout(Layout("x", tuple(laterals), bed.boundary), plane(), settings(), bed)
    assert got.missed_level == 1
    assert got.missed_spacing == 2
    assert got.share_level == pytest.approx(4 / 5)
    assert got.share_spaced == pytest.approx(3 / 5)
    assert got.share_both == pytest.approx(2 / 5)
    assert got.merit == pytest.approx(2 * 80 * 2 / (81 * 9.5))


def test_served_area_clears_keepouts_by_a_quarter_and_setbacks_by_their_distance():
    keepout = box(20, 20, 30, 30)
    wall = Setback("wall", LineString(((60, -20), (60, 70))), 3.0, None)
    got = served_area(Bed(BED.boundary, (keepout,), (wall,)), 2.0)
    expected = 99 * 49 - (10 * 10 + 4 * 10 * 0.5 + np.pi * 0.25) - 6 * 49
    assert got.area == pytest.approx(expected, abs=0.01)
    well = Setback("well", Point(50, 25), 100.0, None)
    assert served_area(Bed(BED.boundary, (), (well,)), 2.0).is_empty


def test_level_against_the_raw_triangles(plane, settings, filled):
    # the raw ground stands 0.004 x higher: within 0.10 ft up to x = 25
    got = measure_layout(filled, plane(), settings(), BED, smoothed=plane(east=0.004))
    assert got.share_level == 1.0
    assert got.smoothed is not None
    assert got.smoothed.share_level == pytest.approx(24 / 98, abs=0.003)
    assert got.smoothed.missed_level == 25
    assert got.smoothed.worst == pytest.approx(0.004 * 99, abs=1e-9)
    x = np.linspace(1, 99, 393)
    assert got.smoothed.rms == pytest.approx(0.004 * np.sqrt((x**2).mean()), abs=1e-6)


def test_laterals_beyond_the_known_ground_are_named(plane, settings, filled):
    got = measure_layout(filled, plane(known_to=60.0), settings(), BED)
    assert got.share_level == pytest.approx(59 / 98, abs=0.003)
    assert got.missed_level == 25
    assert len(got.notes) == 1
    assert "25 laterals run partly where the ground is not known" in got.notes[0]


FEW_THOUSANDTHS = 0.006  # six, where lines graze a tolerance for long as some do here


@pytest.fixture
def curved(cone, lateral):
    """``curved(origin, off_level, off_spacing)``: finely drawn arcs about the top of a cone; in
    waves of so many feet all leave the level together, and every second one the spacing."""

    def make(origin=(50.0, 80.0), off_level=0.0, off_spacing=0.0) -> tuple[Layout, Bed, object]:
        turn = np.linspace(-2.3, -0.85, 900)
        rim = np.column_stack((np.cos(turn), np.sin(turn)))
        laterals = []
        for number, radius in enumerate(np.arange(32.0, 112.0, 2.0)):
            away = radius + off_level * np.sin(8.0 * turn)
            away += off_spacing * (number % 2) * np.sin(5.0 * turn + number)
            xy = origin + away[:, None] * rim
            laterals.append(lateral(xy, 100.0 - 0.1 * radius, "AB"[number > 12]))
        bed = Bed(Polygon(origin + np.vstack((31.0 * rim, 111.0 * rim[::-1]))))
        return Layout("x", tuple(laterals), bed.boundary), bed, cone(origin=origin)

    return make


@pytest.mark.parametrize("measured", ["plan", "slope"])
@pytest.mark.parametrize(
    ("faults", "least", "most"),
    [
        ({}, 0.999, 1.0),
        ({"off_level": 1.1}, 0.6, 0.8),
        ({"off_level": 1.6}, 0.3, 0.5),
        ({"off_spacing": 0.21}, 0.6, 0.8),
        ({"off_level": 1.2, "off_spacing": 0.25, "origin": (2_000_050.0, 700_080.0)}, 0.2, 0.4),
    ],
)
def test_a_quick_merit_is_within_a_few_thousandths(curved, settings, measured, faults, least, most):
    """Also where lines go in and out of tolerance again and again."""
    layout, bed, ground = curved(**faults)
    asked = settings(spacing_measured=measured)
    full = measure_layout(layout, ground, asked, bed)
    quick = measure_merit(layout, ground, asked, bed)
    assert least <= full.share_both <= most
    assert quick.merit == pytest.approx(full.merit, abs=FEW_THOUSANDTHS)
    assert quick.share_both == pytest.approx(full.share_both, abs=FEW_THOUSANDTHS)
    assert quick.tubing == pytest.approx(full.tubing, rel=1e-3)
    assert quick.panels == full.panels == 2


def test_a_merit_that_is_not_quick_is_the_full_one(curved, settings):
    layout, bed, ground = curved(off_level=1.3, off_spacing=0.3)
    full = measure_layout(layout, ground, settings(), bed)
    got = measure_merit(layout, ground, settings(), bed, quick=False)
    assert (got.merit, got.share_both, got.panels, got.tubing) == (
        full.merit,
        full.share_both,
        full.panels,
        full.tubing,
    )
    assert measure_merit(layout, ground, settings(), bed).merit != full.merit


def test_a_quick_merit_of_straight_rows_is_exact(plane, filled, settings):
    """Hand-derived: 25 rows of 98 ft, 2 ft apart, over 99 x 49 sq ft; none where none is laid."""
    got = measure_merit(filled, plane(), settings(), BED)
    assert got.merit == pytest.approx(25 * 98 * 2 / (99 * 49), abs=1e-9)
    assert (got.share_both, got.panels) == (1.0, 1)
    none = measure_merit(Layout("x", (), BED.boundary), plane(), settings(), BED)
    assert (none.merit, none.share_both, none.panels, none.tubing) == (0.0, 0.0, 0, 0.0)


def test_an_empty_layout(plane, settings):
    got = measure_layout(Layout("x", (), BED.boundary), plane(), settings(), BED, smoothed=plane())
    assert (got.merit, got.coverage, got.tubing, got.panels) == (0.0, 0.0, 0.0, 0)
    assert got.smoothed is not None
    assert got.smoothed.share_level == 0.0
