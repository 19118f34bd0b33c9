"""The field method on the sample sites, in feet, survey feet and metres."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from scipy.interpolate import CubicSpline

import dripfield
from dripfield.staking.field import field_file, stakes_file
from dripfield.staking.method import field_method

SITES = sorted(p.parent for p in Path("sample_sites").glob("*/site.toml"))


@pytest.mark.parametrize("folder", SITES, ids=lambda folder: folder.name)
def test_few_marks_by_instrument_and_stakes_within_a_twentieth(folder: Path) -> None:
    design = dripfield.lay_out(dripfield.read_site(folder))
    site, layout = design.site, design.layout
    plan = field_method(design)
    assert plan.by_hand <= 0.20
    stakes: dict[str, list[tuple[float, float]]] = {}
    for _, northing, easting, _, text in stakes_file(plan, site.unit).texts():
        stakes.setdefault(text.split(" ")[0], []).append((float(easting), float(northing)))
    for lateral in layout.laterals:
        marks = np.array(stakes[lateral.name])
        chord = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(marks, axis=0).T))))
        spline = CubicSpline(chord, marks - marks[0], bc_type="natural")
        bent = shapely.LineString(spline(np.linspace(0.0, chord[-1], 3000)))
        drawn = shapely.LineString(lateral.xy - marks[0])
        assert shapely.hausdorff_distance(bent, drawn) <= site.settings.spacing / 20.0
    for cells in field_file(plan, site.unit).texts():
        row = dict(zip(field_file(plan, site.unit).keys, cells, strict=True))
        assert row["unit"] == site.unit.value
        if row["method"] == "gauge":
            assert len(row["gap"].split(".")[1]) == site.unit.places
        assert (row["rod"] == "") == (site.file.benchmark is None)
