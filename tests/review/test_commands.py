"""The commands compare and record, from files to files."""

from __future__ import annotations

import csv
import hashlib
import itertools
import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import ezdxf
import numpy as np
import pytest
from pypdf import PdfReader

Command = Callable[..., SimpleNamespace]
Writer = Callable[..., Path]


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture
def typed(plane: Callable[..., SimpleNamespace], tmp_path: Path) -> Callable[..., Path]:
    """Types a table of the plane's laterals, changed as asked."""
    laterals = plane(name="site").layout.laterals

    def write(
        change: Callable[[list[list[str]]], list[list[str]]] = lambda table: table,
    ) -> Path:
        table = [
            [one.name, f"{np.ptp(one.xy[:, 0]):.2f}", f"{one.elevation:.2f}", "2.0"]
            for one in laterals
        ]
        path = tmp_path / "plan.csv"
        with path.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows(
                [["run", "length", "elevation", "spacing"], *change(table)]
            )
        return path

    return write


def test_a_plan_that_conforms(command: Command, typed: Callable[..., Path]) -> None:
    typed(lambda table: table[::-1])
    ran = command("compare", "site", "--plan", "plan.csv", "--out", "out")
    assert (ran.code, ran.error) == (0, "")
    assert ran.out.startswith("Test Plane: pass: every line conforms to the layout")
    written = sorted(path.name for path in Path("out").iterdir())
    assert written == [
        "comparison.csv",
        "comparison.html",
        "comparison.pdf",
        "setbacks.csv",
        "totals.csv",
        "verdict.json",
    ]
    table = rows(Path("out/comparison.csv"))
    assert list(table[0])[:9] == [
        "run",
        "lateral",
        "verdict",
        "length_plan",
        "length_layout",
        "elevation_plan",
        "elevation_layout",
        "offset_max",
        "unit",
    ]
    assert {row["verdict"] for row in table} == {"conforms"}
    assert [row["run"] for row in table] == [row["lateral"] for row in table]
    assert {row["offset_max"] for row in table} == {""}  # a table draws nothing


def test_every_verdict(command: Command, typed: Callable[..., Path]) -> None:
    """By hand: one 0.80 longer (within 1.00), one 5.00 longer, one 0.20 higher, one left out, one
    too many."""

    def change(table: list[list[str]]) -> list[list[str]]:
        table[1][1] = f"{float(table[1][1]) + 0.8:.2f}"
        table[2][1] = f"{float(table[2][1]) + 5.0:.2f}"
        table[3][2] = f"{float(table[3][2]) + 0.2:.2f}"
        del table[5]
        return [*table, ["X1", "33.3", "97.00", "2.0"]]

    typed(change)
    ran = command("compare", "site", "--plan", "plan.csv", "--out", "out")
    assert ran.code == 4
    found = {row["run"] or row["lateral"]: row for row in rows(Path("out/comparison.csv"))}
    assert found["L02"]["verdict"] == "within limits"
    assert found["L03"]["verdict"] == "does not conform"
    assert found["L04"]["verdict"] == "does not conform"
    assert found["L06"]["verdict"] == "not on plan"
    assert found["L06"]["run"] == ""
    assert found["X1"]["verdict"] == "not laid out"
    assert found["X1"]["lateral"] == ""
    others = set(found) - {"L02", "L03", "L04", "L06", "X1"}
    assert {found[name]["verdict"] for name in others} == {"conforms"}
    assert "L03, L03, does not conform: length" in ran.out


def test_an_inch_is_within_what_conforms(command: Command, typed: Callable[..., Path]) -> None:
    def feet_inches(table: list[list[str]]) -> list[list[str]]:
        for row in table:
            feet, inches = divmod(round(float(row[1]) * 12.0), 12)
            row[1] = f"{feet}'-{inches}\""
        return table

    typed(feet_inches)
    assert command("compare", "site", "--plan", "plan.csv", "--out", "out").code == 0


def test_the_sheet_says_what_a_reviewer_needs(command: Command, typed: Callable[..., Path]) -> None:
    plan = typed()
    command("compare", "site", "--plan", "plan.csv", "--out", "out")
    text = "\n".join(page.extract_text() for page in PdfReader("out/comparison.pdf").pages)
    page = Path("out/comparison.html").read_text(encoding="utf-8")
    digest = hashlib.sha256(plan.read_bytes()).hexdigest()
    for said in (
        "Review sheet: approved plan on the ground and against the layout",
        "pass: every line conforms to the layout",
        "Could not be checked, and why",
        "position of the runs: the plan is a table and draws none",
        "bed outline and area: the plan gives no outline",
        "Signature",
        "Licence or office",
        "local code, the permit and licensed practice govern",
        digest,
        "dripfield 0.1.0",
    ):
        assert said in text
        assert said in page
    assert "page 1 of" in text
    assert not re.search(r"(?:src|href)\s*=\s*[\"'](?!#)", page)  # nothing is fetched
    assert "<script" not in page
    assert "default-src 'none'" in page
    assert str(Path.cwd()) not in page
    assert str(Path.cwd()) not in text


