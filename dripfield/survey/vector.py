"""Surveys from GeoJSON, and from other vector files through GDAL (``pyogrio``, an extra)."""

from __future__ import annotations

import json
import warnings
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.arrays import Floats
from dripfield.errors import InputError, input_error
from dripfield.survey.coordinates import WGS84
from dripfield.survey.kinds import LARGEST_TEXT, read_survey_text
from dripfield.survey.options import SurveyTable
from dripfield.survey.shots import Survey
from dripfield.survey.table import ROLES, not_a_number, plain_name

_WIDEST_IN_DEGREES = 0.5
"""A bed spans less than this; wider coordinates without a system cannot be degrees."""


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

    RFC 7946 has every position in WGS 84 longitude and latitude. A ``crs`` member of the older
    form, or ``crs`` under ``[survey]``, says otherwise. Coordinates too large or too wide for
    degrees are the site's own, and said so.

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
    text = read_survey_text(path)
    try:
        content = json.loads(text)
    except json.JSONDecodeError as cause:
        raise input_error(
            f"it is not JSON, or it is cut short ({cause.msg})",
            "export it again",
            file=path,
            row=cause.lineno,
        ) from None
    except RecursionError:
        raise input_error("its brackets nest too deep", "export it again", file=path) from None
    kind = content.get("type") if isinstance(content, dict) else None
    if kind not in ("FeatureCollection", "Feature", "Point", "MultiPoint", "GeometryCollection"):
        raise input_error(
            "it is JSON and not GeoJSON", "export a FeatureCollection of points", file=path
        )
    found = Found()
    for row, feature in enumerate(_features(content, path), 1):
        geometry, properties = feature.get("geometry"), feature.get("properties") or {}
        if isinstance(geometry, dict):
            _collect(found, geometry, properties, row, path, options)
        else:
            found.passed_over += 1
    survey = _survey(path, found)
    source = _older_crs(content, path)
    if source is None and options.crs is None and _cannot_be_degrees(survey.xyz):
        note = f"{path.name}: its coordinates cannot be degrees; taken as the site's own"
        return replace(survey, notes=(*survey.notes, note)), None
    return survey, source or WGS84


def _features(content: dict[str, Any], path: Path) -> list[dict[str, Any]]:
    if content["type"] == "FeatureCollection":
        features = content.get("features")
        if not isinstance(features, list) or not all(isinstance(f, dict) for f in features):
            raise input_error("its features are no list", "export it again", file=path)
        return features
    if content["type"] == "Feature":
        return [content]
    return [{"geometry": content}]


def _older_crs(content: dict[str, Any], path: Path) -> str | None:
    """The system named by a ``crs`` member (GeoJSON before RFC 7946), or None."""
    member = content.get("crs")
    if member is None:
        return None
    try:
        name = str(member["properties"]["name"])
    except (KeyError, TypeError):
        raise input_error(
            "its crs member names no system", "give crs under [survey] in site.toml", file=path
        ) from None
    return WGS84 if name.endswith("CRS84") else name


def _collect(
    found: Found,
    geometry: dict[str, Any],
    properties: dict[str, Any],
    row: int,
    path: Path,
    options: SurveyTable,
) -> None:
    """Add the shots and lines of one geometry."""
    kind, coordinates = geometry.get("type"), geometry.get("coordinates")
    if kind == "GeometryCollection":
        for part in geometry.get("geometries") or []:
            _collect(found, part, properties, row, path, options)
    elif kind == "Point":
        _add(found, coordinates, properties, row, path, options)
    elif kind == "MultiPoint":
        for position in coordinates or []:
            _add(found, position, properties, row, path, options)
    elif kind in ("LineString", "MultiLineString"):
        for line in [coordinates] if kind == "LineString" else coordinates or []:
            positions = [_position(position, row, path) for position in line or []]
            if len(positions) >= 2 and all(len(position) >= 3 for position in positions):
                found.lines.append(np.array([position[:3] for position in positions]))
            else:
                found.passed_over += 1
    else:
        found.passed_over += 1


def _position(position: Any, row: int, path: Path) -> list[float]:
    if (
        isinstance(position, list)
        and len(position) >= 2
        and all(type(value) in (int, float) and np.isfinite(value) for value in position[:3])
    ):
        return [float(value) for value in position[:3]]
    raise input_error(
        f"the position {json.dumps(position)[:60]} of feature {row} is not two or three numbers",
        "export it again",
        file=path,
    )


def _add(
    found: Found,
    position: Any,
    properties: Mapping[str, Any],
    row: int,
    path: Path,
    options: SurveyTable,
) -> None:
    place = _position(position, row, path)
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
    found.names.append(str(by_role.get("point", len(found.places))))
    found.descriptions.append(str(by_role.get("description", "")))
    found.rows.append(row)


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


def _cannot_be_degrees(xyz: Floats) -> bool:
    """True where plan coordinates are too large, or too far apart for a bed, to be degrees."""
    largest, width = np.abs(xyz[:, :2]).max(axis=0), np.ptp(xyz[:, :2], axis=0)
    return bool((largest > (180.0, 90.0)).any() or (width > _WIDEST_IN_DEGREES).any())


def read_vector(path: Path, options: SurveyTable) -> tuple[Survey, str | None]:
    """Read points and 3D lines from any vector file that GDAL opens, a zipped shapefile too.

    Parameters, result and errors are those of :func:`read_geojson`; ``points_layer`` names one of
    several layers.

    Raises
    ------
    InputError
        Also where ``pyogrio`` is not installed.
    """
    try:
        import pyogrio
        import shapely
    except ImportError:
        raise input_error(
            f"reading {path.suffix} files needs the extra 'vector'",
            'run: pip install "dripfield[vector]"',
            file=path,
        ) from None
    target = str(path) if path.suffix.lower() != ".zip" else _inside_zip(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # GDAL's; what matters comes as an error
            layer = _layer([str(name) for name, _ in pyogrio.list_layers(target)], options, path)
            meta, _, geometry, fields = pyogrio.raw.read(target, layer=layer)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, RuntimeError):
        raise input_error(
            "it cannot be opened as a vector file: it is damaged, cut short or of another kind",
            "export it again, or export the points as CSV",
            file=path,
        ) from None
    found = Found()
    names = list(meta["fields"])
    for row, shape in enumerate(shapely.from_wkb(geometry), 1):
        if shape is None or shape.is_empty:
            found.passed_over += 1
            continue
        values = {name: _plain(column[row - 1]) for name, column in zip(names, fields, strict=True)}
        _collect(found, json.loads(shapely.to_geojson(shape)), values, row, path, options)
    survey = _survey(path, found)
    if meta["crs"] is None and options.crs is None:
        note = f"{path.name}: the file names no coordinate system; taken as the site's own"
        survey = replace(survey, notes=(*survey.notes, note))
    return survey, meta["crs"]


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
    except (zipfile.BadZipFile, OSError):
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
    size = sum(member.file_size for member in held)
    if size > LARGEST_TEXT:
        raise input_error(
            f"the zip archive unpacks to {size / 1e6:,.0f} MB", "cut it down", file=path
        )
    return f"/vsizip/{{{path}}}/{shapes[0]}"
