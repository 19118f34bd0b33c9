"""Flags or paint, base lines and edge lines."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely import LineString, Point

from dripfield.core.errors import InputError
from dripfield.files.csv import write_csv
from dripfield.layout.model import Lateral
from dripfield.sheets.crew.lateral_table import flags_file
from dripfield.site.schema.crew import Benchmark, CrewTable
from dripfield.staking.base_line import BaseLine, ControlPoint, base_line, bed_corners
from dripfield.staking.flags import straight_pulls


def test_station_and_offset_of_a_three_four_five_triangle() -> None:
    """Hand-derived: along a line bearing 36.87 degrees (3 east, 4 north)."""
    line = BaseLine(ControlPoint("A", 100.0, 200.0), ControlPoint("B", 103.0, 204.0))
    assert line.length == pytest.approx(5.0)
    # from the middle, one unit to the right of the line is (0.8, -0.6)
    found = line.station_offset(np.array([[101.5 + 0.8, 202.0 - 0.6], [103.0, 204.0]]))
    assert found == pytest.approx(np.array([[2.5, 1.0], [5.0, 0.0]]))


def test_stations_and_offsets_read_back_as_shapely_measures_them() -> None:
    """Against shapely: project gives the station, distance the size of the offset."""
    random = np.random.default_rng(3)
    ends = random.uniform(0, 100, (2, 2))
    line = BaseLine(ControlPoint("A", *ends[0]), ControlPoint("B", *ends[1]))
    points = random.uniform(0, 100, (40, 2))
    found = line.station_offset(points)
    drawn = LineString(ends)
    within = (found[:, 0] > 0) & (found[:, 0] < line.length)
    assert within.any()
    for point, (station, offset) in zip(points[within], found[within], strict=True):
        assert drawn.project(Point(point)) == pytest.approx(station)
        assert drawn.distance(Point(point)) == pytest.approx(abs(offset))
        left = drawn.buffer(200.0, single_sided=True, cap_style="flat")  # to the left for > 0
        assert left.contains(Point(point)) == (offset < 0)
    assert line.points(found) == pytest.approx(points)


def test_a_plane_bed_is_all_straight_pulls(plane: Any, benched: Any) -> None:
    """Hand-derived: ten laterals 2 ft apart, 1 ft inside an 80 x 20 ft bed."""
    flags = benched(plane).flags
    assert flags.flags == 20
    assert flags.paint == 0.0
    assert (flags.base.start.name, flags.base.end.name) in {("BED1", "BED4"), ("BED2", "BED3")}
    assert set(flags.edges) == {"A left", "A right"}
    for number, one in enumerate(flags.laterals):
        assert one.laying == "pull"
        # edge lines start at the highest lateral; flags stand every 2 ft along them
        assert [mark.distance for mark in one.marks] == [2.0 * number, 2.0 * number]
        assert sorted(abs(mark.station) for mark in one.marks) == [1.0, 79.0]
    assert flags.within == flags.within_design == 10


def test_left_and_right_are_as_seen_looking_down_the_slope(plane: Any, benched: Any) -> None:
    """The plane falls to the south, so its left is in the east."""
    edges = benched(plane).flags.edges
    assert edges["A left"].start.easting > edges["A right"].start.easting
    assert edges["A left"].start.northing > edges["A left"].end.northing


def test_arcs_are_painted_where_stakes_stand(cone: Any, benched: Any) -> None:
    work = benched(cone)
    assert work.flags.flags == 0
    assert work.flags.paint == pytest.approx(work.design.measured.tubing, rel=1e-6)
    stakes = [s for s in work.stakes if s.lateral == "L01"]
    marks = work.flags.laterals[0].marks
    values = np.array([(mark.station, mark.offset) for mark in marks])
    laid = work.flags.base.points(values)
    design = np.array([(s.easting, s.northing) for s in stakes])
    # rounding to 0.1 ft moves a mark by half of that each way at most
    assert np.abs(values / 0.1 - np.round(values / 0.1)).max() < 1e-6
    assert np.hypot(*(laid - design).T).max() <= 0.05 * np.sqrt(2.0) + 1e-9
    assert work.flags.shift <= 0.05 * np.sqrt(2.0) + 1e-9


def _bowed(plane: Any, row: int, bow: float) -> Any:
    """The plane's layout with one lateral bowed downhill in its middle."""
    laterals = list(plane.layout.laterals)
    (x0, y), (x1, _) = laterals[row].xy
    x = np.linspace(x0, x1, 81)
    xy = np.column_stack((x, y - bow * np.sin(np.pi * (x - x0) / (x1 - x0))))
    laterals[row] = replace(laterals[row], xy=xy)
    return replace(plane.layout, laterals=tuple(laterals))


def test_a_bowed_lateral_may_be_pulled_straight_when_that_keeps_both_tolerances(
    plane: Any,
) -> None:
    straight, why = straight_pulls(_bowed(plane, 4, 0.15), plane.surface, plane.site.settings)
    assert straight.all()
    assert not any(why)


def test_a_lateral_set_off_its_straight_line_is_painted(plane: Any) -> None:
    """Hand-derived: set 0.2 ft lower than the ground under its chord, tolerance 0.10 ft."""
    layout = plane.layout
    low = replace(layout.laterals[4], elevation=layout.laterals[4].elevation - 0.2)
    layout = replace(layout, laterals=(*layout.laterals[:4], low, *layout.laterals[5:]))
    straight, why = straight_pulls(layout, plane.surface, plane.site.settings)
    assert np.flatnonzero(~straight).tolist() == [4]
    assert why[4] == "a straight pull would not be level"


