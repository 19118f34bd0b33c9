"""The commands bed and check-bed: files, exit codes, and the same bytes twice."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import Result

from dripfield.core.units import Unit
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.read.survey_file import read_survey

SAND_BED = Path(__file__).parents[2] / "sample_sites" / "sand_bed"
BED_FILES = {
    *("volumes.csv", "section.png", "section.pdf", "section.dxf"),
    *("depth_map.png", "rake.csv", "rake.pdf", "bed.json"),
    *("toe.csv", "earth.csv", "finished.dxf", "finished.xml"),
}
CHECK_FILES = {
    *("bed_check.csv", "bed_check.png", "rake_zones.csv", "laterals_as_raked.csv", "verdict.json"),
}


def run(*words: str | Path) -> Result:
    from click.testing import CliRunner

    from dripfield.cli import main

    return CliRunner().invoke(main, [str(word) for word in words], prog_name="dripfield")


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def bed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("out")
    result = run("bed", SAND_BED, "--out", out)
    assert result.exit_code == 0, result.output
    return out


def test_bed_writes_its_files(bed: Path) -> None:
    assert {path.name for path in bed.iterdir()} == BED_FILES


def test_volumes_balance(bed: Path) -> None:
    table = rows(bed / "volumes.csv")
    assert list(table[0])[:6] == ["material", "cut", "fill", "net", "area", "unit"]
    *parts, whole = table
    assert [row["material"] for row in parts] == ["stripped soil", "sand", "sandy loam", "topsoil"]
    assert whole["material"] == "existing ground to finished grade"
    for row in table:
        assert row["unit"] == "ft3"
        assert float(row["net"]) == pytest.approx(float(row["fill"]) - float(row["cut"]), abs=0.011)
        assert float(row["cut_yd3"]) == pytest.approx(float(row["cut"]) / 27.0, abs=0.01)
    assert sum(float(row["net"]) for row in parts) == pytest.approx(float(whole["net"]), abs=0.05)
    # the dig is 0.70 deep all over the shoulder's inside and its sides add a little
    assert (
        float(parts[0]["cut"])
        > 0.70 * json.loads((bed / "bed.json").read_text())["area_within_shoulder"]
    )


def test_bed_json_says_what_the_site_asks(bed: Path) -> None:
    facts = json.loads((bed / "bed.json").read_text())
    assert facts["unit"] == "ft"
    assert facts["cover_over_tubing"] == pytest.approx(0.83)
    assert facts["least_sand_under_tubing"] >= 1.0
    assert facts["top_of_sand"]["slope_there"] == pytest.approx(0.05, abs=1e-5)
    assert facts["top_of_sand"]["falls_toward"] == pytest.approx(185.0, abs=0.01)
    assert {note["note"]: note["met"] for note in facts["notes"]} == {"sand depth": True}
    (rule,) = facts["rules"]  # of Virginia's, which the site names, the one on beds
    assert (rule["rule"], rule["verdict"]) == ("virginia-cover", "pass")
    assert rule["citation"] == "12 Va. Admin. Code 5-610-955.B.4"
    assert rule["read"] == "law.lis.virginia.gov, stored copy, age unknown"
    assert rule["scope"] == "drip dispersal of onsite sewage systems"
    assert [setup["mark"] for setup in facts["setups"]] == ["BM2"]


def test_rake_table_reads_down_to_the_design(bed: Path) -> None:
    height = json.loads((bed / "bed.json").read_text())["setups"][0]["height_of_instrument"]
    for row in rows(bed / "rake.csv"):
        north, east = float(row["northing"]), float(row["easting"])
        # the site's plane: 411.45 at N 2996.53, E 2083.08, falling 5 % toward 185 degrees
        fall = -0.99619470 * (north - 2996.53) - 0.08715574 * (east - 2083.08)
        assert float(row["sand"]) == pytest.approx(411.45 - 0.05 * fall, abs=0.0011)
        assert float(row["rod_sand"]) == pytest.approx(height - float(row["sand"]), abs=0.006)
        assert float(row["finished"]) == pytest.approx(float(row["sand"]) + 0.83, abs=0.0011)
        filled = float(row["sand"]) - float(row["ground"])
        assert float(row["sand_over_ground"]) == pytest.approx(filled, abs=0.0011)


def test_bed_has_the_same_bytes_twice(bed: Path, tmp_path: Path) -> None:
    assert run("bed", SAND_BED, "--out", tmp_path).exit_code == 0
    for name in BED_FILES:
        assert (tmp_path / name).read_bytes() == (bed / name).read_bytes(), name


def altered(folder: Path, old: str, new: str) -> Path:
    """A copy of the sample site with one change in its settings."""
    for path in SAND_BED.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    text = (folder / "site.toml").read_text()
    assert old in text
    (folder / "site.toml").write_text(text.replace(old, new))
    return folder


def named(folder: Path, *sets: str) -> Path:
    """The sample site with so deep a cover that only Alabama's rule minds, and rule sets named."""
    site = altered(folder, "depth = 0.50", "depth = 0.80")
    settings = site / "site.toml"
    check = ", ".join(f'"{name}"' for name in sets)
    settings.write_text(settings.read_text().replace('check = ["virginia"]', f"check = [{check}]"))
    return site


