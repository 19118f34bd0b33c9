"""Which candidate is taken: made-up layouts on a plane, where every merit is known by hand.

The bed is 42 x 22 ft with 2 ft on centre: the area that could be served, inset by half a foot, is
41 x 21 = 861 sq ft. A candidate is a stack of level rows two feet apart, ten rows of 40 ft at most:
merit is rows x length x 2 / 861.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon, box

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.design.candidates import PLAIN
from dripfield.design.choose import Choice, choose, choose_layout
from dripfield.ground.laying import LayingSurface
from dripfield.ground.triangles.tin import Surface
from dripfield.layout.model import Lateral, Layout
from dripfield.measures.field import Merit
from dripfield.site.model import Bed, LayoutSettings, Site
from dripfield.site.reader import layout_settings
from dripfield.site.schema.bed import BedTable
from dripfield.site.schema.layout import LayoutTable
from dripfield.site.schema.site import SiteFile, SiteTable
from dripfield.site.schema.survey import SurveyTable

BED = Bed(box(0.0, 0.0, 42.0, 22.0))
SERVED = 41.0 * 21.0


class Plane:
    """z = 100 + y / 10."""

    def elevation(self, xy):
        return 100.0 + 0.1 * np.asarray(xy)[:, 1]

    def gradient(self, xy):
        return np.tile((0.0, 0.1), (len(xy), 1))


def settings_of(**layout) -> LayoutSettings:
    layout.setdefault("panel_gain", 0.015)
    return layout_settings(LayoutTable(spacing=2.0, **layout), Unit.FOOT)


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


class MadeUp:
    """Candidates that note what is asked of them: how many layouts in turn, which layout finer ones
    were asked beside, how many other numbers of panels."""

    def __init__(
        self, *layouts: Layout, finer: Iterable[Layout] = (), others: Iterable[Layout] = ()
    ) -> None:
        self.layouts, self._finer, self._others = layouts, finer, others
        self.asked = self.others_asked = 0
        self.refined: list[Layout] = []

    def __iter__(self) -> Iterator[Layout]:
        for layout in self.layouts:
            self.asked += 1
            yield layout

    def finer(self, layout: Layout) -> Iterator[Layout]:
        self.refined.append(layout)
        yield from self._finer

    def others(self, most: int) -> Iterator[Layout]:
        for layout in self._others:
            if len({one.panel for one in layout.laterals}) <= most:
                self.others_asked += 1
                yield layout


def chosen(*layouts: Layout, **layout) -> Choice:
    return choose(MadeUp(*layouts), Plane(), settings_of(**layout), BED)


def test_most_merit_wins():
    contour, offset = rows("contour", 30.0, crooked=4.0), rows("offset", 36.0, crooked=4.0)
    got = chosen(contour, offset)
    assert got.layout is offset
    (option,) = got.options
    assert option.merit == pytest.approx(merit(32.0))
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
        [merit(30.0), merit(34.0), merit(34.0)]
    )
    assert got.layout is two


def test_no_more_are_made_once_nothing_is_left_to_gain():
    """A foot out of level of ten rows is worth 0.023: less than 0.03 asked of a panel."""
    nearly = rows("balanced", 40.0, crooked=1.0)
    rest = [rows("balanced", 40.0, panels) for panels in (2, 3)]
    asked = MadeUp(nearly, *rest)
    assert choose(asked, Plane(), settings_of(panel_gain=0.03), BED).layout is nearly
    assert asked.asked == 1
    asked = MadeUp(nearly, *rest)
    assert choose(asked, Plane(), settings_of(panel_gain=0.001), BED).layout is rest[0]
    assert asked.asked == 2


def test_every_plain_method_is_tried_first():
    """Perfect level lines do not keep a longer layout of another plain method from winning."""
    contour, offset = rows("contour", 30.0), rows("offset", 40.0)
    by_name = {one.method: one for one in (contour, offset, rows("straight", 20.0))}
    in_order = MadeUp(*(by_name[method] for method in PLAIN))
    assert choose(in_order, Plane(), settings_of(), BED).layout is offset
    assert in_order.asked == 3


def test_a_plain_layout_put_above_by_the_full_measure_is_the_one_shown():
    """Two near equals of one panel: few samples put one above, all samples the other."""
    plain = rows("contour", 40.0, crooked=6.0)
    field = rows("balanced", 40.0, crooked=6.0)
    quick_merit = {id(plain): 0.900, id(field): 0.902}
    full_merit = {id(plain): 0.903, id(field): 0.901}

    def merit_of(layout, _ground, _rules, _bed, quick=True):
        return Merit((quick_merit if quick else full_merit)[id(layout)], 0.8, 1, 400.0)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("dripfield.design.choose.measure_merit", merit_of)
        got = choose(MadeUp(plain, field), Plane(), settings_of(), BED)
    assert got.layout is plain
    assert [(option.merit, option.chosen) for option in got.options] == [(0.900, True)]


def test_two_divisions_running_behind_end_the_search():
    best = rows("balanced", 40.0, panels=2, crooked=10.0)
    worse = [rows("balanced", 40.0, panels, crooked=14.0) for panels in (3, 4, 5)]
    asked = MadeUp(rows("balanced", 40.0, crooked=20.0), best, *worse)
    assert choose(asked, Plane(), settings_of(), BED).layout is best
    assert asked.asked == 4


def test_plain_layouts_are_not_divisions_that_fall_behind():
    """Two plain ones worse than the first do not end the search; then two divisions do."""
    straight = rows("straight", 40.0, crooked=10.0)
    behind = [rows(method, 40.0, crooked=14.0) for method in ("offset", "contour")]
    better = rows("balanced", 40.0, crooked=6.0)
    asked = MadeUp(straight, *behind, better)
    assert choose(asked, Plane(), settings_of(), BED).layout is better
    divisions = [rows("balanced", 40.0, panels, crooked=14.0) for panels in (1, 2)]
    asked = MadeUp(straight, *behind, *divisions, better)
    assert choose(asked, Plane(), settings_of(), BED).layout is straight
    assert asked.asked == 5


def test_finer_candidates_are_tried_only_where_much_is_amiss():
    """Six feet of 40 out of level are worth 0.139: more than panels' gains of 0.01, not of 0.3."""
    rough = rows("balanced", 40.0, panels=2, crooked=6.0)
    moved = rows("balanced", 40.0, panels=2, crooked=4.0)
    worse = rows("balanced", 40.0, panels=2, crooked=8.0)
    laid = MadeUp(rough, finer=(worse, moved))
    got = choose(laid, Plane(), settings_of(panel_gain=0.01), BED)
    assert got.layout is moved
    assert laid.refined == [rough]
    assert [option.merit for option in got.options] == pytest.approx([merit(36.0)])
    laid = MadeUp(rough, finer=(worse, moved))
    assert choose(laid, Plane(), settings_of(panel_gain=0.3), BED).layout is rough
    assert laid.refined == []


