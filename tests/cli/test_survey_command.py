"""``dripfield survey``: its figures against independent ones, its files, its refusals."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from click.testing import CliRunner, Result
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import cKDTree

from dripfield.cli import main

SITE = """\
[site]
name = "Upper Meadow"
units = "ft"
[survey]
points = "survey.csv"
{survey}
[bed]
boundary = "bed.csv"
[layout]
spacing = 2.0
level_tolerance = 0.10
"""
BED = [(5020.0, 2020.0), (5020.0, 2140.0), (5090.0, 2130.0), (5080.0, 2020.0)]  # northing, easting


def _shots() -> np.ndarray:
    """Easting, northing, elevation of 130 shots on a gentle bowl, to 0.01 ft."""
    rng = np.random.default_rng(21)
    east, north = np.meshgrid(np.arange(2000.0, 2170.0, 13.0), np.arange(5000.0, 5115.0, 13.0))
    xy = np.column_stack((east.ravel(), north.ravel())) + rng.normal(0.0, 2.0, (east.size, 2))
    dx, dy = xy[:, 0] - 2080.0, xy[:, 1] - 5050.0
    z = 100.0 + 0.08 * dy + (dx**2 + dy**2) / 1200.0 + rng.normal(0.0, 0.02, len(xy))
    return np.round(np.column_stack((xy, z)), 2)


def _write(folder: Path, shots: np.ndarray, survey: str = "") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "site.toml").write_text(SITE.format(survey=survey))
    with (folder / "survey.csv").open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["point", "northing", "easting", "elevation", "description"])
        for i, (east, north, z) in enumerate(shots, start=1):
            rows.writerow([i, f"{north:.2f}", f"{east:.2f}", f"{z:.2f}", "GS"])
    (folder / "bed.csv").write_text(
        "northing,easting\n" + "".join(f"{north},{east}\n" for north, east in BED)
    )
    return folder


def _run(site: Path, out: Path, *options: str) -> Result:
    return CliRunner().invoke(main, ["survey", str(site), "--out", str(out), *options])


def _report(site: Path, out: Path, *options: str) -> dict[str, Any]:
    result = _run(site, out, *options)
    assert result.exit_code == 0, result.output
    assert sorted(path.name for path in out.iterdir()) == ["survey.json", "survey.png"]
    return json.loads((out / "survey.json").read_text(encoding="utf-8"))


@pytest.fixture
def meadow(tmp_path: Path) -> Path:
    return _write(tmp_path / "site", _shots())


def test_figures_against_scipy(meadow: Path, tmp_path: Path) -> None:
    """Counts, spacing and leave-one-out error worked out again with SciPy and shapely."""
    shots = _shots()
    found = _report(meadow, tmp_path / "out")
    bed = shapely.Polygon([(east, north) for north, east in BED])
    inside = shapely.intersects_xy(bed, shots[:, :2])
    residual = np.array(
        [
            shots[i, 2]
            - LinearNDInterpolator(np.delete(shots[:, :2], i, 0), np.delete(shots[:, 2], i))(
                shots[i : i + 1, :2]
            )[0]
            for i in range(len(shots))
        ]
    )
    residual = np.abs(residual[np.isfinite(residual)])
    nearest = cKDTree(shots[:, :2]).query(shots[inside, :2], k=2)[0][:, 1]
    assert found["unit"] == "ft"
    assert found["points_in_bed"] == inside.sum()
    assert found["median_spacing"] == pytest.approx(np.median(nearest), abs=1e-4)
    assert found["leave_one_out_count"] == len(residual)
    assert found["leave_one_out_rms"] == pytest.approx(np.sqrt((residual**2).mean()), abs=1e-4)
    assert found["leave_one_out_p90"] == pytest.approx(np.percentile(residual, 90.0), abs=1e-4)
    assert found["half_interval_rule_contour_interval"] == pytest.approx(
        2.0 * np.percentile(residual, 90.0), abs=2e-4
    )
    assert found["suspect_points"] == []
    assert found["coverage_gaps"] == []


def test_slope_and_aspect_of_a_plane(tmp_path: Path) -> None:
    """Rising 6 in 100 to the north and 8 in 100 to the east: 10 %, falling toward 233 degrees."""
    shots = _shots()
    shots[:, 2] = 50.0 + 0.08 * (shots[:, 0] - 2000.0) + 0.06 * (shots[:, 1] - 5000.0)
    found = _report(_write(tmp_path / "site", shots), tmp_path / "out")
    assert found["slope"] == pytest.approx(0.10, abs=2e-4)
    assert found["aspect"] == pytest.approx(180.0 + np.degrees(np.arctan2(8.0, 6.0)), abs=0.2)
    assert found["holds_tolerance"] is True


def test_gaps_suspects_and_exclusion(tmp_path: Path) -> None:
    shots = _shots()
    hole = np.hypot(shots[:, 0] - 2060.0, shots[:, 1] - 5050.0) < 55.0
    kept = shots[~hole & (shots[:, 0] < 2130.0)]
    middle = int(np.argmin(np.abs(kept[:, :2] - (2120.0, 5030.0)).sum(axis=1)))
    kept[middle, 2] += 1.5
    name = str(middle + 1)
    site = _write(tmp_path / "site", kept)
    found = _report(site, tmp_path / "out")
    assert {gap["kind"] for gap in found["coverage_gaps"]} == {"outside", "sparse"}
    assert found["suspect_points"] == [name]
    assert found["suspects"][0]["residual"] == pytest.approx(1.5, abs=0.2)
    assert "Without the suspect shot, shots" in found["verdict"]
    assert len(found["more_shots"]) >= len(found["coverage_gaps"])

    _write(site, kept, f'exclude = [{{point = "{name}", reason = "wrong rod"}}]')
    again = _report(site, tmp_path / "again")
    assert again["suspect_points"] == []
    assert again["points"] == found["points"] - 1
    assert again["points_in_bed"] == found["points_in_bed"] - 1
    row = middle + 2
    assert again["notes"] == [f"point {name} (row {row}) excluded: wrong rod"]


def test_what_the_terminal_says(meadow: Path, tmp_path: Path) -> None:
    result = _run(meadow, tmp_path / "out")
    found = json.loads((tmp_path / "out" / "survey.json").read_text())
    words = " ".join(result.output.split())
    assert found["verdict"] in words
    assert "Upper Meadow: survey, lengths in ft (international)" in words
    assert "Leave-one-out error, 9 in 10 within" in words


def test_same_bytes_again(meadow: Path, tmp_path: Path) -> None:
    for out in ("one", "two"):
        _report(meadow, tmp_path / out)
    for name in ("survey.json", "survey.png"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_strict_exits_3_when_the_tolerance_is_missed(tmp_path: Path) -> None:
    shots = _shots()
    shots[:, 2] += np.random.default_rng(1).normal(0.0, 0.3, len(shots))
    site = _write(tmp_path / "site", shots)
    assert _run(site, tmp_path / "lax").exit_code == 0
    assert _run(site, tmp_path / "out", "--strict").exit_code == 3
    assert (tmp_path / "out" / "survey.png").stat().st_size > 10_000


def test_refusals_write_nothing(meadow: Path, tmp_path: Path) -> None:
    lines = (meadow / "survey.csv").read_text().splitlines()
    _, north, east, z, _ = lines[5].split(",")
    lines.append(f"999,{north},{east},{float(z) + 1.0:.2f},GS")
    (meadow / "survey.csv").write_text("\n".join(lines) + "\n")
    result = _run(meadow, tmp_path / "out")
    assert result.exit_code == 2
    assert result.stderr == (
        f"error: survey.csv, row {len(lines)}: point 999 lies 0.00 ft from point 5 (row 6) but its "
        f"elevation is {float(z) + 1.0:.2f} against {float(z):.2f}; delete or exclude the wrong "
        "one (shots within 0.05 ft are averaged only when they agree within 0.1 ft)\n"
    )
    assert not (tmp_path / "out").exists()


def test_few_shots_and_a_flat_survey_are_reported(tmp_path: Path) -> None:
    corners = np.array([[2000, 5000, 9.0], [2150, 5000, 9.0], [2150, 5100, 9.0], [2000, 5100, 9.0]])
    found = _report(_write(tmp_path / "site", corners), tmp_path / "out")
    assert found["aspect"] is None
    assert found["shot_scatter"] is None
    assert found["leave_one_out_rms"] is None
