"""Libraries in C that write on standard output, where only the command's own words belong."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quiet_output() -> Iterator[None]:
    """Let nothing that is written below Python reach standard output; also decorates a function.

    Where standard output is no file that can be set aside, nothing is done.
    """
    try:
        sys.stdout.flush()
        kept = os.dup(1)
    except (AttributeError, OSError, ValueError):
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.close(nowhere)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
