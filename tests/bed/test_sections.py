"""Sections: drawn from the surfaces themselves, to scale, in a drawing that reads back."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from bed_sites import write_site

from dripfield.bed.design import BedDesign, design_bed
from dripfield.bed.profile import crossings, drape, lower_along
from dripfield.bed.section import Section, bed_sections, fall_direction
from dripfield.ground.ground import build_ground
from dripfield.ground.triangles.tin import Surface
from dripfield.sheets.bed.section_dxf import LAYERS, write_section_dxf
from dripfield.sheets.bed.section_sheet import (
    _Panel,
    draw_sections,
    drawing_scale,
    levels_in_view,
    write_section_sheet,
)
from dripfield.sheets.bed.section_words import chain, marked_heights, spread
from dripfield.sheets.kit.style import text_width

SECTION = """\
strip = 0.4
sand = 0.8
tubing_height = 0.1
grade = "plane"
strike = 90.0
dip = 0.02
elevation = 99.6
deepen = true
shoulder = 2.0
limiting = 96.5
cover = [{ name = "loam", depth = 0.2 }, { name = "topsoil", depth = 0.4 }]
"""
# National CAD Standard form of a layer name (discipline, major, minors, status)
LAYER_FORM = re.compile(r"^[A-Z][A-Z]?-[A-Z0-9]{4}(-[A-Z0-9]{4}){0,2}(-[A-Z0-9])?$")


@pytest.fixture(scope="module")
def bed(tmp_path_factory: pytest.TempPathFactory) -> tuple[BedDesign, Surface]:
    site = write_site(
        tmp_path_factory.mktemp("bed"),
        SECTION,
        lambda x, y: 100.0 + 0.0025 * (x - 30.0) * (y - 10.0) - 0.03 * y + 0.3 * np.sin(x / 11.0),
    )
    ground = build_ground(site).surface
    return design_bed(site, ground), ground


@pytest.fixture(scope="module")
def sections(bed: tuple[BedDesign, Surface]) -> tuple[Section, Section]:
    return bed_sections(*bed)


def test_profile_is_the_surface_at_and_between_its_points(
    bed: tuple[BedDesign, Surface], sections: tuple[Section, Section]
) -> None:
    design, ground = bed
    surfaces = {**design.surfaces, "ground": ground}
    for section in sections:
        along = (section.line[1] - section.line[0]) / section.length
        dense = np.arange(0.05, section.length, 0.05)
        xy = section.line[0] + dense[:, None] * along
        for name, surface in surfaces.items():
            z = surface.elevation(xy)
            drawn = np.interp(dense, section.stations, section.levels[name])
            both = ~np.isnan(z) & ~np.isnan(drawn)
            assert both.sum() > 100
            assert drawn[both] == pytest.approx(z[both], abs=1e-6)


def test_one_section_runs_down_the_slope_and_one_across(
    bed: tuple[BedDesign, Surface], sections: tuple[Section, Section]
) -> None:
    down, across = sections
    assert (across.bearing - down.bearing) % 360.0 == pytest.approx(90.0)
    fall = fall_direction(bed[0])
    assert np.degrees(np.arctan2(*fall)) % 360.0 == pytest.approx(down.bearing)
    for section in sections:
        (graded,), (shoulder,), (tubing,) = section.graded, section.shoulder, section.tubing
        assert 0.0 < graded[0] < shoulder[0] < tubing[0] < tubing[1] < shoulder[1] < graded[1]
        # at the daylight lines the finished grade is on the ground
        for end in graded:
            assert section.at("finished", end) == pytest.approx(section.at("ground", end), abs=2e-3)
        # shoulder 2 ft beyond the tubing, square to the edge; never less when crossed aslant
        assert tubing[0] - shoulder[0] >= 2.0 - 1e-6


def test_drape_has_a_point_at_every_edge_of_the_triangles() -> None:
    roof = Surface(
        np.array(((0, 0, 0), (10, 0, 0), (5, 5, 3), (0, 10, 0), (10, 10, 0)), dtype=float),
        np.array(((0, 1, 2), (1, 4, 2), (4, 3, 2), (3, 0, 2))),
    )
    line = np.array(((0.0, 5.0), (10.0, 5.0)))
    assert crossings(line, roof) == pytest.approx((0.0, 5.0, 10.0))
    assert drape(line, roof)[:, 2] == pytest.approx((0.0, 3.0, 0.0))
    flat = Surface(np.array(((-9, -9, 1.5), (19, -9, 1.5), (5, 30, 1.5))), np.array(((0, 1, 2),)))
    lower = lower_along(line, roof, flat)
    assert lower[:, 0] == pytest.approx((0.0, 2.5, 5.0, 7.5, 10.0))
    assert lower[:, 2] == pytest.approx((0.0, 1.5, 1.5, 1.5, 0.0))


def test_sheet_is_to_its_stated_scale(
    bed: tuple[BedDesign, Surface], sections: tuple[Section, Section]
) -> None:
    design, _ = bed
    unit = design.site.unit
    levels = levels_in_view(design, sections)
    assert "limiting" in levels
    drawn = drawing_scale(sections, levels, unit, (500.0, 130.0))
    per_inch = float(re.search(r"horizontal 1 in = (\d+) ft", drawn.words(unit))[1])
    vertical = float(re.search(r"vertical 1 in = ([\d.]+) ft", drawn.words(unit))[1])
    stated = float(re.search(r"exaggeration ([\d.]+)", drawn.words(unit))[1])
    assert per_inch / vertical == pytest.approx(stated)
    figure = draw_sections(design, sections)
    (axes,) = figure.axes
    # axes are in points of a sheet whose size in inches is that of the figure
    width, height = figure.get_size_inches() * 72.0
    assert (*axes.get_xlim(), *axes.get_ylim()) == pytest.approx((0.0, width, 0.0, height))
    panel = _Panel(axes, design, sections[0], drawn, levels, (25.0, 50.0), 240.0, (500.0, 130.0))
    assert panel.x(per_inch) - panel.x(0.0) == pytest.approx(72.0)
    assert panel.y(100.0 + vertical) - panel.y(100.0) == pytest.approx(72.0)
    texts = [text.get_text() for text in axes.texts]
    for wanted in ("finished grade", "topsoil, 0.40 ft", "loam, 0.20 ft", "existing ground"):
        assert texts.count(wanted) == 2
    assert any(text.startswith("sand, at least 0.80 ft") for text in texts)
    assert any(text.startswith("separation ") for text in texts)


def test_depths_cross_no_level(
    bed: tuple[BedDesign, Surface], sections: tuple[Section, Section]
) -> None:
    """The box of every depth's figure against every level drawn, on the sheet [pt]."""
    axes = draw_sections(bed[0], sections).axes[0]
    levels = [line.get_xydata() for line in axes.lines if line.get_zorder() == 3]
    told = [
        text for text in axes.texts if re.fullmatch(r"([a-z]+ )?\d+\.\d\d", text.get_text())
        and text.get_ha() == "left"
    ]  # fmt: skip
    assert len(told) >= 6
    for text in told:
        x, y = text.get_position()
        width = text_width(text.get_text(), 6.0)
        box = shapely.box(x, y, x + width, y + 4.0)
        for level in levels:
            known = level[np.isfinite(level).all(axis=1)]
            assert not shapely.LineString(known).intersects(box), text.get_text()


