"""Which tolerance binds, and who offends why, on grounds whose answers are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_sites import SURFACE, site_of

from dripfield.design.lay_bed import choose_layout
from dripfield.design.model import Design, design_of
from dripfield.design.offenders import offenders
from dripfield.design.what_if import laid_anew, same_lines
from dripfield.ground.ground import ground_of
from dripfield.ground.laying import LayingSurface
from dripfield.measures.field import measure_layout
from dripfield.survey.shots import Survey


def design(tmp_path, height=None, **layout) -> Design:
    """A design in memory, on shots by a function of place."""
    site = site_of(tmp_path, **layout)
    x, y = np.meshgrid(np.arange(-12, 83, 6.0), np.arange(-12, 53, 6.0))
    z = 100.0 + 0.10 * y - 0.0016 * (x - 35.0) ** 2 if height is None else height(x, y)
    xyz = np.column_stack((x.ravel(), y.ravel(), z.ravel()))
    names = tuple(str(i) for i in range(len(xyz)))
    survey = Survey(xyz, names, ("",) * len(xyz), np.arange(len(xyz)) + 2, tmp_path / "survey.csv")
    ground = ground_of(site, survey)
    surface = LayingSurface(ground.surface, site.settings.smoothing)
    return design_of(ground, surface, choose_layout(site, surface))


def test_the_same_lines_by_wider_tolerances(tmp_path):
    """Straight lines on a nose miss level, not spacing: only a wider level tolerance gains."""
    one = design(tmp_path, method="straight")
    level, spaced, both = same_lines(one)
    assert [level.change, spaced.change, both.change] == [
        "level within 0.15 ft",
        "spacing within 15 %",
        "both",
    ]
    merit = one.measured.merit
    assert level.merit > merit + 0.02
    assert spaced.merit == pytest.approx(merit, abs=1e-9)
    assert both.merit == pytest.approx(level.merit, abs=1e-9)
    site = one.site
    again = measure_layout(one.layout, one.surface, site.settings, site.bed)
    assert again.merit == merit


@pytest.mark.parametrize("measured", ["plan", "slope"])
def test_the_same_lines_measured_anew_by_each_tolerance(tmp_path, measured):
    """Wider tolerances share measurements; each figure is that of a measurement of its own."""
    one = design(tmp_path, method="offset", spacing_measured=measured)
    site, settings = one.site, one.site.settings
    level, spaced = 1.5 * settings.level_tolerance, 1.5 * settings.spacing_tolerance
    by_hand = [
        replace(settings, level_tolerance=level),
        replace(settings, spacing_tolerance=spaced),
        replace(settings, level_tolerance=level, spacing_tolerance=spaced),
    ]
    for found, changed in zip(same_lines(one), by_hand, strict=True):
        anew = measure_layout(one.layout, one.surface, changed, site.bed)
        assert (found.merit, found.tubing) == (anew.merit, anew.tubing)


def test_laid_anew_by_other_spacings_and_bearings(tmp_path):
    one = design(tmp_path, method="straight", bearing=90.0)
    found = {each.change: each for each in laid_anew(one)}
    assert set(found) >= {"1.8 ft on centre", "2.2 ft on centre", "bearing 80", "bearing 100"}
    assert found["1.8 ft on centre"].tubing > one.measured.tubing > found["2.2 ft on centre"].tubing
    assert all(each.anew for each in found.values())


def test_offenders_of_one_kind_stand_together_with_their_cause(tmp_path):
    one = design(tmp_path, method="straight")
    (group,) = offenders(one)
    names = [each.name for each in one.measured.laterals]
    assert group.names == tuple(names)
    assert group.shown == f"{names[0]} to {names[-1]}"
    assert group.cause == "straight on bent ground"
    assert (group.near, group.far) == (0.0, 0.0)
    out = sum(each.length - each.length_both for each in one.measured.laterals)
    assert group.length == pytest.approx(out)


def test_a_step_is_the_cause_where_there_is_one(tmp_path):
    """Straight lines along the strike of a turned wall cross it."""
    one = design(
        tmp_path, lambda x, y: 100.0 + 0.1 * y + 3.0 * (y > 18 + 0.15 * (x - 35)), method="straight"
    )
    assert len(one.ground.steps) == 1
    assert "step of the ground" in {group.cause for group in offenders(one)}
    assert any("crosses the bed" in note for note in one.ground.notes)
    beside = one.ground.steps[0].area.buffer(1.0)
    from shapely import Point

    assert not any(beside.covers(Point(each.place)) for each in one.ground.suspects)


def test_a_level_and_even_layout_has_no_offenders(tmp_path):
    one = design(tmp_path, lambda x, y: 100.0 + 0.1 * y)
    assert offenders(one) == ()
    assert SURFACE.outline.covers(one.layout.area)
