"""Bad input to the command: one line and nothing written, or a check that fails and exit 4."""

from __future__ import annotations

from pathlib import Path

import pytest
from water_site import TOML, rows, run, write_route, write_site


def refusal(site: Path, out: Path) -> str:
    """The one line that a bad site gives; nothing may be written."""
    result = run(site, out)
    assert result.exit_code == 2, result.output
    assert not out.exists()
    said = result.stderr.strip()
    assert "\n" not in said
    return said


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[15.0, 95.0]", "[15.0, 115.0]", "error: site.toml, [pump] curve[1]: the curve rises"),
        ("pressure_least = 10.0", "pressure_least = 70.0", "error: site.toml, [emitters] pressure"),
        ('pipe = "1-1/2 in"', 'pipe = "1-3/8 in"', "error: site.toml, [supply] pipe"),
        ("longest = 200.0", "longets = 200.0", "error: site.toml, [zones] longets"),
        ('"supply.csv"', '"supplies.csv"', "error: supplies.csv: "),
        ('"supply.csv"', '"../supply.csv"', "error: site.toml, [supply] route: "),
    ],
)
def test_keys(tmp_path: Path, old: str, new: str, said: str) -> None:
    site = write_site(tmp_path / "site", TOML.replace(old, new, 1))
    assert refusal(site, tmp_path / "out").startswith(said)


@pytest.mark.parametrize(
    ("file", "points", "said"),
    [
        (
            "supply.csv",
            [(-200, -200, 80.0), (-150, -150, 82.0)],
            "error: supply.csv, [supply] route: the supply line ends 212.1 from the bed",
        ),
        (
            "supply.csv",
            [(8, -4, 99.0), (-90, -60, 94.0)],
            "error: supply.csv, [supply] route: the supply line ends 108.2 from the bed (its other "
            "end is nearer: is it the wrong way round?)",
        ),
        (
            "return.csv",
            [(-2, -3, 98.5), (-90, -80, 94.0)],
            "error: return.csv, [return] route: the return line is ",
        ),
        (
            "supply.csv",
            [(-18, -14, 94.0)],
            "error: supply.csv: a pipe needs two different points",
        ),
        (
            "supply.csv",
            [(-18, -14, 94.0), (-5, 30, 95.0), (25, 30, 95.0), (10, -5, 98.0)],
            "error: supply.csv, [supply] route: the supply line crosses L01",
        ),
    ],
)
def test_routes(
    tmp_path: Path, file: str, points: list[tuple[float, float, float]], said: str
) -> None:
    site = write_site(tmp_path / "site")
    write_route(site / file, points)
    assert refusal(site, tmp_path / "out").startswith(said)


def test_a_route_without_elevations(tmp_path: Path) -> None:
    site = write_site(tmp_path / "site")
    (site / "supply.csv").write_text("northing,easting\n5000,1990\n5002,1995\n")
    assert refusal(site, tmp_path / "out") == (
        "error: supply.csv, row 1: the header has no column 'elevation'; write "
        "northing,easting,elevation as the first line"
    )


def test_a_weak_pump_fails_with_the_files_written(tmp_path: Path) -> None:
    curve = "curve = [[0.0, 110.0], [15.0, 95.0], [30.0, 40.0]]"
    site = write_site(tmp_path / "site", TOML.replace(curve, "curve = [[0.0, 9.0], [15.0, 4.0]]"))
    result = run(site, tmp_path / "out")
    assert result.exit_code == 4
    assert result.output.startswith("Plane: fail: ")
    failed = [one for one in rows(tmp_path / "out" / "checks.csv") if one["verdict"] == "fail"]
    assert any("pump reaches its duty" in one["requirement"] for one in failed) or any(
        "least pressure" in one["requirement"] for one in failed
    )
    assert (tmp_path / "out" / "zones.pdf").stat().st_size > 0
