"""Rings, lines and points of a site: comma-separated text with a header row that names columns."""

from __future__ import annotations

import csv
import io
import math
import re
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString, MultiPoint, Polygon
from shapely.geometry.polygon import orient

from dripfield.arrays import Floats
from dripfield.errors import input_error
from dripfield.textfile import read_text
from dripfield.units import Unit

_COLUMNS = ("northing", "easting")


def read_ring(path: Path, unit: Unit) -> Polygon:
    """Read a ring of northing, easting, closed or not.

    Parameters
    ----------
    path : Path
    unit : Unit
        Only for the wording of a message.

    Returns
    -------
    Polygon
        In (easting, northing) [site unit], counter-clockwise.

    Raises
    ------
    InputError
        Fewer than three points, all on a line, or a ring that crosses or touches itself.
    """
    xy, rows = _read_table(path)
    keep = np.append(True, (np.diff(xy, axis=0) != 0).any(axis=1))
    xy, rows = xy[keep], rows[keep]
    if len(xy) > 1 and (xy[0] == xy[-1]).all():
        xy, rows = xy[:-1], rows[:-1]
    if len(xy) < 3:
        raise input_error(
            f"a ring needs three different points and has {len(xy)}",
            "give every corner a row",
            file=path,
        )
    near = xy - xy[0]
    ring = shapely.polygons(near)
    if np.linalg.matrix_rank(near, tol=1e-9 * float(np.abs(near).max())) < 2:
        raise input_error("all points lie on one line", "give the corners of an area", file=path)
    if not shapely.is_valid(ring):
        raise input_error(
            f"the ring {_fault(ring, xy[0], unit)}",
            "list the corners in order around the area",
            file=path,
        )
    return orient(shapely.polygons(xy))


def read_line(path: Path) -> LineString:
    """Read a polyline of at least two different points, in (easting, northing)."""
    xy, _ = _read_table(path)
    if len(np.unique(xy, axis=0)) < 2:
        raise input_error("a line needs two different points", "add the other end", file=path)
    return shapely.linestrings(xy)


def read_points(path: Path) -> MultiPoint:
    """Read one point or more, in (easting, northing)."""
    xy, _ = _read_table(path)
    return shapely.multipoints(xy)


def _fault(ring: Polygon, shift: Floats, unit: Unit) -> str:
    """How and where an invalid ring fails, from the reason that GEOS gives."""
    reason = shapely.is_valid_reason(ring)
    place = re.search(r"\[(\S+) (\S+)\]", reason)
    verb = "touches itself" if reason.startswith("Ring Self") else "crosses itself"
    if place is None:
        return verb
    east, north = float(place[1]) + shift[0], float(place[2]) + shift[1]
    return f"{verb} near northing {north:.{unit.places}f}, easting {east:.{unit.places}f}"


def _read_table(path: Path) -> tuple[Floats, Floats]:
    """Points (n, 2) as (easting, northing) and the row of the file each stands in."""
    lines = csv.reader(io.StringIO(read_text(path)), skipinitialspace=True)
    points: list[tuple[float, float]] = []
    rows: list[int] = []
    header: list[str] = []
    try:
        for cells in lines:
            if not any(cell.strip() for cell in cells):
                continue
            if not header:
                header = _read_header(cells, path, lines.line_num)
                continue
            if len(cells) != len(header):
                raise input_error(
                    f"{_columns(len(cells))} where the header has {len(header)}",
                    "give one value for each column",
                    file=path,
                    row=lines.line_num,
                )
            north, east = (
                _number(cells[header.index(name)], path, lines.line_num, name) for name in _COLUMNS
            )
            points.append((east, north))
            rows.append(lines.line_num)
    except csv.Error as problem:
        raise input_error(
            f"the row cannot be read ({problem})",
            "check its quotes",
            file=path,
            row=lines.line_num,
        ) from None
    if not points:
        raise input_error("no points after the header", "add a row for each point", file=path)
    return np.array(points), np.array(rows, dtype=np.float64)


def _read_header(cells: list[str], path: Path, row: int) -> list[str]:
    header = [cell.strip().lower() for cell in cells]
    repeated = sorted({name for name in header if name and header.count(name) > 1})
    if repeated:
        raise input_error(
            f"the header names {repeated[0]!r} twice", "name each column once", file=path, row=row
        )
    missing = [name for name in _COLUMNS if name not in header]
    if missing and all(_is_number(cell) for cell in cells):
        raise input_error(
            "there is no header row", "write northing,easting as the first line", file=path, row=row
        )
    if missing:
        raise input_error(
            f"the header has no column {missing[0]!r}",
            "write northing,easting as the first line",
            file=path,
            row=row,
        )
    return header


def _columns(count: int) -> str:
    return "1 column" if count == 1 else f"{count} columns"


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _number(text: str, path: Path, row: int, column: str) -> float:
    value = float(text) if _is_number(text) else None
    if value is None or "_" in text:
        found = f"{text.strip()!r} is not a number" if text.strip() else "the value is missing"
        raise input_error(found, "give a coordinate", file=path, row=row, field=column)
    if not math.isfinite(value):
        raise input_error(
            f"{text.strip()} is not a place", "give a coordinate", file=path, row=row, field=column
        )
    return value
