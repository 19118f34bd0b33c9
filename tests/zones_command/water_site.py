"""An invented plane bed with a tank below it, laid out and joined in a second or two."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner, Result

from dripfield.cli import main

FALL = 0.08  # of the ground towards the south, a plane

TOML = """\
[site]
name = "Plane"
units = "ft"

[survey]
points = "survey.csv"

[bed]
boundary = "bed.csv"

[layout]
spacing = 2.0
edge_clearance = 1.0
method = "straight"

[design]
daily_flow = 200.0
loading_rate = 0.2
frost_depth = 1.0

[emitters]
spacing = 2.0
flow = 0.6
pressure_least = 10.0
pressure_most = 60.0

[tubing]
bore = 0.57
pressure_rating = 90.0

[zones]
count = 2
longest = 200.0
flush_velocity = 2.0

[supply]
route = "supply.csv"
pipe = "1-1/2 in"

[return]
route = "return.csv"
pipe = "1-1/2 in"

[pump]
curve = [[0.0, 110.0], [15.0, 95.0], [30.0, 40.0]]
level = 90.0
other_loss = [[10.0, 4.0], [30.0, 20.0]]
"""

METRIC = """\
[site]
name = "Plane in metres"
units = "m"

[survey]
points = "survey.csv"

[bed]
boundary = "bed.csv"

[layout]
spacing = 0.6
edge_clearance = 0.3
method = "straight"

[design]
daily_flow = 800.0
loading_rate = 8.0

[emitters]
spacing = 0.6
flow = 2.0
pressure_least = 70.0
pressure_most = 400.0

[tubing]
bore = 14.5

[zones]
count = 2
longest = 60.0
flush_velocity = 0.6

[supply]
route = "supply.csv"
bore = 40.0

[return]
route = "return.csv"
bore = 40.0

[pump]
curve = [[0.0, 34.0], [57.0, 29.0], [114.0, 12.0]]
level = 90.0
other_loss = []
"""


def write_site(folder: Path, toml: str = TOML, size: float = 1.0) -> Path:
    """A bed of 60 by 20 units times ``size`` with the tank to its south-west."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "site.toml").write_text(toml)
    corners = [(0, 0), (0, 60), (20, 60), (20, 0)]
    rows = "".join(f"{5000 + size * n},{2000 + size * e}\n" for n, e in corners)
    (folder / "bed.csv").write_text("northing,easting\n" + rows)
    shots = [
        f"{k},{5000 + size * n},{2000 + size * e},{100 + FALL * size * n:.4f},GS\n"
        for k, (n, e) in enumerate(((n, e) for n in range(-24, 33, 8) for e in range(-24, 81, 8)), 1)
    ]
    (folder / "survey.csv").write_text("".join(shots))
    write_route(folder / "supply.csv", [(-18, -14, 94.0), (-10, -6, 97.0), (8, -4, 99.0)], size)
    write_route(folder / "return.csv", [(-2, -3, 98.5), (-12, -8, 96.0), (-18, -12, 94.5)], size)
    return folder


def write_route(path: Path, points: list[tuple[float, float, float]], size: float = 1.0) -> None:
    """A route of (north, east, elevation) from the bed's corner."""
    rows = "".join(f"{5000 + size * n},{2000 + size * e},{z}\n" for n, e, z in points)
    path.write_text("northing,easting,elevation\n" + rows)


def without(table: str, toml: str = TOML) -> str:
    """The site file without one of its tables."""
    return re.sub(rf"\[{table}\]\n(?:(?!\[\w).*\n)*", "", toml)


def run(folder: Path, out: Path) -> Result:
    """The command run on a site folder."""
    return CliRunner().invoke(main, ["zones", str(folder), "--out", str(out)])


def rows(path: Path) -> list[dict[str, str]]:
    """A table as dictionaries."""
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@dataclass(frozen=True)
class Run:
    """A run that was made once: where it wrote and what it said."""

    site: Path
    out: Path
    result: Result

    def rows(self, name: str) -> list[dict[str, str]]:
        """One of its tables."""
        return rows(self.out / name)