def test_the_same_bytes_in_another_place(
    command: Command, typed: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another folder, another language of the machine, another day."""
    typed()
    command("compare", "site", "--plan", "plan.csv", "--out", "out")
    Path("elsewhere").mkdir()
    shutil.copytree("site", "elsewhere/site")
    shutil.copy("plan.csv", "elsewhere/plan.csv")
    monkeypatch.setenv("LC_ALL", "de_DE.UTF-8")
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    command("compare", "elsewhere/site", "--plan", "elsewhere/plan.csv", "--out", "again")
    for path in sorted(Path("out").iterdir()):
        assert path.read_bytes() == (Path("again") / path.name).read_bytes(), path.name


def test_record(
    command: Command, plane: Callable[..., SimpleNamespace], references: str, tmp_path: Path
) -> None:
    world = plane(more=references, name="site")
    lines = ["point,northing,easting,elevation,description"]
    for one in world.layout.laterals:
        shots = int(np.ceil(np.ptp(one.xy[:, 0]) / 6.0)) + 1
        for x, y in np.linspace(one.xy[0], one.xy[-1], shots):
            lines.append(f"{len(lines)},{y:.4f},{x:.4f},{one.elevation:.3f},{one.name} tubing")
    Path("laid.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    ran = command("record", "site", "--shots", "laid.csv", "--out", "out")
    count = len(world.layout.laterals)
    assert (ran.code, ran.error) == (0, "")
    assert ran.out.startswith(f"Test Plane: pass: all {count} laterals were laid within limits")
    assert json.loads(Path("out/verdict.json").read_text(encoding="utf-8"))["verdict"] == "pass"
    assert sorted(path.name for path in Path("out").iterdir()) == [
        "record.csv",
        "record.dxf",
        "record.html",
        "record.pdf",
        "record.png",
        "record_points.csv",
        "setbacks.csv",
        "ties.csv",
        "verdict.json",
    ]
    ties = rows(Path("out/ties.csv"))
    assert len(ties) == 2 * count
    for tie in ties:
        place = np.array((float(tie["easting"]), float(tie["northing"])))
        for reference, distance in ((1, (1_500_020.0, 599_990.0)), (2, (1_500_110.0, 599_985.0))):
            away = float(np.hypot(*(place - distance)))
            assert float(tie[f"tie_{reference}"]) == pytest.approx(away, abs=0.0051)
    document = ezdxf.readfile("out/record.dxf")
    audit = document.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    assert document.header["$INSUNITS"] == 2
    laid = document.modelspace().query("POLYLINE[layer=='C-SSWR-RCRD']")
    lengths = sorted(
        sum(float(a.distance(b)) for a, b in itertools.pairwise(p))
        for p in ([v.dxf.location for v in one.vertices] for one in laid)
    )
    own = sorted(float(row["length_laid"]) for row in rows(Path("out/record.csv")))
    assert lengths == pytest.approx(own, abs=1e-3)
    first = {path.name: path.read_bytes() for path in Path("out").iterdir()}
    command("record", "site", "--shots", "laid.csv", "--out", "again")
    assert first == {path.name: path.read_bytes() for path in Path("again").iterdir()}
    moved = [line.replace(",L02 ", ",L02x ") for line in lines]
    Path("laid.csv").write_text("\n".join(moved[:-2]) + "\n", encoding="utf-8")
    assert command("record", "site", "--shots", "laid.csv", "--out", "out").code == 4


def test_shots_in_a_comparison(
    command: Command, typed: Callable[..., Path], plane: Callable[..., SimpleNamespace]
) -> None:
    """The third line: what was laid makes the answer no though the plan conforms."""
    typed()
    one = plane(name="site").layout.laterals[0]
    (x1, y1), (x2, y2) = one.xy
    Path("laid.csv").write_text(
        "point,northing,easting,elevation,description\n"
        f"1,{y1 + 0.7},{x1},{one.elevation},L01\n2,{y2 + 0.7},{x2},{one.elevation},L01\n",
        encoding="utf-8",
    )
    ran = command("compare", "site", "--plan", "plan.csv", "--shots", "laid.csv", "--out", "out")
    assert ran.code == 4
    assert ran.out.startswith("Test Plane: fail: as laid: ")
    assert rows(Path("out/record.csv"))[0]["reasons"].startswith("up to 0.70 ft aside")
    page = Path("out/comparison.html").read_text(encoding="utf-8")
    assert "As laid, what matters most first" in page


def test_revisions(command: Command, site_writer: Writer, tmp_path: Path) -> None:
    """The second bed's first corner lies 4.00 further south: laterals near it are longer, and more
    fit in below."""
    site_writer(tmp_path / "first")
    site_writer(tmp_path / "second", shift=-4.0)
    ran = command("compare", "first", "second", "--out", "out")
    assert ran.code == 4
    found = rows(Path("out/comparison.csv"))
    assert found[0]["verdict"] == "conforms"
    assert [row["lateral"] for row in found if row["verdict"] == "not on plan"] == ["L20", "L21"]
    totals = {row["item"]: row for row in rows(Path("out/totals.csv"))}
    # a corner moved by (0, -4) between neighbours at (90, 0) and (6, 36): half of 4 x 84 by hand
    assert float(totals["bed area"]["difference"]) == pytest.approx(168.0, abs=0.1)
    assert float(totals["tubing"]["difference"]) > 0.0
    assert totals["panels"]["difference"] == "0"
    page = Path("out/comparison.html").read_text(encoding="utf-8")
    assert "Revision sheet: first before, second after" in page


def test_two_fields_and_two_coordinate_systems(
    command: Command, site_writer: Writer, tmp_path: Path
) -> None:
    site_writer(tmp_path / "first")
    away = site_writer(tmp_path / "second")
    for name in ("bed.csv", "survey.csv"):
        table = rows(away / name)
        for row in table:
            row["northing"] = str(float(row["northing"]) + 500.0)
        lines = [",".join(table[0]), *(",".join(row.values()) for row in table)]
        (away / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert command("compare", "first", "second", "--out", "out").code == 4
    found = {row["verdict"] for row in rows(Path("out/comparison.csv"))}
    assert found == {"not laid out", "not on plan"}
    page = Path("out/comparison.html").read_text(encoding="utf-8")
    assert "the two beds do not touch: these are two fields, not two layouts of one" in page
    for name, crs in (("first", "EPSG:3457"), ("second", "EPSG:3458")):
        path = Path(name) / "site.toml"
        toml = path.read_text(encoding="utf-8").replace('"ft"', f'"ftUS"\ncrs = "{crs}"')
        path.write_text(toml, encoding="utf-8")
    ran = command("compare", "first", "second", "--out", "out2")
    assert (ran.code, ran.error) == (
        2,
        "error: second: the first site is in EPSG:3457 and the second in EPSG:3458; compare sites "
        "of one coordinate system",
    )
    assert not Path("out2").exists()


def test_a_written_layout_against_its_site(
    command: Command, plane: Callable[..., SimpleNamespace], tmp_path: Path
) -> None:
    from dripfield.files.csv import write_csv
    from dripfield.sheets.kit.lateral_tables import laterals_file
    from dripfield.staking.field import stakes_file
    from dripfield.staking.method import field_method

    world = plane(name="site")
    Path("laid").mkdir()
    write_csv(Path("laid/laterals.csv"), laterals_file(world.measured, world.site.unit))
    write_csv(Path("laid/stakes.csv"), stakes_file(field_method(world.design), world.site.unit))
    assert command("compare", "laid", "site", "--out", "out").code == 0
    assert {row["verdict"] for row in rows(Path("out/comparison.csv"))} == {"conforms"}
    assert max(float(row["offset_max"]) for row in rows(Path("out/comparison.csv"))) < 0.051
    text = Path("laid/laterals.csv").read_text(encoding="utf-8")
    Path("laid/laterals.csv").write_text(text.replace(",ft,", ",m,"), encoding="utf-8")
    ran = command("compare", "site", "laid", "--out", "out2")
    assert (ran.code, ran.error) == (
        2,
        "error: laterals.csv, row 2, unit: the layout is in 'm' and the site in 'ft'; compare "
        "layouts of one unit",
    )
    assert not Path("out2").exists()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ("compare", "site", "--out", "out"),
            "there is nothing to compare with; give --plan FILE, or a second folder",
        ),
        (
            ("compare", "site", "site", "--plan", "plan.csv", "--out", "out"),
            "both --plan and a second folder were given; give the one to compare with",
        ),
        (
            ("compare", "site", "site", "--layer", "0", "--out", "out"),
            "--layer goes with --plan; leave it out between two folders",
        ),
        (
            ("compare", "site", "--plan", "nowhere.dxf", "--out", "out"),
            "nowhere.dxf: the file is missing",
        ),
        (
            ("compare", "site", "--plan", "site", "--out", "out"),
            "site: this is a folder",
        ),
        (
            ("record", "site", "--shots", "nowhere.csv", "--out", "out"),
            "nowhere.csv: the file is missing",
        ),
        (("compare", "site", "nosite", "--out", "out"), "nosite: there is no such folder"),
    ],
)
def test_refused_in_one_line_and_nothing_written(
    command: Command, typed: Callable[..., Path], arguments: tuple[str, ...], message: str
) -> None:
    typed()
    ran = command(*arguments)
    assert ran.code == 2
    assert "\n" not in ran.error
    assert ran.error.startswith(f"error: {message}")
    assert not Path("out").exists()


def test_an_answer_of_no_keeps_what_stood_there(
    command: Command, typed: Callable[..., Path]
) -> None:
    typed(lambda table: [*table, ["L01", "1", "1", "2"]])
    Path("out").mkdir()
    Path("out/comparison.csv").write_text("mine", encoding="utf-8")
    ran = command("compare", "site", "--plan", "plan.csv", "--out", "out")
    count = 2 + int(re.search(r"rows 2 and (\d+)", ran.error)[1]) - 2
    assert (ran.code, ran.error) == (
        2,
        f"error: plan.csv: two runs have one name, 'L01' (rows 2 and {count}); name each run once",
    )
    assert Path("out/comparison.csv").read_text(encoding="utf-8") == "mine"
