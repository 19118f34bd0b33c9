"""One run at a time into one folder, and a line that says who holds it."""

from __future__ import annotations

import contextlib
import hashlib
import os
import socket
import time
from collections.abc import Iterator
from pathlib import Path

from dripfield.core.errors import clean_line, input_error

PREFIX = ".dripfield-"
"""What the names of everything that a run keeps beside its target begin with."""


def mark_of(target: Path) -> str:
    """A short text that stands for a folder, whatever way it is spelt."""
    return hashlib.sha256(os.fsencode(target.resolve())).hexdigest()[:10]


@contextlib.contextmanager
def locked(target: Path, home: Path) -> Iterator[None]:
    """Hold a folder against other runs while the block lasts.

    The lock belongs to the open file (``flock``), so the system gives it back however its process
    ends, and one left by a process that has died is no obstacle. Without ``flock`` nothing is held.

    Parameters
    ----------
    target : Path
        The folder to write into; need not exist.
    home : Path
        An existing folder that may be written, where the lock's file is kept meanwhile.

    Yields
    ------
    None

    Raises
    ------
    InputError
        Another run holds it; says which.
    OSError
        The lock's file cannot be made.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    place = home / f"{PREFIX}{mark_of(target)}.lock"
    while True:
        number = os.open(place, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | _NO_LINK, 0o666)
        try:
            fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if _same_file(number, place):
                break
        except BlockingIOError:
            holder = os.pread(number, 300, 0).decode(errors="replace").strip()
            os.close(number)
            raise input_error(
                f"another run is writing here ({clean_line(holder, 120) or 'just started'})",
                "wait for it to end, or give another folder",
                file=target.resolve(),
            ) from None
        except BaseException:
            os.close(number)
            raise
        os.close(number)  # its last holder removed the file meanwhile
    _HELD.add(number)
    try:
        os.ftruncate(number, 0)
        since = time.strftime("%H:%M:%S")
        os.pwrite(
            number, f"process {os.getpid()} on {socket.gethostname()}, since {since}".encode(), 0
        )
        yield
    finally:
        with contextlib.suppress(OSError):
            if _same_file(number, place):
                place.unlink()
        _HELD.discard(number)
        os.close(number)


_HELD: set[int] = set()  # open files that locks of this process belong to


def _let_go() -> None:
    """In a copy of this process: a lock is the first one's alone, and ends with it."""
    for number in _HELD:
        os.close(number)
    _HELD.clear()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_let_go)

_NO_LINK = getattr(os, "O_NOFOLLOW", 0)


def _same_file(number: int, place: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(number), os.lstat(place))
    except FileNotFoundError:
        return False
