from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf.addons.drawing import Frontend, RenderContext
from ezdxf.addons.drawing.matplotlib import MatplotlibBackend
from ezdxf.math import Vec3
from matplotlib.figure import Figure

from dripfield.core.units import Unit
from dripfield.sheets.kit.relief import show_relief
from dripfield.sheets.staking.staking_dxf import LAYERS, write_staking
from dripfield.site.model import Bed
from dripfield.staking.method import field_method

# form of a layer name in the US National CAD Standard: discipline, major, up to two minors, status
NCS_NAME = re.compile(r"^[A-Z][A-Z]?-[A-Z0-9]{4}(-[A-Z0-9]{4}){0,2}(-[A-Z0-9])?$")


def draw(field, path: Path) -> Path:
    relief = show_relief(field.ground, field.surface.surface)
    placed = field_method(field).stakes
    write_staking(path, field, placed, relief.levels, relief.gaps)
    return path


@pytest.fixture(scope="module")
def drawing(awkward, tmp_path_factory):
    path = draw(awkward, tmp_path_factory.mktemp("dxf") / "staking.dxf")
    return ezdxf.readfile(path)


@pytest.mark.parametrize("name", ["plane", "cone", "awkward"])
def test_opens_without_an_error_or_a_repair(name, request, tmp_path):
    document = ezdxf.readfile(draw(request.getfixturevalue(name), tmp_path / "staking.dxf"))
    audit = document.audit()
    assert (audit.errors, audit.fixes) == ([], [])


def test_layers_have_the_standard_form(drawing):
    for name in LAYERS:
        assert NCS_NAME.match(name), name
    assert not NCS_NAME.match("V-SURVEY")  # the pattern can say no
    used = {entity.dxf.layer for entity in drawing.modelspace()}
    assert used <= set(LAYERS)
    assert {"C-SSWR-LATL", "C-SSWR-BNDY", "V-NODE-SPOT", "V-TOPO-MINR", "V-TOPO-MAJR"} <= used
    colours = {drawing.layers.get(name).dxf.color for name in LAYERS}
    assert len(colours) > 4
    assert not colours & {1, 2, 3, 4, 5, 6, 30}  # red, yellow, green, cyan, blue, magenta, orange


def test_units_are_declared(hand_units, tmp_path):
    for field, insunits, measurement in hand_units:
        document = ezdxf.readfile(draw(field, tmp_path / f"{insunits}.dxf"))
        assert document.header["$INSUNITS"] == insunits
        assert document.header["$MEASUREMENT"] == measurement
        # hand-derived: a page 11 in wide is 11 / 12 ft; A4 is 0.297 m; 279.4 mm where 21 is unknown
        wide = {2: 11.0 / 12.0, 21: 279.4, 6: 0.297}[insunits]
        assert document.header["$PLIMMAX"][0] == pytest.approx(wide, rel=1e-3)


@pytest.fixture(name="hand_units")
def _hand_units(plane):
    """The DXF reference's table: 2 foot, 21 US survey foot, 6 metre."""
    codes = {Unit.FOOT: (2, 0), Unit.SURVEY_FOOT: (21, 0), Unit.METRE: (6, 1)}
    return [
        (replace(plane, ground=replace(plane.ground, site=replace(plane.site, unit=unit))), *code)
        for unit, code in codes.items()
    ]


def test_laterals_carry_name_elevation_and_geometry(awkward, drawing):
    entities = drawing.modelspace().query('*[layer=="C-SSWR-LATL"]')
    assert {one.dxftype() for one in entities} == {"LWPOLYLINE"}
    assert len(entities) == len(awkward.layout.laterals)
    for entity, lateral in zip(entities, awkward.layout.laterals, strict=True):
        data = [tag.value for tag in entity.get_xdata("DRIPFIELD")]
        assert data[:2] == [f"lateral={lateral.name}", f"panel={lateral.panel}"]
        assert entity.dxf.elevation == pytest.approx(lateral.elevation, abs=1e-9)
        np.testing.assert_allclose(entity.get_points("xy"), lateral.xy, atol=1e-9)
    labels = {one.dxf.text for one in drawing.modelspace().query('TEXT[layer=="C-ANNO-TEXT"]')}
    for lateral in awkward.layout.laterals:
        # one too short for its elevation has its name alone
        assert labels & {f"{lateral.name} {lateral.elevation:.2f}", lateral.name}


