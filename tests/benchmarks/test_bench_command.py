"""The benchmark of the whole command runs, at a small size; its figures are not judged."""

from __future__ import annotations

import runpy
from pathlib import Path


def test_runs_at_a_small_size(capsys):
    bench = runpy.run_path(str(Path(__file__).with_name("bench_command.py")))
    bench["main"]((300,), (1.2,), (40.0, 30.0), 2_000)
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 2
    assert lines[0].startswith("house: ")
    assert lines[1].startswith("300 shots, 1.2 times the bed: ")
    assert all(" ratio " in line and line.endswith(" GB") for line in lines)
