"""Layouts of different numbers of panels, and candidates of every method."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from laying_out import Hill, Plane, lay_on, rectangle, settings_of, terrain_on
from shapely import LineString

from dripfield.design.candidates import PLAIN, Candidates, candidates
from dripfield.layout.balanced.balanced import Balanced
from dripfield.measures import measure_layout
from dripfield.site.model import Bed, LayoutSettings

BED = rectangle(90.0, 50.0)
TWIST = Hill(lambda x, y: 100 + (0.07 + 0.07 * x / 90.0) * y)


def balanced_on(ground, settings: LayoutSettings) -> Balanced:
    terrain = terrain_on(ground, BED)
    area = terrain.frame.geometry_to_local(Bed(BED).open_area(1.0))
    return Balanced(terrain, area, terrain.frame.geometry_to_site(area), settings)


def candidates_on(ground, method="balanced", **layout) -> Candidates:
    return candidates(ground, Bed(BED).open_area(1.0), settings_of(**layout), method)


@pytest.fixture(scope="module")
def layouts():
    """One of each number of panels."""
    balanced = balanced_on(TWIST, settings_of(max_panels=3))
    return sorted([*balanced.layouts(), *balanced.others(12)], key=lambda one: len(one.panels))


def test_one_layout_for_each_number_of_panels(layouts):
    assert [len(layout.panels) for layout in layouts] == [1, 2, 3]
    for number, layout in enumerate(layouts, start=1):
        assert list(layout.panels) == ["A", "B", "C"][:number]
        assert {one.panel for one in layout.laterals} == set(layout.panels)
        assert len(layout.seams) == number - 1


def test_panels_share_the_area_from_left_to_right(layouts):
    """Looking down this slope is looking south, so left is east."""
    for layout in layouts:
        parts = list(layout.panels.values())
        assert sum(part.area for part in parts) == pytest.approx(layout.area.area, rel=1e-4)
        assert shapely.union_all(parts).area == pytest.approx(layout.area.area, rel=1e-4)
        east = [part.centroid.x for part in parts]
        assert east == sorted(east, reverse=True)


def test_laterals_stay_in_their_panel_and_clear_of_the_seam(layouts):
    """Half of the least spacing on either side of a seam."""
    for layout in layouts:
        for one in layout.laterals:
            line = LineString(one.xy)
            assert layout.panels[one.panel].buffer(1e-3).contains(line)
            for seam in layout.seams:
                assert line.distance(LineString(seam)) >= 0.9 - 0.01


def test_seams_run_straight_down_the_slope_from_edge_to_edge(layouts):
    for layout in layouts:
        for seam in layout.seams:
            assert seam.shape == (2, 2)
            z = TWIST.elevation(np.linspace(seam[0], seam[-1], 50))
            assert (np.diff(z) < 0.0).all() or (np.diff(z) > 0.0).all()
            assert layout.area.boundary.distance(shapely.points(seam)).max() < 1e-3


def test_more_panels_hold_the_tolerances_better(layouts):
    settings, bed = settings_of(), Bed(BED)
    both = [measure_layout(layout, TWIST, settings, bed).share_both for layout in layouts]
    assert both[0] < both[1] < both[2] + 0.02
    assert both[2] > 0.97


def test_the_most_promising_comes_first():
    """By what each is expected to serve, a panel more weighed at what it must gain."""
    balanced = balanced_on(TWIST, settings_of(max_panels=4, panel_gain=0.01))
    expected = [one.served - 0.01 * len(one.parts) for one in balanced.divisions]
    assert expected == sorted(expected, reverse=True)
    assert sorted(len(one.parts) for one in balanced.divisions) == [1, 2, 3, 4]
    made = [len(layout.panels) for layout in balanced.layouts()]
    assert made == [len(one.parts) for one in balanced.divisions][: len(made)]
    others = [len(layout.panels) for layout in balanced.others(12)]
    assert others == sorted(set(range(1, 5)) - set(made))
    assert list(balanced.others(12)) == []


def test_a_layout_without_hope_is_left_to_be_compared():
    """On a plane a second panel can serve no more, and must serve a fifth of the bed more."""
    balanced = balanced_on(Plane(0.0, 0.1), settings_of(max_panels=3, panel_gain=0.2))
    assert [len(layout.panels) for layout in balanced.layouts()] == [1]
    assert [len(layout.panels) for layout in balanced.others(2)] == [2]
    assert [len(layout.panels) for layout in balanced.others(12)] == [3]


def test_finer_is_as_many_panels_with_other_seams():
    balanced = balanced_on(TWIST, settings_of(panels=3))
    (layout,) = balanced.layouts()
    finer = list(balanced.finer(layout))
    assert len(finer) <= 1
    for one in finer:
        assert list(one.panels) == ["A", "B", "C"]
        assert len(one.seams) == 2
        assert not np.allclose(np.stack(one.seams), np.stack(layout.seams))


def test_nothing_finer_where_no_seam_can_gain():
    """Both halves of a plane are all good wherever the seam is."""
    balanced = balanced_on(Plane(0.0, 0.1), settings_of(panels=2))
    (layout,) = balanced.layouts()
    assert list(balanced.finer(layout)) == []


def test_nothing_finer_than_one_panel_or_than_a_layout_of_others():
    balanced = balanced_on(TWIST, settings_of(max_panels=2))
    one, two = sorted([*balanced.layouts(), *balanced.others(12)], key=lambda one: len(one.panels))
    assert list(balanced.finer(one)) == []
    assert list(balanced_on(TWIST, settings_of(max_panels=2)).finer(two)) == []


@pytest.mark.parametrize("panels", [1, 2, 4])
def test_the_person_decides(panels):
    layout = lay_on(TWIST, BED, settings_of(panels=panels), "balanced")
    assert len(layout.panels) == panels
    assert {one.panel for one in layout.laterals} == set(layout.panels)


def test_no_more_panels_than_allowed():
    layout = lay_on(TWIST, BED, settings_of(max_panels=1), "balanced")
    assert list(layout.panels) == ["A"]


# candidates of every method


def test_on_a_plane_every_plain_method_comes_first():
    made = [one.method for one in candidates_on(Plane(0.02, 0.1), max_panels=2)]
    assert tuple(made[:3]) == PLAIN
    assert set(made[3:]) == {"balanced"}


def test_plain_methods_that_curve_are_left_out_where_one_field_serves_far_less():
    """Slopes of 0.05 to 0.20: no one family of lines can be evenly spaced and level."""
    steeper = Hill(lambda x, y: 100 + (0.05 + 0.15 * x / 90.0) * y)
    made = [one.method for one in candidates_on(steeper)]
    assert made[:2] == ["straight", "balanced"]
    assert set(made[1:]) == {"balanced"}


@pytest.mark.parametrize("method", PLAIN)
def test_a_plain_method_is_one_layout_and_nothing_beside_it(method):
    laid = candidates_on(Plane(0.02, 0.1), method)
    (layout,) = laid
    assert layout.method == method
    assert list(laid.finer(layout)) == list(laid.others(12)) == []


def test_where_the_number_of_panels_is_given_no_other_is_made():
    laid = candidates_on(TWIST, panels=2)
    assert [(one.method, len(one.panels)) for one in laid] == [("balanced", 2)]
    assert list(laid.others(12)) == []
    laid = candidates_on(TWIST, panels=1)
    assert next(iter(laid)).method == PLAIN[0]
    assert list(laid.others(12)) == []


def test_candidates_and_others_together_are_every_number_of_panels():
    laid = candidates_on(TWIST, max_panels=4)
    made = [len(one.panels) for one in laid if one.method not in PLAIN]
    fewer = [len(one.panels) for one in laid.others(2)]
    others = [len(one.panels) for one in laid.others(12)]
    assert max(fewer, default=0) <= 2
    assert sorted(made + fewer + others) == [1, 2, 3, 4]