def test_gdal_finds_the_same_laterals(awkward, tmp_path):
    """GDAL's DXF driver, an independent reader: lines, lengths and elevations."""
    path = draw(awkward, tmp_path / "staking.dxf")
    meta, _, shapes, columns = pyogrio.raw.read(path, columns=["Layer"])
    assert list(meta["fields"]) == ["Layer"]
    lines = shapely.from_wkb(shapes[columns[0] == "C-SSWR-LATL"])
    assert len(lines) == len(awkward.layout.laterals)
    for line, lateral, measure in zip(
        lines, awkward.layout.laterals, awkward.measured.laterals, strict=True
    ):
        xyz = shapely.get_coordinates(line, include_z=True)
        np.testing.assert_allclose(xyz[:, :2], lateral.xy, atol=1e-6)
        np.testing.assert_allclose(xyz[:, 2], lateral.elevation, atol=1e-6)
        assert shapely.length(line) == pytest.approx(measure.length, abs=1e-3)
    spots = shapely.from_wkb(shapes[columns[0] == "V-NODE-SPOT"])
    np.testing.assert_allclose(
        shapely.get_coordinates(spots, include_z=True), awkward.ground.read.xyz, atol=1e-6
    )
    bed = shapely.from_wkb(shapes[columns[0] == "C-SSWR-BNDY"])
    assert len(bed) == 1
    assert shapely.length(bed[0]) == pytest.approx(awkward.site.bed.boundary.length)


def test_gdal_finds_level_lines_at_their_elevations(cone, tmp_path):
    """On a cone falling 10 % every level line is a circle of known radius (hand-derived)."""
    path = draw(cone, tmp_path / "staking.dxf")
    _, _, shapes, columns = pyogrio.raw.read(path, columns=["Layer"])
    majors = shapely.from_wkb(shapes[columns[0] == "V-TOPO-MAJR"])
    minors = shapely.from_wkb(shapes[columns[0] == "V-TOPO-MINR"])
    for lines, of_five in ((majors, True), (minors, False)):
        assert len(lines)
        for line in lines:
            xyz = shapely.get_coordinates(line, include_z=True)
            assert np.ptp(xyz[:, 2]) == 0.0
            assert (xyz[0, 2] % 5.0 == 0.0) == of_five  # every fifth line of a 1 ft interval
            radius = np.hypot(*xyz[:, :2].T)
            np.testing.assert_allclose(radius, (110.0 - xyz[0, 2]) / 0.1, atol=0.7)


def test_ground_without_survey_is_outlined_and_named(plane, tmp_path):
    beyond = Bed(shapely.box(0.0, 0.0, 130.0, 20.0))
    field = replace(plane, ground=replace(plane.ground, site=replace(plane.site, bed=beyond)))
    space = ezdxf.readfile(draw(field, tmp_path / "staking.dxf")).modelspace()
    gaps = space.query('LWPOLYLINE[layer=="V-TOPO-VOID"]')
    # hand-derived: the survey ends at 88 ft, the bed at 130
    assert sum(shapely.Polygon(gap.get_points("xy")).area for gap in gaps) == pytest.approx(840.0)
    assert [one.dxf.text for one in space.query('TEXT[layer=="V-TOPO-VOID"]')] == ["NO SURVEY"]


def test_stakes_are_points_with_their_data(awkward, drawing):
    found = field_method(awkward).stakes
    space = drawing.modelspace()
    points = space.query('POINT[layer=="C-SSWR-STAK"]')
    numbers = space.query('TEXT[layer=="C-SSWR-STAK-NUMB"]')
    assert len(points) == len(numbers) == len(found)
    for point, number, stake in zip(points, numbers, found, strict=True):
        at = (stake.easting, stake.northing, stake.set_elevation)
        np.testing.assert_allclose(point.dxf.location, at, atol=1e-9)
        data = [tag.value for tag in point.get_xdata("DRIPFIELD")]
        assert data == [f"point={stake.mark}", f"lateral={stake.lateral}", stake.set_elevation]
        assert number.dxf.text == str(stake.mark)


