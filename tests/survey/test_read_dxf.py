"""DXF drawings, written with ezdxf as a drafting program would."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import numpy as np
import pytest
from shapely import Polygon

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.formats.drawing import bed_from_dxf

CORNERS = [(2000.0, 5000.0, 100.0), (2040.0, 5000.0, 101.5), (2040.0, 5030.0, 103.0),
           (2000.0, 5030.0, 102.0)]  # fmt: skip


def drawing(insunits: int = 2, version: str = "R2018") -> ezdxf.document.Drawing:
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = insunits
    return document


def save(document: ezdxf.document.Drawing, folder: Path, name: str = "plan.dxf") -> Path:
    document.saveas(folder / name)
    return folder / name


def with_points(document: ezdxf.document.Drawing, layer: str = "SHOTS") -> None:
    for corner in CORNERS:
        document.modelspace().add_point(corner, dxfattribs={"layer": layer})


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_points(tmp_path, read, version):
    document = drawing(version=version)
    with_points(document)
    survey = read(save(document, tmp_path))
    assert survey.xyz.tolist() == [list(corner) for corner in CORNERS]
    assert survey.names == ("1", "2", "3", "4")


def test_binary_dxf_whatever_its_ending(tmp_path, read):
    document = drawing()
    with_points(document)
    document.saveas(tmp_path / "plan.txt", fmt="bin")
    assert read(tmp_path / "plan.txt").xyz.tolist() == [list(corner) for corner in CORNERS]


def test_symbols_with_attributes(tmp_path, read):
    document = drawing()
    block = document.blocks.new("SPOT")
    block.add_circle((0, 0), 1)
    for tag in ("POINT", "ELEV", "DESC"):
        block.add_attdef(tag, (0, 0))
    for i, (x, y, z) in enumerate(CORNERS):
        place = (x, y, z if i % 2 else 0.0)  # some programs leave the symbol on the ground plane
        insert = document.modelspace().add_blockref("SPOT", place)
        insert.add_auto_attribs({"POINT": f"S{i}", "ELEV": f"{z:.2f}", "DESC": "GS"})
    survey = read(save(document, tmp_path))
    assert survey.names == ("S0", "S1", "S2", "S3")
    assert survey.descriptions == ("GS",) * 4
    assert survey.xyz.tolist() == [list(corner) for corner in CORNERS]


def test_blocks_in_blocks_are_taken_apart(tmp_path, read):
    document = drawing()
    inner = document.blocks.new("INNER")
    inner.add_point((1, 0, 10))
    outer = document.blocks.new("OUTER")
    outer.add_blockref("INNER", (10, 0, 0), dxfattribs={"rotation": 90})
    document.modelspace().add_blockref("OUTER", (100, 200, 5))
    document.modelspace().add_blockref("OUTER", (300, 200, 6), dxfattribs={"rotation": 90})
    # hand-derived: the inner block turns (1, 0) to (0, 1) and stands at (10, 0)
    expected = [[110, 201, 15], [299, 210, 16]]
    assert np.allclose(read(save(document, tmp_path)).xyz, expected, atol=1e-9)


def test_texts_as_elevations(tmp_path, read):
    document = drawing()
    space = document.modelspace()
    space.add_text("100.25").set_placement((10, 20))
    space.add_mtext("{\\fArial;EL. 101.5}", dxfattribs={"insert": (30, 20)})
    space.add_text("102.75'").set_placement((10, 40))
    space.add_text("57").set_placement((11, 41))  # a point number, perhaps
    space.add_text("oak 12.5 in").set_placement((12, 42))
    survey = read(save(document, tmp_path))
    assert survey.xyz.tolist() == [[10, 20, 100.25], [30, 20, 101.5], [10, 40, 102.75]]


def test_whole_number_texts_count_on_a_chosen_layer(tmp_path, read):
    document = drawing()
    for x, text in enumerate(("100", "101", "102.5")):
        document.modelspace().add_text(text, dxfattribs={"layer": "Spots"}).set_placement((x, 0))
    assert read(save(document, tmp_path), points_layer="SPOTS").xyz[:, 2].tolist() == [
        100, 101, 102.5
    ]  # fmt: skip


def test_texts_beside_points_are_labels(tmp_path, read):
    document = drawing()
    with_points(document)
    document.modelspace().add_text("100.00").set_placement((2001, 5001))
    survey = read(save(document, tmp_path))
    assert len(survey.xyz) == 4
    assert survey.notes == ("plan.dxf: texts were taken as labels, since the drawing has points",)


def test_breaklines_and_voids(tmp_path, read):
    document = drawing()
    with_points(document)
    space = document.modelspace()
    ditch = [(2005, 5001, 100.1), (2020, 5010, 101.0), (2035, 5029, 102.5)]
    space.add_polyline3d(ditch, dxfattribs={"layer": "DITCH"})
    space.add_polyline3d(CORNERS[:3], close=True, dxfattribs={"layer": "WALL"})
    space.add_lwpolyline([(0, 0), (9, 9)], dxfattribs={"layer": "DITCH", "elevation": 99.0})
    space.add_line((1, 2, 3), (4, 5, 6), dxfattribs={"layer": "DITCH"})
    hole = [(2010, 5010), (2012, 5010), (2012, 5012)]
    space.add_lwpolyline(hole, close=True, dxfattribs={"layer": "POND"})
    path = save(document, tmp_path)
    survey = read(path)
    assert [line.tolist() for line in survey.breaklines] == [
        [list(map(float, p)) for p in ditch],
        [list(p) for p in (*CORNERS[:3], CORNERS[0])],
    ]
    chosen = read(path, breakline_layer="ditch", void_layer="POND", no_reading="keep")
    assert [len(line) for line in chosen.breaklines] == [3, 2, 2]
    assert chosen.breaklines[1][:, 2].tolist() == [99.0, 99.0]
    assert chosen.voids[0][:3].tolist() == [list(map(float, p)) for p in hole]


def test_faces_become_the_surface(tmp_path, read):
    document = drawing()
    a, b, c, d = CORNERS
    document.modelspace().add_3dface([a, b, c])
    document.modelspace().add_3dface([a, d, c, c])  # clockwise
    survey = read(save(document, tmp_path))
    assert len(survey.xyz) == 4
    assert survey.faces.shape == (2, 3)
    plan = survey.xyz[survey.faces][:, :, :2]
    assert all(Polygon(triangle).exterior.is_ccw for triangle in plan)
    assert sum(Polygon(triangle).area for triangle in plan) == pytest.approx(40 * 30)


def test_quad_faces_split_and_stand_on_points(tmp_path, read):
    document = drawing()
    with_points(document)
    document.modelspace().add_3dface(CORNERS)
    survey = read(save(document, tmp_path))
    assert survey.faces.tolist() == [[0, 1, 2], [0, 2, 3]]


def test_faces_off_the_points_are_refused(tmp_path, refusal, read):
    document = drawing()
    with_points(document)
    document.modelspace().add_3dface([(0, 0, 1), (1, 0, 1), (1, 1, 1)], {"layer": "MESH"})
    path = save(document, tmp_path)
    assert refusal(path) == (
        "plan.dxf: a 3D face has a corner at northing 0.000, easting 0.000, elevation 1.000 where "
        "no point stands; delete the faces, or name the points' own layer as points_layer under "
        "[survey] in site.toml"
    )
    assert read(path, points_layer="SHOTS").faces is None


PLACES = " 10\n{}\n 20\n{}\n 30\n{}\n"


def test_a_drawing_of_entities_alone_names_no_unit(tmp_path, read):
    points = "".join(f"  0\nPOINT\n  8\nSPOT\n{PLACES.format(*c)}" for c in CORNERS)
    path = tmp_path / "plan.dxf"
    path.write_text(f"  0\nSECTION\n  2\nENTITIES\n{points}  0\nENDSEC\n  0\nEOF\n")
    survey = read(path)
    assert survey.xyz.tolist() == [list(c) for c in CORNERS]
    assert survey.notes == ("plan.dxf: the drawing names no unit; read as ft (international)",)


@pytest.mark.parametrize(
    ("code", "unit", "drawn", "site"),
    [
        (6, Unit.FOOT, "m", "ft (international)"),
        (2, Unit.METRE, "ft (international)", "m"),
        (2, Unit.SURVEY_FOOT, "ft (international)", "US survey ft"),
        (21, Unit.FOOT, "US survey ft", "ft (international)"),
        (1, Unit.FOOT, "inches", "ft (international)"),
    ],
)
def test_another_unit_is_refused(tmp_path, refusal, code, unit, drawn, site):
    document = drawing(code)
    with_points(document)
    assert refusal(save(document, tmp_path), unit) == (
        f"plan.dxf, $INSUNITS: the drawing is in {drawn} ($INSUNITS {code}) and the site in "
        f"{site}; export it in the site's unit, or correct units under [site] in site.toml"
    )


def test_a_drawing_without_a_unit_is_read_and_said(tmp_path, read):
    document = drawing(0)
    with_points(document)
    assert read(save(document, tmp_path), Unit.METRE).notes == (
        "plan.dxf: the drawing names no unit; read as m",
    )


def test_refusals(tmp_path, refusal):
    empty = save(drawing(), tmp_path, "empty.dxf")
    assert refusal(empty) == (
        "empty.dxf: no point, symbol or text with an elevation was found (the drawing holds "
        "nothing); draw the shots as POINT or as texts of their elevations, or name points_layer "
        "under [survey] in site.toml"
    )
    document = drawing()
    with_points(document)
    path = save(document, tmp_path)
    assert refusal(path, points_layer="SHOT") == (
        "plan.dxf: the drawing has no layer 'SHOT' (it has 0, Defpoints, SHOTS); correct "
        "[survey] points_layer in site.toml"
    )
    broken = "is no DXF drawing, or it is damaged or cut short; export it again as ASCII DXF"
    content = path.read_bytes()
    for cut in (len(content) // 3, len(content) // 2, len(content) - 20):
        (tmp_path / "cut.dxf").write_bytes(content[:cut])
        assert refusal(tmp_path / "cut.dxf") == f"cut.dxf: it {broken}"
    (tmp_path / "csv.dxf").write_text("1,2,3,4\n2,3,4,5\n")
    assert refusal(tmp_path / "csv.dxf") == f"csv.dxf: it {broken}"
    document.modelspace().add_point((2010, 5010, 0))
    assert refusal(save(document, tmp_path)) == (
        "plan.dxf, row 5, elevation: the elevation of point 5 is 0 where the others lie between "
        '100 and 103: is it a reading?; write no_reading = "skip" or no_reading = "keep" under '
        "[survey] in site.toml"
    )


def test_block_that_holds_itself_is_refused(tmp_path, refusal):
    document = drawing()
    block = document.blocks.new("LOOP")
    block.add_blockref("LOOP", (1, 1))
    document.modelspace().add_blockref("LOOP", (0, 0))
    assert refusal(save(document, tmp_path)) == (
        "plan.dxf: the block LOOP holds itself; mend the drawing"
    )


class TestBed:
    def test_closed_polyline_on_its_layer(self, tmp_path):
        document = drawing()
        space = document.modelspace()
        space.add_lwpolyline([c[:2] for c in CORNERS], close=True, dxfattribs={"layer": "BED"})
        space.add_text("the bed", dxfattribs={"layer": "BED"})
        space.add_circle((0, 0), 5, dxfattribs={"layer": "WELL"})
        path = save(document, tmp_path)
        ring, notes = bed_from_dxf(path, "bed", Unit.FOOT)
        assert ring.tolist() == [list(c[:2]) for c in CORNERS]
        assert notes == ()
        circle = Polygon(bed_from_dxf(path, "WELL", Unit.FOOT)[0])
        assert circle.area == pytest.approx(np.pi * 25, rel=0.005)

    def test_arcs_stay_within_the_chord_tolerance(self, tmp_path):
        document = drawing()
        corners = [(0, 0, 0), (40, 0, 1), (40, 20, 0), (0, 20, 0)]  # a half circle on one side
        document.modelspace().add_lwpolyline(
            corners, format="xyb", close=True, dxfattribs={"layer": "BED"}
        )
        ring, _ = bed_from_dxf(save(document, tmp_path), "BED", Unit.FOOT)
        on_arc = ring[ring[:, 0] > 40.0 + 1e-9]
        assert np.allclose(np.hypot(on_arc[:, 0] - 40, on_arc[:, 1] - 10), 10.0, atol=1e-4)
        exact = 40 * 20 + np.pi * 10**2 / 2
        assert Polygon(ring).area == pytest.approx(exact, abs=10 * np.pi * 0.01)

    @pytest.mark.parametrize(
        ("closed", "line"),
        [
            (0, "plan.dxf: layer 'BED' holds 1 open line, none closed; close the bed's polyline "
             "in the drawing"),
            (2, "plan.dxf: layer 'BED' holds 2 closed lines; leave only the bed's on it"),
        ],
    )  # fmt: skip
    def test_none_or_several_closed_lines(self, tmp_path, closed, line):
        document = drawing()
        for i in range(max(closed, 1)):
            document.modelspace().add_lwpolyline(
                [(0, 0), (9, 0), (9, 9 + i)], close=bool(closed), dxfattribs={"layer": "BED"}
            )
        with pytest.raises(InputError) as caught:
            bed_from_dxf(save(document, tmp_path), "BED", Unit.FOOT)
        assert str(caught.value) == line
