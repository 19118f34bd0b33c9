from __future__ import annotations

import csv
from dataclasses import replace

import numpy as np
import pandas
import pytest
import shapely
from scipy.interpolate import CubicSpline

from dripfield.core.table import Column, Figure, Table, figures, flag, text
from dripfield.core.units import Unit
from dripfield.core.words import number
from dripfield.files.csv import write_csv
from dripfield.files.xlsx import write_workbook
from dripfield.sheets.kit.lateral_tables import laterals_file
from dripfield.staking.field import stakes_file
from dripfield.staking.method import field_method


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_lateral_columns_and_rows(plane, tmp_path):
    path = tmp_path / "laterals.csv"
    write_csv(path, laterals_file(plane.measured, Unit.FOOT))
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
    write_csv(path, laterals_file(awkward.measured, Unit.FOOT))
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
    write_csv(path, laterals_file(replace(plane.measured, laterals=(alone,)), Unit.FOOT))
    (row,) = rows_of(path)
    assert (row["spacing_min"], row["spacing_max"]) == ("", "")


@pytest.mark.parametrize(
    ("unit", "written", "places"),
    [(Unit.FOOT, "ft", 3), (Unit.SURVEY_FOOT, "ftUS", 3), (Unit.METRE, "m", 4)],
)
def test_unit_is_named_and_sets_the_places(plane, tmp_path, unit, written, places):
    path = tmp_path / "laterals.csv"
    write_csv(path, laterals_file(plane.measured, unit))
    row = rows_of(path)[0]
    assert row["unit"] == written
    assert len(row["elevation"].split(".")[1]) == places


def test_a_spline_through_the_stakes_gives_the_lateral_back(awkward, tmp_path):
    """SciPy's natural spline over the chords, within a twentieth of the spacing."""
    path = tmp_path / "stakes.csv"
    write_csv(path, stakes_file(field_method(awkward), Unit.FOOT))
    rows = rows_of(path)
    assert list(rows[0]) == ["point", "northing", "easting", "elevation", "description"]
    assert [int(row["point"]) for row in rows] == list(range(1001, 1001 + len(rows)))
    for lateral in awkward.layout.laterals:
        own = [row for row in rows if row["description"].split(" ")[0] == lateral.name]
        marks = np.array([(float(r["easting"]), float(r["northing"])) for r in own])
        chord = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(marks, axis=0).T))))
        spline = CubicSpline(chord, marks, bc_type="natural")
        bent = shapely.linestrings(spline(np.linspace(0.0, chord[-1], 500)))
        drawn = shapely.linestrings(lateral.xy)
        assert shapely.hausdorff_distance(bent, drawn, densify=0.25) <= 2.0 / 20.0
        assert {float(r["elevation"]) for r in own} == {round(lateral.elevation, 3)}


def test_quotes_and_line_feeds_follow_rfc_4180(tmp_path):
    path = tmp_path / "any.csv"
    write_csv(path, Table((text("a"), text("b")), [('say "so", twice', "Größe ✓ שדה")]))
    assert path.read_bytes().decode() == 'a,b\n"say ""so"", twice",Größe ✓ שדה\n'


def test_numbers_have_no_negative_zero_and_no_nan():
    assert number(-0.0001, 3) == "0.000"
    assert number(float("nan"), 3) == ""
    assert number(float("inf"), 3) == ""
    assert number(6_543_210.12344, 4) == "6543210.1234"


# --- what a spreadsheet must not take for a formula ---------------------------------------------


@pytest.mark.parametrize("lead", ["=", "+", "-", "@", "\t", "\r"])
def test_text_that_looks_like_a_formula_is_led_by_an_apostrophe(tmp_path, lead):
    """The signs are those of OWASP's page on CSV injection, from memory."""
    name = f"{lead}SUM(A1:A9)"
    path = tmp_path / "any.csv"
    table = Table(
        (text("name"), figures("height", 2), figures("rod", form=lambda feet: f"-{feet}'-0\"")),
        [(name, -1.5, 3.0), ("plain -5", 2.0, 4.0)],
    )
    write_csv(path, table)
    with path.open(encoding="utf-8", newline="") as stream:
        _, first, second = csv.reader(stream)
    assert first == [
        f"'{name}".replace("\r", "\n"),
        "-1.50",
        "-3.0'-0\"",
    ]  # numbers are left as they are
    assert second[0] == "plain -5"


def test_header_may_be_left_out(tmp_path):
    path = tmp_path / "any.csv"
    write_csv(path, Table((text("a"),), [("b",)]), header=False)
    assert path.read_bytes() == b"b\n"


def test_cells_are_written_in_one_way():
    assert figures("x", 2).write(-0.001) == "0.00"
    assert figures("x", 2).write(1e-7) == "0.00"
    assert figures("x", 0).write(2.5e9) == "2500000000"
    assert figures("x", 2).write(None) == figures("x", 2).write(float("nan")) == ""
    assert figures("x", 2).write(float("nan"), "–") == "–"
    assert figures("x").write(12) == "12"
    assert figures("x", 1, signed=True).write(0.04) == "0.0"
    assert figures("x", 1, signed=True).write(0.4) == "+0.4"
    assert figures("x", 1).write(Figure(3.14159, 3)) == "3.142"
    assert flag("x").write(False) == "false"
    assert text("x").write("", "–") == ""
    assert figures("x", 2).plain_value(1.005) == float(number(1.005, 2))
    assert figures("x").plain_value(7.0) == 7
    assert isinstance(figures("x").plain_value(7.0), int)


# --- spreadsheet ------------------------------------------------------------------------------


def test_a_workbook_holds_numbers_text_and_sums(tmp_path):
    """Read back by openpyxl, which wrote it, and by the XML inside it."""
    from openpyxl import load_workbook

    columns = (text("name"), figures("length", 2, unit="ft"), flag("ok"), Column("n", places=None))
    rows = [("=1+1", 10.004, True, "007"), ("'quoted", None, False, "-5"), ("c", 2.5, None, "")]
    tables = (Table(columns, rows, "Laterals", totals=frozenset({"length"})),)
    path = tmp_path / "a.xlsx"
    write_workbook(path, tables)
    sheet = load_workbook(path)["Laterals"]
    assert [cell.value for cell in sheet[1]] == ["name", "length\n[ft]", "ok", "n"]
    assert [cell.value for cell in sheet[2]] == ["=1+1", 10.0, True, "007"]
    assert [cell.data_type for cell in sheet[2]] == ["s", "n", "b", "s"]
    assert sheet["B2"].number_format == "0.00"
    assert sheet["B3"].value is None
    assert sheet["B5"].value == "=SUM(B2:B4)"
    assert sheet["B5"].data_type == "f"
    write_workbook(tmp_path / "b.xlsx", tables)
    assert path.read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_a_workbook_has_no_date_of_its_own(tmp_path):
    import zipfile

    write_workbook(tmp_path / "a.xlsx", (Table((text("a"),), [("b",)], "one"),))
    with zipfile.ZipFile(tmp_path / "a.xlsx") as archive:
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert b"2026" not in archive.read("docProps/core.xml")


def test_sheets_of_one_title_are_refused(tmp_path):
    table = Table((text("a"),), [("b",)], "one")
    with pytest.raises(ValueError, match="title of its own"):
        write_workbook(tmp_path / "a.xlsx", (table, table))
    assert not (tmp_path / "a.xlsx").exists()
