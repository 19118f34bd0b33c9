"""Many sites: one bad one stops no other, a second run does nothing, a cluster gives the same."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from dripfield.cli import main
from dripfield.outputs.batch import batch_site, run_batch, sites_below

_MEADOW = Path(__file__).parents[2] / "sample_sites" / "meadow"


@pytest.fixture
def sites(tmp_path: Path) -> Path:
    """Two good sites, one of them a folder deeper, and a bad one."""
    folder = tmp_path / "sites"
    shutil.copytree(_MEADOW, folder / "meadow")
    shutil.copytree(_MEADOW, folder / "north" / "meadow")
    shutil.copytree(_MEADOW, folder / "bad")
    (folder / "bad" / "survey.csv").write_text("1,2\n")
    return folder


def rows(out: Path) -> list[dict[str, str]]:
    with (out / "batch.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_a_bad_site_stops_no_other_and_nothing_is_done_twice(sites: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    first = CliRunner().invoke(main, ["batch", str(sites), "--out", str(out), "--jobs", "2"])
    assert first.exit_code == 4, first.output
    table = rows(out)
    assert [row["site"] for row in table] == ["bad", "meadow", "north/meadow"]
    assert [row["status"] for row in table] == ["failed", "laid out", "laid out"]
    assert "survey.csv" in table[0]["message"]
    assert not (out / "bad").exists()
    with (out / "meadow" / "laterals.csv").open(encoding="utf-8") as stream:
        laterals = list(csv.DictReader(stream))
    assert int(table[1]["laterals"]) == len(laterals)
    total = sum(float(row["length"]) for row in laterals)
    assert float(table[1]["tubing"]) == pytest.approx(total, abs=0.01 * len(laterals))

    before = (out / "batch.csv").read_bytes()
    drawing = out / "meadow" / "staking.dxf"
    when = drawing.stat().st_mtime_ns
    (sites / "north" / "meadow" / "bed.csv").open("a").write("\n")
    late = (out / "north" / "meadow" / "staking.dxf").stat().st_mtime_ns
    CliRunner().invoke(main, ["batch", str(sites), "--out", str(out), "--jobs", "1"])
    assert (out / "batch.csv").read_bytes() == before
    assert drawing.stat().st_mtime_ns == when
    assert (out / "north" / "meadow" / "staking.dxf").stat().st_mtime_ns > late


def test_a_folder_without_sites_is_refused(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["batch", str(tmp_path), "--out", str(tmp_path / "out")])
    assert result.exit_code == 2
    assert "no folder below it holds a site.toml" in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_cluster_gives_the_same(sites: Path, tmp_path: Path) -> None:
    """The same function over a local Dask cluster."""
    distributed = pytest.importorskip("distributed")
    here, there = tmp_path / "here", tmp_path / "there"
    names = sites_below(sites, here)
    expected = sorted(run_batch(sites, names, here, 2), key=lambda one: one.site)
    count = len(names)
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        jobs = client.map(batch_site, [str(sites)] * count, names, [str(there)] * count, pure=False)
        found = client.gather(jobs)
    assert found == expected
    assert (here / "meadow" / "stakes.csv").read_bytes() == (
        there / "meadow" / "stakes.csv"
    ).read_bytes()