def test_finer_candidates_are_made_beside_the_best_one():
    one = rows("balanced", 40.0, crooked=14.0)
    two = rows("balanced", 40.0, panels=2, crooked=6.0)
    three = rows("balanced", 40.0, panels=3, crooked=10.0)
    laid = MadeUp(one, two, three)
    assert choose(laid, Plane(), settings_of(panel_gain=0.01), BED).layout is two
    assert laid.refined == [two]


def test_comparing_shows_every_number_of_panels_and_changes_nothing_else():
    """Three panels would be better by two feet of ten rows; two are laid all the same."""
    two = rows("balanced", 40.0, panels=2, crooked=6.0)
    others = [rows("balanced", 40.0, crooked=9.0), rows("balanced", 40.0, panels=3, crooked=4.0)]
    plain, compared = MadeUp(two, others=others), MadeUp(two, others=others)
    without = choose(plain, Plane(), settings_of(), BED)
    got = choose(compared, Plane(), settings_of(), BED, compare=True)
    assert (plain.others_asked, compared.others_asked) == (0, 2)
    assert got.layout is without.layout is two
    assert not got.settled
    assert [option.panels for option in without.options] == [2]
    assert [option.panels for option in got.options] == [1, 2, 3]
    assert [option.chosen for option in got.options] == [False, True, False]
    assert [option.merit for option in got.options] == pytest.approx(
        [merit(31.0), merit(34.0), merit(36.0)]
    )
    assert got.options[1] == without.options[0]


def test_fewer_panels_are_compared_even_when_no_further_one_could_gain_enough():
    """Two panels have nothing left to gain: one is shown beside them, three are not laid."""
    two = rows("balanced", 40.0, panels=2)
    others = [rows("balanced", 40.0, crooked=20.0), rows("balanced", 40.0, panels=3)]
    laid = MadeUp(two, others=others)
    got = choose(laid, Plane(), settings_of(), BED, compare=True)
    assert got.settled
    assert got.layout is two
    assert laid.others_asked == 1
    assert [(option.panels, option.chosen) for option in got.options] == [(1, False), (2, True)]


def test_no_more_panels_are_compared_where_none_can_gain_enough():
    """A foot of ten rows, 0.023, is all that is amiss: less than 0.03."""
    nearly = rows("balanced", 40.0, crooked=1.0)
    laid = MadeUp(nearly, others=[rows("balanced", 40.0, panels=2)])
    got = choose(laid, Plane(), settings_of(panel_gain=0.03), BED, compare=True)
    assert laid.others_asked == 0
    assert got.settled
    assert [option.panels for option in got.options] == [1]
    assert not choose(laid, Plane(), settings_of(panel_gain=0.02), BED).settled


def test_the_layout_chosen_is_shown_whatever_is_compared():
    """A division into three of which one holds no lateral is measured as two."""
    two = rows("balanced", 40.0, panels=2, crooked=6.0)
    laid = MadeUp(two, others=[rows("balanced", 40.0, panels=2, crooked=4.0)])
    got = choose(laid, Plane(), settings_of(), BED, compare=True)
    assert got.layout is two
    assert [(option.panels, option.chosen) for option in got.options] == [(2, True)]


