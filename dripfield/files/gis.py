"""Lines and points as GeoPackage or shapefiles, by GDAL, in the site's own coordinates."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from dripfield.files.features import Features, Property

_NO_DATE = "1980-01-01"


def write_geopackage(path: Path, features: Features) -> None:
    """Write features as a GeoPackage (OGC 12-128) with the layers ``laterals`` and ``points``.

    Lines and points carry their elevation as z, in the site's unit; what has none has no z there
    but NaN. Without a coordinate system the layers are in an undefined Cartesian one.
    """
    path.unlink(missing_ok=True)
    with _fixed_date():
        for number, (layer, kind, shapes, records) in enumerate(_layers(features)):
            _write(
                path,
                layer,
                kind,
                shapes,
                records,
                features.crs,
                driver="GPKG",
                append=number > 0,
                layer_options={"DESCRIPTION": features.note},
            )


def write_shapefiles(path: Path, features: Features) -> list[Path]:
    """Write features as shapefiles beside ``path``: ``STEM_laterals.shp`` and ``STEM_points.shp``.

    Field names are cut to the ten letters that the format has.

    Returns
    -------
    list of Path
        Every file written.
    """
    found = []
    for layer, kind, shapes, records in _layers(features):
        target = path.with_name(f"{path.stem}_{layer}.shp")
        _write(
            target,
            target.stem,
            kind,
            shapes,
            [{key[:10]: value for key, value in one.items()} for one in records],
            features.crs,
            driver="ESRI Shapefile",
            append=False,
            layer_options={"DBF_DATE_LAST_UPDATE": _NO_DATE, "ENCODING": "UTF-8"},
        )
        found += sorted(target.parent.glob(f"{target.stem}.*"))
    return found


Layer = tuple[str, str, Sequence[Any], Sequence[Mapping[str, Property]]]


def _layers(features: Features) -> Iterator[Layer]:
    """Name, kind of geometry, geometries and records of each layer that holds anything."""
    if features.lines:
        yield (
            "laterals",
            "LineString Z",
            [
                shapely.LineString(np.column_stack((one.xy, np.full(len(one.xy), one.elevation))))
                for one in features.lines
            ],
            [{"name": one.name, **one.properties} for one in features.lines],
        )
    if features.points:
        yield (
            "points",
            "Point Z",
            [shapely.Point(one.easting, one.northing, one.elevation) for one in features.points],
            [
                {
                    "name": one.name,
                    "description": one.description,
                    "elevation": round(one.elevation, features.unit.places + 1),
                    "unit": features.unit.value,
                }
                for one in features.points
            ],
        )


def _write(
    path: Path,
    layer: str,
    kind: str,
    shapes: Sequence[Any],
    records: Sequence[Mapping[str, Property]],
    crs: str | None,
    *,
    driver: str,
    append: bool,
    layer_options: Mapping[str, str],
) -> None:
    from pyogrio.raw import write

    fields = list(dict.fromkeys(key for one in records for key in one))
    columns, missing = [], []
    for key in fields:
        values = [one.get(key) for one in records]
        columns.append(_column(values))
        missing.append(np.array([value is None or value != value for value in values]))  # NaN too
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="'crs' was not provided")  # a local grid has none
        write(
            path,
            np.array(shapely.to_wkb(shapes), dtype=object),
            columns,
            fields,
            field_mask=missing,
            geometry_type=kind,
            crs=crs,
            layer=layer,
            driver=driver,
            append=append,
            layer_options=dict(layer_options),
        )


def _column(values: Sequence[Property]) -> Any:
    known = [value for value in values if value is not None]
    if known and all(isinstance(value, bool) for value in known):
        return np.array([bool(value) for value in values])
    if known and all(isinstance(value, int | float) for value in known):
        return np.array([math.nan if value is None else float(value) for value in values])
    return np.array(["" if value is None else str(value) for value in values], dtype=object)


@contextmanager
def _fixed_date() -> Iterator[None]:
    """The date that GDAL writes into a GeoPackage, held still while the block runs."""
    from pyogrio import set_gdal_config_options

    set_gdal_config_options({"OGR_CURRENT_DATE": f"{_NO_DATE}T00:00:00Z"})
    try:
        yield
    finally:
        set_gdal_config_options({"OGR_CURRENT_DATE": None})
