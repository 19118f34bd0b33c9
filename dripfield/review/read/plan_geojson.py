"""The approved plan as GeoJSON (RFC 7946): lines are runs, the polygon the bed, points marks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.lengths import METRES
from dripfield.core.limits import FARTHEST, check_count, check_places
from dripfield.formats.geojson import load_json
from dripfield.review.model.plan import Plan, PlanOptions, PlanRun, check_names
from dripfield.site.model import Site

_KEYS = {
    "name": ("run", "lateral", "name", "id", "label"),
    "length": ("length",),
    "elevation": ("elevation", "elev"),
    "spacing": ("spacing",),
}


def read_plan_geojson(path: Path, site: Site, options: PlanOptions) -> Plan:
    """Read runs, outline and named points.

    Coordinates are easting, northing in the plan's own system. Longitude and latitude, which RFC
    7946 prescribes, are projected to the site's ``crs``. A ``unit`` member of the collection, where
    there is one, says the unit of the coordinates.

    Parameters
    ----------
    path : Path
    site : Site
    options : PlanOptions

    Returns
    -------
    Plan
        In the plan's own coordinates, or the site's where they were projected.

    Raises
    ------
    InputError
        Not GeoJSON, no lines, a property that is no number, longitude and latitude on a site
        without ``crs``, two runs with one name.
    """
    content = _load(path)
    features = list(_features(content, path))
    lines = [(g, p) for g, p in features if g.geom_type in ("LineString", "MultiLineString")]
    rings = [g for g, _ in features if g.geom_type == "Polygon"]
    if not lines:
        raise input_error("it holds no line", "give each run as a LineString", file=path)
    check_count("runs", len(lines), path, "keep the laterals only")
    everything = shapely.get_coordinates([geometry for geometry, _ in features])
    to_site = _projection(everything, site, path)
    notes = ["longitude and latitude were projected to the site's crs"] if to_site else []
    bare = () if options.factor(site.unit) == 1.0 else ("elevation", "length")
    runs: list[PlanRun] = []
    for number, (geometry, properties) in enumerate(lines, 1):
        parts = list(shapely.get_parts(shapely.line_merge(geometry)))
        own_name = _property(properties, "name")
        name = str(own_name or f"run {number}")

        def given(
            quantity: str, properties: dict[str, Any] = properties, name: str = name
        ) -> float | None:
            return _number(properties, quantity, name, path)

        for part_number, part in enumerate(parts, 1):
            runs.append(
                PlanRun(
                    name if len(parts) == 1 else f"{name} part {part_number}",
                    _placed(part, to_site),
                    length=given("length") if len(parts) == 1 else None,
                    elevation=_elevation(part, properties, name, path),
                    spacing=_times(given("spacing"), options.factor(site.unit)),
                    named=own_name is not None,
                    bare=bare,
                )
            )
    check_names(runs, path)
    boundary = max(rings, key=lambda ring: ring.area) if rings else None
    return Plan(
        path,
        tuple(runs),
        boundary=None
        if boundary is None
        else shapely.polygons(_placed(boundary.exterior, to_site)),
        points={
            str(name): _placed(geometry, to_site)[0]
            for geometry, properties in features
            if geometry.geom_type == "Point" and (name := _property(properties, "name"))
        },
        declared=site.unit.value if to_site else _declared(content, path),
        notes=tuple(notes),
    )


def _load(path: Path) -> dict[str, Any]:
    content = load_json(path)
    if not isinstance(content, dict) or content.get("type") != "FeatureCollection":
        raise input_error(
            "this is not a GeoJSON FeatureCollection", "export the runs as features", file=path
        )
    return content


def _declared(content: dict[str, Any], path: Path) -> str | None:
    unit = content.get("unit")
    if unit is None or (isinstance(unit, str) and unit in METRES):
        return unit
    raise input_error(
        f"the unit {str(unit)[:40]!r} is not known",
        f"give one of {', '.join(METRES)}",
        file=path,
        field="unit",
    )


def _features(content: dict[str, Any], path: Path) -> Iterator[tuple[BaseGeometry, dict[str, Any]]]:
    features = content.get("features")
    vertices = 0
    for number, feature in enumerate(features if isinstance(features, list) else [], 1):
        try:
            geometry = feature.get("geometry")
            if geometry is None:
                continue
            made = shape(geometry)
        except MemoryError:
            raise
        except Exception:  # shapely stumbles over what is no geometry in any way
            raise input_error(
                f"feature {number} has no geometry that can be read",
                "export it again",
                file=path,
            ) from None
        if made.is_empty:
            continue
        places = shapely.get_coordinates(made)
        check_places(places, path, f"feature {number}, position")
        vertices += len(places)
        check_count("vertices", vertices, path, "draw the plan with fewer")
        properties = feature.get("properties")
        properties = dict(properties) if isinstance(properties, dict) else {}
        if "id" in feature:
            properties.setdefault("id", feature["id"])
        yield made, properties


def _property(properties: dict[str, Any], quantity: str) -> Any:
    plain = {str(key).lower(): value for key, value in properties.items()}
    return next((plain[key] for key in _KEYS[quantity] if plain.get(key) is not None), None)


def _number(properties: dict[str, Any], quantity: str, run: str, path: Path) -> float | None:
    value = _property(properties, quantity)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise input_error(
            f"run {run[:40]!r} has the {quantity} {str(value)[:40]!r}",
            "give a number",
            file=path,
            field=quantity,
        )
    if not abs(value) <= FARTHEST:
        raise input_error(
            f"run {run[:40]!r} has the {quantity} {value:g}",
            "correct it",
            file=path,
            field=quantity,
        )
    return float(value)


def _elevation(
    part: BaseGeometry, properties: dict[str, Any], run: str, path: Path
) -> float | None:
    given = _number(properties, "elevation", run, path)
    if given is not None or not part.has_z:
        return given
    heights = shapely.get_coordinates(part, include_z=True)[:, 2]
    level = np.ptp(heights) < 1e-6 and heights[0] != 0.0  # flat drawings are written with zeros
    return float(heights[0]) if level else None


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _projection(xy: Floats, site: Site, path: Path) -> Any:
    """A transformer to the site's crs for longitude and latitude, else None."""
    corners = np.reshape(site.bed.boundary.bounds, (2, 2))
    # a bed is far smaller than a tenth of a degree, a sheet of paper in inches larger
    if not _on_globe(xy) or np.ptp(xy, axis=0).max() > 0.1 or _on_globe(corners):
        return None
    if site.file.site.crs is None:
        raise input_error(
            "the coordinates are longitude and latitude and the site has no crs",
            "add crs under [site], or export the plan in the site's coordinates",
            file=path,
        )
    from pyproj import Transformer

    to_site = Transformer.from_crs("EPSG:4326", site.file.site.crs, always_xy=True)
    if _misses(to_site, xy, corners) and not _misses(to_site, xy[:, ::-1], corners):
        raise input_error(
            "the coordinates are latitude, longitude and fall on the site only as longitude, "
            "latitude, the order of GeoJSON",
            "exchange the two numbers of each position",
            file=path,
        )
    return to_site


def _misses(to_site: Any, xy: Floats, corners: Floats) -> bool:
    """True where positions fall nowhere near the box of the bed, 100 times its size away."""
    placed = np.column_stack(to_site.transform(xy[:, 0], xy[:, 1]))
    far = np.abs(np.median(placed, axis=0) - corners.mean(axis=0)).max()
    return not far <= 100.0 * np.ptp(corners, axis=0).max()


def _on_globe(xy: Floats) -> bool:
    return bool((np.abs(xy) <= (180.0, 90.0)).all())


def _placed(geometry: BaseGeometry, to_site: Any) -> Floats:
    xy: Floats = shapely.get_coordinates(geometry)
    if to_site is None:
        return xy
    return np.column_stack(to_site.transform(xy[:, 0], xy[:, 1]))