def test_nothing_to_choose_from():
    with pytest.raises(ValueError, match="there is no candidate to choose from"):
        chosen()


def test_merit_is_taken_on_the_ground_given():
    """On ground a foot lower no row is level: all are alike and the first is taken."""

    class Lower(Plane):
        def elevation(self, xy):
            return super().elevation(xy) - 1.0

    first, second = rows("contour", 20.0), rows("offset", 40.0)
    got = choose(MadeUp(first, second), Lower(), settings_of(), BED)
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
    settings = layout_settings(file.layout, Unit.FOOT)
    site = Site(Path("."), file, Unit.FOOT, settings, Bed(bed))
    return site, Surface.from_points(shots)


def lay_out(
    site: Site, surface: Surface, method: str | None = None, compare: bool = False
) -> Layout:
    """A site laid out on given triangles, smoothed as the site asks."""
    return choose_layout(site, LayingSurface(surface, site.settings.smoothing), method, compare)


def twist(x, y):
    return 100.0 + (0.06 + 0.10 * x / 70.0) * y


@pytest.mark.parametrize("method", ["straight", "offset", "contour"])
def test_a_plain_method_is_laid_as_asked(method):
    site, surface = site_on(box(0, 0, 40, 24), twist, method="balanced")
    asked = lay_out(site, surface, method)
    own = lay_out(replace(site, settings=replace(site.settings, method=method)), surface)
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
    # chords that leave a bend of 3 ft by 0.01 ft: 8 x 0.01^2 / 3 / 0.24 = 0.11 % shorter
    assert 0.9989 * tubing < chosen_one.tubing <= tubing * (1.0 + 1e-9)


def test_comparing_a_site_lays_the_same_and_shows_every_number_of_panels():
    site, surface = site_on(box(0, 0, 70, 44), twist, max_panels=3)
    asked, compared = lay_out(site, surface), lay_out(site, surface, compare=True)
    for one, two in zip(asked.laterals, compared.laterals, strict=True):
        np.testing.assert_array_equal(one.xy, two.xy)
    assert [option.panels for option in compared.options] == [1, 2, 3]
    (laid,) = [option for option in compared.options if option.chosen]
    assert laid in asked.options
    assert [option for option in asked.options if option.chosen] == [laid]


def laid_on_a_plane(made_up: MadeUp, compare: bool = True, **layout) -> Layout:
    """What a site of this bed and plane makes of made-up candidates."""
    layout.setdefault("panel_gain", 0.015)
    site, surface = site_on(BED.boundary, lambda x, y: 100.0 + 0.1 * y, smoothing=0.0, **layout)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("dripfield.design.choose.candidates", lambda *_, **__: made_up)
        return lay_out(site, surface, "balanced", compare)


def test_a_note_says_that_another_number_of_panels_turned_out_better():
    """Hand-derived: 720 / 861 = 0.836 against 680 / 861 = 0.790; a panel more asks for 0.015."""
    two = rows("balanced", 40.0, panels=2, crooked=6.0)
    three = rows("balanced", 40.0, panels=3, crooked=4.0)
    layout = laid_on_a_plane(MadeUp(two, others=[three]))
    laid, better = layout.options
    assert (laid.panels, laid.chosen, better.panels, better.chosen) == (2, True, 3, False)
    assert layout.notes == (
        "3 panels would reach a merit of 0.836 against 0.790: panels = 3 under [layout] takes that",
    )
    assert laid_on_a_plane(MadeUp(two, others=[three]), compare=False).notes == ()
    assert laid_on_a_plane(MadeUp(two, others=[three]), panel_gain=0.05).notes == ()
    assert laid_on_a_plane(MadeUp(two, others=[three]), panels=2).notes == ()


def test_a_note_of_one_panel_is_in_the_singular():
    """With the same merit, one panel is the better by what a second must gain."""
    layout = laid_on_a_plane(
        MadeUp(
            rows("balanced", 40.0, panels=2, crooked=6.0),
            others=[rows("balanced", 40.0, crooked=6.0)],
        )
    )
    assert layout.notes == (
        "1 panel would reach a merit of 0.790 against 0.790: panels = 1 under [layout] takes that",
    )


@pytest.mark.parametrize(("panels", "tried"), [(1, "1 panel"), (2, "2 panels")])
def test_a_note_says_that_no_further_panel_could_gain_enough(panels, tried):
    """A quarter of a foot of ten rows, 0.006, is all that is amiss."""
    nearly = rows("balanced", 40.0, panels, crooked=0.25)
    assert laid_on_a_plane(MadeUp(nearly)).notes == (
        f"tried with up to {tried}: none more could gain the 0.015 of merit that panel_gain asks "
        "of each",
    )
    assert laid_on_a_plane(MadeUp(nearly), max_panels=panels).notes == ()
    assert laid_on_a_plane(MadeUp(nearly), panels=panels).notes == ()


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
