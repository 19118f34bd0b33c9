"""The README's commands are what it says they are, and its examples run."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from dripfield.cli import main
from dripfield.files.register import OUTPUTS


@pytest.fixture(scope="module")
def readme(root: Path) -> str:
    return (root / "README.md").read_text(encoding="utf-8")


def blocks(text: str, language: str) -> list[str]:
    """Code blocks of a language, in order."""
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def steps(block: str) -> list[list[str]]:
    """The commands of a block, each as its words."""
    return [shlex.split(step) for step in block.replace("\n", " ").split("&&")]


def test_first_block_sets_up_and_lays_out_a_sample(
    readme: str, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make, install, lay = steps(blocks(readme, "sh")[0])
    assert make == ["python3", "-m", "venv", ".venv"]
    assert install == [".venv/bin/pip", "install", "--quiet", "."]
    assert lay[0] == ".venv/bin/dripfield"
    assert lay[-2:] == ["--out", "out"]
    assert "`out/plan.png`" in readme
    monkeypatch.chdir(root)
    result = CliRunner().invoke(main, [*lay[1:-1], str(tmp_path / "out")])
    assert result.exit_code == 0, result.stderr
    assert (tmp_path / "out" / "plan.png").read_bytes().startswith(b"\x89PNG")


def test_second_block_sets_up_and_runs_the_tests(readme: str) -> None:
    make, install, test = steps(blocks(readme, "sh")[1])
    assert make == ["python3", "-m", "venv", ".venv"]
    assert install == [".venv/bin/pip", "install", "--quiet", "--editable", ".[tests]"]
    assert test[:3] == [".venv/bin/python", "-m", "pytest"]
    assert not {"-q", "-qq", "--quiet", "-k", "-m", "--ignore"} & set(test[3:])


def test_a_site_of_ones_own(readme: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for line in blocks(readme, "sh")[2].splitlines():
        program, *words = shlex.split(line)
        assert program == "dripfield"
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.stderr
    assert Path("my-layout/plan.png").exists()


def test_python_example_runs(
    readme: str, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    (example,) = blocks(readme, "python")
    assert example.count('"out"') == 1
    monkeypatch.chdir(root)
    exec(example.replace('"out"', repr(str(tmp_path / "out"))), {})  # the example as it stands
    assert re.search(r"^merit 0\.\d\d, \d panel\(s\)$", capsys.readouterr().out, re.MULTILINE)
    always = [one.name for one in OUTPUTS if one.command == "layout" and not one.when]
    assert always
    for name in always:
        assert (tmp_path / "out" / name).stat().st_size > 0


def test_every_command_is_listed_as_it_is_called(readme: str) -> None:
    listed = re.findall(r"^\| `dripfield (.*?)` \|", readme, re.MULTILINE)
    assert [line.split()[0] for line in listed] == main.list_commands(click.Context(main))
    for line in listed:
        name, *words = line.split()
        command = main.get_command(click.Context(main), name)
        assert command is not None
        options = {option for part in command.params for option in part.opts}
        required = {part.opts[0] for part in command.params if part.required}
        places = {word.lower().strip("[]") for word in words if not word.startswith("--")}
        assert {word for word in words if word.startswith("--")} <= options, name
        assert {opt for opt in required if opt.startswith("--")} <= set(words), name
        assert places, name


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_links_lead_somewhere(root: Path, name: str) -> None:
    text = (root / name).read_text(encoding="utf-8")
    links = re.findall(r"\]\(([^)#]+)\)", text)
    missing = [link for link in links if "://" not in link and not (root / link).exists()]
    assert links
    assert missing == []
