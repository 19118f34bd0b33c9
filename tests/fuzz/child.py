"""Work done in a child process with bounded memory, so that whatever it breaks is only itself."""

from __future__ import annotations

import os
import resource
import tempfile
import traceback
from collections.abc import Callable
from pathlib import Path

MEMORY = 3_000_000_000  # bytes beyond what the parent holds


def in_child(work: Callable[[Path], None]) -> str:
    """Run ``work`` with a folder of its own in a forked child; empty, or what went wrong."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        child = os.fork()
        if child == 0:
            try:
                whole = int(Path("/proc/self/statm").read_text().split()[0]) * os.sysconf(
                    "SC_PAGE_SIZE"
                )
                resource.setrlimit(resource.RLIMIT_AS, (whole + MEMORY,) * 2)
                resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
                work(folder)
            except BaseException:
                (folder / "found.txt").write_text(traceback.format_exc())
            finally:
                os._exit(0)
        status = os.waitpid(child, 0)[1]
        found = folder / "found.txt"
        if found.exists():
            return found.read_text()
        return f"ended by signal {status & 127}" if status else ""
