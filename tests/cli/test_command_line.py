"""The group of commands: help, version, usage errors, terminals that cannot show everything."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

import dripfield
from dripfield.cli import main

COMMANDS = list(main.list_commands(click.Context(main)))


def test_version() -> None:
    result = CliRunner().invoke(main, ["--version"])
    assert (result.exit_code, result.stdout) == (0, f"dripfield {dripfield.__version__}\n")


@pytest.mark.parametrize("args", [["--help"], ["-h"], []])
def test_help_lists_the_commands_that_are_there(args: list[str]) -> None:
    result = CliRunner().invoke(main, args)
    assert result.exit_code == 0
    listed = [line.split()[0] for line in result.stdout.splitlines() if line.startswith("  ")]
    assert [name for name in listed if name in main.one_liners] == COMMANDS
    assert {"new", "layout"} <= set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_every_command_is_short_and_has_an_example(name: str) -> None:
    result = CliRunner().invoke(main, [name, "--help"])
    assert result.exit_code == 0
    assert f"Usage: dripfield {name} " in result.stdout
    assert f"Example: dripfield {name} " in " ".join(result.stdout.split())
    assert len(result.stdout.splitlines()) <= 40
    assert max(len(line) for line in result.stdout.splitlines()) <= 100


def test_a_command_whose_module_is_missing_is_not_listed() -> None:
    from dripfield.cli.group import CommandTable

    table = CommandTable("dripfield", "help", {"new": "there", "no-such-thing": "not there"})
    assert table.list_commands(click.Context(table)) == ["new"]
    assert "no-such-thing" not in CliRunner().invoke(table, ["--help"]).stdout


@pytest.mark.parametrize(
    ("args", "message"),
    [
        (["--foo"], "no such option '--foo'; see dripfield --help"),
        (["layout"], "missing argument 'SITE'; see dripfield layout --help"),
        (["layout", "."], "missing option '--out'; see dripfield layout --help"),
        (
            ["layout", ".", "--out"],
            "option '--out' requires an argument",
        ),
        (
            ["layout", ".", "a", "--out", "b"],
            "got unexpected extra argument (a); see dripfield layout --help",
        ),
        (
            ["layout", ".", "--out", "b", "--method", "level"],
            "invalid value for '--method': "
            "'level' is not one of 'balanced', 'contour', 'offset', 'straight'; "
            "see dripfield layout --help",
        ),
        (["new"], "missing argument 'DIR'; see dripfield new --help"),
    ],
)
def test_usage_errors_are_one_line(args: list[str], message: str) -> None:
    result = CliRunner().invoke(main, args)
    assert (result.stderr, result.stdout) == (f"error: {message}\n", "")
    assert result.exit_code == 2


def test_unknown_command() -> None:
    result = CliRunner().invoke(main, ["lay"])
    assert result.stderr == (
        f"error: there is no command 'lay'; give one of {', '.join(COMMANDS)}\n"
    )
    assert result.exit_code == 2


def run(*args: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, *args],
        capture_output=True,
        env={**os.environ, **environment},
        timeout=60,
        check=False,
    )


def test_module_runs_like_the_command() -> None:
    result = run("-m", "dripfield", "--version")
    assert result.stdout.decode().strip() == f"dripfield {dripfield.__version__}"


def test_a_terminal_that_is_not_utf8_shows_an_error_all_the_same(tmp_path: Path) -> None:
    site = tmp_path / "Obstgärten"
    result = run(
        "-m",
        "dripfield",
        "layout",
        str(site),
        "--out",
        "x",
        PYTHONIOENCODING="ascii",
        PYTHONUTF8="0",
    )
    assert result.returncode == 2
    assert result.stderr.decode("ascii") == (
        "error: Obstg?rten: there is no such folder; give the folder that holds site.toml\n"
    )


HEAVY = ["matplotlib", "ezdxf", "pyproj", "scipy", "shapely", "numpy", "rich", "msgspec"]


@pytest.mark.parametrize(
    "start", ["import dripfield", "from dripfield.cli import main; main(['--help'])"]
)
def test_nothing_heavy_is_imported_at_the_start(start: str) -> None:
    code = (
        f"import sys\ntry:\n    {start}\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY} if name in sys.modules])"
    )
    result = run("-c", code)
    assert result.stdout.decode().splitlines()[-1] == "[]"


def test_public_names_are_there_and_spelt_once() -> None:
    for name in dripfield.__all__:
        assert getattr(dripfield, name) is not None
    assert set(dripfield.__all__) == set(dripfield._HOMES) <= set(dir(dripfield))
    with pytest.raises(AttributeError, match="no attribute 'lay_in'"):
        dripfield.lay_in  # noqa: B018
