"""The net under every command: one line whatever breaks, and streams that change nothing."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from dripfield.cli.group import CommandTable
from dripfield.core.doing import doing, reading
from dripfield.core.errors import LONGEST, clean_line, input_error


def run_with(act: Callable[[], None], *before: str) -> tuple[int, str]:
    table = CommandTable("dripfield", "help", {})
    table.get_command = lambda *_: click.Command("act", callback=act)  # type: ignore[method-assign]
    result = CliRunner().invoke(table, [*before, "act"])
    assert result.stdout == ""
    return result.exit_code, result.stderr


def raising(problem: BaseException) -> Callable[[], None]:
    def act() -> None:
        reading(Path("/somewhere/survey.csv"))
        with doing("Laying out"):
            raise problem

    return act


WHERE = "while laying out, the last file opened was survey.csv"
LINES = {
    "memory": (MemoryError(), 2, f"the memory did not suffice {WHERE}; thin the input, or use a "
               "machine with more memory"),
    "recursion": (RecursionError("deep"), 2, f"the input is nested too deep {WHERE}; write it "
                  "plainly, or export it again"),
    "disk full": (OSError(28, "No space left on device"), 2, "the system refused (no space left on "
                  f"device) {WHERE}; make room on the disk"),
    "not allowed": (PermissionError(13, "Permission denied", "/a/b.csv"), 2, "b.csv: the system "
                    f"refused (permission denied) {WHERE}; give yourself permission, or use another "  # noqa: E501
                    "folder"),
    "disk broken": (OSError(5, "Input/output error", "/a/b.csv"), 2, "b.csv: the system refused "
                    f"(input/output error) {WHERE}; check the file's name, its folder and its disk"),  # noqa: E501
    "defect": (KeyError("f4"), 1, f"this is a defect of dripfield (KeyError: 'f4') {WHERE}; please "
               "report it to the dripfield authors, with the input and the file that dripfield "
               "--traceback FILE … writes"),
    "input": (input_error("no", "mend it", file="a\x1b[31mb.csv"), 2, "a?[31mb.csv: no; mend it"),
}  # fmt: skip


@pytest.mark.parametrize(("problem", "code", "line"), LINES.values(), ids=LINES)
def test_whatever_breaks_is_one_line(problem: BaseException, code: int, line: str) -> None:
    assert run_with(raising(problem)) == (code, f"error: {line}\n")


def test_the_traceback_goes_into_a_file_when_asked_for(tmp_path: Path) -> None:
    file = tmp_path / "broke.txt"
    code, line = run_with(raising(ZeroDivisionError("by zero")), "--traceback", str(file))
    assert code == 1
    assert line.endswith("; the traceback is in broke.txt\n")
    assert "ZeroDivisionError: by zero" in file.read_text()
    assert "in act" in file.read_text()


def test_an_interruption_says_nothing_more() -> None:
    code, line = run_with(raising(KeyboardInterrupt()))
    assert code == 128 + signal.SIGINT
    assert line.strip() == ""


@pytest.mark.parametrize(
    ("text", "clean"),
    [
        ("a\x1b]0;title\x07b", "a?]0;title?b"),
        ("a\u202egnp.exe", "a?gnp.exe"),
        ("a\u2066b\u2069\u200b\ufeff", "a?b???"),
        ("a\x9b31mb", "a?31mb"),
        ("one\ntwo\r\n\tthree", "one two three"),
        ('Obstgärten 果园 ¼ ° "', 'Obstgärten 果园 ¼ ° "'),
    ],
)
def test_messages_are_clean(text: str, clean: str) -> None:
    assert clean_line(text) == clean


def test_long_messages_keep_their_beginning_and_their_end() -> None:
    for length in (LONGEST + 1, 10**7):
        line = clean_line("begin " + "x" * length + " end")
        assert len(line) == LONGEST
        assert line.startswith("begin xxx")
        assert line.endswith("xxx end")
    assert clean_line("y" * LONGEST) == "y" * LONGEST


def shell(command: str, folder: Path, **surroundings: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["sh", "-c", command.replace("dripfield", f'"{sys.executable}" -m dripfield')],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2]), **surroundings},
        cwd=folder,
        timeout=120,
        check=False,
    )


def files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_streams_and_surroundings_change_nothing(site_folder: Path, tmp_path: Path) -> None:
    """Closed or full streams, a junk backend, a home that cannot be written: the same files."""
    if not Path("/dev/full").exists():
        pytest.skip("no device that is always full")
    whole = shell(f"dripfield layout {site_folder} --out whole", tmp_path)
    assert (whole.returncode, whole.stderr) == (0, "")
    expected = files(tmp_path / "whole")
    for number, (streams, home) in enumerate(
        [(">&- 2>&- <&-", ""), ("> /dev/full 2> /dev/full", ""), (">/dev/null", "/proc/none")]
    ):
        more = {"MPLBACKEND": "junk", "HOME": home, "MPLCONFIGDIR": ""} if home else {}
        made = shell(f"dripfield layout {site_folder} --out o{number} {streams}", tmp_path, **more)
        assert (made.returncode, made.stdout, made.stderr) == (0, "", "")
        assert files(tmp_path / f"o{number}") == expected


def test_a_refusal_without_a_standard_error_keeps_its_code(tmp_path: Path) -> None:
    for streams in (">&- 2>&-", ">/dev/full 2>/dev/full"):
        assert shell(f"dripfield layout gone --out o {streams}", tmp_path).returncode == 2


@pytest.mark.parametrize("args", [["layout", "site", "--out", ""], ["layout", "", "--out", "o"],
                                  ["new", ""], ["layout", "site", "--out", " "]])  # fmt: skip
def test_an_empty_name_is_not_this_folder(
    args: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from dripfield.cli import main

    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, args)
    assert result.exit_code == 2
    assert "it is empty; give a folder or file by name, . for this one" in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_memory_a_command_may_take_is_the_machines() -> None:
    code = (
        "import resource\nfrom dripfield.cli.net import bound_memory\nbound_memory()\n"
        "print(resource.getrlimit(resource.RLIMIT_DATA)[0])\n"
        "try:\n    bytearray(1 << 45)\nexcept MemoryError:\n    print('refused')\n"
    )
    made = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    limit, refused = made.stdout.split()
    assert 0 < int(limit) < os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    assert refused == "refused"
