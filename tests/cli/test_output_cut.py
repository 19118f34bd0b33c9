"""Writing cut off at any point: old or new results are whole, and nothing lies about unsaid."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from dripfield.core.errors import InputError
from dripfield.core.journal import UNFINISHED
from dripfield.core.lock import locked
from dripfield.core.output import check_output, staged_output

NAMES = ("a.csv", "b.csv", "pages/c.csv", "z.png")
OLD = {"a.csv": "old", "pages/c.csv": "old", "mine.txt": "mine"}
NEW = dict.fromkeys(NAMES, "new") | {"mine.txt": "mine"}
JOURNAL_ONLY = pytest.mark.parametrize("swaps", [True, False], ids=["exchanged", "journalled"])


def content(out: Path) -> dict[str, str]:
    return {str(p.relative_to(out)): p.read_text() for p in out.rglob("*") if p.is_file()}


def old_folder(tmp_path: Path) -> Path:
    out = tmp_path / "out"
    (out / "pages").mkdir(parents=True)
    for name, text in OLD.items():
        (out / name).write_text(text)
    return out


def run(out: Path) -> None:
    with staged_output(out) as stage:
        (stage / "pages").mkdir()
        for name in NAMES:
            (stage / name).write_text("new")


@contextmanager
def failing_call(number: int, swaps: bool, act: Callable[[], None]) -> Iterator[list[str]]:
    """Have the so-manieth call that changes the file system act instead of being made."""
    made: list[str] = []
    kept: list[tuple[Any, str, Any]] = []

    def replace(holder: Any, name: str) -> None:
        real = getattr(holder, name)

        def call(*args: Any, **given: Any) -> Any:
            made.append(name)
            if len(made) == number + 1:
                act()
            return real(*args, **given)

        kept.append((holder, name, real))
        setattr(holder, name, call)

    for name in ("rename", "unlink", "write_text", "mkdir"):
        replace(Path, name)
    for name in ("replace", "link", "open"):
        replace(os, name)
    import dripfield.core.output as output

    if swaps:
        replace(output, "exchange")
    else:
        kept.append((output, "exchange", output.exchange))
        output.exchange = lambda *_: False
    try:
        yield made
    finally:
        for holder, name, real in kept:
            setattr(holder, name, real)


def fail() -> None:
    raise OSError(errno.EIO, "input/output error")


@JOURNAL_ONLY
def test_every_call_fails_once(tmp_path: Path, swaps: bool) -> None:
    number, outcomes = 0, set()
    while True:
        out = old_folder(tmp_path / str(number))
        with failing_call(number, swaps, fail) as made:
            try:
                run(out)
            except (OSError, InputError):
                outcomes.add("refused")
            else:
                outcomes.add("written")
        found = content(out)
        if (tmp_path / str(number)).exists():
            check_output(out)  # a failure while taking back is put right by the next run
        assert content(out) in (OLD, NEW), (number, made[-1])
        assert found in (OLD, NEW) or UNFINISHED in found
        assert [p.name for p in out.parent.iterdir()] == ["out"]
        if number >= len(made):
            break
        number += 1
    assert number > 8
    assert outcomes == {"refused", "written"}


@JOURNAL_ONLY
def test_killed_before_every_call(tmp_path: Path, swaps: bool) -> None:
    """SIGKILL cannot be caught: the process is gone before the call, whatever it was."""
    number = 0
    while True:
        out = old_folder(tmp_path / str(number))
        child = os.fork()
        if child == 0:
            try:
                with failing_call(number, swaps, lambda: os.kill(os.getpid(), signal.SIGKILL)):
                    run(out)
            finally:
                os._exit(0)
        ended = os.waitpid(child, 0)[1]
        cut = content(out)
        if swaps:
            assert cut in (OLD, NEW), number
        else:
            assert cut in (OLD, NEW) or UNFINISHED in cut, number
        check_output(out)
        assert content(out) in (OLD, NEW), number
        assert [p.name for p in out.parent.iterdir()] == ["out"], number
        if ended == 0:
            break
        number += 1
    assert number > 8


def test_what_was_cut_off_is_told(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    out = old_folder(tmp_path)
    child = os.fork()
    if child == 0:
        seen = {"n": 0}
        real = Path.rename

        def rename(place: Path, new: Path) -> Path:
            seen["n"] += 1
            if seen["n"] == 4:
                os._exit(9)
            return real(place, new)

        Path.rename = rename  # type: ignore[method-assign, assignment]
        import dripfield.core.output as output

        output.exchange = lambda *_: False
        try:
            run(out)
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    assert "cut off" in (out / UNFINISHED).read_text()
    check_output(out)
    assert content(out) == OLD
    assert "an earlier run into out was cut off" in caplog.text


def test_a_file_of_the_users_own_is_not_taken_for_a_result(tmp_path: Path) -> None:
    """Cut off after the move, then a person writes their own file: it stays."""
    out = old_folder(tmp_path)
    child = os.fork()
    if child == 0:
        import dripfield.core.journal as journal
        import dripfield.core.output as output

        output.exchange = lambda *_: False
        journal.unmark = lambda *_: os._exit(9)
        real = Path.unlink
        Path.unlink = lambda p, **k: (  # type: ignore[method-assign, assignment]
            os._exit(9) if p.name == "journal.json" else real(p, **k)
        )
        try:
            run(out)
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    (out / "b.csv").unlink()
    (out / "b.csv").write_text("written by hand")
    check_output(out)
    assert content(out) == OLD | {"b.csv": "written by hand"}


SLOW = (
    "import sys, time\nfrom dripfield.core.output import staged_output\n"
    "with staged_output(sys.argv[1]) as stage:\n"
    "    (stage / 'a.csv').write_text('new')\n    print('in', flush=True)\n    time.sleep(60)\n"
)


def slow_run(out: Path) -> subprocess.Popen[str]:
    child = subprocess.Popen(
        [sys.executable, "-c", SLOW, str(out)], stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "in\n"
    return child


def test_two_runs_into_one_folder(tmp_path: Path) -> None:
    out = old_folder(tmp_path)
    child = slow_run(out)
    try:
        for start in (check_output, run):
            with pytest.raises(InputError) as caught:
                start(out)
            line = str(caught.value)
            assert line.startswith(f"out: another run is writing here (process {child.pid} on ")
            assert line.endswith("; wait for it to end, or give another folder")
        run(tmp_path / "elsewhere")
    finally:
        child.kill()
        child.wait()
    run(out)  # the lock of a dead process holds nobody up
    assert content(out) == NEW
    assert sorted(p.name for p in tmp_path.iterdir()) == ["elsewhere", "out"]


def test_one_folder_spelt_in_two_ways_is_one(tmp_path: Path) -> None:
    out = old_folder(tmp_path)
    (tmp_path / "link").symlink_to(out)
    with locked(out, tmp_path), pytest.raises(InputError, match="another run is writing here"):
        check_output(tmp_path / "link")


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_signals_leave_nothing_behind(tmp_path: Path, name: str) -> None:
    """The command line takes them all as an interruption: exit 128 and the signal's number."""
    out = old_folder(tmp_path)
    code = (
        "import signal, sys, time, click\n"
        "for name in ('SIGTERM', 'SIGHUP'):\n"  # whoever started the tests may ignore them
        "    signal.signal(getattr(signal, name), signal.SIG_DFL)\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from dripfield.cli import main\n"
        "from dripfield.core.output import staged_output\n"
        "def command():\n"
        "    with staged_output(sys.argv[1]) as stage:\n"
        "        (stage / 'a.csv').write_text('new')\n        print('in', flush=True)\n"
        "        time.sleep(60)\n"
        "main.get_command = lambda *_: click.Command('slow', callback=command)\n"
        "main(['slow'])\n"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", code, str(out)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "in\n"
    time.sleep(0.1)
    number = getattr(signal, name)
    child.send_signal(number)
    _, errors = child.communicate(timeout=20)
    assert child.returncode == 128 + number
    assert "Traceback" not in errors
    assert content(out) == OLD
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_what_comes_into_the_folder_meanwhile_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import dripfield.core.output as output

    out = old_folder(tmp_path)
    real = output.exchange

    def late(one: Path, other: Path) -> bool:
        (out / "late.txt").write_text("late")
        (out / "mine.txt").unlink()
        (out / "mine.txt").write_text("mine, saved again")
        return real(one, other)

    monkeypatch.setattr(output, "exchange", late)
    run(out)
    assert content(out) == NEW | {"late.txt": "late", "mine.txt": "mine, saved again"}


def test_the_folder_somebody_stands_in_keeps_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shell that works in the folder must not find itself in a removed one."""
    out = old_folder(tmp_path)
    before = out.stat().st_ino
    monkeypatch.chdir(out)
    run(Path())
    assert out.stat().st_ino == before
    assert content(out) == NEW


def test_links_and_permissions_stay(tmp_path: Path) -> None:
    out = old_folder(tmp_path)
    (out / "link").symlink_to("mine.txt")
    (out / "nowhere").symlink_to("not there")
    out.chmod(0o750)
    run(out)
    assert os.readlink(out / "link") == "mine.txt"
    assert os.readlink(out / "nowhere") == "not there"
    assert out.stat().st_mode & 0o777 == 0o750


def test_a_link_that_leads_nowhere(tmp_path: Path) -> None:
    (tmp_path / "out").symlink_to(tmp_path / "gone")
    for start in (check_output, run):
        with pytest.raises(InputError) as caught:
            start(tmp_path / "out")
        assert str(caught.value) == (
            "out: this link leads nowhere; mend it, or give another folder"
        )
