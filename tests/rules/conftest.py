"""A layout of given laterals on given ground, held against named rules."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec
import numpy as np
import pytest
from shapely import box

from dripfield.core.units import Unit
from dripfield.design.model import design_of
from dripfield.ground.ground import Ground
from dripfield.ground.laying import LayingSurface
from dripfield.layout.model import Lateral, Layout
from dripfield.rules import Finding, SystemFacts, check_rules, facts_of
from dripfield.site.model import Bed, Site
from dripfield.site.reader import layout_settings
from dripfield.site.schema.site import SiteFile
from dripfield.survey.shots import Survey


class Plane:
    """z = 100 + east x + north y."""

    def __init__(self, north: float = 0.1, east: float = 0.0) -> None:
        self.east, self.north = east, north

    def elevation(self, xy):
        return 100.0 + xy @ np.array((self.east, self.north))

    def gradient(self, xy):
        return np.tile((self.east, self.north), (len(xy), 1))


class Cone:
    """z = 100 + slope r: a hollow that falls toward the origin; a nose where slope is negative."""

    def __init__(self, slope: float) -> None:
        self.slope = slope

    def elevation(self, xy):
        return 100.0 + self.slope * np.hypot(*xy.T)

    def gradient(self, xy):
        return self.slope * xy / np.hypot(*xy.T)[:, None]


@pytest.fixture
def plane() -> type[Plane]:
    return Plane


@pytest.fixture
def cone() -> type[Cone]:
    return Cone


@pytest.fixture
def row() -> Callable[..., Lateral]:
    """``row(y, length)``: a straight lateral running east, set at the height ``z``."""

    def make(y, length=100.0, z=None, name="L01", panel="A", north=0.1) -> Lateral:
        height = 100.0 + north * y if z is None else z
        return Lateral(name, panel, np.array(((0.0, y), (length, y))), height)

    return make


@pytest.fixture
def findings() -> Callable[..., dict[str, Finding]]:
    """``findings(names, laterals, ground, **tables)``: findings by rule."""

    def run(
        names, laterals, ground, *, units="ft", bed=None, system=None, **tables
    ) -> dict[str, Finding]:
        default = {"spacing": 0.6 if units == "m" else 2.0}
        content = {
            "site": {"name": "x", "units": units},
            "survey": {"points": "survey.csv"},
            "bed": {"boundary": "bed.csv"} | tables.pop("bed_table", {}),
            "layout": default | tables.pop("layout", {}),
            "rules": {"check": names} | tables.pop("rules", {}),
        } | tables
        file = msgspec.convert(content, SiteFile)
        survey = Survey(np.zeros((0, 3)), (), (), np.zeros(0, dtype=np.int64), Path("survey.csv"))
        ring = bed or box(-1, -101, 101, 101)
        site = Site(
            folder=Path("x"),
            file=file,
            unit=Unit(units),
            settings=layout_settings(file.layout, Unit(units)),
            bed=Bed(ring),
        )
        layout = Layout("straight", tuple(laterals), ring)
        on = Ground(site, survey, survey, ground)
        laid = design_of(on, LayingSurface(ground), layout)
        found = check_rules(facts_of(site, laid, SystemFacts(**(system or {}))))
        return {finding.rule.id: finding for finding in found}

    return run
