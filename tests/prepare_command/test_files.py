"""The files of ``prepare``: agreed columns, and figures worked out again from other files."""

from __future__ import annotations

import csv
import itertools
import math
from pathlib import Path

import networkx
import openpyxl
import pypdf
import pytest
from plane_site import SAMPLES, make_site, run

from dripfield.core.cautions import caution
from dripfield.files.register import file_names

CYLINDER = """
[[tank]]
name = "pump tank"
shape = "horizontal cylinder"
diameter = 4.0
length = 8.0
"""
AGREED = {
    "takeoff.csv": "item,quantity,unit,waste,to_buy,sold_as,how,source",
    "readiness.csv": "item,who,by,done_when,figure,state",
    "day.csv": "task,after,crew,duration,earliest_start,earliest_finish,latest_start,"
    "latest_finish,slack,critical,unit",
}


def table(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def items(out: Path) -> dict[str, dict[str, str]]:
    return {row["item"]: row for row in table(out / "takeoff.csv")}


@pytest.fixture(scope="module")
def laterals(tmp_path_factory: pytest.TempPathFactory) -> list[float]:
    """Lengths of the sand bed's laterals, as ``layout`` writes them [ft]."""
    out = tmp_path_factory.mktemp("laid")
    assert run("layout", SAMPLES / "sand_bed", "--out", out).exit_code == 0
    return [float(row["length"]) for row in table(out / "laterals.csv")]


@pytest.mark.parametrize("name", AGREED)
def test_columns_are_those_agreed(sand: Path, name: str) -> None:
    header = (sand / name).read_text(encoding="utf-8").splitlines()[0]
    assert header.startswith(AGREED[name])
    assert table(sand / name)


def test_every_registered_file_is_there(sand: Path, plane: Path, tmp_path: Path) -> None:
    conditions = (
        "with a tank, an enclosure or a return",
        "with a rule set that has a list of its own",
    )
    assert sorted(p.name for p in sand.iterdir()) == sorted(file_names("prepare", conditions))
    assert run("prepare", plane, "--out", tmp_path / "out").exit_code == 0
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == sorted(file_names("prepare"))


def test_tubing_is_the_laterals_with_two_tails_each(sand: Path, laterals: list[float]) -> None:
    """Hand-derived: sum of lengths + 2 x 1.5 ft a lateral, cut from coils of 500 ft."""
    tubing = items(sand)["tubing with emitters"]
    quantity = sum(laterals) + 2 * 1.5 * len(laterals)
    assert float(tubing["quantity"]) == pytest.approx(quantity, abs=0.01)
    coils = [row for row in table(sand / "coils.csv") if row["material"] == "tubing with emitters"]
    assert sorted(float(row["length"]) for row in coils) == pytest.approx(
        sorted(one + 3.0 for one in laterals), abs=0.006
    )
    for number in {row["coil"] for row in coils}:
        own = [row for row in coils if row["coil"] == number]
        assert sum(float(row["length"]) for row in own) + float(own[-1]["left"]) == pytest.approx(
            500.0, abs=0.1
        )
    assert int(tubing["to_buy"]) == len({row["coil"] for row in coils})
    assert float(tubing["amount"]) == pytest.approx(0.62 * 500 * int(tubing["to_buy"]))


def test_to_buy_holds_quantity_and_waste_and_no_piece_more(sand: Path) -> None:
    """Sizes as ``sold_as`` says them."""
    for name, size in (
        ("Schedule 40 pipe, 1-1/2 in", 20.0),
        ("Schedule 40 pipe, 3/4 in", 20.0),
        ("tracer wire", 500.0),
        ("fill, sand", 14.0),
        ("straw", 1.0),
        ("flag", 100.0),
    ):
        row = items(sand)[name]
        wanted = float(row["quantity"]) * (1.0 + float(row["waste"])) / size
        assert int(row["to_buy"]) == math.ceil(wanted - 1e-6), name


def test_pipe_is_as_long_as_its_routes(sand: Path) -> None:
    """Hand-derived: sums of the straight stretches of supply and return, in space."""
    total = 0.0
    for name in ("supply.csv", "return.csv"):
        points = [
            tuple(float(row[key]) for key in ("northing", "easting", "elevation"))
            for row in table(SAMPLES / "sand_bed" / name)
        ]
        kept = [points[0]]
        kept += [b for a, b in itertools.pairwise(points) if a[:2] != b[:2]]
        total += sum(math.dist(a, b) for a, b in itertools.pairwise(kept))
    assert float(items(sand)["Schedule 40 pipe, 1-1/2 in"]["quantity"]) == pytest.approx(
        total, abs=0.001
    )


def test_fill_is_that_of_bed(sand: Path, tmp_path: Path) -> None:
    """``volumes.csv`` of ``bed`` is in cubic feet, 27 to a cubic yard."""
    assert run("bed", SAMPLES / "sand_bed", "--out", tmp_path / "bed").exit_code == 0
    volumes = table(tmp_path / "bed" / "volumes.csv")
    for material in ("sand", "sandy loam", "topsoil"):
        feet = sum(float(row["fill"]) for row in volumes if row["material"] == material)
        quantity = float(items(sand)[f"fill, {material}"]["quantity"])
        assert quantity == pytest.approx(feet / 27.0, rel=1e-3)


def test_start_up_water_is_that_of_the_boxes(sand: Path) -> None:
    """Hand-derived: 8.5 x 4.5 x 4.0 + 8 x 4 x 1.5 = 201 ft3, 1728/231 gal each."""
    water = items(sand)["water to start up"]
    assert float(water["quantity"]) == pytest.approx(201.0 * 1728 / 231, abs=0.01)


def test_the_critical_path_is_networkx_s_longest(sand: Path) -> None:
    rows = {row["task"]: row for row in table(sand / "day.csv")}
    graph = networkx.DiGraph()
    for name, row in rows.items():
        graph.add_edge("start", name, weight=0.0)
        graph.add_edge(name, "end", weight=float(row["duration"]))
        for before in filter(None, row["after"].split(";")):
            graph.add_edge(before, name, weight=float(rows[before]["duration"]))
    path = networkx.dag_longest_path(graph)
    length = networkx.dag_longest_path_length(graph)
    assert max(float(row["earliest_finish"]) for row in rows.values()) == pytest.approx(length)
    assert all(rows[name]["critical"] == "true" for name in path[1:-1])
    for row in rows.values():
        slack = float(row["latest_start"]) - float(row["earliest_start"])
        assert float(row["slack"]) == pytest.approx(slack, abs=0.002)


def test_the_spreadsheet_holds_the_same_numbers_as_numbers(sand: Path) -> None:
    book = openpyxl.load_workbook(sand / "takeoff.xlsx")
    assert book.sheetnames[:2] == ["Take-off", "Coils"]
    heads, *rows = list(book["Take-off"].iter_rows(values_only=True))
    keys = [str(head).split("\n")[0] for head in heads]
    expected = table(sand / "takeoff.csv")
    assert len(rows) == len(expected) + 1  # and the total
    for row, wanted in zip(rows, expected, strict=False):
        found = dict(zip(keys, row, strict=True))
        assert found["item"] == wanted["item"]
        assert isinstance(found["to_buy"], int)
        assert found["to_buy"] == int(wanted["to_buy"])
        assert float(found["quantity"]) == pytest.approx(float(wanted["quantity"]), abs=0.001)


def test_the_pdf_numbers_its_sheets_and_carries_what_each_must(sand: Path) -> None:
    pages = [page.extract_text() for page in pypdf.PdfReader(sand / "prepare.pdf").pages]
    flat = [" ".join(text.split()) for text in pages]
    for number, text in enumerate(flat, 1):
        assert f"sheet {number} of {len(flat)}" in text
    for words in (
        "Readiness list",
        "Day plan",
        "Take-off",
        "Coil plan",
        "Heights and water: pump tank",
        "Heights: enclosures",
        "Profile: supply and return",
        "Submittal: texas-222",
        "Submittal: washington-272b",
        "What is left out and assumed",
    ):
        assert words in flat[0]
        assert any(words in text for text in flat[1:]), words
    for title, topics in (
        ("Readiness list", ("utilities", "overhead", "excavation", "wastewater")),
        ("Day plan", ("electricity", "soil")),
        ("Heights and water: pump tank", ("tanks", "excavation", "electricity")),
        ("Profile: supply and return", ("frost", "utilities")),
    ):
        page = next(text for text in flat[1:] if text.startswith(title) or title in text)
        for topic in (*topics, "code"):
            assert " ".join(caution(topic).split()) in page  # type: ignore[arg-type]
    assert all("…" not in text.split("Before digging")[-1] for text in flat[1:])


def test_submittal_names_its_gaps(sand: Path) -> None:
    rows = table(sand / "submittal.csv")
    texas = [row for row in rows if row["set"] == "texas-222"]
    assert len(texas) == 11
    assert not any(row["missing"] for row in texas)
    seal = next(row for row in rows if row["to_be_shown"].endswith("seal of the engineer"))
    assert seal["found"] == ""
    assert "put on by the engineer" in seal["missing"]


def test_what_a_site_does_not_give_is_left_out_and_said(plane: Path, tmp_path: Path) -> None:
    result = run("prepare", plane, "--out", tmp_path / "out")
    said = " ".join(result.output.split())
    for words in (
        "zones are left out: the site does not give [emitters] spacing, [zones] longest",
        "no pipe is routed",
        "no tank is given ([[tank]])",
        "no volumes of a bed are given",
        "[prepare] finish is not given",
    ):
        assert words in said
    names = set(items(tmp_path / "out"))
    assert "tubing with emitters" in names
    assert not any(name.startswith(("Schedule 40", "fill", "zone valve")) for name in names)
    states = table(tmp_path / "out" / "readiness.csv")
    assert not any("tank" in row["item"] and "set and tested" in row["item"] for row in states)


def test_the_same_site_gives_the_same_bytes(tmp_path: Path) -> None:
    site = make_site(
        tmp_path / "site",
        f'{CYLINDER}start_depth = 2.0\n\n[day]\ndate = "2026-07-17"\n',
    )
    for name in ("a", "b"):
        assert run("prepare", site, "--out", tmp_path / name).exit_code == 0
    for path in (tmp_path / "a").iterdir():
        assert path.read_bytes() == (tmp_path / "b" / path.name).read_bytes(), path.name


def test_a_cylinder_s_water_is_the_published_one(tmp_path: Path) -> None:
    """Published: a horizontal cylinder 4 ft by 8 ft half full, 24 in deep, holds 376.0 gal."""
    site = make_site(
        tmp_path / "site",
        f"{CYLINDER}start_depth = 2.0\n",
    )
    run("prepare", site, "--out", tmp_path / "out")
    water = items(tmp_path / "out")["water to start up"]
    assert float(water["quantity"]) == pytest.approx(376.0, abs=0.05)
