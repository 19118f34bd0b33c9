"""The bed's ring out of drawings and GeoJSON; files are written by ezdxf and by GDAL."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
from pyproj import Transformer

from dripfield.core.errors import InputError
from dripfield.ground.ground import build_ground
from dripfield.site.reader import input_files, read_site

CORNERS = ((2020.0, 5020.0), (2120.0, 5020.0), (2120.0, 5080.0), (2020.0, 5080.0))  # easting first
Ring = tuple[tuple[float, float], ...]


def use(folder: Path, boundary: str, more: str = "") -> None:
    """Name another boundary in the site file."""
    text = (folder / "site.toml").read_text()
    lines = f'boundary = "{boundary}"\n{more}'.rstrip()
    (folder / "site.toml").write_text(text.replace('boundary = "bed.csv"', lines))


def draw(folder: Path, *rings: Ring, unit: int = 2, layer: str = "BED") -> None:
    document = ezdxf.new("R2018")
    document.header["$INSUNITS"] = unit
    for ring in rings:
        document.modelspace().add_lwpolyline(ring, close=True, dxfattribs={"layer": layer})
    document.modelspace().add_circle((2050, 5050), 5, dxfattribs={"layer": "TREE"})
    document.saveas(folder / "plan.dxf")


def refusal(folder: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_site(folder)
    return str(caught.value)


def test_a_closed_line_on_its_layer(folder: Path) -> None:
    same = read_site(folder).bed.boundary
    draw(folder, CORNERS)
    use(folder, "plan.dxf", 'boundary_layer = "bed"')
    site = read_site(folder)
    assert shapely.equals_exact(site.bed.boundary.normalize(), same.normalize())
    assert build_ground(site).notes == ()
    assert folder / "plan.dxf" in input_files(site)  # never written over


def test_a_drawing_that_gdal_writes(folder: Path) -> None:
    ring = shapely.geometry.LinearRing(CORNERS)
    pyogrio.raw.write(
        folder / "plan.dxf", shapely.to_wkb([ring]), [np.array(["BED"], dtype=object)], ["Layer"],
        geometry_type="LineString", driver="DXF", crs="EPSG:6559",
    )  # fmt: skip
    use(folder, "plan.dxf", 'boundary_layer = "BED"')
    assert read_site(folder).bed.boundary.equals(shapely.Polygon(CORNERS))


def test_a_drawing_without_a_unit_is_read_and_said(folder: Path) -> None:
    draw(folder, CORNERS, unit=0)
    use(folder, "plan.dxf", 'boundary_layer = "BED"')
    assert read_site(folder).notes == (
        "plan.dxf: the drawing names no unit; read as ft (international)",
    )


@pytest.mark.parametrize(
    ("make", "boundary", "more", "line"),
    [
        (lambda folder: draw(folder, CORNERS), "plan.dxf", "",
         "plan.dxf: the layer of the bed's closed line is not told; add boundary_layer = \"…\" "
         "under [bed] in site.toml"),
        (lambda folder: draw(folder, CORNERS), "plan.dxf", 'boundary_layer = "BEDS"',
         "plan.dxf: the drawing has no layer 'BEDS' (it has 0, BED, Defpoints, TREE); correct "
         "[bed] boundary_layer in site.toml"),
        (lambda folder: draw(folder, CORNERS, unit=6), "plan.dxf", 'boundary_layer = "BED"',
         "plan.dxf, $INSUNITS: the drawing is in m ($INSUNITS 6) and the site in ft "
         "(international); export it in the site's unit, or correct units under [site] in "
         "site.toml"),
        (lambda folder: draw(folder, (*CORNERS[:2], CORNERS[3], CORNERS[2])), "plan.dxf",
         'boundary_layer = "BED"', "plan.dxf: the ring crosses itself near northing 5050.00, "
         "easting 2070.00; list the corners in order around the area"),
        (lambda folder: (folder / "plan.dxf").write_bytes(b""), "plan.dxf",
         'boundary_layer = "BED"', "plan.dxf: the file is empty; fill it, or export it again"),
        (lambda folder: None, "bed.csv", 'boundary_layer = "BED"',
         "site.toml, [bed] boundary_layer: bed.csv is no drawing and has no layers; remove "
         "boundary_layer, or name a .dxf file as boundary"),
    ],
)  # fmt: skip
def test_drawings_that_are_refused(
    folder: Path, make: Callable[[Path], None], boundary: str, more: str, line: str
) -> None:
    make(folder)
    use(folder, boundary, more)
    assert refusal(folder) == line


def polygons(folder: Path, *shapes: str) -> None:
    """A FeatureCollection of geometries given as GeoJSON text."""
    features = ", ".join(f'{{"type": "Feature", "geometry": {shape}}}' for shape in shapes)
    text = f'{{"type": "FeatureCollection", "features": [{features}]}}'
    (folder / "bed.geojson").write_text(text)
    use(folder, "bed.geojson")


@pytest.mark.parametrize("multi", [False, True])
def test_a_polygon_in_the_sites_coordinates(folder: Path, multi: bool) -> None:
    shape = shapely.Polygon(CORNERS)
    tree = '{"type": "Point", "coordinates": [2050, 5050]}'
    polygons(folder, tree, shapely.to_geojson(shapely.MultiPolygon([shape]) if multi else shape))
    site = read_site(folder)
    assert site.bed.boundary.equals(shape)
    assert build_ground(site).notes == (
        "bed.geojson: its coordinates cannot be degrees; taken as the site's own",
    )


def test_a_polygon_in_degrees_is_carried_into_the_sites_system(folder: Path) -> None:
    crs, shift = "EPSG:6559", np.array((2_500_000.0, 600_000.0))  # within its zone, in ft
    text = (
        (folder / "site.toml").read_text().replace('units = "ft"', f'units = "ft"\ncrs = "{crs}"')
    )
    (folder / "site.toml").write_text(text)
    for name in ("survey.csv", "rock.csv"):
        head, *rows = (folder / name).read_text().splitlines()
        at = 1 if name == "survey.csv" else 0
        moved = [row.split(",") for row in rows]
        for row in moved:
            row[at] = str(float(row[at]) + shift[1])
            row[at + 1] = str(float(row[at + 1]) + shift[0])
        (folder / name).write_text("\n".join([head, *(",".join(row) for row in moved)]) + "\n")
    here = np.array(CORNERS) + shift
    to_degrees = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    ring = np.column_stack(to_degrees.transform(*here.T)).tolist()
    polygons(folder, json.dumps({"type": "Polygon", "coordinates": [[*ring, ring[0]]]}))
    site = read_site(folder)
    assert site.bed.boundary.symmetric_difference(shapely.Polygon(here)).area < 0.01
    notes = [
        note for note in build_ground(site).notes if note.startswith("bed.geojson: WGS 84 to ")
    ]
    assert len(notes) == 1


RING = json.dumps([*map(list, CORNERS), list(CORNERS[0])])
HOLE = "[[2050, 5040], [2060, 5040], [2060, 5050], [2050, 5040]]"


@pytest.mark.parametrize(
    ("shapes", "line"),
    [
        ((), "it holds no polygons; leave one in it, the bed"),
        ((f'{{"type": "Polygon", "coordinates": [{RING}]}}',) * 2,
         "it holds 2 polygons; leave one in it, the bed"),
        ((f'{{"type": "Polygon", "coordinates": [{RING}, {HOLE}]}}',),
         "its polygon has a hole in it; draw the bed as one ring and name what lies inside it "
         "under keepouts"),
        (('{"type": "Polygon", "coordinates": [[]]}',),
         "its polygon has no corners; draw the bed as one ring and name what lies inside it "
         "under keepouts"),
        (('{"type": "Polygon", "coordinates": [7]}',),
         "feature 1 has no proper geometry; export it again"),
        (('{"type": "Polygon", "coordinates": [[[2020, "x"]]]}',),
         'the position [2020, "x"] of feature 1 is not two or three numbers; export it again'),
        (('{"type": "Polygon", "coordinates": [[[0.1, 0.1], [0.2, 0.1], [0.2, 0.2]]]}',),
         "its coordinates are in EPSG:4326 and the site names no system to carry them into; add "
         'crs = "EPSG:…" under [site] in site.toml, or write the corners as a table'),
    ],
)  # fmt: skip
def test_polygons_that_are_refused(folder: Path, shapes: tuple[str, ...], line: str) -> None:
    polygons(folder, *shapes)
    assert refusal(folder) == f"bed.geojson: {line}"


@pytest.mark.parametrize("shape", ["3", "null", '"Polygon"', '{"type": "Polygon"}',
    '{"type": "MultiPolygon", "coordinates": [[3], 4, [[5]]]}',
    '{"type": "GeometryCollection", "geometries": 7}'])  # fmt: skip
def test_broken_geometries_are_refused_in_one_line(folder: Path, shape: str) -> None:
    polygons(folder, shape)
    assert refusal(folder).startswith("bed.geojson: ")