def test_a_far_limiting_layer_does_not_flatten_the_section(tmp_path: Path) -> None:
    section = SECTION.replace("limiting = 96.5", "limiting = 60.0")
    site = write_site(tmp_path, section, lambda x, y: 100.0 - 0.03 * y)
    ground = build_ground(site).surface
    design = design_bed(site, ground)
    assert "limiting" not in levels_in_view(design, bed_sections(design, ground))


def test_names_are_spread_and_keep_their_order() -> None:
    assert spread([30.0, 20.0, 10.0], 9.0) == [30.0, 20.0, 10.0]
    assert spread([10.0, 10.0], 8.0) == [14.0, 6.0]
    places = spread([50.0, 49.0, 48.0, 20.0, 19.5], 9.0)
    assert all(a - b >= 9.0 - 1e-9 for a, b in pairwise(places))


def test_drawing_reads_back(
    tmp_path: Path, bed: tuple[BedDesign, Surface], sections: tuple[Section, Section]
) -> None:
    ezdxf = pytest.importorskip("ezdxf")
    design, _ = bed
    path = tmp_path / "section.dxf"
    write_section_dxf(path, design, sections)
    again = tmp_path / "again.dxf"
    write_section_dxf(again, design, sections)
    assert path.read_bytes() == again.read_bytes()
    document = ezdxf.readfile(path)
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    assert document.header["$INSUNITS"] == 2
    space = document.modelspace()
    used = {entity.dxf.layer for entity in space}
    assert used <= set(LAYERS)
    assert all(LAYER_FORM.match(name) for name in LAYERS)
    for layer in ("V-SECT-GRND", "C-SECT-STRP", "C-SECT-SAND", "C-SECT-FNSH", "C-SECT-LIMT"):
        assert len(space.query(f'LWPOLYLINE[layer=="{layer}"]')) == 2
    words = " ".join(text.dxf.text for text in space.query("TEXT"))
    exaggeration = float(re.search(r"vertical exaggeration ([\d.]+)", words)[1])
    # the finished grade of the first section is its profile, heights times the exaggeration
    line = np.array(
        [p[:2] for p in space.query('LWPOLYLINE[layer=="C-SECT-FNSH"]')[0].get_points()]
    )
    section = sections[0]
    on = ~np.isnan(section.levels["finished"])
    assert line[:, 0] == pytest.approx(section.stations[on])
    heights = section.levels["finished"][on]
    assert np.diff(line[:, 1]) == pytest.approx(np.diff(heights) * exaggeration, abs=1e-6)
    # dimensions measure true lengths
    measured = [
        dimension.get_measurement() * document.dimstyles.get(dimension.dxf.dimstyle).dxf.dimlfac
        for dimension in space.query("DIMENSION")
    ]
    lengths = [end - start for s in sections for (start, end) in (s.toe[0], s.tubing[0])]
    for length in (*lengths, 0.2, 0.4, 0.5, 0.8):
        assert min(abs(value - length) for value in measured) < 1e-6