def test_a_chord_too_near_its_neighbour_is_painted(plane: Any) -> None:
    """Ends 0.5 ft nearer to the lateral above: 1.5 ft apart where 1.8 ft is the least allowed.

    The bowed line itself keeps clear in its middle; its chord is 1.5 ft away all along.
    """
    layout = _bowed(plane, 4, 0.5)
    moved = replace(layout.laterals[4], xy=layout.laterals[4].xy + np.array((0.0, 0.5)))
    flat = replace(plane.site.settings, level_tolerance=1.0)
    layout = replace(layout, laterals=(*layout.laterals[:4], moved, *layout.laterals[5:]))
    straight, why = straight_pulls(layout, plane.surface, flat)
    assert not straight[4]
    assert why[4] == "a straight pull would miss the spacing"
    assert straight[[0, 1, 2, 6, 7, 8, 9]].all()


def test_a_chord_across_a_keepout_is_painted(plane: Any) -> None:
    area = plane.layout.area.difference(Point(40.0, 11.0).buffer(0.4))
    straight, why = straight_pulls(
        replace(plane.layout, area=area), plane.surface, plane.site.settings
    )
    assert np.flatnonzero(~straight).tolist() == [4]
    assert why[4] == "a straight pull would leave the open area"


def test_a_closed_ring_is_painted(plane: Any) -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 80)
    ring = np.column_stack((40.0 + 4.0 * np.cos(angle), 10.0 + 4.0 * np.sin(angle)))
    ring[-1] = ring[0]
    layout = replace(plane.layout, laterals=(Lateral("L01", "A", ring, 100.8),))
    straight, why = straight_pulls(layout, plane.surface, plane.site.settings)
    assert not straight[0]
    assert why[0] == "it bends too far for a straight pull"


def test_laid_lines_are_measured_again_from_rounded_numbers(awkward: Any, benched: Any) -> None:
    coarse = benched(awkward, crew=CrewTable(tape_accuracy=1.0)).flags
    fine = benched(awkward, crew=CrewTable(tape_accuracy=0.01)).flags
    assert fine.shift < 0.02
    assert 0.2 < coarse.shift <= 0.5 * np.sqrt(2.0) + 1e-9
    assert fine.within == fine.within_design
    assert coarse.within <= fine.within
    assert coarse.level > fine.level


def test_flags_as_csv(plane: Any, cone: Any, benched: Any, tmp_path: Path) -> None:
    """Hand-derived for the plane: L03's flags stand 4 ft down both edge lines."""

    def written(work: Any) -> list[dict[str, str]]:
        write_csv(tmp_path / "flags.csv", flags_file(work.flags, work.design.site.unit))
        with (tmp_path / "flags.csv").open(encoding="utf-8", newline="") as stream:
            return list(csv.DictReader(stream))

    third = [row for row in written(benched(plane)) if row["lateral"] == "L03"]
    assert [(row["lay"], row["mark"], row["distance"]) for row in third] == [
        ("pull", "1", "4.000"),
        ("pull", "2", "4.000"),
    ]
    assert {row["edge"] for row in third} == {"A left", "A right"}
    work = benched(cone)
    painted = written(work)
    assert len(painted) == len(work.stakes)
    line = work.flags.base
    for row, stake in zip(painted, work.stakes, strict=True):
        assert (row["lay"], row["from"], row["to"]) == ("paint", line.start.name, line.end.name)
        station, offset = line.station_offset(np.array((stake.easting, stake.northing)))[0]
        assert float(row["station"]) == pytest.approx(station, abs=0.05 + 1e-6)
        assert float(row["offset"]) == pytest.approx(abs(offset), abs=0.05 + 1e-6)
        if abs(offset) > 0.05:
            assert row["side"] == ("right" if offset > 0.0 else "left")


def test_named_base_line(plane: Any, benched: Any) -> None:
    base = benched(plane, crew=CrewTable(base_line=("BM 1", "BED2"))).flags.base
    assert (base.start.name, base.start.easting, base.start.northing) == ("BM 1", -20.0, 60.0)
    assert base.end.name == "BED2"


def test_base_line_keeps_clear_of_keepouts(awkward: Any) -> None:
    marks = np.vstack([lateral.xy for lateral in awkward.layout.laterals])
    base = base_line(awkward.ground, marks)
    sight = LineString((base.start.xy, base.end.xy))
    assert not any(sight.crosses(keepout) for keepout in awkward.site.bed.keepouts)
    assert {base.start.name, base.end.name} <= {one.name for one in bed_corners(awkward.site)}


@pytest.mark.parametrize(
    ("ends", "message"),
    [
        (
            ("BED1", "the gate"),
            "site.toml, [crew] base_line: 'the gate' is not a point of this site; name two survey"
            " points, the benchmark (with northing and easting) or bed corners such as BED1",
        ),
        (
            ("BED1", "BED1"),
            "site.toml, [crew] base_line: 'BED1' and 'BED1' are one place; name two points apart"
            " from each other",
        ),
    ],
)
def test_base_line_names_that_will_not_do(
    plane: Any, benched: Any, ends: tuple[str, str], message: str
) -> None:
    with pytest.raises(InputError) as caught:
        benched(plane, crew=CrewTable(base_line=ends))
    assert str(caught.value) == message


def test_benchmark_without_a_position_is_no_control_point(plane: Any, benched: Any) -> None:
    with pytest.raises(InputError, match="'BM 2' is not a point of this site"):
        benched(
            plane,
            benchmark=Benchmark(name="BM 2", elevation=103.2),
            crew=CrewTable(base_line=("BM 2", "BED1")),
        )
