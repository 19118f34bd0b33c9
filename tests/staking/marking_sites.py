"""Small sites in memory for the tests of marks: a nose, a cone with a rock, a plane."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from shapely import Polygon, box

from dripfield.core.units import Unit
from dripfield.design.lay_out import lay_out
from dripfield.design.model import Design
from dripfield.ground.ground import Ground
from dripfield.ground.triangles.tin import Surface
from dripfield.site.model import Bed, Site
from dripfield.site.reader import layout_settings
from dripfield.site.schema.bed import BedTable
from dripfield.site.schema.crew import Benchmark
from dripfield.site.schema.layout import LayoutTable
from dripfield.site.schema.site import SiteFile, SiteTable
from dripfield.site.schema.survey import SurveyTable
from dripfield.staking.method import alternatives, field_method
from dripfield.staking.model import FieldPlan
from dripfield.survey.shots import Survey

EAST, NORTH = 2_100_000.0, 650_000.0  # the size of state-plane coordinates

HEIGHTS: dict[str, Callable[[np.ndarray, np.ndarray], np.ndarray]] = {
    "nose": lambda x, y: 0.10 * y - 0.0010 * (x - 40.0) ** 2,
    "rock": lambda x, y: 12.0 - 0.10 * np.hypot(x - 40.0, y - 120.0),
    "plane": lambda x, y: 0.08 * y + 0.02 * x,
}


@cache
def made(name: str, units: str = "ft") -> Design:
    """A site of 80 x 50, laid out; ``rock`` has a keepout in the middle."""
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
    site = Site(Path("."), file, unit, layout_settings(file.layout, unit), bed)
    return lay_out(site, Ground(site, survey, survey, Surface.from_points(shots)))


@cache
def planned(name: str) -> FieldPlan:
    """The field plan of a site, guide lines by instrument."""
    return field_method(made(name))


@cache
def ways(name: str) -> dict[str, FieldPlan]:
    """The plans of every way of working on a site."""
    return alternatives(made(name))
