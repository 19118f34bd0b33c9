"""What the tests of ``prepare`` share: a command as typed, and a plain site in feet."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner, Result

from dripfield.cli import main

SAMPLES = Path(__file__).parents[2] / "sample_sites"
_SITE = """\
[site]
name = "Plane"
units = "ft"

[survey]
points = "survey.csv"

[bed]
boundary = "bed.csv"

[layout]
spacing = 3.0
method = "straight"
"""


def run(*words: str | Path) -> Result:
    """A command as typed."""
    return CliRunner().invoke(main, [str(word) for word in words])


def make_site(folder: Path, more: str = "") -> Path:
    """A bed of 60 by 20 ft on an even slope; coordinates and ground are invented."""
    folder.mkdir()
    (folder / "site.toml").write_text(_SITE + more)
    corners = [(7000 + n, 4000 + e) for n, e in ((0, 0), (0, 60), (20, 60), (20, 0))]
    (folder / "bed.csv").write_text(
        "northing,easting\n" + "".join(f"{n},{e}\n" for n, e in corners)
    )
    places = [(n, e) for n in range(-8, 29, 4) for e in range(-8, 69, 4)]
    shots = [
        f"{i},{7000 + n},{4000 + e},{100 + 0.1 * n:.3f},GS\n" for i, (n, e) in enumerate(places, 1)
    ]
    (folder / "survey.csv").write_text("".join(shots))
    return folder
