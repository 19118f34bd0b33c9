"""The bed's ring: from a table of corners, a drawing's layer or a GeoJSON polygon."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.core.crs import transformation
from dripfield.core.errors import input_error
from dripfield.core.limits import most
from dripfield.core.textfile import check_plain_file
from dripfield.core.units import Unit
from dripfield.formats.drawing import bed_from_dxf
from dripfield.formats.geojson import features, open_geojson, position, shapes, system
from dripfield.site.rings import fewer_corners, polygon, ring_corners


def read_boundary(
    path: Path, unit: Unit, *, decimal: str = ".", layer: str | None = None, crs: str | None = None
) -> tuple[Polygon, tuple[str, ...]]:
    """Read the bed's ring, the file's kind known from its ending.

    Parameters
    ----------
    path : Path
        ``.dxf``: the closed line on ``layer``; ``.geojson`` or ``.json``: its one polygon; any
        other: a table of northing, easting.
    unit : Unit
        The site's.
    decimal : str
        The decimal sign of a table.
    layer : str, optional
        ``boundary_layer`` of the site file; for a drawing only.
    crs : str, optional
        The site's coordinate system, that a polygon in degrees is carried into.

    Returns
    -------
    ring : Polygon
        In (easting, northing) [site unit], counter-clockwise.
    notes : tuple of str
        What was taken for granted or converted.

    Raises
    ------
    InputError
        As :func:`dripfield.site.rings.read_ring`, :func:`dripfield.formats.drawing.bed_from_dxf`
        and :func:`dripfield.formats.geojson.open_geojson`; a layer without a drawing or a drawing
        without a layer; no polygon, several, or one with a hole.
    """
    ending = path.suffix.lower()
    if ending == ".dxf":
        check_plain_file(path, most("drawing bytes"))
        if layer is None:
            raise input_error(
                "the layer of the bed's closed line is not told",
                'add boundary_layer = "…" under [bed] in site.toml',
                file=path,
            )
        return _settled(*bed_from_dxf(path, layer, unit), path, unit)
    if layer is not None:
        raise input_error(
            f"{path.name} is no drawing and has no layers",
            "remove boundary_layer, or name a .dxf file as boundary",
            file="site.toml",
            field="[bed] boundary_layer",
        )
    if ending in (".geojson", ".json"):
        return _settled(*_from_geojson(path, crs), path, unit)
    return _settled(ring_corners(path, unit, decimal), (), path, unit)


def _settled(
    corners: Floats, notes: tuple[str, ...], path: Path, unit: Unit
) -> tuple[Polygon, tuple[str, ...]]:
    """The ring of the corners, and the note where it is drawn with fewer."""
    ring = polygon(corners, path, unit)
    return ring, (*notes, *fewer_corners(ring, len(corners), path, unit))


def _from_geojson(path: Path, crs: str | None) -> tuple[Floats, tuple[str, ...]]:
    """Corners (k, 2) of a file's one polygon in the site's coordinates, and notes."""
    content = open_geojson(path)
    found = [
        (number, rings)
        for number, feature in enumerate(features(content, path), 1)
        for kind, held in shapes(feature.get("geometry"), number, path)
        if kind in ("Polygon", "MultiPolygon")
        for rings in ([held] if kind == "Polygon" else held)
    ]
    if len(found) != 1:
        raise input_error(
            f"it holds {len(found) or 'no'} polygons",
            "leave one in it, the bed",
            file=path,
        )
    number, rings = found[0]
    if len(rings) != 1 or not rings[0]:
        raise input_error(
            "its polygon has a hole in it" if len(rings) > 1 else "its polygon has no corners",
            "draw the bed as one ring and name what lies inside it under keepouts",
            file=path,
        )
    corners = np.array([position(value, number, path)[:2] for value in rings[0]])
    source, notes = system(content, corners, path, None)
    if source is None:
        return corners, notes
    if crs is None:
        raise input_error(
            f"its coordinates are in {source} and the site names no system to carry them into",
            'add crs = "EPSG:…" under [site] in site.toml, or write the corners as a table',
            file=path,
        )
    carry, note = transformation(corners, source, crs, "[bed] boundary")
    return carry(corners), notes if note is None else (*notes, f"{path.name}: {note}")
