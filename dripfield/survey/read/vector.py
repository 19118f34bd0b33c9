"""Surveys from GeoJSON, and from other vector files through GDAL (``pyogrio``, an extra)."""

from __future__ import annotations

import json
import warnings
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import DripfieldError, InputError, damage_named, input_error
from dripfield.core.limits import check_count, most
from dripfield.core.textfile import check_plain_file
from dripfield.formats.geojson import features, open_geojson, position, shapes, system
from dripfield.formats.table import ROLES, not_a_number, plain_name
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.shots import Survey


@dataclass
class Found:
    """Shots and lines collected from features, coordinates as the file has them."""

    places: list[tuple[float, float, float]] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    descriptions: list[str] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    lines: list[Floats] = field(default_factory=list)
    passed_over: int = 0


def read_geojson(path: Path, options: SurveyTable) -> tuple[Survey, str | None]:
    """Read points and lines with elevations from a GeoJSON file.

    Which coordinate system they are in is settled by :func:`dripfield.formats.geojson.system`.

    Parameters
    ----------
    path : Path
    options : SurveyTable
        ``crs`` and ``elevation_field`` are used.

    Returns
    -------
    survey : Survey
        In the file's own coordinates; ``rows`` number the features from 1.
    source : str or None
        The file's coordinate system; None where it is the site's own.

    Raises
    ------
    InputError
        Not JSON or GeoJSON, a position that is no number, or a point without an elevation.
    """
    content = open_geojson(path)
    found = Found()
    for row, feature in enumerate(features(content, path), 1):
        properties = feature.get("properties") or {}
        if not isinstance(properties, dict):
            raise input_error(
                f"the properties of feature {row} are no table", "export it again", file=path
            )
        _collect(found, feature.get("geometry"), properties, row, path, options)
    survey = _survey(path, found)
    source, notes = system(content, survey.xyz[:, :2], path, options.crs)
    return replace(survey, notes=survey.notes + notes), source


def _collect(
    found: Found,
    geometry: Any,
    properties: Mapping[str, Any],
    row: int,
    path: Path,
    options: SurveyTable,
) -> None:
    """Add the shots and lines of one feature."""
    before = len(found.places) + len(found.lines)
    for kind, coordinates in shapes(geometry, row, path):
        if kind in ("Point", "MultiPoint"):
            for value in [coordinates] if kind == "Point" else coordinates:
                _add(found, value, properties, row, path, options)
        elif kind in ("LineString", "MultiLineString"):
            for line in [coordinates] if kind == "LineString" else coordinates:
                places = [position(value, row, path) for value in line]
                if len(places) >= 2 and all(len(place) >= 3 for place in places):
                    found.lines.append(np.array(places))
    if len(found.places) + len(found.lines) == before:
        found.passed_over += 1


def _add(
    found: Found,
    value: Any,
    properties: Mapping[str, Any],
    row: int,
    path: Path,
    options: SurveyTable,
) -> None:
    place = position(value, row, path)
    by_role = {
        role: value
        for key, value in properties.items()
        if (role := ROLES.get(plain_name(str(key)))) is not None and value is not None
    }
    wanted = options.elevation_field
    if wanted is not None and wanted not in properties:
        raise _no_elevation(path, row, f"has no property '{wanted}'")
    written = properties[wanted] if wanted is not None else by_role.get("elevation")
    if wanted is not None or len(place) == 2:
        if written is None:
            raise _no_elevation(path, row, "has no elevation")
        problem = not_a_number(str(written))
        if problem is not None:
            raise input_error(*problem, file=path, field=f"elevation of feature {row}")
        place = [*place[:2], float(written)]
    found.places.append((place[0], place[1], place[2]))
    found.names.append(_text(by_role.get("point", len(found.places))))
    found.descriptions.append(_text(by_role.get("description", "")))
    found.rows.append(row)


def _text(value: Any) -> str:
    """A name or description, of a length that can be shown."""
    return str(value)[: most("characters")]


def _no_elevation(path: Path, row: int, problem: str) -> InputError:
    return input_error(
        f"feature {row} {problem}",
        "give it a third coordinate, or name the property as elevation_field under [survey]",
        file=path,
    )


