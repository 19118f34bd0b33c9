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
    assert [name for axes in sheets for name in plotted(axes)] == named
    for axes in sheets:
        right, top = axes.get_xlim()[1], axes.get_ylim()[1]
        rooms = [on_sheet(axes, lines["ground"].get_clip_box()) for lines in plotted(axes).values()]
        for x0, y0, x1, y1 in rooms:
            assert 0.0 < x0 < x1 < right
            assert 0.05 * top < y0 < y1 < 0.95 * top
        for i, (x0, y0, x1, y1) in enumerate(rooms):  # none on another
            for a0, b0, a1, b1 in rooms[:i]:
                assert x0 >= a1 or a0 >= x1 or y0 >= b1 or b0 >= y1


def plotted(axes):
    """The lines of every lateral's plot on a sheet, by name and label."""
    found = {}
    for line in axes.lines:
        if line.get_gid() is not None:
            found.setdefault(line.get_gid(), {})[line.get_label()] = line
    return found


def on_sheet(axes, box):
    """A rectangle of the canvas in points of the sheet."""
    return axes.transData.inverted().transform(box.get_points()).ravel()


def test_a_plot_shows_the_ground_about_the_elevation_set(crew_work, awkward):
    work = crew_work(awkward)
    plots = {}
    scales = set()
    for _, figure in drawn(work):
        axes = figure.axes[0]
        for name, lines in plotted(axes).items():
            plots[name] = lines
            to = lines["ground"].get_transform() - axes.transData
            scales.add(round(float(to.transform((0, 1))[1] - to.transform((0, 0))[1]), 6))
            ends = to.transform([(0.0, 0.0), lines["ground"].get_xydata()[-1]])[:, 0]
            left, _, right, _ = on_sheet(axes, lines["ground"].get_clip_box())
            np.testing.assert_allclose(ends, (left, right))
    assert len(scales) == 1  # one scale of heights for all
    for lateral in awkward.measured.laterals:
        lines = plots[lateral.name]
        np.testing.assert_allclose(
            lines["ground"].get_xydata(),
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
    axes = figure.axes[0]
    ground = plotted(axes)["L01"]["ground"]
    to = (ground.get_transform() - axes.transData).inverted()
    low, high = on_sheet(axes, ground.get_clip_box()).reshape(2, 2)
    heights = to.transform((low, high))[:, 1]
    assert heights == pytest.approx((-0.5, 0.5))  # five tolerances at most


def test_a_level_bed_has_no_section_but_its_laterals(crew_work, plane):
    flat = plane.surface.surface.vertices.copy()
    flat[:, 2] = 100.0
    work = crew_work(replace(plane, surface=LayingSurface(Surface.from_points(flat))))
    assert slope_section(work) is None
    assert slope_section(crew_work(plane)) is not None
    assert len(profile_pages(work, LETTER)) == 1
