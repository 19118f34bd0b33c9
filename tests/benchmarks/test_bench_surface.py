"""The surface benchmark runs, at a small size; its figures are not judged."""

from __future__ import annotations

import runpy
from pathlib import Path


def test_runs_at_a_small_size(capsys):
    runpy.run_path(str(Path(__file__).with_name("bench_surface.py")))["main"](2_000, (60,), 100)
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 7
    assert lines[0].startswith("2,000 points triangulated in ")
    assert all(" ratio " in line for line in lines)