def _survey(path: Path, found: Found) -> Survey:
    """What was found, in the file's own coordinates."""
    if not found.places and not found.lines:
        raise input_error(
            f"it holds no points with elevations ({found.passed_over} other features)",
            "export the shots as points",
            file=path,
        )
    if not found.places:  # level lines: their vertices are the shots
        vertices = np.unique(np.concatenate(found.lines), axis=0)
        found.places = [(x, y, z) for x, y, z in vertices.tolist()]
        found.names = [str(i) for i in range(1, len(vertices) + 1)]
        found.descriptions = [""] * len(vertices)
        found.rows = list(range(1, len(vertices) + 1))
    passed = f"{path.name}: {found.passed_over} features that are no shots passed over"
    return Survey(
        xyz=np.array(found.places, dtype=np.float64),
        names=tuple(found.names),
        descriptions=tuple(found.descriptions),
        rows=np.array(found.rows, dtype=np.int64),
        source=path,
        breaklines=tuple(found.lines),
        notes=(passed,) if found.passed_over else (),
    )


def read_vector(path: Path, options: SurveyTable) -> tuple[Survey, str | None]:
    """Read points and 3D lines from any vector file that GDAL opens, a zipped shapefile too.

    Parameters, result and errors are those of :func:`read_geojson`; ``points_layer`` names one of
    several layers.

    Raises
    ------
    InputError
        Also where the file is damaged or of another kind.
    """
    import pyogrio
    import shapely

    check_plain_file(path, most("vector bytes"))
    target = str(path) if path.suffix.lower() != ".zip" else _inside_zip(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # GDAL's; what matters comes as an error
            layer = _layer([str(name) for name, _ in pyogrio.list_layers(target)], options, path)
            told = pyogrio.read_info(target, layer=layer, force_feature_count=True)
            check_count("points", told["features"], path)
            meta, _, geometry, fields = pyogrio.raw.read(target, layer=layer)
    except (DripfieldError, MemoryError):
        raise
    except Exception:  # a damaged file makes a driver stumble in any way
        raise input_error(
            "it cannot be opened as a vector file: it is damaged, cut short or of another kind",
            "export it again, or export the points as CSV",
            file=path,
        ) from None
    with damage_named(path, "a feature of it"):
        found = _found(meta, shapely.from_wkb(geometry), fields, path, options)
    survey = _survey(path, found)
    if meta["crs"] is None and options.crs is None:
        note = f"{path.name}: the file names no coordinate system; taken as the site's own"
        survey = replace(survey, notes=(*survey.notes, note))
    return survey, meta["crs"]


def _found(
    meta: Mapping[str, Any],
    shapes: Sequence[Any],
    fields: Sequence[Any],
    path: Path,
    options: SurveyTable,
) -> Found:
    """The shots and lines of GDAL's features."""
    import shapely

    found = Found()
    names = list(meta["fields"])
    for row, shape in enumerate(shapes, 1):
        if shape is None or shape.is_empty:
            found.passed_over += 1
            continue
        values = {name: _plain(column[row - 1]) for name, column in zip(names, fields, strict=True)}
        _collect(found, json.loads(shapely.to_geojson(shape)), values, row, path, options)
    return found


def _plain(value: Any) -> Any:
    """A field's value as Python has it; None where it is missing."""
    value = value.item() if isinstance(value, np.generic) else value
    return None if isinstance(value, float) and np.isnan(value) else value


def _layer(layers: list[str], options: SurveyTable, path: Path) -> str:
    wanted = options.points_layer
    if wanted in layers:
        return str(wanted)
    if wanted is None and len(layers) == 1:
        return layers[0]
    problem = f"it has no layer '{wanted}'" if wanted else f"it has {len(layers)} layers"
    raise input_error(
        f"{problem} ({', '.join(layers[:8])})",
        "name one as points_layer under [survey] in site.toml",
        file=path,
    )


def _inside_zip(path: Path) -> str:
    """GDAL's name of the one shapefile in an archive."""
    try:
        with zipfile.ZipFile(path) as archive:
            held = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        raise input_error(
            "the zip archive is damaged or cut short", "zip it again", file=path
        ) from None
    shapes = [member.filename for member in held if member.filename.lower().endswith(".shp")]
    if len(shapes) != 1:
        found = ", ".join(member.filename for member in held[:4]) or "nothing"
        raise input_error(
            f"the zip archive holds {len(shapes)} shapefiles ({found})",
            "zip one shapefile with its companions, or unpack the file wanted",
            file=path,
        )
    check_count("unzipped bytes", sum(member.file_size for member in held), path, "cut it down")
    return f"/vsizip/{{{path}}}/{shapes[0]}"
