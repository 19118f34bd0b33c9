"""``dripfield layout`` from end to end: files, exit codes, what is printed."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

import dripfield
from dripfield.cli import main
from dripfield.files.register import file_names

FILES = sorted(file_names("layout"))


def layout(site: Path, out: Path, *more: str) -> Result:
    return CliRunner().invoke(main, ["layout", str(site), "--out", str(out), *more])


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_writes_the_files_and_says_where(site_folder: Path, tmp_path: Path) -> None:
    result = layout(site_folder, tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert sorted(contents(tmp_path / "out")) == FILES
    assert result.stderr == ""
    last = " ".join(result.stdout.split()).split("Written into ")[1]
    assert last.endswith(", ".join(file_names("layout")))


def test_the_same_run_gives_the_same_bytes(site_folder: Path, tmp_path: Path) -> None:
    layout(site_folder, tmp_path / "one")
    layout(site_folder, tmp_path / "two")
    assert contents(tmp_path / "one") == contents(tmp_path / "two")


def test_the_functions_do_what_the_command_does(site_folder: Path, tmp_path: Path) -> None:
    layout(site_folder, tmp_path / "command")
    site = dripfield.read_site(site_folder)
    design = dripfield.lay_out(site, dripfield.build_ground(site))
    files = dripfield.write(design, tmp_path / "functions")
    assert [path.parent for path in files] == [tmp_path / "functions"] * len(FILES)
    assert contents(tmp_path / "functions") == contents(tmp_path / "command")


def test_method_overrides_the_site(site_folder: Path, tmp_path: Path) -> None:
    assert layout(site_folder, tmp_path / "out").stdout.startswith("Convex: contour layout")
    straight = layout(site_folder, tmp_path / "out", "--method", "straight")
    assert straight.stdout.startswith("Convex: straight layout, lengths in ft (international)\n")


def test_strict_exits_with_3_and_writes(site_folder: Path, tmp_path: Path) -> None:
    result = layout(site_folder, tmp_path / "out", "--strict", "--method", "straight")
    assert "Out of tolerance: " in result.stdout
    assert result.exit_code == 3
    assert sorted(contents(tmp_path / "out")) == FILES


def test_strict_exits_with_0_when_all_is_within_tolerance(
    site_folder: Path, tmp_path: Path
) -> None:
    text = (site_folder / "site.toml").read_text()
    (site_folder / "site.toml").write_text(
        text.replace("spacing_tolerance = 0.05", "spacing_tolerance = 0.9\nlevel_tolerance = 9")
    )
    result = layout(site_folder, tmp_path / "out", "--strict")
    assert "Out of tolerance" not in result.stdout
    assert result.exit_code == 0


def test_every_lateral_that_misses_is_named(site_folder: Path, tmp_path: Path) -> None:
    result = layout(site_folder, tmp_path / "out", "--method", "straight")
    with (tmp_path / "out" / "laterals.csv").open() as stream:
        rows = list(csv.DictReader(stream))
    missed = [row["lateral"] for row in rows if "false" in (row["level_ok"], row["spacing_ok"])]
    assert missed
    part = result.stdout.split("Out of tolerance: ")[1].split("\n\n")[0]
    named = [word for word in part.replace(",", " ").split() if word.startswith("L")]
    assert sorted(named) == sorted(missed)


def test_the_site_folder_may_be_the_place_to_write(site_folder: Path) -> None:
    before = contents(site_folder)
    for _ in range(2):
        assert layout(site_folder, site_folder).exit_code == 0
    after = contents(site_folder)
    assert {name: after[name] for name in before} == before
    assert sorted(set(after) - set(before)) == FILES


def test_a_survey_called_like_an_output_is_not_replaced(site_folder: Path) -> None:
    (site_folder / "survey.csv").rename(site_folder / "stakes.csv")
    text = (site_folder / "site.toml").read_text()
    (site_folder / "site.toml").write_text(text.replace("survey.csv", "stakes.csv"))
    before = contents(site_folder)
    result = layout(site_folder, site_folder)
    assert result.stderr == (
        "error: stakes.csv: writing here would replace the site's own file; give another folder\n"
    )
    assert result.exit_code == 2
    assert contents(site_folder) == before


def test_a_refusal_changes_nothing_that_was_there(site_folder: Path, tmp_path: Path) -> None:
    assert layout(site_folder, tmp_path / "out").exit_code == 0
    before = contents(tmp_path / "out")
    with (site_folder / "bed.csv").open("a") as stream:
        stream.write("here\n")
    assert layout(site_folder, tmp_path / "out").exit_code == 2
    assert contents(tmp_path / "out") == before


def test_a_file_for_an_output_folder_is_refused_before_any_work(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    result = layout(tmp_path / "no such site", tmp_path / "out")
    assert result.stderr == "error: out: this is a file; give a folder to write into\n"


def test_an_unknown_rule_set_is_refused(site_folder: Path, tmp_path: Path) -> None:
    with (site_folder / "site.toml").open("a") as stream:
        stream.write('[rules]\ncheck = ["alabma"]\n')
    result = layout(site_folder, tmp_path / "out")
    assert result.stderr == (
        "error: site.toml, [rules] check: unknown rule set 'alabma'; "
        "the closest known is 'alabama'\n"
    )
    assert result.exit_code == 2
    assert not (tmp_path / "out").exists()


def test_piped_output_is_plain_and_80_columns_wide(site_folder: Path, tmp_path: Path) -> None:
    """Even where the terminal can show nothing but ASCII and wants colours."""
    (site_folder / "site.toml").write_text(
        (site_folder / "site.toml").read_text().replace("Convex", "Höhenrücken")
        + '[rules]\ncheck = ["alabama", "virginia"]\n'
    )
    run = subprocess.run(
        [sys.executable, "-m", "dripfield", "layout", str(site_folder), "--out", "out"],
        capture_output=True,
        cwd=tmp_path,
        env={**os.environ, "PYTHONIOENCODING": "ascii", "TERM": "xterm-256color", "COLUMNS": "30"},
        timeout=120,
        check=False,
    )
    text = run.stdout.decode("ascii")
    assert (run.returncode, run.stderr) == (0, b"")
    assert text.startswith("H?henr?cken: contour layout")
    assert "\x1b" not in text
    assert max(len(line) for line in text.splitlines()) <= 80
    assert all(line == line.rstrip() for line in text.splitlines())


def test_the_reader_of_a_pipe_may_leave(site_folder: Path, tmp_path: Path) -> None:
    command = (
        f'"{sys.executable}" -m dripfield layout site --out out --strict --method straight | true'
    )
    command += "; echo ${PIPESTATUS[0]}"
    run = subprocess.run(
        ["bash", "-c", command], capture_output=True, cwd=tmp_path, timeout=120, check=False
    )
    assert (run.stdout, run.stderr) == (b"3\n", b"")
    assert sorted(contents(tmp_path / "out")) == FILES


def test_a_bed_of_sand_is_laid_on_its_design_grade(tmp_path: Path) -> None:
    """The sample's sand is a plane, so laterals along its strike are level throughout."""
    site = Path(__file__).parents[2] / "sample_sites" / "sand_bed"
    result = layout(site, tmp_path / "out", "--method", "straight")
    assert "laid on the top of sand as [bed.section] designs it" in result.stdout
    with (tmp_path / "out" / "laterals.csv").open() as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) > 10
    for row in rows:
        assert float(row["elevation_min"]) == pytest.approx(float(row["elevation"]), abs=0.0011)
        assert float(row["elevation_max"]) == pytest.approx(float(row["elevation"]), abs=0.0011)


def test_commands_come_from_one_table() -> None:
    command = main.get_command(click.Context(main), "layout")
    assert isinstance(command, click.Command)


@pytest.mark.parametrize("method", ["straight", "offset", "contour", "balanced"])
def test_every_method_lays_the_site(site_folder: Path, tmp_path: Path, method: str) -> None:
    result = layout(site_folder, tmp_path / "out", "--method", method)
    assert result.exit_code == 0, result.output
    assert f"Convex: {method} layout" in result.stdout
