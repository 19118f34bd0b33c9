"""Tables of runs typed from a sheet, clean and dirty."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from dripfield.core.errors import InputError
from dripfield.core.lengths import parse_length
from dripfield.core.units import Unit
from dripfield.review.model.plan import PlanOptions, name_key
from dripfield.review.read.plan_table import read_plan_table


def table(tmp_path: Path, text: str, unit: Unit = Unit.FOOT, units: str | None = None):
    path = tmp_path / "plan.csv"
    path.write_text(text, encoding="utf-8")
    return read_plan_table(path, unit, PlanOptions(units=units))


@pytest.mark.parametrize(
    ("text", "value", "system"),
    [  # hand-derived: inches are twelfths of a foot
        ("62'-4 1/2\"", 62.375, "feet"),
        ("62’-4½”", 62.375, "feet"),
        ("62' 4\"", 62.0 + 4.0 / 12.0, "feet"),
        ("62 ft 4 in", 62.0 + 4.0 / 12.0, "feet"),
        ("62 ft. 4 in.", 62.0 + 4.0 / 12.0, "feet"),
        ("2'-6", 2.5, "feet"),
        ('24" O.C.', 2.0, "feet"),
        ('4 1/2"', 0.375, "feet"),
        ("1,234.5 LF", 1234.5, "feet"),
        ("~62.4 (verify)", 62.4, None),
        ("EL. 101.25", 101.25, None),
        ("L = 62.4'", 62.4, "feet"),
        ("-3.25", -3.25, None),
        ("62,4", 62.4, None),
        ("19.0 m", 19.0, "metres"),
        ("300 mm", 0.3, "metres"),
        ("6.24e1", 62.4, None),
        ("62.4' (19.02 m)", 62.4, "feet"),
    ],
)
def test_lengths_as_people_type_them(text: str, value: float, system: str | None) -> None:
    typed = parse_length(text)
    assert typed is not None
    assert typed.value == pytest.approx(value, abs=1e-12)
    assert typed.system == system


@pytest.mark.parametrize(
    "text", ["", "see sheet 4", "62.4 or 63", "62-4", "3'-14\"", "1/0", "62.4.2", "2026-04-21"]
)
def test_what_is_not_one_length(text: str) -> None:
    assert parse_length(text) is None


def test_names_differ_only_in_what_people_write_differently() -> None:
    assert {name_key(n) for n in ("L05", "l5", "Lateral L-05", "Run 5", "5", "L 05")} == {"5"}
    assert {name_key(n) for n in ("A-L01", "A-1", "a l1")} == {"A-1"}
    assert name_key("L05") != name_key("L15")
    assert name_key("A-L01") != name_key("B-L01")


DIRTY = '''\
UPPER MEADOW,,,
"Drip lateral schedule, sheet 3 of 5, 2026-04-21",,,
,,,
Lateral #,Tubing Length (ft),Contour Elev.,Spacing O.C.
,(LF),(ft),
L1,"62'-4 1/2""",EL. 101.25,"24"" o.c."
L2,62.4 LF,101.1 (see note),2'
NOTE: tubing 6 in deep,,,
Lateral #,Tubing Length (ft),Contour Elev.,Spacing O.C.
L 03,"1,062.4",100.9,–
TOTAL,"1,187 LF",,
'''


def test_a_dirty_table(tmp_path: Path) -> None:
    plan = table(tmp_path, DIRTY)
    assert [(r.name, r.length, r.elevation, r.spacing, r.row) for r in plan.runs] == [
        ("L1", 62.375, 101.25, 2.0, 6),
        ("L2", 62.4, 101.1, 2.0, 7),
        ("L 03", 1062.4, 100.9, None, 10),
    ]
    assert plan.totals.length == 1187.0
    assert plan.notes == ("plan.csv: rows passed over as text: 8",)


def test_units_in_a_row_below_the_header(tmp_path: Path) -> None:
    plan = table(
        tmp_path, "Run,Length,Elev.,Spacing\n,(ft-in),ft,(in)\n1,62'-6,101.2,24\n2,61.5,101,18\n"
    )
    assert [(r.name, r.length, r.elevation, r.spacing) for r in plan.runs] == [
        ("1", 62.5, 101.2, 2.0),
        ("2", 61.5, 101.0, 1.5),
    ]
    assert plan.notes == ()


def test_the_project_s_own_table_reads_as_a_plan(tmp_path: Path) -> None:
    plan = table(
        tmp_path,
        "lateral,panel,length,elevation,elevation_min,elevation_max,spacing_min,spacing_max,"
        "level_ok,spacing_ok,unit,length_level\n"
        "A-L01,A,62.375,101.250,101.2,101.3,1.9,2.1,true,true,ft,60.0\n",
    )
    (run,) = plan.runs
    assert (run.name, run.length, run.elevation, run.spacing) == ("A-L01", 62.375, 101.25, None)


def test_panels_tell_runs_of_one_name_apart(tmp_path: Path) -> None:
    plan = table(tmp_path, "zone,run,length\nA,1,50\nA,2,51\nB,1,52\n")
    assert [run.name for run in plan.runs] == ["A-1", "A-2", "B-1"]


def test_other_delimiters_and_decimal_commas(tmp_path: Path) -> None:
    plan = table(tmp_path, "run;length;elevation\n1;62,4;101,25\n")
    assert (plan.runs[0].length, plan.runs[0].elevation) == (62.4, 101.25)


def test_a_column_in_inches(tmp_path: Path) -> None:
    plan = table(tmp_path, "run,length (ft),spacing (in)\n1,62,24\n")
    assert (plan.runs[0].length, plan.runs[0].spacing) == (62.0, 2.0)


def test_a_plan_in_metres_is_converted_only_when_said(tmp_path: Path) -> None:
    plan = table(tmp_path, "run,length (m)\n1,30.48\n", units="m")
    assert plan.runs[0].length == pytest.approx(100.0)
    plan = table(tmp_path, "run,length\n1,30.48\n", units="m")
    assert plan.runs[0].length == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "a,b\n1,2\n",
            "plan.csv: no row of the first 30 names a run and a length column; write a header "
            "such as run,length,elevation,spacing",
        ),
        (
            "run,length\n",
            "plan.csv, row 1: there is no run below the header; give each run a row",
        ),
        (
            "run,length\nL1,sixty\n",
            "plan.csv, row 2, length: 'sixty' cannot be read as one length; write one number, "
            "with or without its unit",
        ),
        (
            "run,length\nL1,60 or 62\n",
            "plan.csv, row 2, length: '60 or 62' cannot be read as one length; write one number, "
            "with or without its unit",
        ),
        (
            "run,length\nL1,-60\n",
            "plan.csv, row 2, length: '-60' is not a length; give a number greater than zero",
        ),
        (
            "run,length\nL1,60\nL2,61\nL01,62\n",
            "plan.csv: two runs have one name, 'L1' and 'L01' (rows 2 and 4); name each run once",
        ),
        (
            "run,length\nL1,60\nL1,62\n",
            "plan.csv: two runs have one name, 'L1' (rows 2 and 3); name each run once",
        ),
        (
            "run,length\nL1,19.0 m\n",
            "plan.csv, row 2, length: '19.0 m' is in metres and the site in feet; give "
            "--plan-units m if the plan is in metres",
        ),
        (
            "run,length (m)\nL1,19.0\n",
            "plan.csv, row 2, length (m): 'length (m)' is in metres and the site in feet; give "
            "--plan-units m if the plan is in metres",
        ),
        (
            "run,length\nL1,60\n,61\n",
            "plan.csv, row 3, run: a length stands in a row without a run; name the run",
        ),
        (
            "run,length,lateral length\n",
            "plan.csv, row 1: there is no run below the header; give each run a row",
        ),
        (
            "run,line length,run length\nL1,2,3\n",
            "plan.csv, row 1: the columns 'line length' and 'run length' both read as length; "
            "rename the one that is not",
        ),
        ("", "plan.csv: the file is empty; fill it, or export it again"),
    ],
)
def test_refusals(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        table(tmp_path, text)


def test_units_against_what_was_said(tmp_path: Path) -> None:
    message = (
        'plan.csv, row 2, length: "62\'" is in feet, against --plan-units m; give the unit that '
        "the table is in"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        table(tmp_path, "run,length\n1,62'\n", units="m")


def test_feet_and_inches_on_a_site_in_metres(tmp_path: Path) -> None:
    message = (
        "plan.csv, row 2, length: '62\\'-4\"' is in feet and the site in metres; give "
        "--plan-units ft if the plan is in feet"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        table(tmp_path, 'run,length\n1,"62\'-4"""\n', Unit.METRE)
    plan = table(tmp_path, 'run,length\n1,"62\'-6"""\n', Unit.METRE, "ft")
    assert plan.runs[0].length == pytest.approx(62.5 * 0.3048)


def test_excel_with_merged_cells_and_stray_sheets(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "Cover"
    book.active["A1"] = "Approved plan"
    sheet = book.create_sheet("Schedule")
    sheet["B2"] = "LATERAL SCHEDULE"
    sheet.merge_cells("B2:E2")
    for column, text in zip("BCDE", ("Run", "Length", "Elev. (ft)", "Spacing"), strict=True):
        sheet[f"{column}4"] = text
    for row, (name, length, height) in enumerate(
        ((1, "62'-4 1/2\"", 101.25), (2, 62.4, 101.1), (3, 61.0, 100.9)), 5
    ):
        sheet[f"B{row}"], sheet[f"C{row}"], sheet[f"D{row}"] = name, length, height
    sheet["E5"] = '24" o.c.'
    sheet.merge_cells("E5:E7")
    path = tmp_path / "plan.xlsx"
    book.save(path)
    plan = read_plan_table(path, Unit.FOOT, PlanOptions())
    assert [(r.name, r.length, r.elevation, r.spacing) for r in plan.runs] == [
        ("1", 62.375, 101.25, 2.0),
        ("2", 62.4, 101.1, 2.0),
        ("3", 61.0, 100.9, 2.0),
    ]
    assert plan.notes == ("sheet 'Schedule' of plan.xlsx was read, the first that holds runs",)


def test_what_is_no_workbook(tmp_path: Path) -> None:
    path = tmp_path / "plan.xlsx"
    path.write_bytes(b"PK\x03\x04 not a workbook")
    message = (
        "plan.xlsx: this is not an Excel workbook that can be read; save it as .xlsx without a "
        "password, or as CSV"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        read_plan_table(path, Unit.FOOT, PlanOptions())


def test_a_table_in_feet_and_metres_gives_the_site_s(tmp_path: Path) -> None:
    text = "run,length (ft),length (m),elev (ft),elev (m)\n1,100,30.48,101.25,30.861\n"
    feet = table(tmp_path, text).runs[0]
    assert (feet.length, feet.elevation) == (100.0, 101.25)
    metres = table(tmp_path, text, Unit.METRE).runs[0]
    assert (metres.length, metres.elevation) == (30.48, 30.861)


@pytest.mark.parametrize(
    "text",
    [
        'item,value,unit\nTotal tubing,"1,187",ft\nNumber of laterals,20,\nSpacing,2.0,ft\n'
        "Bed area,2400,ft2\n",
        'Total drip tubing: ,1187 LF\nLaterals,20\nSpacing o.c.,24 in\nArea (sq ft),"2,400"\n',
    ],
)
def test_a_sheet_of_totals_alone(tmp_path: Path, text: str) -> None:
    plan = table(tmp_path, text)
    assert plan.runs == ()
    totals = plan.totals
    assert (totals.length, totals.runs, totals.spacing, totals.area) == (1187.0, 20, 2.0, 2400.0)
