"""A layout as JSON: ``layout.json`` is written so, kept layouts are, and accepted ones are read.

Vertices are written to their last digit, so that a layout read back is the layout that was written.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.textfile import read_text
from dripfield.layout.model import Lateral, Layout

_MOST_BYTES = 100_000_000
_Place = tuple[float, float]
_Rings = list[list[_Place]]


class LateralRecord(msgspec.Struct):
    """A lateral: vertices as (northing, easting)."""

    lateral: str
    panel: str
    elevation: float
    vertices: list[_Place]


class PanelRecord(msgspec.Struct):
    """A panel: its polygons, each a list of rings of (northing, easting), the outer one first."""

    panel: str
    outline: list[_Rings] = msgspec.field(default_factory=list)


class LayoutRecord(msgspec.Struct):
    """What is read of ``layout.json``; its other keys are for other readers."""

    unit: str
    method: str
    lines: list[LateralRecord]
    panels: list[PanelRecord] = msgspec.field(default_factory=list)
    seams: list[list[_Place]] = msgspec.field(default_factory=list)
    dropped_count: int = 0
    dropped_length: float = 0.0
    code: str = ""


def record_of(layout: Layout) -> dict[str, Any]:
    """What a file says of a layout's lines, ready for JSON.

    Parameters
    ----------
    layout : Layout

    Returns
    -------
    dict
        ``method``, ``lines``, ``panels`` (name and outline), ``seams`` and what was dropped.
    """
    return {
        "method": layout.method,
        "panels": [
            {"panel": name, "outline": _rings(area)} for name, area in layout.panels.items()
        ],
        "lines": [
            {
                "lateral": one.name,
                "panel": one.panel,
                "elevation": one.elevation,
                "vertices": _places(one.xy),
            }
            for one in layout.laterals
        ],
        "seams": [_places(seam) for seam in layout.seams],
        "dropped_count": layout.dropped_count,
        "dropped_length": layout.dropped_length,
    }


def layout_from(record: LayoutRecord, area: BaseGeometry) -> Layout:
    """The layout that a record describes.

    Parameters
    ----------
    record : LayoutRecord
    area : Polygon or MultiPolygon
        Where a lateral may lie now [site coordinates].

    Returns
    -------
    Layout
    """
    return Layout(
        method=record.method,
        laterals=tuple(
            Lateral(one.lateral, one.panel, _xy(one.vertices), one.elevation)
            for one in record.lines
        ),
        area=area,
        panels={one.panel: _area(one.outline) for one in record.panels},
        seams=tuple(_xy(seam) for seam in record.seams),
        dropped_count=record.dropped_count,
        dropped_length=record.dropped_length,
    )


def read_record(path: Path, unit: str, field: str) -> LayoutRecord:
    """Read a ``layout.json``.

    Parameters
    ----------
    path : Path
    unit : str
        The site's unit, which the file must have.
    field : str
        Key of ``site.toml`` that names the file, for messages.

    Returns
    -------
    LayoutRecord

    Raises
    ------
    InputError
        The file is missing, is no layout, is in another unit, holds no lateral, the same name
        twice, or a lateral without length.
    """
    if not path.is_file():
        raise input_error(
            f"there is no {path.name} in the site folder",
            "copy the layout.json that was accepted into it",
            file="site.toml",
            field=field,
        )
    text = read_text(path, _MOST_BYTES)
    try:
        record = msgspec.json.decode(text.encode(), type=LayoutRecord)
    except (msgspec.DecodeError, UnicodeEncodeError, RecursionError) as problem:
        raise input_error(
            f"this is no layout: {str(problem)[:120]}",
            "give the layout.json that dripfield layout wrote",
            file=path,
        ) from None
    if record.unit != unit:
        raise input_error(
            f"this layout is in {record.unit!r}, the site in {unit!r}",
            "give the layout of this site",
            file=path,
        )
    names: set[str] = set()
    for number, one in enumerate(record.lines, 1):
        wrong = None
        if one.lateral in names or not one.lateral.strip():
            wrong = f"the name {one.lateral!r} is empty or used twice"
        elif len(one.vertices) < 2 or not _length(one.vertices) > 0.0:
            wrong = f"lateral {one.lateral} has no length"
        elif not np.isfinite([one.elevation, *np.ravel(one.vertices)]).all():
            wrong = f"lateral {one.lateral} has a number that is not finite"
        if wrong:
            raise input_error(
                wrong, "give the file as it was written", file=path, field=f"lines {number}"
            )
        names.add(one.lateral)
    if not record.lines:
        raise input_error("this layout holds no lateral", "give one that does", file=path)
    return record


def _places(xy: Floats) -> list[list[float]]:
    return [[float(y), float(x)] for x, y in xy]


def _xy(places: list[_Place]) -> Floats:
    return np.array([(east, north) for north, east in places], dtype=np.float64)


def _rings(area: BaseGeometry) -> list[list[list[list[float]]]]:
    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    return [
        [_places(np.asarray(ring.coords)) for ring in (part.exterior, *part.interiors)]
        for part in parts
    ]


def _area(outline: list[_Rings]) -> Polygon | MultiPolygon:
    parts = [
        Polygon(_xy(rings[0]), [_xy(ring) for ring in rings[1:]])
        for rings in outline
        if rings and len(rings[0]) > 3
    ]
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def _length(places: list[_Place]) -> float:
    return float(np.hypot(*np.diff(np.array(places, dtype=np.float64), axis=0).T).sum())
