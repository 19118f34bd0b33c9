"""Lines and points as GeoJSON (RFC 7946: WGS 84 longitude and latitude)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from dripfield.core.arrays import Floats
from dripfield.core.table import figures
from dripfield.files.features import DEGREE_PLACES, Features, to_degrees


def write_geojson(path: Path, features: Features) -> None:
    """Write features as GeoJSON; its elevations stay in the site's unit, which it names.

    Raises
    ------
    InputError
        The coordinate system is missing or not known.
    """
    degrees = to_degrees(features.crs)
    unit = features.unit
    elevation = figures("elevation", unit.places + 1)

    def rounded(xy: Floats) -> list[list[float]]:
        return [[round(float(v), DEGREE_PLACES) for v in pair] for pair in degrees(xy)]

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
    content = {
        "type": "FeatureCollection",
        "name": features.title,
        "warning": features.note,
        "features": found,
    }
    path.write_text(json.dumps(content, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