def test_sheet_has_the_same_bytes_twice(
    tmp_path: Path, bed: tuple[BedDesign, Surface], sections: tuple[Section, Section]
) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        paths = [tmp_path / name / f"section.{kind}" for kind in ("png", "pdf")]
        write_section_sheet(bed[0], sections, *paths)
    for kind in ("png", "pdf"):
        one, two = (tmp_path / name / f"section.{kind}" for name in ("one", "two"))
        assert one.read_bytes() == two.read_bytes()


def test_chain_of_lengths_sums_from_toe_to_toe(sections: tuple[Section, Section]) -> None:
    for section in sections:
        links = chain(section, 2)
        whole = section.toe[-1][1] - section.toe[0][0]
        assert round(sum(link.length for link in links), 2) == round(whole, 2)
        assert [link.what for link in links] == ["slope", "shoulder", "tubing", "shoulder", "slope"]
        for one, two in pairwise(links):
            assert one.end == two.start
        for link in links:
            assert link.length == pytest.approx(link.end - link.start, abs=0.02)
        marks = marked_heights(section)
        assert [word for _, _, word in marks] == ["toe", "shoulder", "shoulder", "toe"]
        for station, z, word in marks:
            if word == "toe":  # where the finished grade comes back to the ground
                assert z == pytest.approx(section.at("ground", station), abs=2e-3)
