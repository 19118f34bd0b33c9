"""What is being done and read at the moment, for the line that tells where something broke."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_steps: list[str] = []
_files: list[str] = []


@contextmanager
def doing(step: str) -> Iterator[None]:
    """Say what is done inside the block; where it raises, the step stays named."""
    _steps.append(step)
    yield
    _steps.remove(step)


def reading(path: Path) -> None:
    """Say which file is read now."""
    _files[:] = [path.name]


def begin() -> None:
    """Forget what was done before."""
    _steps.clear()
    _files.clear()


def in_words() -> str:
    """``while laying out, after survey.csv was opened``; empty where nothing is known."""
    step = f"while {_steps[-1][:1].lower()}{_steps[-1][1:]}" if _steps else ""
    how = "the last file opened was" if step else "while reading"
    file = f"{how} {_files[0]}" if _files else ""
    return ", ".join(part for part in (step, file) if part)
