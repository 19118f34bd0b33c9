"""The same site gives the same bytes, whatever the processes that write them, and how many."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from dripfield.core.cores import CORES


def lay_out(site: Path, out: Path, seed: str, cores: str) -> dict[str, bytes]:
    """Lay out a sample in a process of its own."""
    subprocess.run(
        [sys.executable, "-m", "dripfield", "layout", str(site), "--out", str(out)],
        check=True,
        capture_output=True,
        env={**os.environ, "PYTHONHASHSEED": seed, "TZ": f"UTC{seed}", CORES: cores},
        timeout=120,
    )
    return {path.name: path.read_bytes() for path in sorted(out.iterdir())}


def test_layout_twice(root: Path, tmp_path: Path) -> None:
    site = root / "sample_sites" / "terrace"
    first = lay_out(site, tmp_path / "first", "1", cores="1")
    again = lay_out(site, tmp_path / "again", "7", cores="8")
    assert {"laterals.csv", "plan.png", "stakes.csv", "staking.dxf"} <= set(first)
    assert set(first) == set(again)
    assert [file for file in first if first[file] != again[file]] == []
