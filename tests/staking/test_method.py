"""Every row of the field plan leads to its own coordinates, by SciPy's spline and by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from marking_sites import EAST, NORTH, made, planned, ways
from scipy.interpolate import CubicSpline
from scipy.optimize import minimize_scalar

from dripfield.core.units import Unit
from dripfield.staking.field import field_file, points_file, stakes_file
from dripfield.staking.field_settings import field_settings
from dripfield.staking.method import field_method
from dripfield.staking.model import FieldPlan

SITES = ["nose", "rock", "plane"]


@pytest.fixture(params=SITES)
def case(request: pytest.FixtureRequest):
    return request.param, made(request.param)


def as_read(plan: FieldPlan) -> list[dict[str, str]]:
    """The rows as somebody who has only the file reads them."""
    table = field_file(plan, Unit.FOOT)
    return [dict(zip(table.keys, row, strict=True)) for row in table.texts()]


def place(row: dict[str, str]) -> np.ndarray:
    return np.array((float(row["easting"]), float(row["northing"])))


class Spline:
    """SciPy's natural spline over chord length, with distance along it."""

    def __init__(self, marks: np.ndarray) -> None:
        self.origin = marks[0]
        chord = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(marks, axis=0).T))))
        self.curve = CubicSpline(chord, marks - self.origin, bc_type="natural")
        self.t = np.linspace(0.0, chord[-1], 4_001)
        self.xy = self.curve(self.t)
        self.along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(self.xy, axis=0).T))))

    def beside(self, station: float, gap: float) -> list[np.ndarray]:
        """The places ``gap`` to the left and to the right."""
        t = np.interp(station, self.along, self.t)
        way = self.curve(t, 1)
        left = np.array((-way[1], way[0])) / np.hypot(*way)
        return [self.curve(t) + sign * gap * left + self.origin for sign in (1.0, -1.0)]


def test_every_row_gives_its_coordinates(case) -> None:
    name, design = case
    _site, layout = design.site, design.layout
    for plan in ways(name).values():
        points = {
            name: np.array((float(e), float(n)))
            for name, n, e, _, _ in points_file(plan, Unit.FOOT).texts()
        }
        stood: dict[str, list[np.ndarray]] = {}
        splines: dict[str, Spline] = {}
        for row in as_read(plan):
            at = place(row)
            if row["method"] == "gauge":
                assert row["above"] in stood
                assert row["above"] != row["lateral"]
                spline = splines.setdefault(row["above"], Spline(np.array(stood[row["above"]])))
                assert 0.0 <= float(row["above_station"]) <= spline.along[-1]
                both = spline.beside(float(row["above_station"]), float(row["gap"]))
                assert min(np.hypot(*(one - at)) for one in both) < 0.01
            elif row["method"] == "tape":
                for k in "12":
                    away = np.hypot(*(points[row[f"point_{k}"]] - at))
                    assert float(row[f"distance_{k}"]) == pytest.approx(away, abs=0.01)
            stood.setdefault(row["lateral"], []).append(at)
        assert set(stood) == {lateral.name for lateral in layout.laterals}


def test_a_line_is_whole_before_another_is_gauged_from_it(case) -> None:
    plan = planned(case[0])
    last = {row.lateral: row.order for row in plan.rows}
    assert all(last[row.above] < row.order for row in plan.rows if row.method == "gauge")
    assert [row.order for row in plan.rows] == list(range(1, len(plan.rows) + 1))


def test_the_sticks_side_is_where_the_mark_lies(case) -> None:
    """By the ground: a mark said to be downhill of a line lies lower than it does."""
    name, design = case
    _site, layout = design.site, design.layout
    plan = planned(name)
    height = {lateral.name: lateral.elevation for lateral in layout.laterals}
    gauged = [row for row in plan.rows if row.method == "gauge"]
    assert {row.side for row in gauged} <= {"downhill", "uphill"}
    for row in gauged:
        below = row.set_elevation < height[row.above]
        assert row.side == ("downhill" if below else "uphill")


def test_scipys_spline_through_the_stakes_stays_within_a_twentieth(case) -> None:
    name, design = case
    site, layout = design.site, design.layout
    plan = planned(name)
    by_name: dict[str, list[tuple[float, float]]] = {}
    numbers = []
    for number, northing, easting, _, text in stakes_file(plan, Unit.FOOT).texts():
        numbers.append(int(number))
        by_name.setdefault(text.split(" ")[0], []).append((float(easting), float(northing)))
    assert numbers == list(range(numbers[0], numbers[0] + len(numbers)))
    for lateral in layout.laterals:
        bent = Spline(np.array(by_name[lateral.name]))
        one = shapely.LineString(bent.xy)
        other = shapely.LineString(lateral.xy - bent.origin)
        assert shapely.hausdorff_distance(one, other) <= 0.05 * site.settings.spacing


