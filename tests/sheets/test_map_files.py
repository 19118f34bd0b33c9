"""GeoPackage and shapefiles, read back by GDAL (through pyogrio)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pytest
import shapely
from pyogrio.raw import read

from dripfield.core.units import Unit
from dripfield.files.features import Features, MapLine, MapPoint
from dripfield.files.gis import write_geopackage, write_shapefiles
from dripfield.outputs.layout import layout_features
from dripfield.staking.method import field_method

CRS = "EPSG:6559"


@pytest.fixture(scope="module")
def features(hand: Any) -> Features:
    field = hand.plane(crs=CRS, origin=(4_900_000.0, 700_000.0))
    return layout_features(field, field_method(field).stakes)


def table(path: Path, layer: str | None = None) -> tuple[dict[str, np.ndarray], list[Any], str]:
    meta, _, shapes, columns = read(path, layer=layer)
    found = dict(zip(meta["fields"], columns, strict=True))
    return found, list(shapely.from_wkb(shapes)), str(meta["crs"])


def test_geopackage_holds_lines_and_points(features: Features, tmp_path: Path) -> None:
    path = tmp_path / "laterals.gpkg"
    write_geopackage(path, features)
    assert [name for name, _ in pyogrio.list_layers(path)] == ["laterals", "points"]
    fields, shapes, crs = table(path, "laterals")
    assert crs == CRS
    assert list(fields["name"]) == [line.name for line in features.lines]
    for shape, line, length in zip(shapes, features.lines, fields["length"], strict=True):
        np.testing.assert_array_equal(shapely.get_coordinates(shape), line.xy)
        assert shapely.get_coordinates(shape, include_z=True)[0, 2] == line.elevation
        assert length == pytest.approx(shape.length, abs=0.001)
    assert fields["level_ok"].dtype == bool
    assert set(fields["unit"]) == {"ft"}
    fields, shapes, _ = table(path, "points")
    assert len(shapes) == len(features.points)
    assert list(fields["description"]) == [point.description for point in features.points]


def test_the_same_features_give_the_same_bytes(features: Features, tmp_path: Path) -> None:
    for name in ("one.gpkg", "two.gpkg"):
        (tmp_path / name[:3]).mkdir()
        write_geopackage(tmp_path / name[:3] / "a.gpkg", features)
        write_shapefiles(tmp_path / name[:3] / "a.shp", features)
    names = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert "a.gpkg" in names
    for name in names:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_shapefiles_hold_the_same(features: Features, tmp_path: Path) -> None:
    files = write_shapefiles(tmp_path / "field.shp", features)
    assert {"field_laterals.shp", "field_points.dbf"} <= {path.name for path in files}
    fields, shapes, _ = table(tmp_path / "field_laterals.shp")
    assert list(fields["name"]) == [line.name for line in features.lines]
    assert max(map(len, fields)) <= 10
    np.testing.assert_allclose(
        [shape.length for shape in shapes],
        [shapely.LineString(line.xy).length for line in features.lines],
    )


def test_a_local_grid_and_a_height_that_is_not_known(tmp_path: Path) -> None:
    line = MapLine("L 'ö' שדה", np.array(((0.0, 0.0), (3.0, 4.0))), 100.0, {"mark": None, "n": 2.5})
    point = MapPoint("=1+1", 1.0, 2.0, float("nan"), "base line")
    path = tmp_path / "a.gpkg"
    write_geopackage(path, Features("x", Unit.METRE, None, (line,), (point,)))
    fields, (shape,), _ = table(path, "laterals")
    assert (fields["name"][0], fields["n"][0], shape.length) == (line.name, 2.5, 5.0)
    fields, _, _ = table(path, "points")
    assert fields["name"][0] == "=1+1"
    assert np.isnan(fields["elevation"][0])


def test_nothing_to_write_but_points(tmp_path: Path) -> None:
    point = MapPoint("1", 1.0, 2.0, 3.0, "stake")
    path = tmp_path / "a.gpkg"
    write_geopackage(path, Features("x", Unit.FOOT, None, (), (point,)))
    assert [name for name, _ in pyogrio.list_layers(path)] == ["points"]
