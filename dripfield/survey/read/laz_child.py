"""Run as a script of its own: decodes compressed points and writes them to standard output.

A decoder given noise may ask for any amount of memory or end the process. In a process of its own
that ends nothing but itself. For each piece: how many points, their coordinates, and for each
whether it is classed as ground.
"""

from __future__ import annotations

import struct
import sys
from pathlib import Path

GROUND = 2


def main(path: Path, piece: int, memory: int) -> None:
    """Decode a file piece by piece in a bounded amount of memory [bytes].

    Parameters
    ----------
    path : Path
    piece : int
        Points decoded at a time.
    memory : int
        Limit of the process [bytes].
    """
    try:
        import resource

        resource.setrlimit(resource.RLIMIT_DATA, (memory, memory))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    except (ImportError, OSError, ValueError):
        pass
    import laspy
    import numpy as np

    out = sys.stdout.buffer
    with path.open("rb") as stream:
        reader = laspy.open(stream, closefd=False, read_evlrs=False)
        for points in reader.chunk_iterator(piece):
            xyz = np.column_stack((points.x, points.y, points.z)).astype("<f8")
            out.write(struct.pack("<Q", len(xyz)))
            out.write(xyz.tobytes())
            out.write((np.asarray(points.classification) == GROUND).astype(np.uint8).tobytes())
    out.write(struct.pack("<Q", 0))
    out.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
