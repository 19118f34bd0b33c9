"""The set's profiles: what each plot shows, and that no lateral is left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dripfield.ground.laying import LayingSurface
from dripfield.ground.triangles.tin import Surface
from dripfield.sheets.crew.profile_pages import profile_pages, slope_section
from dripfield.sheets.crew.sheet import draw_sheet
from dripfield.sheets.kit.style import PAPERS, drawing_defaults

LETTER = PAPERS["letter"]


def drawn(work, paper=LETTER):
    """Title and figure of every page."""
    pages = profile_pages(work, paper)
    with drawing_defaults():
        return [
            (page.title, draw_sheet(page, work, i, len(pages), 2))
            for i, page in enumerate(pages, 1)
        ]


@pytest.mark.parametrize("paper", [LETTER, PAPERS["A3"], LETTER.turned()])
def test_every_lateral_has_its_plot_inside_the_sheet(crew_work, awkward, paper):
    work = crew_work(awkward)
    rest = drawn(work, paper)
    assert {title for title, _ in rest} == {"For the office: profiles of laterals"}
    sheets = [figure.axes[0] for _, figure in rest]
    named = [
        t.get_text().split(":")[0] for axes in sheets for t in axes.texts if ": set" in t.get_text()
    ]
    assert named == [lateral.name for lateral in awkward.layout.laterals]
    plots = [plot for _, figure in rest for plot in figure.axes[1:]]
    assert len(plots) == len(named)
    for plot in plots:
        place = plot.get_position()
        assert 0.0 < place.x0 < place.x1 < 1.0
        assert 0.05 < place.y0 < place.y1 < 0.95


def test_a_plot_shows_the_ground_about_the_elevation_set(crew_work, awkward):
    work = crew_work(awkward)
    plots = [plot for _, figure in drawn(work) for plot in figure.axes[1:]]
    heights = {plot.get_ylim() for plot in plots}
    assert len(heights) == 1  # one scale for all
    for plot, lateral in zip(plots, awkward.measured.laterals, strict=True):
        lines = {line.get_label(): line.get_xydata() for line in plot.lines}
        np.testing.assert_allclose(
            lines["ground"],
            np.column_stack((lateral.station, lateral.ground - lateral.elevation)),
            atol=1e-9,
        )
        assert ("out of level tolerance" in lines) == (not lateral.level_ok)


def test_titles_give_the_range_that_a_plot_may_not_reach(crew_work, plane):
    """Hand-derived: the plane's ground set 0.80 ft too low stands 0.80 ft above it throughout."""
    first, *others = plane.measured.laterals
    low = replace(first, elevation=first.elevation - 0.8, level_ok=False)
    changed = replace(plane, measured=replace(plane.measured, laterals=(low, *others)))
    work = crew_work(changed)
    _, figure = drawn(work)[0]
    words = [text.get_text() for text in figure.axes[0].texts]
    elevation = f"{low.elevation:.2f}"
    assert f"L01: set to {elevation}, +0.80 to +0.80, out of level" in words
    assert f"L02: set to {others[0].elevation:.2f}, +0.00 to +0.00" in words
    assert figure.axes[1].get_ylim() == (-0.5, 0.5)  # five tolerances at most


def test_a_level_bed_has_no_section_but_its_laterals(crew_work, plane):
    flat = plane.surface.surface.vertices.copy()
    flat[:, 2] = 100.0
    work = crew_work(replace(plane, surface=LayingSurface(Surface.from_points(flat))))
    assert slope_section(work) is None
    assert slope_section(crew_work(plane)) is not None
    assert len(profile_pages(work, LETTER)) == 1