def test_one_guide_a_panel_and_few_marks_by_instrument(case) -> None:
    name, design = case
    _site, layout = design.site, design.layout
    plan = planned(name)
    panel = {lateral.name: lateral.panel for lateral in layout.laterals}
    assert sorted(panel[name] for name in plan.guides) == sorted(set(panel.values()))
    assert plan.by_hand <= 0.20
    length = {
        lat.name: float(np.hypot(*np.diff(lat.xy, axis=0).T).sum()) for lat in layout.laterals
    }
    for guide in plan.guides:
        longest = max(length[other] for other in length if panel[other] == panel[guide])
        assert length[guide] >= 0.7 * longest


def test_no_stick_is_held_across_a_keepout() -> None:
    site = made("rock").site
    plan = planned("rock")
    (rock,) = site.bed.keepouts
    lines = {
        name: Spline(np.array([(row.easting, row.northing) for row in rows]))
        for name, rows in plan.of_lateral().items()
    }
    around = 0
    for row in plan.rows:
        if row.method == "gauge":
            line = lines[row.above]
            t = np.interp(row.above_station, line.along, line.t)
            foot = line.curve(t) + line.origin
            stick = shapely.LineString([foot, (row.easting, row.northing)])
            assert not stick.intersects(rock)
        around += rock.distance(shapely.Point(row.easting, row.northing)) < 3.0
    assert around > 4  # some marks do stand beside it


def test_gaps_are_shortest_distances_to_the_tube(case) -> None:
    """The printed gap is the least distance to SciPy's spline near the printed station."""
    plan = planned(case[0])
    marks = {
        name: np.array([(row.easting, row.northing) for row in rows])
        for name, rows in plan.of_lateral().items()
    }
    gauged = [row for row in plan.rows if row.method == "gauge"][::9]
    for row in gauged:
        spline = Spline(marks[row.above])
        at = np.array((row.easting, row.northing)) - spline.origin
        t = np.interp(row.above_station, spline.along, spline.t)
        found = minimize_scalar(
            lambda s, c=spline.curve, p=at: float(np.hypot(*(c(s) - p))),
            bounds=(t - 0.8, t + 0.8),
            method="bounded",
        )
        assert found.fun == pytest.approx(row.gap, abs=0.01)


def test_rods_are_heights_of_instrument_less_elevations(case) -> None:
    """Levelling arithmetic, hand-derived: one height a set-up, readings on the rod."""
    _name, design = case
    _site, _layout = design.site, design.layout
    plan = field_method(design, replace(field_settings(design.ground), backsight=5.0))
    heights: dict[int, set[float]] = {}
    for row in plan.rows:
        heights.setdefault(row.setup, set()).add(round(row.rod + row.elevation, 1))
        assert 0.0 <= row.rod <= 13.0
    assert heights[1] == {109.0}  # benchmark 104.0 and backsight 5.0
    assert all(len(found) <= 2 for found in heights.values())


def test_points_and_ties_can_be_found_again(case) -> None:
    name, design = case
    site, _layout = design.site, design.layout
    plan = planned(name)
    known = {p.name: p for p in plan.points}
    kinds = [p.kind for p in plan.points]
    assert kinds.count("benchmark") == 1
    assert kinds.count("permanent") == 1
    assert kinds.count("bed corner") == 4
    assert kinds.count("keepout corner") == (4 if site.bed.keepouts else 0)
    assert known["BM"].xy == pytest.approx((EAST - 10.0, NORTH + 60.0))
    assert plan.base_line is not None
    assert all("end of base line" in known[name].description for name in plan.base_line)
    assert {tie.point for tie in plan.ties} == {
        p.name for p in plan.points if p.kind in ("bed corner", "keepout corner")
    }
    for tie in plan.ties:
        for name, distance in ((tie.point_1, tie.distance_1), (tie.point_2, tie.distance_2)):
            assert distance == pytest.approx(np.hypot(*(known[name].xy - known[tie.point].xy)))
    for check in plan.checks:
        away = known[check.point_1].xy - known[check.point_2].xy
        assert check.distance == pytest.approx(np.hypot(*away))


def test_a_stick_is_level_where_spacing_is_along_the_slope() -> None:
    design = made("plane")
    site = design.site
    sloped = replace(site, settings=replace(site.settings, spacing_measured="slope"))
    notes = field_method(replace(design, ground=design.ground.under(sloped))).notes
    assert any("held level" in note for note in notes)
    assert not any("held level" in note for note in planned("plane").notes)


def test_the_same_layout_gives_the_same_rows() -> None:
    case = made("nose")
    assert (
        field_file(field_method(case), Unit.FOOT).texts()
        == field_file(field_method(case), Unit.FOOT).texts()
    )
