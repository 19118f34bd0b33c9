from __future__ import annotations

import csv
from dataclasses import replace

import numpy as np
import pandas
import pytest
import shapely

from dripfield.core.units import Unit
from dripfield.files.csv import number, write_csv, write_laterals, write_stakes
from dripfield.staking.stakes import stakes


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_lateral_columns_and_rows(plane, tmp_path):
    path = tmp_path / "laterals.csv"
    write_laterals(path, plane.measured, Unit.FOOT)
    first, second = path.read_bytes().split(b"\n")[:2]
    assert first == (
        b"lateral,panel,length,elevation,elevation_min,elevation_max,spacing_min,spacing_max,"
        b"level_ok,spacing_ok,unit,length_level"
    )
    # hand-derived: 78 ft at 19 ft up a slope of 8 % over 100 ft
    assert second == b"L01,A,78.000,101.520,101.520,101.520,2.000,2.000,true,true,ft,78.000"
    assert len(rows_of(path)) == 10


def test_another_reader_finds_numbers_and_truth(awkward, tmp_path):
    path = tmp_path / "laterals.csv"
    write_laterals(path, awkward.measured, Unit.FOOT)
    table = pandas.read_csv(path)
    assert table["level_ok"].dtype == bool
    assert table["spacing_ok"].dtype == bool
    np.testing.assert_allclose(
        table["length"],
        [shapely.linestrings(one.xy).length for one in awkward.layout.laterals],
        atol=0.001,
    )
    assert not table["level_ok"].all()


def test_no_neighbour_is_an_empty_cell(plane, tmp_path):
    alone = replace(plane.measured.laterals[0], spacing_min=np.nan, spacing_max=np.nan)
    path = tmp_path / "laterals.csv"
    write_laterals(path, replace(plane.measured, laterals=(alone,)), Unit.FOOT)
    (row,) = rows_of(path)
    assert (row["spacing_min"], row["spacing_max"]) == ("", "")


@pytest.mark.parametrize(
    ("unit", "written", "places"),
    [(Unit.FOOT, "ft", 3), (Unit.SURVEY_FOOT, "ftUS", 3), (Unit.METRE, "m", 4)],
)
def test_unit_is_named_and_sets_the_places(plane, tmp_path, unit, written, places):
    path = tmp_path / "laterals.csv"
    write_laterals(path, plane.measured, unit)
    row = rows_of(path)[0]
    assert row["unit"] == written
    assert len(row["elevation"].split(".")[1]) == places


def test_joining_the_stakes_gives_the_lateral_back(awkward, tmp_path):
    path = tmp_path / "stakes.csv"
    found = stakes(awkward.layout, awkward.site.settings)
    write_stakes(path, found, Unit.FOOT)
    rows = rows_of(path)
    assert list(rows[0]) == ["point", "northing", "easting", "elevation", "description"]
    for lateral in awkward.layout.laterals:
        own = [row for row in rows if row["description"].split(" ")[0] == lateral.name]
        joined = shapely.linestrings([(float(r["easting"]), float(r["northing"])) for r in own])
        drawn = shapely.linestrings(lateral.xy)
        limit = awkward.site.settings.chord_tolerance
        assert shapely.hausdorff_distance(joined, drawn, densify=0.02) <= limit
        # every stake stands on the line, to what is written
        assert shapely.distance(shapely.get_point(joined, range(len(own))), drawn).max() < 1e-3
        assert {float(r["elevation"]) for r in own} == {round(lateral.elevation, 3)}


def test_quotes_and_line_feeds_follow_rfc_4180(tmp_path):
    path = tmp_path / "any.csv"
    write_csv(path, ("a", "b"), [('say "so", twice', "Größe ✓ שדה")])
    assert path.read_bytes().decode() == 'a,b\n"say ""so"", twice",Größe ✓ שדה\n'


def test_numbers_have_no_negative_zero_and_no_nan():
    assert number(-0.0001, 3) == "0.000"
    assert number(float("nan"), 3) == ""
    assert number(float("inf"), 3) == ""
    assert number(6_543_210.12344, 4) == "6543210.1234"