@pytest.mark.usefixtures("undrawn")
@pytest.mark.parametrize("sets", [("virginia",), ()])
def test_no_rule_governs_a_bed_whose_site_does_not_name_it(
    tmp_path: Path, sets: tuple[str, ...]
) -> None:
    site = named(tmp_path, *sets)  # 13.56 in of cover: over Alabama's 12 in
    settings = site / "site.toml"
    sieve = '[bed.section]\nsieve = { "No. 4" = 10.0, "No. 200" = 9.0 }'  # no gradation takes it
    settings.write_text(settings.read_text().replace("[bed.section]", sieve))
    result = run("bed", site, "--out", tmp_path / "out", "--strict")
    assert result.exit_code == 0, result.output
    facts = json.loads((tmp_path / "out" / "bed.json").read_text())
    assert {one["set"] for one in facts["rules"]} == set(sets)
    for words in ("Ala. Admin. Code", "ASTM", "CMR"):
        assert words not in result.output


@pytest.mark.usefixtures("undrawn")
def test_a_rule_of_a_named_set_that_is_not_met_is_shown_and_strict_says_so(tmp_path: Path) -> None:
    site = named(tmp_path, "alabama")
    result = run("bed", site, "--out", tmp_path / "out")
    assert result.exit_code == 0
    text = " ".join(result.output.split())
    assert (
        "NOT MET: Cover over the line: the tubing lies 1.13 ft below finished grade; 6 in (0.50 ft)"
        " to 12 in (1.00 ft) is required (Ala. Admin. Code r. 420-3-1-.62(2))" in text
    )
    assert "text read: casetext, to 31 May 2024" in text
    assert "scope: drip fields of onsite sewage treatment and disposal systems" in text
    assert run("bed", site, "--out", tmp_path / "out", "--strict").exit_code == 3
    settings = site / "site.toml"
    settings.write_text(settings.read_text().replace("[rules]", '[rules]\noff = ["alabama-cover"]'))
    result = run("bed", site, "--out", tmp_path / "out", "--strict")
    assert result.exit_code == 0
    assert "Alabama" not in result.output


@pytest.mark.usefixtures("undrawn")
def test_a_rule_of_a_named_set_that_is_not_proven_is_no_yes(tmp_path: Path) -> None:
    site = named(tmp_path, "astm-c33")  # and no sieve test given
    result = run("bed", site, "--out", tmp_path / "out", "--strict")
    assert result.exit_code == 3
    text = " ".join(result.output.split())
    assert "not proven: Grading of the sand: give the sieve test of the sand" in text


def test_the_old_switch_says_what_took_its_place(tmp_path: Path) -> None:
    old = '[bed.section]\nwarnings_off = ["cover depth"]'
    result = run("bed", altered(tmp_path, "[bed.section]", old), "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert result.stderr == (
        "error: site.toml, [bed.section]: unknown key 'warnings_off'; take it out: published rules "
        "apply only where [rules] check names their set, and [rules] off switches single ones off\n"
    )


