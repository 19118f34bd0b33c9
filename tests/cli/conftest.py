"""A small invented site for the command line: a convex slope with a rock in the bed."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture
def site_folder(tmp_path: Path) -> Path:
    """A site of some dozen laterals that ``contour`` fits, while ``straight`` leaves level."""
    folder = tmp_path / "site"
    folder.mkdir()
    (folder / "site.toml").write_text(
        '[site]\nname = "Convex"\nunits = "ft"\n[survey]\npoints = "survey.csv"\n'
        '[bed]\nboundary = "bed.csv"\n'
        '[layout]\nspacing = 2.0\nmethod = "contour"\nspacing_tolerance = 0.05\n'
    )
    shots = [
        f"{10 * i + j},{5000 + 10 * i},{2000 + 10 * j},{elevation(10.0 * i, 10.0 * j):.2f},GS"
        for i in range(6)
        for j in range(10)
    ]
    (folder / "survey.csv").write_text(
        "point,northing,easting,elevation,description\n" + "\n".join(shots) + "\n"
    )
    (folder / "bed.csv").write_text(
        "northing,easting\n5010,2010\n5010,2080\n5040,2080\n5040,2010\n"
    )
    return folder


def elevation(north: float, east: float) -> float:
    """A slope that steepens uphill by half across the bed and bends sideways a little."""
    return 100.0 + 0.10 * north + 0.001 * north**2 + 0.0012 * (east - 45.0) ** 2
