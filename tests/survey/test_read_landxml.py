"""LandXML 1.2 files, small and written by hand.

The schema of LandXML 1.2 is not to be had here, so the files are checked by structure alone: every
element stands where the published element reference puts it (LandXML > Units, CgPoints,
Surfaces > Surface > SourceData and Definition > Pnts > P, Faces > F), northing before easting.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from shapely import Polygon

from dripfield.core.units import Unit

HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"
  date="2024-01-01" time="00:00:00">
"""
FEET = '<Units><Imperial linearUnit="foot" areaUnit="squareFoot" volumeUnit="cubicYard"/></Units>\n'
POINTS = """<CgPoints>
<CgPoint name="101" code="GS">5000.25 2000.5 100.125</CgPoint>
<CgPoint name="102" desc="brow">5010 2000 100.5</CgPoint>
<CgPoints name="control"><CgPoint name="BM1">5020.75 2010.25 101</CgPoint></CgPoints>
</CgPoints>
"""
TIN = """<Surfaces><Surface name="ground"><Definition surfType="TIN">
<Pnts>
<P id="1">5000.25 2000.5 100.125</P>
<P id="2">5010 2000 100.5</P>
<P id="7">5020.75 2010.25 101</P>
<P id="4">5000 2020 102</P>
</Pnts>
<Faces>
<F>1 2 7</F>
<F n="1 0 0">1 4 7</F>
<F i="1">2 7 4</F>
</Faces>
</Definition></Surface></Surfaces>
"""
SOURCE = """<Surfaces><Surface name="ground"><SourceData>
<DataPoints><PntList3D>5000 2000 100 5010 2000 101 5000 2010 102</PntList3D></DataPoints>
<Breaklines>
<Breakline brkType="standard"><PntList3D>5001 2001 100.5 5002 2004 101.25</PntList3D></Breakline>
</Breaklines>
<Boundaries>
<Boundary bndType="void"><PntList2D>5003 2003 5003 2004 5004 2004</PntList2D></Boundary>
<Boundary bndType="outer"><PntList2D>5000 2000 5010 2000 5000 2010</PntList2D></Boundary>
</Boundaries>
</SourceData></Surface></Surfaces>
"""
XYZ = [[2000.5, 5000.25, 100.125], [2000.0, 5010.0, 100.5], [2010.25, 5020.75, 101.0]]


def write(folder: Path, body: str, head: str = HEAD, tail: str = "</LandXML>\n") -> Path:
    path = folder / "survey.xml"
    path.write_text(head + body + tail, encoding="utf-8")
    return path


def test_points_are_northing_first(tmp_path, read):
    survey = read(write(tmp_path, FEET + POINTS))
    assert survey.xyz.tolist() == XYZ
    assert survey.names == ("101", "102", "BM1")
    assert survey.descriptions == ("GS", "brow", "")
    assert survey.rows.tolist() == [6, 7, 8]
    assert survey.notes == ()


def test_content_outweighs_the_ending(tmp_path, read):
    path = write(tmp_path, FEET + POINTS).rename(tmp_path / "survey.txt")
    assert read(path).xyz.tolist() == XYZ


def test_utf_16(tmp_path, read):
    path = tmp_path / "survey.xml"
    head = HEAD.replace("UTF-8", "UTF-16")
    path.write_text(head + FEET + POINTS + "</LandXML>", encoding="utf-16")
    assert read(path).xyz.tolist() == XYZ


def test_surface_with_its_own_faces(tmp_path, read):
    survey = read(write(tmp_path, FEET + POINTS + TIN))
    assert survey.xyz[:3].tolist() == XYZ
    assert survey.names == ("101", "102", "BM1", "4")  # CgPoints lend their names
    assert survey.faces.shape == (2, 3)  # the face marked invisible is left out
    assert {frozenset(face) for face in survey.faces.tolist()} == {
        frozenset((0, 1, 2)),
        frozenset((0, 2, 3)),
    }
    for triangle in survey.xyz[survey.faces][:, :, :2]:
        assert Polygon(triangle).exterior.is_ccw


def test_points_off_the_surface_are_mentioned(tmp_path, read):
    extra = POINTS.replace("5010 2000 100.5", "6010 2000 100.5")
    assert read(write(tmp_path, FEET + extra + TIN)).notes == (
        "survey.xml: 1 CgPoints that are no corner of the surface unused",
    )


def test_source_data_with_breaklines_and_voids(tmp_path, read):
    survey = read(write(tmp_path, FEET + SOURCE))
    assert survey.xyz.tolist() == [[2000, 5000, 100], [2000, 5010, 101], [2010, 5000, 102]]
    assert [line.tolist() for line in survey.breaklines] == [
        [[2001, 5001, 100.5], [2004, 5002, 101.25]]
    ]
    assert [ring.tolist() for ring in survey.voids] == [[[2003, 5003], [2004, 5003], [2004, 5004]]]
    assert survey.faces is None