def test_tables_stand_in_paper_space(awkward, drawing):
    assert not drawing.modelspace().query('*[layer=="C-ANNO-TABL"]')
    cells = [
        one.dxf.text
        for name in drawing.layouts.names()
        if name.startswith("TABLE")
        for one in drawing.layouts.get(name).query('TEXT[layer=="C-ANNO-TABL"]')
    ]
    for lateral in awkward.measured.laterals:
        at = cells.index(lateral.name)
        assert cells[at + 1] == f"{lateral.length:.2f}"
        assert cells[at + 2] == f"{lateral.elevation:.2f}"


def test_viewports_have_the_scale_that_their_layout_states(hand, tmp_path):
    """An inch of paper is so many feet; a millimetre of a metric sheet N thousandths of a metre."""
    for field in (hand.awkward(), hand.plane(), hand.plane(unit=Unit.METRE)):
        document = ezdxf.readfile(draw(field, tmp_path / "staking.dxf"))
        plans = [n for n in document.layouts.names() if n.startswith(("PLAN", "STAKES"))]
        assert plans
        for name in plans:
            layout = document.layouts.get(name)
            (port,) = [one for one in layout.query("VIEWPORT") if one.dxf.status == 2]
            words = " ".join(one.dxf.text for one in layout.query("TEXT"))
            per_unit = port.dxf.view_height / port.dxf.height
            if field.site.unit is Unit.METRE:
                assert per_unit == pytest.approx(int(re.search(r"1:(\d+)", words)[1]) / 1000.0)
            else:
                assert per_unit == pytest.approx(int(re.search(r"1 in = (\d+) ft", words)[1]))
            frozen = set(port.frozen_layers)
            assert ("C-SSWR-STAK" in frozen) == name.startswith("PLAN")
            seen = shapely.transform(
                field.site.bed.boundary,
                lambda xy, port=port: np.array(
                    [
                        (one.x, one.y)
                        for one in port.get_transformation_matrix().transform_vertices(
                            Vec3.generate(xy.tolist())
                        )
                    ]
                ),
            )
            half = (0.5 * port.dxf.width, 0.5 * port.dxf.height)
            middle = port.dxf.center
            window = shapely.box(
                middle.x - half[0], middle.y - half[1], middle.x + half[0], middle.y + half[1]
            )
            assert window.contains(seen) or len(plans) > 2


@pytest.mark.parametrize("unit", [Unit.FOOT, Unit.METRE])
def test_a_second_program_plots_the_layout_to_scale(hand, tmp_path, unit):
    """ezdxf's renderer, which takes viewports as it finds them, draws the sheet in paper units.

    Hand-derived: ten laterals of 78 ft are 7.8 in each at 1 in = 10 ft; of 23.4 m 234 mm at 1:100.
    """
    field = hand.plane(unit=unit)
    document = ezdxf.readfile(draw(field, tmp_path / "staking.dxf"))
    layout = document.layouts.get("PLAN")
    axes = Figure().add_axes((0.0, 0.0, 1.0, 1.0))
    Frontend(RenderContext(document), MatplotlibBackend(axes)).draw_layout(layout)
    strokes = [line.get_xydata() for line in axes.lines]
    paths = [patch.get_path().vertices for patch in axes.patches]
    ends = [xy[[0, -1]] for xy in (*strokes, *paths) if len(xy) == 2]
    lengths = np.array([np.hypot(*(xy[1] - xy[0])) for xy in ends])
    words = " ".join(one.dxf.text for one in layout.query("TEXT"))
    if unit is Unit.FOOT:
        wanted = 78.0 / int(re.search(r"1 in = (\d+) ft", words)[1])
    else:
        wanted = 23_400.0 / int(re.search(r"1:(\d+)", words)[1])
    assert np.isclose(lengths, wanted, rtol=1e-6).sum() == 10


