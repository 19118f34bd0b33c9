"""GeoJSON by the standard's own rules, and other vector files against GDAL's writer."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pytest
import shapely
from pyproj import Transformer

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.read.survey_file import read_survey

OREGON = "EPSG:6559"  # NAD83(2011) / Oregon North (ft), international feet
LOCAL = [(2000.5, 5000.25, 100.125), (2040.0, 5010.0, 100.5), (2010.25, 5070.75, 101.0)]
GRID = [(7663717.25 + x, 675384.5 + y, z) for x, y, z in LOCAL]


def feature(position: Any, kind: str = "Point", **properties: Any) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": position}
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def write(folder: Path, *features: Any, name: str = "survey.geojson", **members: Any) -> Path:
    path = folder / name
    collection = {"type": "FeatureCollection", "features": list(features), **members}
    path.write_text(json.dumps(collection))
    return path


def degrees(places: list[tuple[float, float, float]]) -> list[list[float]]:
    to_degrees = Transformer.from_crs(OREGON, "EPSG:4326", always_xy=True)
    return [[*to_degrees.transform(x, y), z] for x, y, z in places]


def test_site_coordinates_that_cannot_be_degrees(tmp_path, read):
    survey = read(write(tmp_path, *(feature(p, name=f"S{i}") for i, p in enumerate(LOCAL))))
    assert survey.xyz.tolist() == [list(p) for p in LOCAL]
    assert survey.names == ("S0", "S1", "S2")
    assert survey.notes == (
        "survey.geojson: its coordinates cannot be degrees; taken as the site's own",
    )


def test_elevation_from_a_property(tmp_path, read):
    features = [feature(p[:2], elev=p[2], code="GS") for p in LOCAL]
    survey = read(write(tmp_path, *features))
    assert survey.xyz.tolist() == [list(p) for p in LOCAL]
    assert survey.descriptions == ("GS",) * 3
    features = [feature([*p[:2], 0.0], rim=p[2]) for p in LOCAL]
    survey = read(write(tmp_path, *features), elevation_field="rim")
    assert survey.xyz.tolist() == [list(p) for p in LOCAL]


def test_multipoints_lines_and_the_rest(tmp_path, read):
    survey = read(
        write(
            tmp_path,
            feature([list(p) for p in LOCAL], "MultiPoint"),
            feature([list(p) for p in LOCAL], "LineString"),
            feature([[list(p) for p in (*LOCAL, LOCAL[0])]], "Polygon"),
            {"type": "Feature", "geometry": None, "properties": None},
        )
    )
    assert len(survey.xyz) == 3
    assert [line.tolist() for line in survey.breaklines] == [[list(p) for p in LOCAL]]
    assert survey.notes[0] == "survey.geojson: 2 features that are no shots passed over"


def test_longitude_and_latitude_into_the_sites_system(tmp_path, read):
    path = write(tmp_path, *(feature(p) for p in degrees(GRID)))
    survey = read(path, given={"crs": OREGON}, elevation_unit="ft")
    assert np.allclose(survey.xyz, GRID, rtol=0, atol=1e-4)
    assert survey.notes[0] == (
        "WGS 84 to NAD83(2011) / Oregon North (ft) by Inverse of NAD83(2011) to WGS 84 (1) + "
        "SPCS83 Oregon North zone (international foot): approximate (±2 m stated)"
    )
    metres = read(path, given={"crs": OREGON}, elevation_unit="m")
    assert np.allclose(metres.xyz[:, 2], [z / 0.3048 for _, _, z in GRID], rtol=1e-12)
    assert metres.notes[1] == "elevations converted from m to ft (international)"


def test_crs_member_of_the_older_form(tmp_path, read):
    member = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::6559"}}
    path = write(tmp_path, *(feature(p) for p in GRID), crs=member)
    survey = read(path, given={"crs": OREGON})
    assert survey.xyz.tolist() == [list(p) for p in GRID]
    member["properties"]["name"] = "urn:ogc:def:crs:OGC:1.3:CRS84"
    path = write(tmp_path, *(feature(p) for p in degrees(GRID)), crs=member)
    survey = read(path, given={"crs": OREGON}, elevation_unit="ft")
    assert np.allclose(survey.xyz, GRID, rtol=0, atol=1e-4)


def test_survey_crs_says_small_numbers_are_the_sites_own(tmp_path, read):
    places = [(0.1, 0.2, 5.0), (0.3, 0.2, 5.5), (0.1, 0.4, 6.0)]
    path = write(tmp_path, *(feature(p) for p in places))
    assert read(path, Unit.METRE, crs="site").xyz.tolist() == [list(p) for p in places]


def test_degrees_need_a_system_and_a_unit(tmp_path, refusal):
    path = write(tmp_path, *(feature(p) for p in degrees(GRID)))
    assert refusal(path) == (
        "survey.geojson: its coordinates are in EPSG:4326 and the site names no system to carry "
        'them into; add crs = "EPSG:…" under [site] in site.toml, or crs = "site" under [survey] '
        "where they are the site's own"
    )
    assert refusal(path, given={"crs": OREGON}) == (
        "survey.geojson: its coordinates are in WGS 84 and the unit of its elevations is not told; "
        'add elevation_unit = "m", "ft" or "ftUS" under [survey] in site.toml'
    )


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('{"type": "FeatureCollection", "features": [\n{"type": "Fea', "survey.geojson, row 2: it "
         "is not JSON, or it is cut short (Unterminated string starting at); export it again"),
        ('{"name": "x"}', "survey.geojson: it is JSON and not GeoJSON; export a FeatureCollection "
         "of points"),
        ("[1, 2, 3]", "survey.geojson: it is JSON and not GeoJSON; export a FeatureCollection of "
         "points"),
        ("[" * 100_000, "survey.geojson: its brackets nest too deep; export it again"),
        ('{"type": "FeatureCollection", "features": [3]}', "survey.geojson: its features are no "
         "list; export it again"),
        (json.dumps(feature([1000, "12°30\'"])), "survey.geojson: the position [1000, "
         '"12\\u00b030\'"] of feature 1 is not two or three numbers; export it again'),
        (json.dumps(feature([1000, 2000])), "survey.geojson: feature 1 has no elevation; give it a "
         "third coordinate, or name the property as elevation_field under [survey]"),
        (json.dumps(feature([1000, 2000], z="12,5")), "survey.geojson, elevation of feature 1: "
         "'12,5' has a decimal comma; add decimal = \",\" under [survey] in site.toml"),
        ('{"type": "FeatureCollection", "features": []}', "survey.geojson: it holds no points with "
         "elevations (0 other features); export the shots as points"),
        ('{"type": "Feature", "geometry": {"type": "Point", "coordinates": [1, NaN, 3]}}',
         "survey.geojson: a number in it is written as NaN; export it again"),
    ],
)  # fmt: skip
def test_bad_geojson(tmp_path, refusal, text, line):
    path = tmp_path / "survey.geojson"
    path.write_text(text)
    assert refusal(path) == line


def replaced(content: Any, place: tuple[Any, ...], value: Any) -> Any:
    """A copy of JSON content with another value at a place."""
    if not place:
        return value
    copy = dict(content) if isinstance(content, dict) else list(content)
    copy[place[0]] = replaced(content[place[0]], place[1:], value)
    return copy


def places_in(content: Any) -> list[tuple[Any, ...]]:
    inner = content.items() if isinstance(content, dict) else enumerate(content)
    deeper = [
        (key, *place)
        for key, part in inner
        if isinstance(part, dict | list)
        for place in places_in(part)
    ]
    return [(key,) for key in (content if isinstance(content, dict) else range(len(content)))] + (
        deeper
    )


def test_wrong_kinds_of_value_anywhere_are_read_past_or_refused_in_one_line(tmp_path):
    good = {
        "type": "FeatureCollection",
        "features": [
            feature((1000.0, 2000.0, 3.0), elev=3.0),
            {"type": "Feature", "geometry": {"type": "GeometryCollection", "geometries": [
                {"type": "LineString", "coordinates": [[1000, 2000, 3], [1001, 2000, 3]]},
                {"type": "MultiPoint", "coordinates": [[1002, 2000, 3]]},
            ]}},
        ],
    }  # fmt: skip
    path = tmp_path / "survey.geojson"
    values = [None, True, 3, 1e308, "x", [], {}, [1], [[1]], [[[1, 2, 3]]], [None], {"type": []}]
    tried, lines = 0, []
    for place in places_in(good):
        for value in values:
            path.write_text(json.dumps(replaced(good, place, value)))
            tried += 1
            try:
                read_survey(path, SurveyTable(points=path.name), Unit.FOOT)
            except InputError as refusal:
                lines.append(str(refusal))
    assert all(line.startswith("survey.geojson") and "\n" not in line for line in lines)
    assert 0.2 * tried < len(lines) < 0.9 * tried


def save(folder: Path, name: str, places: Any = GRID, crs: str = OREGON, **more: Any) -> Path:
    """Write points with GDAL."""
    path = folder / name
    names = np.array([f"S{i}" for i in range(len(places))], dtype=object)
    pyogrio.raw.write(
        path,
        geometry=shapely.to_wkb(shapely.points(np.array(places)), output_dimension=3),
        field_data=[names],
        fields=np.array(["name"]),
        geometry_type="Point Z",
        crs=crs,
        **more,
    )
    return path


@pytest.mark.parametrize("ending", ["gpkg", "shp", "fgb"])
def test_files_that_gdal_writes(tmp_path, read, ending):
    survey = read(save(tmp_path, f"survey.{ending}"), given={"crs": OREGON})
    order = np.argsort(survey.names)  # a spatial index may order the features anew
    assert survey.xyz[order].tolist() == [list(p) for p in GRID]


def test_other_system_is_carried_over(tmp_path, read):
    path = save(tmp_path, "survey.gpkg", degrees(GRID), "EPSG:4326")
    survey = read(path, given={"crs": OREGON}, elevation_unit="ft")
    assert np.allclose(survey.xyz, GRID, rtol=0, atol=1e-4)


def test_a_file_without_a_system_is_the_sites_own_and_says_so(tmp_path, read):
    path = save(tmp_path, "survey.shp", LOCAL)
    (tmp_path / "survey.prj").unlink()
    survey = read(path)
    assert survey.xyz.tolist() == [list(p) for p in LOCAL]
    assert survey.notes == (
        "survey.shp: the file names no coordinate system; taken as the site's own",
    )


def test_zipped_shapefile(tmp_path, read):
    save(tmp_path, "survey.shp")
    with zipfile.ZipFile(tmp_path / "survey.zip", "w") as archive:
        for part in tmp_path.glob("survey.[!z]*"):
            archive.write(part, f"export/{part.name}")
    survey = read(tmp_path / "survey.zip", given={"crs": OREGON})
    assert survey.xyz.tolist() == [list(p) for p in GRID]


def test_layers_are_named(tmp_path, read, refusal):
    path = save(tmp_path, "survey.gpkg", layer="shots")
    save(tmp_path, "survey.gpkg", LOCAL, layer="other", append=True)
    assert read(path, given={"crs": OREGON}, points_layer="shots").xyz.tolist() == [
        list(p) for p in GRID
    ]
    assert refusal(path, given={"crs": OREGON}) == (
        "survey.gpkg: it has 2 layers (shots, other); name one as points_layer under [survey] in "
        "site.toml"
    )


def test_wrong_zips_and_damaged_files(tmp_path, refusal):
    path = tmp_path / "survey.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("readme.txt", "no survey")
    assert refusal(path) == (
        "survey.zip: the zip archive holds 0 shapefiles (readme.txt); zip one shapefile with its "
        "companions, or unpack the file wanted"
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("bomb.shp", bytes(250_000_000))
    assert refusal(path) == (
        "survey.zip: it has 250,000,000 bytes unzipped and at most 200,000,000 are taken; "
        "cut it down"
    )
    (tmp_path / "survey.gpkg").write_bytes(b"SQLite format 3\0" + bytes(500))
    damaged = (
        "it cannot be opened as a vector file: it is damaged, cut short or of another kind; "
        "export it again, or export the points as CSV"
    )
    assert refusal(tmp_path / "survey.gpkg") == f"survey.gpkg: {damaged}"
