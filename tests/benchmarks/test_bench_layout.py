"""The layout benchmark runs on a bed, draws it, and its beds are as they should be."""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np
import pytest
from shapely import box, contains_xy

FOLDER = Path(__file__).parent


@pytest.fixture(scope="module")
def bench():
    return runpy.run_path(str(FOLDER / "bench_layout.py"))


def test_runs_on_one_bed(bench, capsys, tmp_path):
    bench["main"](["plane"], tmp_path / "beds.png", growth=False)
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines[1:5]] == ["bed", "plane", "mean", "least"]
    assert lines[2].split()[1:4] == lines[4].split()[1:4]  # the least of one is that one
    assert lines[5].startswith("1 beds; panels by balanced: mean 1.00, most 1; ")
    assert " times the import of matplotlib " in lines[6]
    assert (tmp_path / "beds.png").read_bytes().startswith(b"\x89PNG")


def test_a_bed_by_another_name_is_refused(bench):
    with pytest.raises(SystemExit, match=r"no such bed; there are: plane, cone, "):
        bench["main"](["no bed"])


def test_beds(bench):
    beds = bench["all_beds"]()
    assert len({bed.name for bed in beds}) == len(beds) >= 28
    for bed in beds:
        reach = box(*np.concatenate((bed.shots[:, :2].min(axis=0), bed.shots[:, :2].max(axis=0))))
        assert reach.buffer(-8.0).contains(bed.boundary), bed.name
        noise = 0.15 if bed.name.startswith("noisy") else 0.0051  # rounded to the hundredth
        assert np.abs(bed.shots[:, 2] - bed.truth(bed.shots[:, :2])).max() < noise, bed.name
        slope = np.hypot(*bench["TrueGround"](bed).gradient(inside(bed)).T)
        assert np.mean((slope > 0.03) & (slope < 0.25)) > 0.9, bed.name


def inside(bed):
    west, south, east, north = bed.boundary.bounds
    x, y = np.meshgrid(np.linspace(west, east, 40), np.linspace(south, north, 40))
    places = np.column_stack((x.ravel(), y.ravel()))
    return places[contains_xy(bed.boundary, places)]
