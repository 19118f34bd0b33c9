"""Work that falls into parts which need nothing of one another, done side by side on the cores.

The parts are done by copies of this process (``fork``), so that they see everything that is in
memory and only what they return is handed over. Each process takes the next part when it has done
one; this process works as well. A part that a copy could not do, for whatever reason, is done again
here: its error is then this process's own, and a copy that the system ended costs time alone.
"""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import os
import pickle
import signal
import sys
import threading
import warnings
from collections.abc import Callable, Iterator, Sequence
from typing import Generic, TypeVar

T = TypeVar("T")

CORES = "DRIPFIELD_CORES"
"""Environment variable: how many cores may be used at most; 1 keeps all work in one process."""

_MOST = 8  # processes; more would gain little and each needs memory
_MARK = 4  # bytes that stand for a part in the pipe of parts still to do

_copy = False  # whether this process is such a copy


def cores() -> int:
    """How many processes may work side by side: the cores this process may use, within limits.

    Returns
    -------
    int
        1 inside a copy or a worker of another pool, and where forking is not safe (anywhere but
        on Linux).
    """
    if _copy or sys.platform != "linux" or multiprocessing.parent_process() is not None:
        return 1
    free = min(len(os.sched_getaffinity(0)), _MOST)
    asked = os.environ.get(CORES, "")
    return max(min(free, int(asked)), 1) if asked.isdecimal() else free


def side_by_side(parts: Sequence[Callable[[], T]]) -> list[T]:
    """Do parts of some work, on several cores where there are.

    Parameters
    ----------
    parts : sequence of callable
        Each returns what can be pickled, and changes nothing in memory that others rely on; files
        it writes are its own and may be written twice. Taken up in this order, so the longest
        first is quickest.

    Returns
    -------
    list
        What they return, in the order of the parts: the same however many cores there are.

    Raises
    ------
    Exception
        What a part raises.
    """
    count = min(cores(), len(parts))
    if count < 2:
        return [part() for part in parts]
    done: dict[int, T] = {}
    with _Copies[T](parts, count - 1) as copies:
        for number in copies.to_do():
            done[number] = parts[number]()
        done.update(copies.results())
    return [done[k] if k in done else part() for k, part in enumerate(parts)]


class _Copies(Generic[T]):
    """Copies of this process that work at the same parts; ended, however the block ends."""

    def __init__(self, parts: Sequence[Callable[[], T]], count: int) -> None:
        self._parts, self._count = parts, count
        self._copies: dict[int, int] = {}  # where each one's results are read, by process
        self._queue = self._alive = -1

    def __enter__(self) -> _Copies[T]:
        for stream in (sys.stdout, sys.stderr):
            with contextlib.suppress(Exception):
                stream.flush()
        self._queue, fill = os.pipe()
        os.write(fill, b"".join(k.to_bytes(_MARK, "big") for k in range(len(self._parts))))
        os.close(fill)
        watch, self._alive = os.pipe()
        for _ in range(self._count):
            read, write = os.pipe()
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore", DeprecationWarning)  # of threads: none is ours
                    process = os.fork()
            except OSError:  # no room for another process: the work is done by fewer
                os.close(read)
                os.close(write)
                break
            if process == 0:
                self._work(watch, write)
            os.close(write)
            self._copies[process] = read
        os.close(watch)
        return self

    def to_do(self) -> Iterator[int]:
        """Numbers of parts that nobody has taken yet, taken one by one."""
        return _numbers(self._queue)

    def results(self) -> dict[int, T]:
        """What the copies have done by their end, by the number of the part."""
        found: dict[int, T] = {}
        for read in self._copies.values():
            with open(read, "rb", closefd=False) as stream:
                text = stream.read()
            with contextlib.suppress(EOFError, pickle.UnpicklingError):  # it was ended
                found.update(pickle.loads(text))
        return found

    def __exit__(self, *_: object) -> None:
        for process, read in self._copies.items():
            with contextlib.suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
            with contextlib.suppress(ChildProcessError):
                os.waitpid(process, 0)
            os.close(read)
        os.close(self._queue)
        os.close(self._alive)

    def _work(self, watch: int, write: int) -> None:
        """What a copy does: it never returns."""
        global _copy
        try:
            _copy = True
            gc.freeze()  # looking for rubbish would copy every page of what is shared
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # this process's own parent ends it
            for name in (signal.SIGTERM, signal.SIGHUP):
                signal.signal(name, signal.SIG_DFL)
            os.close(self._alive)
            threading.Thread(target=_end_with_parent, args=(watch,), daemon=True).start()
            done: dict[int, T] = {}
            for number in _numbers(self._queue):
                with contextlib.suppress(Exception):  # done again, and raised, by the parent
                    done[number] = self._parts[number]()
            text = pickle.dumps(done, pickle.HIGHEST_PROTOCOL)
            with open(write, "wb") as stream:
                stream.write(text)
        finally:
            os._exit(0)


def _numbers(queue: int) -> Iterator[int]:
    """Numbers in a pipe, each taken by one process alone."""
    while len(mark := os.read(queue, _MARK)) == _MARK:
        yield int.from_bytes(mark, "big")


def _end_with_parent(watch: int) -> None:
    """End this process as soon as its parent has ended, whatever ended it."""
    os.read(watch, 1)
    os._exit(1)
