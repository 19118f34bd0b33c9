"""Lines and points as GeoJSON: RFC 7946, WGS 84 longitude and latitude, where they are known."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from dripfield.core.arrays import Floats
from dripfield.core.json_text import to_json
from dripfield.core.table import figures
from dripfield.core.words import COORDINATE_PLACES
from dripfield.files.features import DEGREE_PLACES, Features, to_degrees


def write_geojson(path: Path, features: Features) -> None:
    """Write features as GeoJSON; its elevations stay in the site's unit, which it names.

    Without a coordinate system longitude and latitude cannot be told: the coordinates are then the
    site's own easting and northing, and the file says so in its members ``coordinates`` and
    ``warning``. RFC 7946 has no place for such a grid, so a web map shows it at the wrong place.

    Raises
    ------
    InputError
        The coordinate system is not known.
    """
    unit = features.unit
    local = not features.crs
    degrees = _as_they_are if local else to_degrees(features.crs)
    digits = COORDINATE_PLACES if local else DEGREE_PLACES
    elevation = figures("elevation", unit.places + 1)

    def rounded(xy: Floats) -> list[list[float]]:
        return [[round(x, digits), round(y, digits)] for x, y in degrees(xy).tolist()]

    found: list[dict[str, Any]] = [
        {
            "type": "Feature",
            "id": line.name,
            "geometry": {"type": "LineString", "coordinates": rounded(line.xy)},
            "properties": {"kind": "lateral", "name": line.name, **line.properties},
        }
        for line in features.lines
    ]
    where = rounded(features.places) if features.points else []
    for point, place in zip(features.points, where, strict=True):
        found.append(
            {
                "type": "Feature",
                "geometry": {"type": "Point", "coordinates": place},
                "properties": {
                    "kind": "point",
                    "name": point.name,
                    "description": point.description,
                    "elevation": elevation.plain_value(point.elevation),
                    "unit": unit.value,
                },
            }
        )
    own = f"easting and northing of the site's own grid in {unit.label}"
    content = {
        "type": "FeatureCollection",
        "name": features.title,
        "coordinates": own if local else "longitude and latitude (WGS 84)",
        "warning": f"Coordinates are {own}, not degrees. {features.note}"
        if local
        else features.note,
        "features": found,
    }
    path.write_text(to_json(content), encoding="utf-8")


def _as_they_are(xy: Floats) -> Floats:
    return xy