def test_one_of_several_surfaces_by_name(tmp_path, read, refusal):
    second = TIN.replace("ground", "design").replace("100.125", "99.5")
    both = (TIN + second).replace("</Surfaces>\n<Surfaces>", "")
    path = write(tmp_path, FEET + both)
    assert read(path, surface="design").xyz[0, 2] == 99.5
    assert refusal(path) == (
        "survey.xml: it holds 2 surfaces (ground, design); name one as surface = \"…\" under "
        "[survey] in site.toml"
    )  # fmt: skip
    assert refusal(path, surface="existing") == (
        "survey.xml: it holds no surface 'existing' (it has ground, design); correct surface "
        "under [survey] in site.toml"
    )


@pytest.mark.parametrize(
    ("name", "unit"),
    [("foot", Unit.FOOT), ("USSurveyFoot", Unit.SURVEY_FOOT), ("meter", Unit.METRE)],
)
def test_units_must_be_the_sites(tmp_path, read, refusal, name, unit):
    path = write(tmp_path, FEET.replace("foot", name) + POINTS)
    assert read(path, unit).xyz.tolist() == XYZ
    for other in set(Unit) - {unit}:
        assert refusal(path, other) == (
            f"survey.xml, row 4, linearUnit: the file is in '{name}' and the site in "
            f"{other.label}; export it in the site's unit, or correct units under [site] in "
            "site.toml"
        )


def test_no_units_is_said(tmp_path, read):
    assert read(write(tmp_path, POINTS)).notes == (
        "survey.xml: the file names no unit; read as ft (international)",
    )


def test_points_without_elevation_are_passed_over_and_said(tmp_path, read):
    body = POINTS.replace("5010 2000 100.5", "5010 2000")
    survey = read(write(tmp_path, FEET + body))
    assert survey.names == ("101", "BM1")
    assert survey.notes == ("survey.xml: 1 CgPoints without an elevation were passed over",)


BOMB = """<?xml version="1.0"?>
<!DOCTYPE LandXML [
<!ENTITY a "aaaaaaaaaa">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">
]>
<LandXML>"""
OUTSIDE = """<?xml version="1.0"?>
<!DOCTYPE LandXML SYSTEM "file:///etc/passwd">
<LandXML>"""


@pytest.mark.parametrize("head", [BOMB, OUTSIDE])
def test_entities_and_document_types_are_refused(tmp_path, refusal, head):
    assert refusal(write(tmp_path, FEET + POINTS, head)) == (
        "survey.xml, row 2: it holds a DOCTYPE declaration, which a survey never needs; export it "
        "again without one"
    )


def bad(old: str, new: str) -> str:
    body = FEET + POINTS + TIN
    assert old in body
    return body.replace(old, new, 1)


@pytest.mark.parametrize(
    ("body", "line"),
    [
        (bad("5010 2000 100.5", "5010 2O00 100.5"),
         "survey.xml, row 7, CgPoint 102: '2O00' is not a number; correct it"),
        (bad("<F>1 2 7</F>", "<F>1 2 9</F>"), "survey.xml, row 18: a face stands on point 9, which "
         "is not there; export the surface again"),
        (bad("<F>1 2 7</F>", "<F>1 2</F>"),
         "survey.xml, row 18: a face has 2 corners; export the surface again"),
        (bad('<P id="7">', '<P id="2">'), "survey.xml, row 14: the surface has two points with the "
         "id 2; export it again"),
        (bad('surfType="TIN"', 'surfType="grid"'),
         "survey.xml, row 10: the surface is of type grid; export it as a TIN"),
        (bad('<P id="2">5010 2000 100.5</P>', '<P id="2">5010 2000</P>'), "survey.xml, row 13: P 2 "
         "holds 2 numbers; give northing, easting and elevation"),
        (FEET, "survey.xml: it holds no CgPoints and no surface; export the points with it"),
        (FEET + SOURCE.replace("5000 2010 102<", "5000 2010<"), "survey.xml, row 6: PntList3D "
         "holds 8 numbers, which are no triples; export it again"),
    ],
)  # fmt: skip
def test_bad_content_names_its_line(tmp_path, refusal, body, line):
    assert refusal(write(tmp_path, body)) == line


def test_truncated_and_foreign_files(tmp_path, refusal):
    path = write(tmp_path, FEET + POINTS[:120], tail="")
    assert refusal(path).startswith(
        "survey.xml, row 7: it is not well-formed XML, or it is cut short ("
    )
    path.write_text("<?xml version='1.0'?>\n<gpx/>\n")
    assert refusal(path) == (
        "survey.xml: its root element is gpx, not LandXML; export it as LandXML 1.2"
    )
    path.write_text("1,2,3,4,5\n")
    assert refusal(path) == (
        "survey.xml, row 1: it is not well-formed XML, or it is cut short (Start tag expected, "
        "'<' not found, line 1, column 1); export it again"
    )
