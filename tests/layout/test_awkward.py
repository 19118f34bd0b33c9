"""Awkward beds, grounds and settings: laid out or refused in a line, never with crossing laterals.

All data here is invented.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from laying_out import (
    METHODS,
    Hill,
    Plane,
    lay_on,
    lay_on_shots,
    lay_out,
    rectangle,
    settings_of,
    shots_over,
    site_on,
)
from layout_checks import faults
from shapely import LineString, Polygon, affinity

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.ground.triangles.tin import Surface
from dripfield.measures import measure_layout
from dripfield.site.model import Bed, Setback

EVERY = pytest.mark.parametrize("method", METHODS)
BED = rectangle(50.0, 30.0)
GENTLE = Hill(lambda x, y: 100 + 0.1 * y + 0.3 * np.sin(x / 9.0))


def laid(ground, bed, method, *, step=6.0, noise=0.0, unit=Unit.FOOT, known=None, **layout):
    """Lay out over shots and check what every layout must hold."""
    bed = bed if isinstance(bed, Bed) else Bed(bed)
    shots = shots_over(ground, bed.boundary, step, noise=noise)
    if known is not None:
        shots = shots[known(shots[:, 0], shots[:, 1])]
    site = site_on(shots, bed, unit, **layout)
    surface = Surface.from_points(shots)
    found = lay_out(site, surface, method)
    measured = measure_layout(found, surface, site.settings, bed)
    assert faults(found, measured, site.settings, surface) == []
    return found, measured


@EVERY
@pytest.mark.parametrize("along", [True, False], ids=["along", "down"])
def test_a_very_thin_bed(method, along):
    bed = rectangle(70.0, 3.2) if along else rectangle(3.2, 70.0)
    if along:
        found, _ = laid(Plane(0.001, 0.1), bed, method, min_length=1.0)
        assert sum(LineString(one.xy).length for one in found.laterals) > 60.0
    else:  # a lateral of 1.2 ft every two feet
        found, _ = laid(Plane(0.0, 0.1), bed, method, min_length=1.0)
        assert len(found.laterals) in (34, 35)


@EVERY
def test_a_tiny_bed(method):
    found, _ = laid(Plane(0.002, 0.1), rectangle(7.5, 3.0), method)
    assert len(found.laterals) == 1


@EVERY
def test_a_bed_with_no_room(method):
    with pytest.raises(InputError) as caught:
        laid(Plane(0.02, 0.1), rectangle(30.0, 1.9), method)
    assert str(caught.value) == (
        "bed.csv: the bed has no room for a lateral on surveyed ground; check the boundary, the "
        "keepouts, the setbacks and edge_clearance"
    )


@EVERY
def test_a_bed_too_short_for_any_lateral(method):
    with pytest.raises(InputError) as caught:
        laid(Plane(0.02, 0.1), rectangle(5.0, 5.0), method)
    assert str(caught.value) == (
        "site.toml, [layout]: no lateral of at least 5 fits the bed at a spacing of 2; check "
        "spacing, edge_clearance and min_length"
    )


@EVERY
def test_three_holes(method):
    holes = [rectangle(5, 4, at) for at in ((8, 8), (22, 16), (38, 6))]
    found, _ = laid(GENTLE, Bed(BED, tuple(holes)), method)
    for one in found.laterals:
        for hole in holes:
            assert LineString(one.xy).distance(hole) >= 1.0 - 5e-4  # a round corner as a polygon


@EVERY
def test_two_parts(method):
    """A keepout across the bed leaves two parts; both are laid."""
    found, _ = laid(GENTLE, Bed(BED, (rectangle(4, 40, (23, -5)),)), method)
    assert found.area.geom_type == "MultiPolygon"
    west = [one for one in found.laterals if one.xy[:, 0].max() < 23]
    east = [one for one in found.laterals if one.xy[:, 0].min() > 27]
    assert len(west) + len(east) == len(found.laterals)
    assert min(len(west), len(east)) >= 10


@EVERY
def test_a_setback_from_a_point(method):
    well = Setback("well", LineString([(10, 10), (10, 10.1)]), 12.0, None)
    found, _ = laid(GENTLE, Bed(BED, (), (well,)), method)
    assert min(LineString(one.xy).distance(well.feature) for one in found.laterals) > 12.0 - 0.02


GROUNDS = {
    "summit": lambda x, y: 100 - 0.004 * ((x - 25) ** 2 + 1.4 * (y - 13) ** 2) + 0.01 * x,
    "pit": lambda x, y: 100 + 0.004 * ((x - 27) ** 2 + 1.4 * (y - 16) ** 2) + 0.01 * y,
    "summit in a corner": lambda x, y: 100 - 0.003 * ((x - 6) ** 2 + (y - 26) ** 2),
    "saddle": lambda x, y: 100 + 0.004 * ((x - 25) ** 2 - (y - 15) ** 2) + 0.012 * y,
    "valley": lambda x, y: 100 + 0.02 * y + 0.12 * np.abs(x - 24 - 0.2 * y),
    "valley across": lambda x, y: 100 + 0.08 * np.hypot(y - 14.0, 1.0) + 0.015 * x,
    "ridge": lambda x, y: 100 + 0.03 * y - 0.10 * np.hypot(x - 30, 2.0),
    "wall": lambda x, y: 100 + 0.06 * y + 3.0 / (1.0 + np.exp(-(y - 15) / 0.4)),
    "bench": lambda x, y: 100 + 0.12 * np.clip(y - 20, 0, None) + 0.12 * np.minimum(y - 10, 0),
    "corrugated": lambda x, y: 100 + 0.08 * y + 0.35 * np.sin(x / 2.2),
    "twist that turns over": lambda x, y: 100 + 0.008 * (x - 22) * (y - 15) + 0.02 * y,
}


@EVERY
@pytest.mark.parametrize("ground", GROUNDS)
def test_awkward_ground(method, ground):
    _, measured = laid(Hill(GROUNDS[ground]), BED, method, step=4.0)
    assert measured.coverage > 0.4
    assert 0.0 <= measured.merit <= 1.05


@EVERY
def test_rough_shots(method):
    """0.1 ft of noise, as much as the level tolerance."""
    _, measured = laid(GENTLE, BED, method, noise=0.1)
    assert measured.coverage > 0.6


@EVERY
def test_a_survey_with_a_gap(method):
    """No shots in a quarter of the bed: the triangles span it."""
    found, _ = laid(GENTLE, BED, method, known=lambda x, y: ~((x > 25) & (x < 48) & (y < 14)))
    assert len(found.laterals) > 10


@EVERY
def test_a_bed_that_the_survey_does_not_cover(method):
    """Shots end inside the bed: laterals end there too, and a note says so."""
    found, _ = laid(Plane(0.01, 0.1), BED, method, known=lambda x, y: x < 32)
    assert max(one.xy[:, 0].max() for one in found.laterals) < 33
    assert (
        " sq ft of the open bed lie beyond the survey: no lateral is laid there" in found.notes[0]
    )


@EVERY
def test_laterals_that_end_where_the_survey_does_stand_on_known_ground(method):
    """On an edge that runs slantwise a last point may not fall off by rounding."""
    _, measured = laid(GENTLE, BED, method, known=lambda x, y: x + 0.7 * y < 45)
    assert all(np.isfinite(one.ground).all() for one in measured.laterals)
    assert not any("ground is not known" in note for note in measured.notes)


@EVERY
@pytest.mark.parametrize("spacing", [6.0, 13.0, 27.0])
def test_spacing_near_the_bed_width(method, spacing):
    found, _ = laid(GENTLE, BED, method, spacing=spacing, edge_clearance=1.0)
    least, most = {6.0: (4, 6), 13.0: (2, 4), 27.0: (1, 2)}[spacing]
    assert least <= len(found.laterals) <= most


@EVERY
def test_fine_spacing(method):
    found, _ = laid(GENTLE, rectangle(20.0, 8.0), method, spacing=0.5, bend_radius=0.0)
    assert len(found.laterals) > 10


@EVERY
def test_greatest_length(method):
    found, _ = laid(GENTLE, BED, method, max_length=18.0, min_length=3.0)
    lengths = [LineString(one.xy).length for one in found.laterals]
    assert max(lengths) <= 18.0 + 1e-6
    assert len(found.laterals) >= 3 * 14


@pytest.mark.parametrize("panels", [1, 2, 3, 5, 9])
def test_panels_forced(panels):
    found, measured = laid(GENTLE, BED, "balanced", panels=panels)
    assert 1 <= len(found.panels) <= panels
    assert measured.panels == len(found.panels)


@pytest.mark.parametrize("panels", [9, 20])
def test_panels_forced_in_a_wedge(panels):
    """Strips of equal area are narrow where the bed is deep: 3 ft and less of 20."""
    wedge = Polygon([(0, 0), (120, 0), (120, 40), (0, 1)])
    waves = Hill(lambda x, y: 100 + 0.1 * y + 0.6 * np.sin(x / 5.0 + y / 9.0))
    found, measured = laid(waves, wedge, "balanced", panels=panels, min_length=1.0, step=4.0)
    assert panels - 3 <= measured.panels <= panels
    assert measured.panels == len(found.panels)


def test_most_panels():
    twist = Hill(lambda x, y: 100 + (0.06 + 0.1 * x / 50) * y)
    counts = [len(laid(twist, BED, "balanced", max_panels=most)[0].panels) for most in (1, 2, 6)]
    assert counts[0] == 1
    assert counts[1] == 2
    assert counts[2] >= 2


@EVERY
def test_spacing_along_the_slope(method):
    steep = Hill(lambda x, y: 100 + 0.25 * y + 0.5 * np.sin(x / 9.0))
    found, measured = laid(steep, BED, method, spacing_measured="slope")
    rows = [one for one in found.laterals if one.panel == "A"]
    assert len(rows) >= 14
    assert measured.coverage > 0.8


@EVERY
def test_metric_bed(method):
    ground = Hill(lambda x, y: 100 + 0.1 * y + 0.09 * np.sin(x / 2.7))
    found, measured = laid(ground, rectangle(15.0, 9.0), method, step=1.8, unit=Unit.METRE)
    assert len(found.laterals) >= 13
    assert measured.coverage > 0.85


@EVERY
def test_a_foot_and_a_metre_give_the_same_layout(method):
    """The bed in feet times 0.3 is the bed in metres; so is every setting."""
    feet = settings_of(min_length=5.0, bend_radius=2.0)
    metres = replace(
        settings_of(Unit.METRE),
        **{
            name: 0.3 * getattr(feet, name)
            for name in ("spacing", "edge_clearance", "level_tolerance", "min_length")
        },
        bend_radius=0.6,
    )
    small = Hill(lambda x, y: 0.3 * GENTLE.height(x / 0.3, y / 0.3))
    one = lay_on(GENTLE, BED, feet, method)
    two = lay_on(small, affinity.scale(BED, 0.3, 0.3, origin=(0, 0)), metres, method)
    assert [a.name for a in one.laterals] == [b.name for b in two.laterals]
    for a, b in zip(one.laterals, two.laterals, strict=True):
        assert LineString(a.xy * 0.3).hausdorff_distance(LineString(b.xy)) < 0.003


@EVERY
def test_flat_ground_is_refused_with_the_way_out(method):
    flat = Plane(0.0, 0.0)
    if method == "straight":
        found, _ = laid(flat, BED, method, bearing=30.0)
        assert len(found.laterals) > 20
    with pytest.raises(InputError, match="so it has no contour direction; set method = "):
        laid(flat, BED, method)


def test_a_bowtie_of_rings_is_two_parts():
    """A bed pinched to a point inside its clearance."""
    pinched = Polygon([(0, 0), (20, 14), (40, 0), (40, 30), (20, 16), (0, 30)])
    found, _ = laid(GENTLE, pinched, "balanced")
    assert found.area.geom_type == "MultiPolygon"
    assert len({one.xy[:, 0].mean() < 20 for one in found.laterals}) == 2


def test_a_spacing_in_the_wrong_unit_is_refused():
    with pytest.raises(InputError) as caught:
        lay_on_shots(shots_over(GENTLE, BED, 6.0), BED, "contour", spacing=0.002)
    assert re.fullmatch(
        r"site\.toml, \[layout\] spacing: 0\.002 is too small for a bed \d+ by \d+; check the "
        r"unit: spacing is in the site's own",
        str(caught.value),
    )
