"""An invented site on a plane that falls 10 % to the south, written file by file."""

from __future__ import annotations

from pathlib import Path

import pytest

SETTINGS = """\
[site]
name = "Plane"
units = "ft"

[survey]
points = "survey.csv"

[bed]
boundary = "bed.csv"
keepouts = ["rock.csv"]

[layout]
spacing = 2.0
edge_clearance = 1.0
method = "contour"
"""


def plane_rows(count: int = 8, north0: float = 5000.0, east0: float = 2000.0) -> list[str]:
    """Shots every 20 ft of a plane falling 10 % to the south, as PNEZD rows."""
    return [
        f"{i * count + j + 1},{north0 + 20 * i:.2f},{east0 + 20 * j:.2f},{100 + 2.0 * i:.2f},GS"
        for i in range(count)
        for j in range(count)
    ]


def ring(*corners: tuple[float, float]) -> str:
    """A ring file of (northing, easting) corners."""
    return "northing,easting\n" + "".join(f"{n},{e}\n" for n, e in corners)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A site folder that is accepted: tests spoil one file each."""
    site = tmp_path / "site"
    site.mkdir()
    (site / "site.toml").write_text(SETTINGS)
    header = "point,northing,easting,elevation,description"
    (site / "survey.csv").write_text("\n".join([header, *plane_rows()]) + "\n")
    (site / "bed.csv").write_text(ring((5020, 2020), (5020, 2120), (5080, 2120), (5080, 2020)))
    (site / "rock.csv").write_text(ring((5040, 2060), (5040, 2070), (5050, 2065)))
    return site
