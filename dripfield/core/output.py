"""All files of a run at once: written aside, moved in only when every one of them is there."""

from __future__ import annotations

import errno
import logging
import os
import signal
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from dripfield.core.errors import InputError, input_error
from dripfield.core.exchange import complete, exchange, latecomers
from dripfield.core.journal import FILES, move_in, remove, take_back, unmark
from dripfield.core.lock import PREFIX, locked, mark_of

_LOG = logging.getLogger(__name__)


@contextmanager
def staged_output(out: str | Path, protect: Iterable[Path] = ()) -> Iterator[Path]:
    """A folder to write into, whose files appear in ``out`` together when the block ends well.

    Parameters
    ----------
    out : str or Path
        Made when missing, parents too. Its other files stay as they are; files of the same name are
        replaced.
    protect : iterable of Path
        Files that may not be replaced: a site's own inputs.

    Yields
    ------
    Path
        An empty folder on the same file system. It is gone when the block ends, well or not.

    Raises
    ------
    InputError
        ``out`` is a file, may not be written, is being written by another run, would lose a
        protected file or has no room; nothing in it is changed then, nor when the block itself
        raises.

    Notes
    -----
    A folder that is there is exchanged for the new one in one step where the system can do that, so
    that even a process killed at any point leaves the old files or the new ones. Where it cannot
    (another process works in the folder, or it is a file system of its own) the move is written
    down first; the next run into the folder puts back what a killed one left half done.
    """
    target = Path(out)
    with _held(target) as home:
        aside = _aside(target, home)
        try:
            stage = aside / FILES
            stage.mkdir()
            yield stage
            with _undisturbed():
                _move_in(aside, target, tuple(protect))
        except OSError as problem:
            if problem.errno in (errno.ENOSPC, errno.EDQUOT):
                raise _refusal(target, problem) from None
            raise
        finally:
            remove(aside)


def check_output(out: str | Path) -> None:
    """Refuse a place that cannot be written, before any work is done for it.

    What an earlier run that was cut off left there is put right first, and said.

    Raises
    ------
    InputError
        As :func:`staged_output` would at its start.
    """
    target = Path(out)
    with _held(target) as home:
        _aside(target, home).rmdir()


@contextmanager
def _held(target: Path) -> Iterator[Path]:
    """Hold the target against other runs, what dead ones left cleared up; where to keep things."""
    with ExitStack() as stack:
        try:
            home = _home(target)
            stack.enter_context(locked(target, home))
        except OSError as problem:
            raise _refusal(target, problem) from None
        _heal(target)
        yield home


def _heal(target: Path) -> None:
    """Put back or remove what runs into this folder left when they were cut off."""
    place = target.resolve()
    for folder in {place, *place.parents}:
        try:
            left = sorted(folder.glob(f"{PREFIX}{mark_of(target)}-*"))
        except OSError:
            continue
        for aside in left:
            if aside.is_symlink() or not aside.is_dir():
                continue
            try:
                if take_back(aside, place):
                    _LOG.warning(
                        "an earlier run into %s was cut off while it moved its files in; the files "
                        "from before it are in their places again",
                        place.name,
                    )
            except (OSError, ValueError, LookupError, TypeError) as problem:
                raise input_error(
                    f"an earlier run was cut off here, and the files from before it, in {aside}, "
                    f"cannot be put back ({problem})",
                    "put them back by hand and remove that folder",
                    file=place,
                ) from None
            remove(aside)
    unmark(place)


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Let the signals that end a process wait until the block is over: it takes milliseconds."""
    names = ("SIGINT", "SIGTERM", "SIGHUP")
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    waiting = {getattr(signal, name) for name in names if hasattr(signal, name)}
    before = signal.pthread_sigmask(signal.SIG_BLOCK, waiting)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _aside(target: Path, home: Path) -> Path:
    """A new empty folder to write into meanwhile."""
    try:
        return Path(tempfile.mkdtemp(prefix=f"{PREFIX}{mark_of(target)}-", dir=home))
    except OSError as problem:
        raise _refusal(target, problem) from None


def _home(target: Path) -> Path:
    """Where to write aside: beside the target, or in it where it is a file system of its own."""
    if target.is_symlink() and not target.exists():
        raise input_error("this link leads nowhere", "mend it, or give another folder", file=target)
    if target.exists():
        if not target.is_dir():
            raise input_error("this is a file", "give a folder to write into", file=target)
        if not os.access(target, os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        target = target.resolve()
        beside = target.parent
        usable = os.access(beside, os.W_OK | os.X_OK)
        return beside if usable and beside.stat().st_dev == target.stat().st_dev else target
    ancestor = next(folder for folder in target.absolute().parents if folder.exists())
    if not ancestor.is_dir():
        raise input_error("this is a file", "give a folder to write into", file=ancestor)
    return ancestor


def _move_in(aside: Path, target: Path, protect: tuple[Path, ...]) -> None:
    """Move every file in, or none: in one step where the system can, else by a journal."""
    stage = aside / FILES
    if not target.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        stage.rename(target)
        return
    files = sorted(path.relative_to(stage) for path in stage.rglob("*") if path.is_file())
    for name in files:
        _check_replaceable(target / name, protect)
    place = target.resolve()
    if not aside.is_relative_to(place):
        held = complete(stage, place)
        if held is not None and exchange(stage, place):
            latecomers(stage, held, place)
            return
    move_in(aside, place, files)


def _check_replaceable(place: Path, protect: tuple[Path, ...]) -> None:
    if place.is_dir():
        raise input_error(
            "a folder of this name is in the way", "move it, or write elsewhere", file=place
        )
    if place.exists() and any(path.exists() and place.samefile(path) for path in protect):
        raise input_error(
            "writing here would replace the site's own file", "give another folder", file=place
        )


def _refusal(target: Path, problem: OSError) -> InputError:
    reason = (problem.strerror or str(problem)).lower()
    return input_error(
        f"nothing can be written here ({reason})", "give another folder to write into", file=target
    )
