"""Compressed points, decoded in a process of their own (see :mod:`.laz_child`)."""

from __future__ import annotations

import contextlib
import struct
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import IO

import numpy as np

from dripfield.core.arrays import Bools, Floats
from dripfield.core.errors import input_error

_MEMORY = 4_000_000_000  # bytes that the decoder may take
_SECONDS = 60.0  # that it may take, and one more for so many points:
_POINTS_A_SECOND = 50_000


def decoded(path: Path, points: int, piece: int) -> Iterator[tuple[Floats, Bools]]:
    """Points of a LAZ file, ``piece`` at a time.

    Parameters
    ----------
    path : Path
        Its header looked through already.
    points : int
        How many the header states.
    piece : int

    Yields
    ------
    xyz : (n, 3) float array
        [the file's unit]
    ground : (n,) bool array
        Whether each is classed as ground.

    Raises
    ------
    InputError
        The decoder fails, ends, or takes far too long.
    """
    script = Path(__file__).with_name("laz_child.py")
    child = subprocess.Popen(
        [sys.executable, "-P", str(script), str(path.resolve()), str(piece), str(_MEMORY)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    assert child.stdout is not None
    late = threading.Timer(_SECONDS + points / _POINTS_A_SECOND, child.kill)
    late.start()
    read = 0
    try:
        while True:
            head = child.stdout.read(8)
            count = struct.unpack("<Q", head)[0] if len(head) == 8 else piece + 1
            if count == 0:
                break
            xyz = _array(child.stdout, 3 * count, "<f8") if count <= piece else None
            ground = None if xyz is None else _array(child.stdout, count, "u1")
            if xyz is None or ground is None:
                raise input_error(
                    f"its compressed points cannot be decoded beyond {read:,} of {points:,}",
                    "copy or export it again, or export it as LAS",
                    file=path,
                )
            read += count
            yield xyz.reshape(-1, 3).astype(np.float64), ground.astype(np.bool_)
    finally:
        late.cancel()
        with contextlib.suppress(OSError):
            child.kill()
        child.stdout.close()
        child.wait()


def _array(stream: IO[bytes], count: int, kind: str) -> np.ndarray | None:
    length = count * np.dtype(kind).itemsize
    data = stream.read(length)
    return np.frombuffer(data, dtype=kind) if len(data) == length else None
