"""Every command writes what the register of outputs says: no file more, none fewer."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from dripfield.cli import main
from dripfield.files import register
from dripfield.files.register import OUTPUTS, file_names, markdown, outputs_of, write_outputs

COMMANDS = [name for name in main.list_commands(click.Context(main)) if name != "new"]
BENCHMARK = '\n[benchmark]\nname = "BM 1"\nelevation = 1007.25\n'
SITE = """\
[site]
name = "Plane"
units = "ft"
{crs}
[survey]
points = "survey.csv"

[bed]
boundary = "bed.csv"

[layout]
spacing = 3.0
method = "{method}"
"""


def make_site(folder: Path, method: str = "straight", crs: str = "", more: str = "") -> Path:
    """A bed of 60 by 20 ft on an even slope; coordinates and ground are invented."""
    folder.mkdir()
    (folder / "site.toml").write_text(SITE.format(method=method, crs=crs) + more)
    corners = [(700_000 + n, 4_900_000 + e) for n, e in ((0, 0), (0, 60), (20, 60), (20, 0))]
    (folder / "bed.csv").write_text(
        "northing,easting\n" + "".join(f"{n},{e}\n" for n, e in corners)
    )
    shots = [
        f"{i},{700_000 + n},{4_900_000 + e},{1000 + 0.1 * n:.3f},GS\n"
        for i, (n, e) in enumerate(((n, e) for n in range(-8, 29, 4) for e in range(-8, 69, 4)), 1)
    ]
    (folder / "survey.csv").write_text("".join(shots))
    return folder


def written(out: Path, *words: str, codes: tuple[int, ...] = (0,)) -> list[str]:
    result = CliRunner().invoke(main, [*words, "--out", str(out)])
    assert result.exit_code in codes, result.output
    assert all(path.stat().st_size for path in out.iterdir())
    return sorted(path.name for path in out.iterdir())


def test_layout(tmp_path: Path) -> None:
    site = make_site(tmp_path / "plain")
    assert written(tmp_path / "a", "layout", str(site)) == sorted(file_names("layout"))
    several = "panel_gain = 0.0\nmax_panels = 2\n"  # so two are compared on an even slope too
    site = make_site(tmp_path / "more", "balanced", 'crs = "EPSG:6559"\n', several)
    conditions = ("with --shapefile", "with several numbers of panels to choose from")
    expected = sorted(file_names("layout", conditions))
    assert written(tmp_path / "b", "layout", str(site), "--shapefile") == expected
    assert len(expected) == len(outputs_of("layout"))


def test_sheets(tmp_path: Path) -> None:
    site = make_site(tmp_path / "plain")
    assert written(tmp_path / "a", "sheets", str(site)) == sorted(file_names("sheets"))
    site = make_site(tmp_path / "more", crs='crs = "EPSG:6559"\n', more=BENCHMARK)
    conditions = ("with a coordinate system", "with a benchmark")
    expected = sorted(file_names("sheets", conditions))
    assert written(tmp_path / "b", "sheets", str(site)) == expected
    assert len(expected) == len(outputs_of("sheets"))


def test_survey(tmp_path: Path) -> None:
    site = make_site(tmp_path / "plain")
    assert written(tmp_path / "a", "survey", str(site)) == sorted(file_names("survey"))


def test_bed_and_its_check(root: Path, tmp_path: Path) -> None:
    site = root / "sample_sites" / "sand_bed"
    assert written(tmp_path / "a", "bed", str(site)) == sorted(file_names("bed"))
    shots = str(site / "raked.csv")
    found = written(tmp_path / "b", "check-bed", str(site), "--shots", shots, codes=(0, 4))
    assert found == sorted(file_names("check-bed"))


def test_compare_and_record(tmp_path: Path) -> None:
    site = str(make_site(tmp_path / "plain"))
    written(tmp_path / "laid", "layout", site)
    laid = str(tmp_path / "laid")
    found = written(tmp_path / "a", "compare", site, laid, codes=(0, 4))
    assert found == sorted(file_names("compare"))
    plan, shots = str(tmp_path / "laid" / "laterals.csv"), str(tmp_path / "laid" / "stakes.csv")
    found = written(tmp_path / "b", "compare", site, "--plan", plan, "--shots", shots, codes=(0, 4))
    assert found == sorted(file_names("compare", ("with --shots",)))
    found = written(tmp_path / "c", "record", site, "--shots", shots, codes=(0, 4))
    assert found == sorted(file_names("record"))


def test_a_file_that_is_not_registered_is_not_written(tmp_path: Path) -> None:
    writers = {name: lambda path: path.write_text("x") for name in file_names("survey")}
    with pytest.raises(ValueError, match=r"not registered \['more.csv'\]"):
        write_outputs("survey", tmp_path, {**writers, "more.csv": writers["survey.json"]})
    with pytest.raises(ValueError, match=r"missing \['survey.png'\]"):
        write_outputs("survey", tmp_path, {"survey.json": writers["survey.json"]})
    assert not list(tmp_path.iterdir())
    assert [path.name for path in write_outputs("survey", tmp_path, writers)] == list(writers)


def test_register_knows_every_command_and_names_no_file_twice() -> None:
    assert sorted({one.command for one in OUTPUTS}) == sorted(COMMANDS)
    keys = [(one.command, one.name) for one in OUTPUTS]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("name", COMMANDS)
def test_help_names_every_file_and_condition(name: str) -> None:
    words = CliRunner().invoke(main, [name, "--help"], terminal_width=100).output
    for one in outputs_of(name):
        assert re.search(rf"\b{re.escape(one.name)}\b", words), one.name
        assert one.when in " ".join(words.split())
    assert "FILES" not in words


def test_readme_has_the_tables_of_the_register(root: Path) -> None:
    text = (root / "README.md").read_text(encoding="utf-8")
    assert markdown("layout") in text
    assert markdown(*[name for name in COMMANDS if name != "layout"]) in text


def test_the_readmes_columns_are_those_of_the_files(tmp_path: Path) -> None:
    """What the register says of the columns of ``stakes.csv`` is what stands in it."""
    site = make_site(tmp_path / "plain")
    written(tmp_path / "out", "layout", str(site))
    with (tmp_path / "out" / "stakes.csv").open(encoding="utf-8", newline="") as stream:
        header = next(csv.reader(stream))
    (stakes,) = (one for one in register.outputs_of("layout") if one.name == "stakes.csv")
    assert f"`{','.join(header)}`" in stakes.what
