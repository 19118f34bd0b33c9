"""A GeoJSON file opened: its features and the coordinate system they are in.

What the features mean is for others: :mod:`dripfield.survey.read.vector` reads shots from them,
:mod:`dripfield.site.boundary` the bed's ring.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.crs import WGS84
from dripfield.core.errors import input_error
from dripfield.core.limits import FARTHEST, most
from dripfield.formats.signature import read_survey_text

_WIDEST_IN_DEGREES = 0.5
"""A bed spans less than this; wider coordinates without a system cannot be degrees."""
_LISTS_IN_LISTS = {
    "Point": 0, "MultiPoint": 1, "LineString": 1, "MultiLineString": 2, "Polygon": 2,
    "MultiPolygon": 3,
}  # fmt: skip
_DEEPEST = most("nesting")  # collections inside collections


def load_json(path: Path) -> Any:
    """The content of a JSON file, its numbers finite and of a bounded length.

    Raises
    ------
    InputError
        Not JSON, cut short, nested too deep, or a number that is none or far too long.
    """
    text = read_survey_text(path, most("json bytes"))
    try:
        return json.loads(
            text, parse_int=_whole_number, parse_float=_number, parse_constant=_no_number
        )
    except json.JSONDecodeError as cause:
        raise input_error(
            f"it is not JSON, or it is cut short ({cause.msg})",
            "export it again",
            file=path,
            row=cause.lineno,
        ) from None
    except ValueError as cause:
        raise input_error(f"a number in it {cause}", "export it again", file=path) from None
    except RecursionError:
        raise input_error("its brackets nest too deep", "export it again", file=path) from None


def _whole_number(text: str) -> int:
    if len(text) > most("digits"):
        raise ValueError("is too long")
    return int(text)


def _number(text: str) -> float:
    if len(text) > 4 * most("digits"):
        raise ValueError("is too long")
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"is too large ({text[:20]})")
    return value


def _no_number(text: str) -> float:
    raise ValueError(f"is written as {text}")


def open_geojson(path: Path) -> dict[str, Any]:
    """The content of a GeoJSON file.

    Raises
    ------
    InputError
        As :func:`load_json`, or JSON of another kind.
    """
    content = load_json(path)
    kind = content.get("type") if isinstance(content, dict) else None
    if kind not in ("FeatureCollection", "Feature", "GeometryCollection", *_LISTS_IN_LISTS):
        raise input_error(
            "it is JSON and not GeoJSON", "export a FeatureCollection of points", file=path
        )
    found: dict[str, Any] = content
    return found


def features(content: dict[str, Any], path: Path) -> list[dict[str, Any]]:
    """Every feature, a bare geometry as one without properties.

    Raises
    ------
    InputError
        The features are no list of objects.
    """
    if content["type"] == "FeatureCollection":
        held = content.get("features")
        if not isinstance(held, list) or not all(isinstance(feature, dict) for feature in held):
            raise input_error("its features are no list", "export it again", file=path)
        return held
    if content["type"] == "Feature":
        return [content]
    return [{"geometry": content}]


def shapes(
    geometry: Any, feature: int, path: Path, depth: int = 0
) -> Iterator[tuple[str, list[Any]]]:
    """Kind and coordinates of every point, line and polygon of a geometry, collections opened.

    Parameters
    ----------
    geometry : any JSON value
    feature : int
        Number of the feature, from 1.
    path : Path
        For messages.
    depth : int
        Collections that it lies in.

    Yields
    ------
    (str, list)
        Kind, and coordinates nested as the kind has them.

    Raises
    ------
    InputError
        Naming the feature, counted from 1: no geometry, or coordinates not in lists as its kind
        has them.
    """
    if geometry is None:
        return
    table = geometry if isinstance(geometry, dict) else {}
    kind = str(table.get("type"))
    held = table.get("geometries" if kind == "GeometryCollection" else "coordinates") or []
    if kind == "GeometryCollection" and isinstance(held, list) and depth < _DEEPEST:
        for part in held:
            yield from shapes(part, feature, path, depth + 1)
    elif kind in _LISTS_IN_LISTS and _nested(held, _LISTS_IN_LISTS[kind]):
        if held:
            yield kind, held
    else:
        raise input_error(f"feature {feature} has no proper geometry", "export it again", file=path)


def _nested(value: Any, depth: int) -> bool:
    """Is a value a list of lists, so many deep?"""
    return isinstance(value, list) and (
        depth == 0 or all(_nested(part, depth - 1) for part in value)
    )


def position(value: Any, feature: int, path: Path) -> list[float]:
    """A position as two or three numbers.

    Parameters
    ----------
    value : any JSON value
    feature : int
        Number of the feature, from 1.
    path : Path
        For messages.

    Returns
    -------
    list of float
        Easting or longitude, northing or latitude, elevation where given, all in the file's units.

    Raises
    ------
    InputError
        Naming the feature, counted from 1.
    """
    if (
        isinstance(value, list)
        and len(value) >= 2
        and all(type(part) in (int, float) and abs(part) <= FARTHEST for part in value[:3])
    ):
        return [float(part) for part in value[:3]]
    raise input_error(
        f"the position {_shown(value)} of feature {feature} is not two or three numbers",
        "export it again",
        file=path,
    )


def _shown(value: Any) -> str:
    """A value as it is shown in a message, whatever its size."""
    if isinstance(value, list | str):
        value = value[:8]
    return json.dumps(value if not isinstance(value, dict) else "{…}")[:60]


def system(
    content: dict[str, Any], xy: Floats, path: Path, told: str | None
) -> tuple[str | None, tuple[str, ...]]:
    """The coordinate system of the positions.

    RFC 7946 has every position in WGS 84 longitude and latitude. A ``crs`` member of the older
    form, or what the site file has ``told``, says otherwise. Coordinates too large or too wide for
    degrees are the site's own, and said so.

    Parameters
    ----------
    content : dict
        The collection.
    xy : (n, 2) float array
        Its positions as written.
    path : Path
        For messages.
    told : str or None
        The system that the site file names for this file.

    Returns
    -------
    source : str or None
        None where they are the site's own.
    notes : tuple of str

    Raises
    ------
    InputError
        A ``crs`` member that names no system.
    """
    named = _older_crs(content, path)
    if named is None and told is None and _cannot_be_degrees(xy):
        return None, (f"{path.name}: its coordinates cannot be degrees; taken as the site's own",)
    return named or WGS84, ()


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


def _cannot_be_degrees(xy: Floats) -> bool:
    """True where plan coordinates are too large, or too far apart for a bed, to be degrees."""
    largest, width = np.abs(xy).max(axis=0), np.ptp(xy, axis=0)
    return bool((largest > (180.0, 90.0)).any() or (width > _WIDEST_IN_DEGREES).any())