def test_bed_of_a_site_without_a_section(tmp_path: Path) -> None:
    result = run("bed", SAND_BED.parent / "meadow", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert result.stderr == (
        "error: site.toml, [bed]: the site has no bed section; add [bed.section], for tubing set "
        'into the ground as it is with grade = "ground"\n'
    )
    assert not (tmp_path / "out").exists()


@pytest.fixture(scope="module")
def checked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    out = tmp_path_factory.mktemp("check")
    shots = SAND_BED / "raked.csv"
    return out, run("check-bed", SAND_BED, "--shots", shots, "--out", out)


def test_check_of_the_sample_bed_finds_its_hump_and_its_dip(checked: tuple[Path, Result]) -> None:
    out, result = checked
    assert result.exit_code == 4, result.output
    assert {path.name for path in out.iterdir()} == CHECK_FILES
    table = rows(out / "bed_check.csv")
    assert list(table[0])[:8] == [
        *("point", "northing", "easting", "design", "measured", "difference", "ok", "unit")
    ]
    for row in table:
        difference = float(row["measured"]) - float(row["design"])
        assert float(row["difference"]) == pytest.approx(difference, abs=0.0011)
        assert row["ok"] == ("true" if abs(float(row["difference"])) <= 0.1 else "false")
    assert any(row["ok"] == "false" for row in table)
    # raked.csv was made with a hump in the northeast and a dip in the southwest
    zones = {row["work"]: row for row in rows(out / "rake_zones.csv")}
    assert set(zones) == {"rake off", "fill"}
    middle = (2997.03, 2083.12)
    high, low = (
        (float(zones[work]["northing"]) - middle[0], float(zones[work]["easting"]) - middle[1])
        for work in ("rake off", "fill")
    )
    assert high[0] > 0 < high[1]
    assert low[0] < 0 > low[1]
    assert "fail" in result.output


def test_laterals_as_raked_are_those_of_the_layout(checked: tuple[Path, Result]) -> None:
    out, _ = checked
    laterals = rows(out / "laterals_as_raked.csv")
    assert len(laterals) > 10
    for row in laterals:
        assert abs(float(row["raked"]) - float(row["elevation"])) < 0.2


def test_check_of_a_bed_raked_right(tmp_path: Path) -> None:
    site = altered(tmp_path, "rake_tolerance = 0.10", "rake_tolerance = 0.16")
    result = run("check-bed", site, "--shots", site / "raked.csv", "--out", tmp_path / "out")
    assert result.exit_code == 0
    assert result.output.splitlines()[0].startswith("Schoolhouse Sand Bed: pass:")
    answer = json.loads((tmp_path / "out" / "verdict.json").read_text())
    assert answer["verdict"] == "pass"
    assert answer["measure_more"] == []


def test_check_with_too_few_shots_is_not_proven(tmp_path: Path) -> None:
    shots = tmp_path / "few.csv"
    shots.write_text("\n".join((SAND_BED / "raked.csv").read_text().splitlines()[:4]) + "\n")
    result = run("check-bed", SAND_BED, "--shots", shots, "--out", tmp_path / "out")
    assert result.exit_code == 4
    assert result.output.splitlines()[0].startswith("Schoolhouse Sand Bed: not proven:")
    answer = json.loads((tmp_path / "out" / "verdict.json").read_text())
    assert answer["verdict"] == "not proven"
    assert set(answer["measure_more"][0]) == {"northing", "easting", "why"}


def test_finished_grade_reads_back(bed: Path) -> None:
    # the drawing through ezdxf, the surface through the project's own reader of surveys
    ezdxf = pytest.importorskip("ezdxf")
    space = ezdxf.readfile(bed / "finished.dxf").modelspace()
    faces = [np.array([tuple(v) for v in face.wcs_vertices()]) for face in space.query("3DFACE")]
    area = sum(0.5 * abs(np.cross(f[1] - f[0], f[2] - f[0])[2]) for f in faces)
    facts = json.loads((bed / "bed.json").read_text())
    assert area == pytest.approx(facts["area_within_daylight"], rel=1e-5)
    survey = read_survey(bed / "finished.xml", SurveyTable(points="finished.xml"), Unit.FOOT)
    from scipy.spatial import cKDTree

    away, _ = cKDTree(np.concatenate(faces)).query(survey.xyz)
    assert away.max() < 2e-4  # the files carry four decimals
    toe = rows(bed / "toe.csv")
    assert list(toe[0]) == ["point", "northing", "easting", "elevation", "description"]
    assert {row["description"] for row in toe} == {"toe", "shoulder"}
    assert len(space.query("POLYLINE")) == 2


def test_check_with_shots_in_metres_writes_nothing(tmp_path: Path) -> None:
    shots = tmp_path / "metres.csv"
    lines = ["point,northing,easting,elevation"]
    for row in rows(SAND_BED / "raked.csv"):
        values = (float(row[key]) * 0.3048 for key in ("northing", "easting", "elevation"))
        lines.append(f"{row['point']}," + ",".join(f"{value:.4f}" for value in values))
    shots.write_text("\n".join(lines) + "\n")
    result = run("check-bed", SAND_BED, "--shots", shots, "--out", tmp_path / "out")
    assert result.exit_code == 2
    count = len(lines) - 1
    assert result.stderr == (
        f"error: metres.csv: the coordinates look like metres: {count} of {count} shots lie in "
        "the bed once multiplied by 3.2808, 0 as they are; export them in the site's unit, ft "
        "(international)\n"
    )
    assert not (tmp_path / "out").exists()


def test_missing_shots(tmp_path: Path) -> None:
    result = run("check-bed", SAND_BED, "--shots", tmp_path / "no.csv", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert result.stderr.startswith("error: no.csv: ")
    assert result.stderr.count("\n") == 1
