"""The division of a bed into panels, and the layouts for each number of them."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from laying_out import Hill, Plane, lay_on, rectangle, rules_of, terrain_on
from shapely import LineString

from dripfield.layout.balanced import Balanced
from dripfield.layout.falls import fall_coordinate
from dripfield.layout.panels import Divider
from dripfield.layout.stripes import Tolerances
from dripfield.measures import measure_layout
from dripfield.site.model import Bed

BED = rectangle(90.0, 50.0)
WANT = Tolerances(spacing=2.0, level=0.1, fraction=0.1, wave_along=13.0, wave_across=8.0)
TWIST = Hill(lambda x, y: 100 + (0.07 + 0.07 * x / 90.0) * y)


def divider_on(ground, bed=BED) -> Divider:
    terrain = terrain_on(ground, bed)
    area = terrain.frame.geometry_to_local(bed)
    return Divider(terrain, area, fall_coordinate(terrain, area, 4.0, 8.0), WANT, False, 0.0)


DIVIDER = divider_on(Plane(0.0, 0.1))


def best_by_trying(worth, strips, count, seam):
    """All divisions of so many strips, their worth less what the seams lose."""
    tried = []
    for inner in combinations(range(1, strips), count - 1):
        ends = (0, *inner, strips)
        value = sum(worth[i, j] for i, j in pairwise(ends)) - sum(seam[i] for i in inner)
        tried.append((value, ends))
    return max(tried)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(0, 100_000), st.integers(2, 7), st.floats(0.0, 2.0))
def test_divisions_are_the_best_there_are(seed, strips, gap):
    """Against trying every division, for made-up worths."""
    rng = np.random.default_rng(seed)
    cuts = DIVIDER.falls.cuts(strips)
    number = {float(t): k for k, t in enumerate(cuts)}
    made_up = rng.uniform(0.0, 100.0, (strips + 1, strips + 1))
    seam = [gap * DIVIDER.falls.seam_length(float(t)) for t in cuts]

    class MadeUp(Divider):
        def worth(self, parts, step):
            return np.array([made_up[number[a], number[b]] for a, b in parts])

    divider = MadeUp(DIVIDER.terrain, DIVIDER.area, DIVIDER.falls, WANT, False, 0.0)
    found = divider.divisions(5, strips, 4.0, gap)
    assert len(found) == min(5, strips)
    for count, division in enumerate(found, start=1):
        ends = tuple(number[t] for t in division.cuts)
        value, _ = best_by_trying(made_up, strips, count, seam)
        inner = ends[1:-1]
        got = sum(made_up[i, j] for i, j in pairwise(ends)) - sum(seam[i] for i in inner)
        assert len(ends) == count + 1
        assert got == pytest.approx(value)


def test_all_of_a_plane_is_worth_laying():
    cuts = DIVIDER.falls.cuts(4)
    whole, half = DIVIDER.worth([(cuts[0], cuts[4]), (cuts[0], cuts[2])], 4.0)
    assert whole == pytest.approx(DIVIDER.area.area, rel=0.02)
    assert half == pytest.approx(DIVIDER.area.area / 2.0, rel=0.05)


def test_a_twist_is_worth_more_in_parts():
    divider = divider_on(TWIST)
    cuts = divider.falls.cuts(4)
    whole, left, right = divider.worth(
        [(cuts[0], cuts[4]), (cuts[0], cuts[2]), (cuts[2], cuts[4])], 4.0
    )
    assert left + right > whole + 0.1 * divider.area.area


@pytest.fixture(scope="module")
def layouts():
    terrain = terrain_on(TWIST, BED)
    area = terrain.frame.geometry_to_local(Bed(BED).open_area(1.0))
    whole = terrain.frame.geometry_to_site(area)
    return list(Balanced(terrain, area, whole, rules_of(max_panels=3)).layouts())


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


def test_seams_run_down_the_slope_from_edge_to_edge(layouts):
    for layout in layouts:
        for seam in layout.seams:
            z = TWIST.elevation(seam)
            assert (np.diff(z) <= 0.0).all() or (np.diff(z) >= 0.0).all()
            assert layout.area.boundary.distance(shapely.points(seam[[0, -1]])).max() < 1e-3


def test_more_panels_hold_the_tolerances_better(layouts):
    rules, bed = rules_of(), Bed(BED)
    both = [measure_layout(layout, TWIST, rules, bed).share_both for layout in layouts]
    assert both[0] < both[1] < both[2] + 0.02
    assert both[2] > 0.97


@pytest.mark.parametrize("panels", [1, 2, 4])
def test_the_person_decides(panels):
    layout = lay_on(TWIST, BED, rules_of(panels=panels), "balanced")
    assert len(layout.panels) == panels
    assert {one.panel for one in layout.laterals} == set(layout.panels)


def test_no_more_panels_than_allowed():
    layout = lay_on(TWIST, BED, rules_of(max_panels=1), "balanced")
    assert list(layout.panels) == ["A"]
