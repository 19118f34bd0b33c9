"""A move of many files that is written down first, so that it can be taken back at any time.

The journal names every file to be moved in. Whoever finds one whose run has died puts the old files
back: each step can be taken back twice without harm, so that taking back may be cut off too.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
from pathlib import Path

JOURNAL = "journal.json"
FILES, REPLACED = "files", "replaced"
UNFINISHED = "UNFINISHED.txt"
"""Stands in the target while files are moved in, for whoever looks at it after a cut."""
_WARNING = (
    "A run of dripfield was cut off while it moved its files into this folder: some files are of\n"
    "that run and some of the one before it. The next run of dripfield that writes into this\n"
    "folder puts the old ones back first. They are in {aside}\n"
)
Name = tuple[str, int, int, bool]
"""File, number and size of the new one, and whether there was an old one."""


def move_in(aside: Path, target: Path, names: list[Path]) -> None:
    """Move files from ``aside/files`` into the target one by one; on an error none.

    Parameters
    ----------
    aside : Path
        Folder of this run, on the file system of the target; the journal is kept in it.
    target : Path
    names : list of Path
        Files relative to ``aside/files`` and to the target.

    Raises
    ------
    OSError
        A file could not be moved; the old ones are in their places.
    """
    entries: list[Name] = []
    for name in names:
        known = (aside / FILES / name).stat()
        old = os.path.lexists(target / name)
        entries.append((str(name), known.st_ino, known.st_size, old))
    draft = aside / f"{JOURNAL}.new"
    draft.write_text(json.dumps({"target": str(target), "names": entries}), encoding="utf-8")
    try:
        if not os.path.lexists(target / UNFINISHED):
            (target / UNFINISHED).write_text(_WARNING.format(aside=aside), encoding="utf-8")
        draft.rename(aside / JOURNAL)
        for name in names:
            place, backup = target / name, aside / REPLACED / name
            place.parent.mkdir(parents=True, exist_ok=True)
            if os.path.lexists(place):
                backup.parent.mkdir(parents=True, exist_ok=True)
                place.rename(backup)
            (aside / FILES / name).rename(place)
        (aside / JOURNAL).unlink()  # from here on the new files are the folder's
    except BaseException:
        take_back(aside, target)
        raise
    unmark(target)


def take_back(aside: Path, target: Path) -> bool:
    """Put back what a cut-off move replaced, as its journal says.

    Returns
    -------
    bool
        True where files had to be put back.

    Raises
    ------
    OSError
        A file cannot be put back; the journal and all old files stay where they are.
    """
    try:
        entries = json.loads((aside / JOURNAL).read_text(encoding="utf-8"))["names"]
    except FileNotFoundError:
        unmark(target)
        return False
    moved = False
    for name, number, size, had_old in reversed(entries):
        place, backup, new = target / name, aside / REPLACED / name, aside / FILES / name
        if os.path.lexists(backup):
            if os.path.lexists(place) and not _is(place, number, size):
                continue  # somebody has put a file of their own here since
            os.replace(backup, place)
            moved = True
        elif not had_old and not os.path.lexists(new) and _is(place, number, size):
            place.unlink()
            moved = True
    (aside / JOURNAL).unlink()
    unmark(target)
    return moved


def unmark(target: Path) -> None:
    """Remove the file that says a run was cut off, where it is ours."""
    place = target / UNFINISHED
    with contextlib.suppress(OSError, ValueError):
        if place.read_text(encoding="utf-8").startswith(_WARNING[:40]):
            place.unlink()


def _is(place: Path, number: int, size: int) -> bool:
    """True where a file is the one that was moved in."""
    try:
        known = place.lstat()
    except FileNotFoundError:
        return False
    return (known.st_ino, known.st_size) == (number, size)


def remove(aside: Path) -> None:
    """Remove a run's folder, never one whose journal still says that old files are in it."""
    if not (aside / JOURNAL).exists():
        shutil.rmtree(aside, ignore_errors=True)