def test_no_text_plots_under_eight_hundredths_of_an_inch(awkward, drawing):
    smallest = min(
        one.dxf.height
        for name in drawing.layouts.names()[1:]
        for one in drawing.layouts.get(name).query("TEXT")
    )
    assert smallest >= 0.08 - 1e-9
    (port,) = [
        one
        for one in drawing.layouts.get(drawing.layouts.names()[1]).query("VIEWPORT")
        if one.dxf.status == 2
    ]
    per_inch = port.dxf.view_height / port.dxf.height
    in_model = min(one.dxf.height for one in drawing.modelspace().query("TEXT"))
    assert in_model / per_inch >= 0.08 - 1e-9


def test_shots_far_from_the_bed_are_left_to_the_survey(plane, tmp_path):
    """Hand-derived: the bed is 80 x 20 ft; a shot 500 ft away is beyond any sheet of it."""
    read = plane.ground.read
    far = np.array([(560.0, 10.0, 101.0)])
    more = replace(
        read,
        xyz=np.vstack((read.xyz, far)),
        names=(*read.names, "far"),
        descriptions=(*read.descriptions, "GS"),
        rows=np.append(read.rows, 9999),
    )
    field = replace(plane, ground=replace(plane.ground, read=more))
    document = ezdxf.readfile(draw(field, tmp_path / "staking.dxf"))
    points = document.modelspace().query('POINT[layer=="V-NODE-SPOT"]')
    assert len(points) == len(read.xyz)


def test_parts_out_of_tolerance_are_drawn(awkward, drawing):
    missed = drawing.modelspace().query('LWPOLYLINE[layer=="C-SSWR-MISS"]')
    drawn = sum(shapely.linestrings(one.get_points("xy")).length for one in missed)
    faulty = sum(one.length - one.length_both for one in awkward.measured.laterals)
    assert faulty > 0.0
    # each stretch ends within half a sample of where the measure counts it
    assert drawn == pytest.approx(faulty, abs=0.3 * len(missed))


def test_state_plane_coordinates_keep_their_digits(hand, tmp_path):
    field = hand.plane(origin=(6_543_210.123, 1_234_567.891))
    document = ezdxf.readfile(draw(field, tmp_path / "staking.dxf"))
    entities = document.modelspace().query('*[layer=="C-SSWR-LATL"]')
    for entity, lateral in zip(entities, field.layout.laterals, strict=True):
        np.testing.assert_allclose(entity.get_points("xy"), lateral.xy, rtol=0, atol=1e-8)


@pytest.mark.parametrize("name", ["%%u50 %% ^J \\U+0041 $x_1$", "שדה עליון – Größe", "x" * 200])
def test_any_site_name_is_plain_text(hand, tmp_path, name):
    document = ezdxf.readfile(draw(hand.plane(name=name), tmp_path / "staking.dxf"))
    assert document.audit().errors == []
    title = document.layouts.get("PLAN").query('TEXT[layer=="C-ANNO-TTLB"]')
    assert title
    assert not any("%%" in one.dxf.text or "\\U+" in one.dxf.text for one in title)


def test_same_bytes_whatever_the_hash_seed(tmp_path):
    code = (
        "import importlib.util, sys; from pathlib import Path\n"
        f"spec = importlib.util.spec_from_file_location('hand', {str(CONFTEST)!r})\n"
        "hand = importlib.util.module_from_spec(spec); sys.modules['hand'] = hand\n"
        "spec.loader.exec_module(hand)\n"
        "from dripfield.staking.method import field_method\n"
        "from dripfield.sheets.staking.staking_dxf import write_staking\n"
        "f = hand.plane()\n"
        "write_staking(Path(sys.argv[1]), f,"
        " field_method(f).stakes)\n"
    )
    written = set()
    for seed in ("1", "4", "5"):  # ezdxf's order of classes differs between the first two
        path = tmp_path / f"{seed}.dxf"
        subprocess.run(
            [sys.executable, "-c", code, str(path)],
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        written.add(path.read_bytes())
    assert len(written) == 1


CONFTEST = Path(__file__).with_name("conftest.py")
