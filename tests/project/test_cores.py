"""Parts of some work side by side: the same results, whatever becomes of the processes."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from dripfield.core.cores import CORES, cores, side_by_side

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="processes are copied on Linux")


@pytest.fixture
def two(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two cores, whatever the machine has."""
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 1})
    monkeypatch.setenv(CORES, "2")


def slow(number: int) -> tuple[int, int]:
    """Long enough for each process to take one."""
    time.sleep(0.05)
    return number * number, os.getpid()


def parts(part: Callable[[int], object], count: int = 6) -> list[Callable[[], object]]:
    return [partial(part, number) for number in range(count)]


def no_child_left() -> bool:
    try:
        os.waitpid(-1, os.WNOHANG)
    except ChildProcessError:
        return True
    return False


@pytest.mark.usefixtures("two")
def test_order_and_processes() -> None:
    found = side_by_side([partial(slow, number) for number in range(7)])
    assert [square for square, _ in found] == [0, 1, 4, 9, 16, 25, 36]
    assert len({process for _, process in found}) == 2
    assert no_child_left()


@pytest.mark.usefixtures("two")
def test_a_copy_makes_no_copies() -> None:
    def inside(_: int) -> tuple[int, bool]:
        time.sleep(0.05)
        return cores(), os.getpid() == here

    here = os.getpid()
    found = side_by_side([partial(inside, number) for number in range(6)])
    assert set(found) == {(2, True), (1, False)}


@pytest.mark.parametrize(
    ("asked", "expected"), [("1", 1), ("2", 2), ("0", 1), ("junk", 2), ("9", 2)]
)
def test_cores_asked_for(
    asked: str, expected: int, two: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(CORES, asked)
    assert cores() == expected


@pytest.mark.usefixtures("two")
def test_an_error_is_raised_here() -> None:
    def part(number: int) -> int:
        time.sleep(0.05)
        if number == 3:
            raise LookupError("the third")
        return number

    with pytest.raises(LookupError, match="the third"):
        side_by_side(parts(part))
    assert no_child_left()


@pytest.mark.usefixtures("two")
def test_what_a_copy_cannot_do_is_done_here() -> None:
    here = os.getpid()

    def killed(number: int) -> int:
        time.sleep(0.05)
        if os.getpid() != here:
            os.kill(os.getpid(), signal.SIGKILL)
        return number

    def no_memory(number: int) -> int:
        time.sleep(0.05)
        if os.getpid() != here:
            raise MemoryError
        return number

    def not_pickled(number: int) -> Callable[[], int]:
        time.sleep(0.05)
        return lambda: number

    assert side_by_side(parts(killed)) == list(range(6))
    assert side_by_side(parts(no_memory)) == list(range(6))
    assert [part() for part in side_by_side([partial(not_pickled, k) for k in range(6)])] == list(
        range(6)
    )


@pytest.mark.usefixtures("two")
def test_copies_end_when_the_work_is_broken_off() -> None:
    here = os.getpid()

    def part(_: int) -> None:
        if os.getpid() == here:
            time.sleep(0.1)
            raise KeyboardInterrupt
        time.sleep(60.0)

    start = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        side_by_side(parts(part))
    assert no_child_left()
    assert time.monotonic() - start < 30.0


@pytest.mark.usefixtures("two")
def test_no_process_to_be_had(monkeypatch: pytest.MonkeyPatch) -> None:
    def fork() -> int:
        raise BlockingIOError("no more processes")

    monkeypatch.setattr(os, "fork", fork)
    assert side_by_side(parts(lambda number: number)) == list(range(6))


PROGRAM = """
import os, sys, time
from pathlib import Path
from dripfield.core.cores import side_by_side
from dripfield.core.lock import locked
os.sched_getaffinity = lambda _: {0, 1}
folder = Path(sys.argv[1])
def part():
    (folder / f"at_{os.getpid()}").touch()
    time.sleep(60.0)
with locked(folder / "out", folder):
    side_by_side([part, part])
"""


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_copies_end_with_their_parent(tmp_path: Path, how: signal.Signals) -> None:
    """However it ends; and the folder it held is free at once."""
    from dripfield.core.lock import locked

    words = [sys.executable, "-c", PROGRAM, str(tmp_path)]
    with subprocess.Popen(words, env={**os.environ, CORES: "2"}) as program:
        until = time.monotonic() + 60.0
        while len(list(tmp_path.glob("at_*"))) < 2:
            assert time.monotonic() < until, "the program did not start"
            time.sleep(0.02)
        program.send_signal(how)
        program.wait(timeout=30.0)
        with locked(tmp_path / "out", tmp_path):
            pass
    copies = [int(path.name[3:]) for path in tmp_path.glob("at_*")]
    until = time.monotonic() + 30.0
    while any(_running(process) for process in copies):
        assert time.monotonic() < until, "a copy outlived its parent"
        time.sleep(0.02)


def _running(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state != "Z"
