"""The reading benchmark runs, at a small size; its figures are not judged."""

from __future__ import annotations

import runpy
from pathlib import Path


def test_runs_at_a_small_size(capsys):
    runpy.run_path(str(Path(__file__).with_name("bench_read.py")))["main"](3_000, 20_000)
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 3
    assert lines[0].startswith("cloud of 20,000 points thinned to ")
    assert lines[2].startswith("3,000 points: read ")
