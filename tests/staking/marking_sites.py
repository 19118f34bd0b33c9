"""Small sites in memory for the tests of marks: a nose, a cone with a rock, a plane."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from shapely import Polygon, box

from dripfield.choose import lay_out
from dripfield.layout.model import Layout
from dripfield.site.crew import Benchmark
from dripfield.site.model import Bed, BedTable, LayoutTable, Site, SiteFile, SiteTable
from dripfield.site.reader import layout_rules
from dripfield.staking.method import alternatives, field_method
from dripfield.staking.model import FieldPlan
from dripfield.surface.tin import Surface
from dripfield.survey.options import SurveyTable
from dripfield.survey.shots import Survey
from dripfield.units import Unit

EAST, NORTH = 2_100_000.0, 650_000.0  # the size of state-plane coordinates

HEIGHTS: dict[str, Callable[[np.ndarray, np.ndarray], np.ndarray]] = {
    "nose": lambda x, y: 0.10 * y - 0.0010 * (x - 40.0) ** 2,
    "rock": lambda x, y: 12.0 - 0.10 * np.hypot(x - 40.0, y - 120.0),
    "plane": lambda x, y: 0.08 * y + 0.02 * x,
}


@cache
def made(name: str, units: str = "ft") -> tuple[Site, Layout, Surface]:
    """A site of 80 x 50, its layout and its ground; ``rock`` has a keepout in the middle."""
    x, y = (a.ravel() for a in np.meshgrid(np.arange(-8.0, 90.0, 8.0), np.arange(-8.0, 60.0, 8.0)))
    shots = np.column_stack((x + EAST, y + NORTH, 100.0 + HEIGHTS[name](x, y)))
    names = tuple(map(str, range(1, len(shots) + 1)))
    texts = ["GS"] * len(shots)
    texts[0] = "iron pin"
    survey = Survey(shots, names, tuple(texts), np.arange(len(shots)) + 1, Path("survey.csv"))
    unit = Unit(units)
    file = SiteFile(
        site=SiteTable(name=name, units=units),
        survey=SurveyTable(points="survey.csv"),
        bed=BedTable(boundary="bed.csv"),
        layout=LayoutTable(spacing=2.0),
        benchmark=Benchmark(name="BM", elevation=104.0, northing=NORTH + 60.0, easting=EAST - 10.0),
    )
    rock = Polygon([(EAST + a, NORTH + b) for a, b in ((34, 20), (44, 22), (42, 30), (35, 28))])
    bed = Bed(box(EAST, NORTH, EAST + 80.0, NORTH + 50.0), (rock,) if name == "rock" else ())
    site = Site(Path("."), file, unit, layout_rules(file.layout, unit), survey, bed)
    ground = Surface.from_points(shots)
    return site, lay_out(site, ground), ground


@cache
def planned(name: str) -> FieldPlan:
    """The field plan of a site, guide lines by instrument."""
    return field_method(*made(name))


@cache
def ways(name: str) -> dict[str, FieldPlan]:
    """The plans of every way of working on a site."""
    return alternatives(*made(name))
