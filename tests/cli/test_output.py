"""The staged folder: everything or nothing, and nobody else's files touched."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from dripfield.core.errors import InputError
from dripfield.core.output import check_output, staged_output


def names(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def write(
    out: Path, *files: str, protect: tuple[Path, ...] = (), fail: Exception | None = None
) -> None:
    """Write files that all say "new", and perhaps fail after the last."""
    with staged_output(out, protect) as stage:
        for name in files:
            (stage / name).write_text("new")
        if fail is not None:
            raise fail


def test_files_appear_together_at_the_end(tmp_path: Path) -> None:
    out = tmp_path / "a" / "b" / "out"
    with staged_output(out) as stage:
        (stage / "one.csv").write_text("1")
        (stage / "pages").mkdir()
        (stage / "pages" / "two.csv").write_text("2")
        assert not (tmp_path / "a").exists()
    assert names(tmp_path) == ["a/b/out/one.csv", "a/b/out/pages/two.csv"]
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_a_new_folder_has_the_usual_permissions(tmp_path: Path) -> None:
    (tmp_path / "usual").mkdir()
    write(tmp_path / "out", "one.csv")
    assert (tmp_path / "out").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_other_files_stay_and_namesakes_are_replaced(tmp_path: Path) -> None:
    (tmp_path / "keep.txt").write_text("mine")
    (tmp_path / "one.csv").write_text("old")
    write(tmp_path, "one.csv")
    assert names(tmp_path) == ["keep.txt", "one.csv"]
    assert (tmp_path / "one.csv").read_text() == "new"
    assert (tmp_path / "keep.txt").read_text() == "mine"


@pytest.mark.parametrize("present", [True, False])
def test_nothing_changes_when_the_block_fails(tmp_path: Path, present: bool) -> None:
    out = tmp_path / "out"
    if present:
        out.mkdir()
        (out / "one.csv").write_text("old")
    before = names(tmp_path)
    with pytest.raises(ZeroDivisionError):
        write(out, "one.csv", "two.csv", fail=ZeroDivisionError())
    assert names(tmp_path) == before
    assert list(tmp_path.iterdir()) == ([out] if present else [])
    assert not present or (out / "one.csv").read_text() == "old"


def test_a_failed_move_is_taken_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The third file cannot be moved in: the first two are taken out again, old ones put back."""
    (tmp_path / "b.csv").write_text("old")
    moved = Path.rename

    def fail_on_c(path: Path, target: Path) -> Path:
        if target == tmp_path / "c.csv":
            raise OSError(errno.EIO, "input/output error")
        return moved(path, target)

    monkeypatch.setattr(Path, "rename", fail_on_c)
    monkeypatch.setattr("dripfield.core.output.exchange", lambda *_: False)
    with pytest.raises(OSError, match="input/output error"):
        write(tmp_path, "a.csv", "b.csv", "c.csv")
    assert names(tmp_path) == ["b.csv"]
    assert (tmp_path / "b.csv").read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["b.csv"]


@pytest.mark.parametrize("start", [check_output, write])
def test_a_file_in_the_way(tmp_path: Path, start: Callable[[Path], None]) -> None:
    (tmp_path / "out").write_text("a file")
    for place in (tmp_path / "out", tmp_path / "out" / "deeper"):
        with pytest.raises(InputError) as caught:
            start(place)
        assert str(caught.value) == "out: this is a file; give a folder to write into"
    assert names(tmp_path) == ["out"]


def test_a_folder_in_the_way_of_a_file(tmp_path: Path) -> None:
    (tmp_path / "plan.png").mkdir()
    with pytest.raises(InputError) as caught:
        write(tmp_path, "a.csv", "plan.png")
    assert str(caught.value) == (
        "plan.png: a folder of this name is in the way; move it, or write elsewhere"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["plan.png"]


def test_inputs_are_never_replaced(tmp_path: Path) -> None:
    (tmp_path / "stakes.csv").write_text("the site's own survey")
    (tmp_path / "link").symlink_to(tmp_path)
    for out in (tmp_path, tmp_path / "link"):
        with pytest.raises(InputError) as caught:
            write(out, "laterals.csv", "stakes.csv", protect=(tmp_path / "stakes.csv",))
        assert str(caught.value) == (
            "stakes.csv: writing here would replace the site's own file; give another folder"
        )
    assert names(tmp_path) == ["stakes.csv"]
    assert (tmp_path / "stakes.csv").read_text() == "the site's own survey"


def test_no_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Permissions do not stop the administrator, whom tests may run as: they are imitated."""
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(InputError) as caught:
        write(tmp_path)
    assert str(caught.value).endswith(
        ": nothing can be written here (permission denied); give another folder to write into"
    )


def test_disk_full(tmp_path: Path) -> None:
    full = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    with pytest.raises(InputError) as caught:
        write(tmp_path / "out", "one.csv", fail=full)
    assert str(caught.value) == (
        "out: nothing can be written here (no space left on device); "
        "give another folder to write into"
    )
    assert list(tmp_path.iterdir()) == []
