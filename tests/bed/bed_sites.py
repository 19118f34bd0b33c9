"""Site folders of invented data for the tests of the bed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.site.model import Site
from dripfield.site.reader import read_site

RECTANGLE = ((0.0, 0.0), (60.0, 0.0), (60.0, 20.0), (0.0, 20.0))  # easting, northing


def write_site(
    folder: Path,
    section: str,
    height: Callable[[Floats, Floats], Floats],
    *,
    ring: tuple[tuple[float, float], ...] = RECTANGLE,
    around: float = 40.0,
    step: float = 10.0,
    at: tuple[float, float] = (5000.0, 9000.0),
    more: str = "",
    units: str = "ft",
) -> Site:
    """Write and read a site: shots on a grid of ``height`` about a bed's ring.

    ``at`` is added to every coordinate (easting, northing); ``height`` is called without it.
    """
    folder.mkdir(parents=True, exist_ok=True)
    corners = np.array(ring)
    low, high = corners.min(axis=0) - around, corners.max(axis=0) + around
    x, y = (np.arange(low[k], high[k] + 0.5 * step, step) for k in (0, 1))
    east, north = (part.ravel() for part in np.meshgrid(x, y))
    shots = np.column_stack((east, north, height(east, north)))
    write_shots(folder / "survey.csv", shots + np.array((*at, 0.0)))
    rows = [f"{n + at[1]},{e + at[0]}" for e, n in ring]
    (folder / "bed.csv").write_text("\n".join(("northing,easting", *rows)) + "\n")
    (folder / "site.toml").write_text(
        f'[site]\nname = "Test bed"\nunits = "{units}"\n\n'
        '[survey]\npoints = "survey.csv"\n\n'
        f'[bed]\nboundary = "bed.csv"\n\n[bed.section]\n{section}\n\n'
        f"[layout]\nspacing = 2.0\nedge_clearance = 1.0\n{more}\n"
    )
    return read_site(folder)


def write_shots(path: Path, xyz: Floats) -> None:
    """Write points (k, 3) of easting, northing, elevation as PNEZD."""
    rows = (f"{i},{n!r},{e!r},{z!r},GS" for i, (e, n, z) in enumerate(xyz.tolist(), 1))
    path.write_text("point,northing,easting,elevation,description\n" + "\n".join(rows) + "\n")
