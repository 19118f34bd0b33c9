"""What designers exchange, read back by other programs: GDAL, openpyxl, lxml, json."""

from __future__ import annotations

import json

import numpy as np
import openpyxl
import pyogrio
import pytest
import shapely
from lxml import etree

from dripfield.outputs.layout import write_layout_files


@pytest.fixture(scope="module")
def local(awkward, tmp_path_factory):
    """A site on a local grid."""
    folder = tmp_path_factory.mktemp("local")
    write_layout_files(awkward, folder, shapefile=True)
    return folder


def test_geojson_of_a_local_grid_says_that_its_coordinates_are_no_degrees(awkward, local):
    content = json.loads((local / "laterals.geojson").read_text(encoding="utf-8"))
    assert content["coordinates"] == (
        "easting and northing of the site's own grid in ft (international)"
    )
    assert content["warning"].startswith("Coordinates are easting and northing")
    lines = [one for one in content["features"] if one["properties"]["kind"] == "lateral"]
    assert len(lines) == len(awkward.layout.laterals)
    drawn = np.array(lines[0]["geometry"]["coordinates"])
    left, low, right, high = awkward.site.bed.boundary.bounds
    assert ((drawn >= (left, low)) & (drawn <= (right, high))).all()


def test_geojson_of_a_known_system_is_in_degrees(hand, tmp_path):
    field = hand.plane(crs="EPSG:6595", origin=(10_570_000.0, 3_476_700.0))
    write_layout_files(field, tmp_path)
    content = json.loads((tmp_path / "laterals.geojson").read_text(encoding="utf-8"))
    assert content["coordinates"] == "longitude and latitude (WGS 84)"
    assert "Coordinates are" not in content["warning"]
    longitude, latitude = content["features"][0]["geometry"]["coordinates"][0]
    assert -180.0 <= longitude <= 180.0
    assert -90.0 <= latitude <= 90.0


@pytest.mark.parametrize(
    ("name", "layers"),
    [
        ("laterals.gpkg", {"laterals", "points"}),
        ("laterals.shp.zip", {"layout_laterals", "layout_points"}),
    ],
)
def test_gdal_reads_laterals_where_they_lie(awkward, local, name, layers):
    path = local / name
    assert {layer for layer, _ in pyogrio.list_layers(path)} == layers
    _, _, shapes, _ = pyogrio.raw.read(path, layer=min(layers))
    lines = shapely.from_wkb(shapes)
    assert len(lines) == len(awkward.layout.laterals)
    for line, lateral in zip(lines, awkward.layout.laterals, strict=True):
        # straight between stakes, which lie within the chord tolerance of the lateral
        assert line.hausdorff_distance(shapely.linestrings(lateral.xy)) < 0.2
        assert shapely.get_coordinates(line, include_z=True)[0, 2] == pytest.approx(
            lateral.elevation, abs=1e-6
        )


def test_workbook_has_laterals_and_totals_by_panel(awkward, local):
    book = openpyxl.load_workbook(local / "laterals.xlsx")
    assert book.sheetnames == ["Laterals", "Panels", "Stakes"]
    rows = list(book["Panels"].iter_rows(min_row=2, values_only=True))
    for panel, count, tubing, *_ in rows[:-1]:
        own = [one for one in awkward.measured.laterals if one.panel == panel]
        assert count == len(own)
        assert tubing == pytest.approx(sum(one.length for one in own), abs=0.006)


def test_landxml_has_an_alignment_a_lateral(awkward, local):
    tree = etree.parse(local / "laterals.xml")
    names = tree.xpath("//*[local-name()='Alignment']/@name")
    assert names == [one.name for one in awkward.layout.laterals]


def test_the_same_shapefile_has_the_same_bytes(awkward, local, tmp_path):
    write_layout_files(awkward, tmp_path, shapefile=True)
    first, second = (folder / "laterals.shp.zip" for folder in (local, tmp_path))
    assert first.read_bytes() == second.read_bytes()
