from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString

from dripfield.core.errors import DripfieldError
from dripfield.ground.triangles.tin import Surface
from dripfield.sheets.kit.style import save_figure
from dripfield.sheets.plan.profile import fall_section, lateral_profile, slope_profile


def lines_by_label(figure):
    return {line.get_label(): line.get_xydata() for line in figure.axes[0].lines}


def test_lateral_profile_shows_ground_set_elevation_and_faults(awkward):
    worst = min(awkward.measured.laterals, key=lambda one: one.length_level / one.length)
    lines = lines_by_label(lateral_profile(awkward.site, worst))
    np.testing.assert_array_equal(lines["ground"], np.column_stack((worst.station, worst.ground)))
    assert set(lines[f"set to {worst.elevation:.2f} ft"][:, 1]) == {worst.elevation}
    off = lines["out of level tolerance"][:, 1]
    np.testing.assert_array_equal(np.isfinite(off), ~worst.level)


def test_level_lateral_has_no_fault_in_its_legend(plane):
    lines = lines_by_label(lateral_profile(plane.site, plane.measured.laterals[0]))
    assert "out of level tolerance" not in lines


def test_section_runs_down_the_fall_and_meets_every_lateral(plane):
    # hand-derived: an 8 % fall to the south over a bed 20 ft deep
    section = fall_section(plane.site, plane.surface)
    np.testing.assert_allclose(section.coords, [(40.0, 20.0), (40.0, 0.0)], atol=1e-6)
    lines = lines_by_label(slope_profile(plane.site, plane.surface, plane.layout))
    np.testing.assert_allclose(lines["ground"][[0, -1], 1], [101.6, 100.0], atol=1e-9)
    at = lines["lateral as set"]
    np.testing.assert_allclose(at[:, 0], np.arange(1.0, 20.0, 2.0), atol=1e-6)
    np.testing.assert_allclose(at[:, 1], [one.elevation for one in plane.layout.laterals])


def test_a_section_of_ones_own(plane):
    line = LineString([(10.0, 15.0), (10.0, 8.0)])
    lines = lines_by_label(slope_profile(plane.site, plane.surface, plane.layout, line))
    assert len(lines["lateral as set"]) == 4  # hand-derived: at 15, 13, 11 and 9


def test_flat_ground_has_no_section(plane):
    level = plane.surface.surface.vertices.copy()
    level[:, 2] = 100.0
    with pytest.raises(
        DripfieldError,
        match=r"^the bed has no fall to draw a section along; give the section's line$",
    ):
        fall_section(plane.site, Surface.from_points(level))


def test_profiles_are_the_same_bytes_and_take_any_name(hand, tmp_path):
    field = hand.plane(name="$x_1$ \\frac{a}{b} " * 20)
    paths = [tmp_path / f"{i}.png" for i in range(2)]
    for path in paths:
        save_figure(slope_profile(field.site, field.surface, field.layout), path)
    assert paths[0].read_bytes() == paths[1].read_bytes()
