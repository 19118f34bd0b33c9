"""All files of a run at once: written aside, moved in only when every one of them is there."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from dripfield.core.errors import InputError, input_error


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
        ``out`` is a file, may not be written, would lose a protected file or has no room; nothing
        in it is changed then, nor when the block itself raises.
    """
    target = Path(out)
    aside = _aside(target)
    try:
        stage = aside / "files"
        stage.mkdir()
        yield stage
        _move_in(stage, target, aside / "replaced", tuple(protect))
    except OSError as problem:
        if problem.errno in (errno.ENOSPC, errno.EDQUOT):
            raise _refusal(target, problem) from None
        raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def check_output(out: str | Path) -> None:
    """Refuse a place that cannot be written, before any work is done for it.

    Raises
    ------
    InputError
        As :func:`staged_output` would at its start.
    """
    _aside(Path(out)).rmdir()


def _aside(target: Path) -> Path:
    """A new empty folder to write into meanwhile."""
    try:
        return Path(tempfile.mkdtemp(prefix=".dripfield-", dir=_home(target)))
    except OSError as problem:
        raise _refusal(target, problem) from None


def _home(target: Path) -> Path:
    """Where to write aside: beside the target, or in it where it is a file system of its own."""
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


def _move_in(stage: Path, target: Path, replaced: Path, protect: tuple[Path, ...]) -> None:
    """Move every file in, or none: what is replaced is kept until the last one is in place."""
    if not target.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        stage.rename(target)
        return
    files = sorted(path.relative_to(stage) for path in stage.rglob("*") if path.is_file())
    for name in files:
        _check_replaceable(target / name, protect)
    undo: list[tuple[Path, Path | None]] = []
    try:
        for name in files:
            place, backup = target / name, None
            place.parent.mkdir(parents=True, exist_ok=True)
            if place.exists() or place.is_symlink():
                backup = replaced / name
                backup.parent.mkdir(parents=True, exist_ok=True)
                place.rename(backup)
            undo.append((place, backup))
            (stage / name).rename(place)
    except BaseException:
        for place, backup in reversed(undo):
            place.unlink(missing_ok=True)
            if backup is not None:
                backup.rename(place)
        raise


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
