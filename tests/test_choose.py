"""Which candidate is taken: made-up layouts on a plane, where every merit is known by hand.

The bed is 42 x 22 ft with 2 ft on centre: the area that could be served, inset by half a foot, is
41 x 21 = 861 sq ft. A candidate is a stack of level rows two feet apart, ten rows of 40 ft at most:
merit is rows x length x 2 / 861.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from shapely import Polygon, box

from dripfield.choose import choose, lay_out
from dripfield.errors import InputError
from dripfield.layout.engine import PLAIN
from dripfield.layout.model import Lateral, Layout
from dripfield.measures.field import Merit
from dripfield.site.model import (
    Bed,
    BedTable,
    LayoutRules,
    LayoutTable,
    Site,
    SiteFile,
    SiteTable,
)
from dripfield.site.reader import layout_rules
from dripfield.surface.tin import Surface
from dripfield.survey.options import SurveyTable
from dripfield.survey.shots import Survey
from dripfield.units import Unit

BED = Bed(box(0.0, 0.0, 42.0, 22.0))
SERVED = 41.0 * 21.0


class Plane:
    """z = 100 + y / 10."""

    def elevation(self, xy):
        return 100.0 + 0.1 * np.asarray(xy)[:, 1]

    def gradient(self, xy):
        return np.tile((0.0, 0.1), (len(xy), 1))


def rules_of(**layout) -> LayoutRules:
    layout.setdefault("panel_gain", 0.015)
    return layout_rules(LayoutTable(spacing=2.0, **layout), Unit.FOOT)


def rows(method: str, length: float, panels: int = 1, crooked: float = 0.0) -> Layout:
    """Ten level rows of so much length in all, in panels side by side; the last ``crooked`` feet
    of each row lie half a foot off level."""
    laterals = []
    each = length / panels
    for panel in range(panels):
        for row in range(10):
            y, x = 20.0 - 2.0 * row, 1.0 + panel * each
            xy = np.array([(x, y), (x + each - crooked / panels, y)])
            laterals.append(Lateral(f"L{row}", chr(ord("A") + panel), xy, 100.0 + 0.1 * y))
            if crooked:
                rest = xy[1] + [(0.0, 0.0), (crooked / panels, 0.0)]
                laterals.append(Lateral(f"M{row}", chr(ord("A") + panel), rest, 100.5 + 0.1 * y))
    return Layout(method, tuple(laterals), BED.boundary)


def merit(length: float) -> float:
    return 10.0 * length * 2.0 / SERVED


class Counted:
    """Candidates that count how many were asked for."""

    def __init__(self, *layouts: Layout) -> None:
        self.layouts, self.asked = layouts, 0

    def __iter__(self) -> Iterator[Layout]:
        for layout in self.layouts:
            self.asked += 1
            yield layout


def chosen(*layouts: Layout, **layout):
    return choose(layouts, Plane(), rules_of(**layout), BED)


def test_most_merit_wins():
    contour, offset = rows("contour", 30.0, crooked=4.0), rows("offset", 36.0, crooked=4.0)
    got = chosen(contour, offset)
    assert got.layout is offset
    (option,) = got.options
    assert option.merit == pytest.approx(merit(32.0), abs=0.01)
    assert (option.panels, option.laterals, option.chosen) == (1, 20, True)
    assert option.tubing == pytest.approx(360.0)


def test_of_equals_the_first_is_taken():
    """A tenth of a foot longer is 0.0023 of merit; a twentieth of that is as good as equal."""
    first, same = rows("straight", 30.0), rows("offset", 30.005)
    assert chosen(first, same).layout is first
    assert chosen(first, rows("offset", 30.0)).layout is first
    longer = rows("offset", 30.2)
    assert chosen(first, longer).layout is longer


@pytest.mark.parametrize(("gain", "panels"), [(0.0, 2), (0.02, 2), (0.04, 1), (0.2, 1)])
def test_a_panel_must_gain_its_part(gain, panels):
    """From 33 to 34.5 ft of ten rows good: 1.5 ft, or 0.0348 of merit."""
    assert merit(34.5) - merit(33.0) == pytest.approx(0.0348, abs=5e-5)
    one = rows("balanced", 40.0, crooked=7.0)
    two = rows("balanced", 40.0, panels=2, crooked=5.5)
    assert len({a.panel for a in chosen(one, two, panel_gain=gain).layout.laterals}) == panels


def test_options_show_the_best_of_each_number_of_panels():
    poor, good = rows("contour", 30.0, crooked=6.0), rows("balanced", 36.0, crooked=6.0)
    two, three = (rows("balanced", 38.0, panels, crooked=4.0) for panels in (2, 3))
    got = chosen(poor, good, two, three, panel_gain=0.01)
    assert [option.panels for option in got.options] == [1, 2, 3]
    assert [option.chosen for option in got.options] == [False, True, False]
    assert [option.merit for option in got.options] == pytest.approx(
        [merit(30.0), merit(34.0), merit(34.0)], abs=0.015
    )
    assert got.layout is two


def test_no_more_are_made_once_nothing_is_left_to_gain():
    """A foot out of level of ten rows is worth 0.023: less than 0.03 asked of a panel."""
    nearly = rows("balanced", 40.0, crooked=1.0)
    rest = [rows("balanced", 40.0, panels) for panels in (2, 3)]
    asked = Counted(nearly, *rest)
    assert choose(asked, Plane(), rules_of(panel_gain=0.03), BED).layout is nearly
    assert asked.asked == 1
    asked = Counted(nearly, *rest)
    assert choose(asked, Plane(), rules_of(panel_gain=0.001), BED).layout is rest[0]
    assert asked.asked == 2


def test_every_plain_method_is_tried_first():
    """Perfect level lines do not keep a longer layout of another plain method from winning."""
    contour, offset = rows("contour", 30.0), rows("offset", 40.0)
    by_name = {one.method: one for one in (contour, offset, rows("straight", 20.0))}
    in_order = Counted(*(by_name[method] for method in PLAIN))
    assert choose(in_order, Plane(), rules_of(), BED).layout is offset
    assert in_order.asked == 3


def test_a_plain_layout_put_above_by_the_full_measure_is_the_one_shown():
    """Two near equals of one panel: few samples put one above, all samples the other."""
    plain = rows("contour", 40.0, crooked=6.0)
    field = rows("balanced", 40.0, crooked=6.0)
    quick = {id(plain): 0.900, id(field): 0.902}
    full = {id(plain): 0.903, id(field): 0.901}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            "dripfield.choose.measure_merit",
            lambda layout, *_: Merit(quick[id(layout)], 0.8, 1, 400.0),
        )
        patch.setattr(
            "dripfield.choose.measure_layout",
            lambda layout, *_: SimpleNamespace(merit=full[id(layout)]),
        )
        got = choose((plain, field), Plane(), rules_of(), BED)
    assert got.layout is plain
    assert [(option.merit, option.chosen) for option in got.options] == [(0.900, True)]


def test_two_divisions_running_behind_end_the_search():
    best = rows("balanced", 40.0, panels=2, crooked=10.0)
    worse = [rows("balanced", 40.0, panels, crooked=14.0) for panels in (3, 4, 5)]
    asked = Counted(rows("balanced", 40.0, crooked=20.0), best, *worse)
    assert choose(asked, Plane(), rules_of(), BED).layout is best
    assert asked.asked == 4


def test_nothing_to_choose_from():
    with pytest.raises(ValueError, match="there is no candidate to choose from"):
        chosen()


def test_merit_is_taken_on_the_ground_given():
    """On ground a foot lower no row is level: all are alike and the first is taken."""

    class Lower(Plane):
        def elevation(self, xy):
            return super().elevation(xy) - 1.0

    first, second = rows("contour", 20.0), rows("offset", 40.0)
    got = choose((first, second), Lower(), rules_of(), BED)
    assert got.layout is first
    assert got.options[0].merit == 0.0


# from a site


def site_on(bed: Polygon, height, step: float = 6.0, **layout) -> tuple[Site, Surface]:
    west, south, east, north = bed.buffer(9.0).bounds
    x, y = np.meshgrid(np.arange(west, east, step), np.arange(south, north, step))
    shots = np.column_stack((x.ravel(), y.ravel(), height(x, y).ravel()))
    file = SiteFile(
        site=SiteTable(name="Test", units="ft"),
        survey=SurveyTable(points="survey.csv"),
        bed=BedTable(boundary="ring.csv"),
        layout=LayoutTable(spacing=2.0, **layout),
    )
    count = len(shots)
    survey = Survey(
        shots, tuple(map(str, range(count))), ("",) * count, np.arange(count), Path("survey.csv")
    )
    rules = layout_rules(file.layout, Unit.FOOT)
    site = Site(Path("."), file, Unit.FOOT, rules, survey, Bed(bed))
    return site, Surface.from_points(shots)


def twist(x, y):
    return 100.0 + (0.06 + 0.10 * x / 70.0) * y


@pytest.mark.parametrize("method", ["straight", "offset", "contour"])
def test_a_plain_method_is_laid_as_asked(method):
    site, surface = site_on(box(0, 0, 40, 24), twist, method="balanced")
    asked = lay_out(site, surface, method)
    own = lay_out(replace(site, rules=replace(site.rules, method=method)), surface)
    assert asked.method == own.method == method
    assert asked.options == own.options == ()
    for one, two in zip(asked.laterals, own.laterals, strict=True):
        np.testing.assert_array_equal(one.xy, two.xy)


def test_balanced_says_what_each_number_of_panels_gives():
    site, surface = site_on(box(0, 0, 70, 44), twist)
    layout = lay_out(site, surface)
    assert layout.method == "balanced"
    (chosen_one,) = [option for option in layout.options if option.chosen]
    assert chosen_one.panels == len(layout.panels) > 1
    assert chosen_one.laterals == len(layout.laterals)
    assert [option.panels for option in layout.options] == sorted(
        {option.panels for option in layout.options}
    )
    tubing = sum(np.hypot(*np.diff(one.xy, axis=0).T).sum() for one in layout.laterals)
    assert chosen_one.tubing == pytest.approx(tubing, rel=1e-6)


def test_the_number_of_panels_given_is_taken():
    site, surface = site_on(box(0, 0, 70, 44), twist, panels=3)
    layout = lay_out(site, surface)
    assert [(option.panels, option.chosen) for option in layout.options] == [(3, True)]
    assert list(layout.panels) == ["A", "B", "C"]


def test_a_dearer_panel_is_not_taken():
    counts = []
    for gain in (0.0, 0.05, 0.6):
        site, surface = site_on(box(0, 0, 70, 44), twist, panel_gain=gain)
        counts.append(len(lay_out(site, surface).panels))
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > counts[2] == 1


def test_ground_beyond_the_survey_is_left_and_said():
    """Shots reach 9 ft beyond 40 x 24; the bed reaches 71 ft farther east."""
    site, surface = site_on(box(0, 0, 40, 24), twist, method="contour")
    far = replace(site, bed=Bed(box(0, 0, 120, 24)))
    layout = lay_out(far, surface)
    edge = surface.outline.bounds[2]
    assert max(one.xy[:, 0].max() for one in layout.laterals) <= edge
    bare = (119.0 - edge) * 22.0
    assert layout.notes[0].startswith(f"{bare:,.0f} sq ft of the ")
    assert layout.notes[0].endswith(" beyond the survey: no lateral is laid there")
    assert lay_out(site, surface).notes == ()


def test_bed_away_from_the_survey():
    site, surface = site_on(box(0, 0, 40, 24), twist)
    with pytest.raises(InputError) as caught:
        lay_out(replace(site, bed=Bed(box(500, 0, 540, 24))), surface)
    assert str(caught.value) == (
        "ring.csv: the bed has no room for a lateral on surveyed ground; check the boundary, the "
        "keepouts, the setbacks and edge_clearance"
    )


@pytest.mark.parametrize("method", ["straight", "offset", "contour", "balanced"])
def test_bed_too_short(method):
    site, surface = site_on(box(0, 0, 40, 24), twist, method=method, min_length=200.0)
    with pytest.raises(InputError) as caught:
        lay_out(site, surface)
    assert str(caught.value) == (
        "site.toml, [layout]: no lateral of at least 200 fits the bed at a spacing of 2; check "
        "spacing, edge_clearance and min_length"
    )


def test_finer_candidates_are_tried_only_where_much_is_amiss():
    """Three feet of 37 out of level: far more than three panels' gains of 0.005."""
    rough = rows("balanced", 40.0, panels=2, crooked=6.0)
    moved = rows("balanced", 40.0, panels=2, crooked=4.0)
    worse = rows("balanced", 40.0, panels=2, crooked=8.0)
    asked: list[Layout] = []

    def finer(layout: Layout) -> list[Layout]:
        asked.append(layout)
        return [worse, moved]

    got = choose([rough], Plane(), rules_of(panel_gain=0.01), BED, finer)
    assert got.layout is moved
    assert asked == [rough]
    assert [option.merit for option in got.options] == pytest.approx([merit(36.0)], abs=0.015)
    assert choose([rough], Plane(), rules_of(panel_gain=0.3), BED, finer).layout is rough
    assert asked == [rough]
