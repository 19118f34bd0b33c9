"""A plane bed with straight laterals: every length, elevation and distance is known by hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon

import dripfield
from dripfield.bed.design import laying_surface
from dripfield.design.model import Design, design_of
from dripfield.layout.model import Lateral, Layout
from dripfield.review.model.limits import review_limits
from dripfield.site.model import Site

ORIGIN = np.array((1_500_000.0, 600_000.0))  # invented, of the size of state plane coordinates
BED = np.array([(0.0, 0.0), (90.0, 0.0), (104.0, 22.0), (70.0, 40.0), (6.0, 36.0)])
FALL = 0.08  # rise to the north; the ground is 100 + 0.08 (north - 600,000)
SITE = """\
[site]
name = "Test Plane"
units = "{unit}"

[survey]
points = "survey.csv"

[bed]
boundary = "bed.csv"

[layout]
spacing = 2.0
edge_clearance = 1.0
method = "straight"
level_tolerance = 0.10
"""
REFERENCES = """
[[review.references]]
name = "REF-A"
northing = 599990.0
easting = 1500020.0
description = "corner of the house"

[[review.references]]
name = "REF-B"
northing = 599985.0
easting = 1500110.0
"""


def elevation(northing: float) -> float:
    """Of the plane."""
    return 100.0 + FALL * (northing - ORIGIN[1])


def write_site(folder: Path, unit: str = "ft", more: str = "", shift: float = 0.0) -> Path:
    """A site folder over the plane; ``shift`` moves the bed's first corner north."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "site.toml").write_text(SITE.format(unit=unit) + more, encoding="utf-8")
    bed = BED + ORIGIN
    bed[0, 1] += shift
    rows = "".join(f"{north},{east}\n" for east, north in bed)
    (folder / "bed.csv").write_text("northing,easting\n" + rows, encoding="utf-8")
    shots = ["point,northing,easting,elevation,description\n"]
    number = 1
    for east in np.arange(-15.0, 125.1, 10.0):
        for north in np.arange(-15.0, 55.1, 10.0):
            y = ORIGIN[1] + north
            shots.append(f"{number},{y},{ORIGIN[0] + east},{elevation(y):.4f},GS\n")
            number += 1
    (folder / "survey.csv").write_text("".join(shots), encoding="utf-8")
    return folder


def plane_layout(bed: Polygon, spacing: float = 2.0, clearance: float = 1.0) -> Layout:
    """Straight laterals due east, from the north edge down."""
    area = bed.buffer(-clearance)
    x0, y0, x1, y1 = area.bounds
    laterals = []
    for north in np.arange(y1 - 0.5, y0, -spacing):
        line = area.intersection(LineString([(x0 - 1.0, north), (x1 + 1.0, north)]))
        if line.length >= 5.0:
            name = f"L{len(laterals) + 1:02d}"
            xy = shapely.get_coordinates(line)
            laterals.append(Lateral(name, "A", xy[np.argsort(xy[:, 0])], elevation(north)))
    return Layout("straight", tuple(laterals), area, {"A": area})


def plane_design(site: Site) -> Design:
    """A plane site with its straight laterals, measured."""
    ground = dripfield.build_ground(site)
    surface = laying_surface(site, ground.surface)
    return design_of(ground, surface, plane_layout(site.bed.boundary))


@pytest.fixture
def plane(tmp_path: Path) -> Callable[..., SimpleNamespace]:
    """Makes a plane site with its layout, measures and limits."""

    def make(unit: str = "ft", more: str = "", name: str = "plane") -> SimpleNamespace:
        site = dripfield.read_site(write_site(tmp_path / name, unit, more))
        design = plane_design(site)
        return SimpleNamespace(
            design=design,
            site=site,
            ground=design.ground,
            surface=design.surface,
            layout=design.layout,
            measured=design.measured,
            limits=review_limits(site),
            folder=site.folder,
        )

    return make


@pytest.fixture
def references() -> str:
    return REFERENCES


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., SimpleNamespace]:
    """Runs a command line over plane sites, laid out straight; paths are those in ``tmp_path``."""
    from click.testing import CliRunner

    from dripfield.cli import main

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("dripfield.review.jobs.lay_out", plane_design)

    def run(*arguments: str) -> SimpleNamespace:
        result = CliRunner().invoke(main, list(arguments))
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return SimpleNamespace(
            code=result.exit_code, out=result.stdout, error=result.stderr.removesuffix("\n")
        )

    return run


@pytest.fixture
def site_writer() -> Callable[..., Path]:
    return write_site
