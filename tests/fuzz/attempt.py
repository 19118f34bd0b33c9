"""One attempt: a file is read, or refused in one line, within bounds; anything else is a find."""

from __future__ import annotations

import time
from pathlib import Path

from readers import READERS

from dripfield.core.errors import LONGEST, InputError, clean_line

SECONDS = 20.0  # that one small file may take, on a busy machine


def attempt(name: str, content: bytes, folder: Path) -> str:
    """Read a file; ``read`` or ``refused``. Raises whatever is wrong with that."""
    reader = READERS[name]
    path = folder / reader.file
    path.write_bytes(content)
    start = time.perf_counter()
    try:
        reader.read(path)
        outcome = "read"
    except InputError as refused:
        line = str(refused)
        assert line == " ".join(line.split()), "not one line"
        assert "\x1b" not in line, "control characters"
        assert len(clean_line(line)) <= LONGEST
        outcome = "refused"
    assert time.perf_counter() - start < SECONDS, "far too slow"
    return outcome
