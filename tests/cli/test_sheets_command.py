"""``dripfield sheets`` from end to end: files, exit codes, what is refused."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pypdf
import pytest
from click.testing import CliRunner, Result

from dripfield.cli import main

BENCHMARK = '[benchmark]\nname = "BM 1"\nelevation = 107.25\n'
ALWAYS = [
    "field.csv",
    "flags.csv",
    "lateral_table.csv",
    "laterals.xml",
    "phone.html",
    "points.csv",
    "sheets.pdf",
    "stakeout_penzd.csv",
    "stakeout_pnezd.csv",
    "stakes.csv",
    "staking.dxf",
]


def sheets(site: Path, out: Path, *more: str) -> Result:
    return CliRunner().invoke(main, ["sheets", str(site), "--out", str(out), *more])


def add(site: Path, text: str) -> None:
    settings = site / "site.toml"
    settings.write_text(settings.read_text() + text)


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_without_benchmark_or_coordinate_system(site_folder: Path, tmp_path: Path) -> None:
    result = sheets(site_folder, tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert sorted(contents(tmp_path / "out")) == ALWAYS
    assert "no benchmark in site.toml: no rod readings\n" in result.stdout
    assert "no crs in site.toml: no GeoJSON, KML or GPX\n" in result.stdout
    assert result.stderr == ""


def test_with_both_every_file_is_there_and_the_same_each_time(
    site_folder: Path, tmp_path: Path
) -> None:
    settings = (site_folder / "site.toml").read_text()
    settings = settings.replace('units = "ft"', 'units = "ft"\ncrs = "EPSG:6559"')
    (site_folder / "site.toml").write_text(settings)
    add(site_folder, BENCHMARK)
    result = sheets(site_folder, tmp_path / "one")
    assert result.exit_code == 0, result.output
    more = ["rod_readings.csv", "stakeout.geojson", "stakeout.gpx", "stakeout.kml"]
    assert sorted(contents(tmp_path / "one")) == sorted([*ALWAYS, *more])
    for name in contents(tmp_path / "one"):
        assert f"  {tmp_path / 'one' / name}\n" in result.stdout
    sheets(site_folder, tmp_path / "two")
    assert contents(tmp_path / "one") == contents(tmp_path / "two")


def test_tables_agree_with_the_layout_command(site_folder: Path, tmp_path: Path) -> None:
    add(site_folder, BENCHMARK)
    sheets(site_folder, tmp_path / "sheets", "--backsight", "4.10")
    CliRunner().invoke(main, ["layout", str(site_folder), "--out", str(tmp_path / "layout")])
    laid = rows(tmp_path / "layout" / "laterals.csv")
    crew = rows(tmp_path / "sheets" / "lateral_table.csv")
    assert [row["lateral"] for row in crew] == [row["lateral"] for row in laid]
    stakes = [row["point"] for row in rows(tmp_path / "layout" / "stakes.csv")]
    rods = rows(tmp_path / "sheets" / "rod_readings.csv")
    assert [row["point"] for row in rods if row["point"]] == stakes
    height = 107.25 + 4.10
    for row, own in zip(crew, laid, strict=True):
        assert float(row["rod"]) == pytest.approx(height - float(own["elevation"]), abs=0.0051)
        assert float(row["length"]) == pytest.approx(float(own["length"]), abs=0.0051)


def test_field_and_stakes_share_their_numbers_and_places(site_folder: Path, tmp_path: Path) -> None:
    add(site_folder, BENCHMARK)
    sheets(site_folder, tmp_path / "sheets")
    CliRunner().invoke(main, ["layout", str(site_folder), "--out", str(tmp_path / "layout")])
    field = rows(tmp_path / "sheets" / "field.csv")
    assert ",".join(list(field[0])[:16]) == (
        "order,mark,lateral,method,above,above_station,gap,point_1,distance_1,point_2,distance_2,"
        "rod,elevation,northing,easting,unit"
    )
    points = rows(tmp_path / "sheets" / "points.csv")
    assert list(points[0]) == ["point", "northing", "easting", "elevation", "description"]
    assert points[0]["description"].startswith(("benchmark", "bed corner"))
    placed = {row["mark"]: (row["northing"], row["easting"], row["lateral"]) for row in field}
    for name in ("sheets", "layout"):
        stakes = rows(tmp_path / name / "stakes.csv")
        assert placed == {
            s["point"]: (s["northing"], s["easting"], s["description"].split(" ")[0])
            for s in stakes
        }


def test_a_language_large_print_and_a_backsight_in_words(site_folder: Path, tmp_path: Path) -> None:
    add(site_folder, BENCHMARK)
    result = sheets(
        site_folder,
        tmp_path / "out",
        *("--language", "es", "--large-print", "--backsight", "4' 1 1/4\""),
    )
    assert result.exit_code == 0, result.output
    assert "expected as laid: " in result.stdout
    assert "backsight 4.10 ft" in result.stdout
    first = pypdf.PdfReader(tmp_path / "out" / "sheets.pdf").pages[0].extract_text()
    assert "Lea primero" in first
    refused = sheets(site_folder, tmp_path / "none", "--backsight", "tall")
    assert refused.exit_code == 2
    assert refused.stderr.startswith("error: --backsight: the backsight 'tall' is no reading")
    assert not (tmp_path / "none").exists()


def test_a_reserve_says_what_it_costs(site_folder: Path, tmp_path: Path) -> None:
    settings = (site_folder / "site.toml").read_text()
    assert "\n[layout]\n" in settings
    (site_folder / "site.toml").write_text(
        settings.replace("\n[layout]\n", "\n[layout]\nreserve = 0.2\n")
    )
    arguments = ["layout", str(site_folder), "--out", str(tmp_path / "layout")]
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.output
    words = " ".join(result.stdout.split())
    assert "Keeping 20% of the tolerances back for laying costs" in words
    assert "Expected as laid" in words


def test_paper_and_scale_are_taken(site_folder: Path, tmp_path: Path) -> None:
    result = sheets(site_folder, tmp_path / "out", "--paper", "a3", "--scale", "10")
    assert result.exit_code == 0, result.output
    assert "sheets on A3; plan, 1 in = 10 ft\n" in result.stdout
    for page in pypdf.PdfReader(tmp_path / "out" / "sheets.pdf").pages:
        sides = (float(page.mediabox.width), float(page.mediabox.height))
        assert sorted(sides) == pytest.approx([841.89, 1190.55], abs=0.01)


def test_strict_reports_missed_tolerances_and_writes_all_the_same(
    site_folder: Path, tmp_path: Path
) -> None:
    result = sheets(site_folder, tmp_path / "out", "--strict", "--method", "straight")
    assert result.exit_code == 3
    assert "out of tolerance somewhere: " in result.stdout
    assert (tmp_path / "out" / "sheets.pdf").exists()


@pytest.mark.parametrize(
    ("text", "more", "message"),
    [
        (
            "",
            ("--backsight", "5"),
            "--backsight: a backsight of 5.00 ft is given, but the site has no benchmark to read"
            " it on; add a [benchmark] table with name and elevation to site.toml, or leave the"
            " backsight out",
        ),
        (
            "[benchmark]\nname = 'far'\nelevation = 300.0\n",
            ("--backsight", "5"),
            "a backsight of 5.00 ft puts the laser at 305.00 ft and every target off the rod:"
            " readings of ",
        ),
        (
            "[benchmark]\nname = 'half'\nelevation = 100.0\nnorthing = 5.0\n",
            (),
            "site.toml, [benchmark]: ",
        ),
        ("[crew]\npaper = 'A5'\n", (), "site.toml, [crew] paper: 'A5' was found; give one of"),
        ("", ("--paper", "A5"), "invalid value for '--paper': 'A5' is not one of"),
        ("", ("--scale", "7"), "scale: 7 is not a scale that sheets are drawn at; give one of 5,"),
        ("[crew]\nrod = 13\n", (), "site.toml, [crew]: unknown key 'rod'; the closest known is"),
    ],
)
def test_bad_input_is_one_line_and_writes_nothing(
    site_folder: Path, tmp_path: Path, text: str, more: tuple[str, ...], message: str
) -> None:
    add(site_folder, text)
    result = sheets(site_folder, tmp_path / "out", *more)
    assert result.exit_code == 2
    assert result.stderr.startswith(f"error: {message}")
    assert result.stderr.count("\n") == 1
    assert result.stdout == ""
    assert not (tmp_path / "out").exists()


def test_paper_that_cannot_hold_a_lateral_leaves_old_files_alone(
    site_folder: Path, tmp_path: Path
) -> None:
    sheets(site_folder, tmp_path / "out")
    before = contents(tmp_path / "out")
    result = sheets(site_folder, tmp_path / "out", "--scale", "5")
    assert result.exit_code == 2
    assert "cannot hold lateral" in result.stderr
    assert contents(tmp_path / "out") == before


@pytest.mark.parametrize(
    "name", [r"""</script><b>, "b" 'c' שדה עליון 地块 №5 $\frac{1}{2}$""", "x" * 200]
)
def test_awkward_names_come_through(site_folder: Path, tmp_path: Path, name: str) -> None:
    settings = (site_folder / "site.toml").read_text()
    settings = settings.replace('"Convex"', json.dumps(name, ensure_ascii=False))
    (site_folder / "site.toml").write_text(settings, encoding="utf-8")
    add(site_folder, BENCHMARK.replace('"BM 1"', json.dumps(name, ensure_ascii=False)))
    result = sheets(site_folder, tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert result.stderr == ""
    assert rows(tmp_path / "out" / "rod_readings.csv")[0]["mark"] == name
