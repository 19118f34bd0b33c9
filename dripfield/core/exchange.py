"""Two folders exchanged in one step of the file system, where the system can do that."""

from __future__ import annotations

import ctypes
import os
import shutil
import sys
from pathlib import Path

_AT_FDCWD = -100
_EXCHANGE = 2  # RENAME_EXCHANGE, linux/fs.h
_MOST_KEPT = 5_000  # other files in the folder, each linked into the new one


def exchange(one: Path, other: Path) -> bool:
    """Exchange the names of two folders at once (``renameat2`` of Linux); False where it cannot."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    names = os.fsencode(one), os.fsencode(other)
    return bool(rename(_AT_FDCWD, names[0], _AT_FDCWD, names[1], _EXCHANGE) == 0)


def complete(stage: Path, target: Path) -> dict[str, tuple[int, int]] | None:
    """Link the target's other files into the stage, so that it can take the target's place.

    Parameters
    ----------
    stage : Path
        The new files, on the file system of the target.
    target : Path
        Folder whose files stay unless the stage has one of the same name.

    Returns
    -------
    dict of name to (device, number), or None
        What the target held. None where the folders had better not be exchanged: somebody stands
        in the target, it is a file system of its own, or holds what cannot be linked or too much.
    """
    if _stood_in(target) or os.path.ismount(target):
        return None
    held: dict[str, tuple[int, int]] = {}
    try:
        for folder, names, files in os.walk(target, onerror=_raise):
            here = Path(folder).relative_to(target)
            for name in [*names, *files]:
                place = Path(folder, name)
                held[str(here / name)] = _file(place)
                if len(held) > _MOST_KEPT:
                    return None
                new = stage / here / name
                if place.is_symlink() or name in files:
                    if not os.path.lexists(new):
                        os.link(place, new, follow_symlinks=False)
                elif not new.is_dir():
                    new.mkdir()
                    shutil.copystat(place, new)
            names[:] = [name for name in names if not Path(folder, name).is_symlink()]
        old, new_folder = target.stat(), stage.stat()
        if (old.st_uid, old.st_gid) != (new_folder.st_uid, new_folder.st_gid):
            os.chown(stage, old.st_uid, old.st_gid)
        shutil.copystat(target, stage)
    except (OSError, ValueError):
        return None
    return held


def latecomers(old: Path, held: dict[str, tuple[int, int]], target: Path) -> None:
    """Carry files that came into the old folder meanwhile over to the new one.

    Parameters
    ----------
    old : Path
        The folder whose place was taken.
    held : dict of str to (int, int)
        What :func:`complete` found there: device and number of each file by its path.
    target : Path
        The new folder.
    """
    for folder, _, files in os.walk(old):
        here = Path(folder).relative_to(old)
        for name in files:
            place = Path(folder, name)
            if held.get(str(here / name)) == _file(place):
                continue
            new = target / here / name
            if not os.path.lexists(new):
                new.parent.mkdir(parents=True, exist_ok=True)
                place.rename(new)
            elif held.get(str(here / name)) == _file(new):  # saved again since it was linked
                place.replace(new)


def _file(place: Path) -> tuple[int, int]:
    """Device and number of a file, by which it is known whatever its name."""
    known = place.lstat()
    return known.st_dev, known.st_ino


def _stood_in(target: Path) -> bool:
    """True where a process of this machine works in the folder: it would stand in a removed one."""
    home = str(target.resolve())
    try:
        processes = [name for name in os.listdir("/proc") if name.isdigit()]
    except OSError:
        return True
    for number in processes:
        try:
            place = os.readlink(f"/proc/{number}/cwd")
        except OSError:
            continue
        if place == home or place.startswith(home + os.sep):
            return True
    return False


def _raise(problem: OSError) -> None:
    raise problem
