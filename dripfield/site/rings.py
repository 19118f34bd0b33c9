"""Rings, lines and points of a site: tables whose header row names the columns."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString, MultiPoint, Polygon
from shapely.geometry.polygon import orient

from dripfield.core.arrays import Floats
from dripfield.core.errors import InputError, input_error
from dripfield.core.limits import check_count, check_places, most
from dripfield.core.textfile import check_plain_file
from dripfield.core.units import Unit
from dripfield.core.words import counted
from dripfield.formats.table import ROLES, Table, check_unit, is_number, plain_name, read_table

_MANY = 1_000  # corners from which those that say nothing are left out


def ring_corners(path: Path, unit: Unit, decimal: str = ".") -> Floats:
    """Corners (k, 2) of a ring's table as written, in (easting, northing).

    Parameters
    ----------
    path : Path
    unit : Unit
        The site's; a column named with another unit in brackets is an error.
    decimal : str
        The decimal sign of the file.

    Returns
    -------
    (k, 2) float array
        [site unit]

    Raises
    ------
    InputError
        Naming file and row: no such columns, no points, or a row that is no place.
    """
    return _read_places(path, unit, decimal)


def read_ring(path: Path, unit: Unit, decimal: str = ".") -> Polygon:
    """Read a ring of northing, easting, closed or not.

    Parameters
    ----------
    path : Path
    unit : Unit
        The site's; a column named with another unit in brackets is an error.
    decimal : str
        The decimal sign of the file.

    Returns
    -------
    Polygon
        In (easting, northing) [site unit], counter-clockwise.

    Raises
    ------
    InputError
        Fewer than three points, all on a line, a ring that crosses or touches itself, or far too
        many corners.
    """
    return polygon(_read_places(path, unit, decimal), path, unit)


def polygon(xy: Floats, path: Path, unit: Unit) -> Polygon:
    """The polygon of a ring's corners (k, 2), closed or not, whichever way round they go.

    Parameters
    ----------
    xy : (k, 2) float array
        In (easting, northing) [site unit].
    path : Path
        For messages.
    unit : Unit
        The site's.

    Returns
    -------
    Polygon
        In (easting, northing) [site unit], counter-clockwise.

    Raises
    ------
    InputError
        Naming the file: fewer than three points, all on a line, or a ring that crosses or touches
        itself.
    """
    check_places(xy, path, "corner")
    if len(xy):
        xy = xy[np.append(True, (np.diff(xy, axis=0) != 0).any(axis=1))]
    if len(xy) > 1 and (xy[0] == xy[-1]).all():
        xy = xy[:-1]
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
    return orient(_without_idle_corners(ring, xy[0], path, unit))


def hair(unit: Unit) -> float:
    """How far a ring of very many corners may be moved to be drawn with fewer [unit].

    0.005 ft or 0.0015 m, half of what a coordinate is written to: nobody can stake it.
    """
    return unit.default(0.005, 0.0015)


def _without_idle_corners(ring: Polygon, shift: Floats, path: Path, unit: Unit) -> Polygon:
    """A ring about a near origin back in its place; of very many corners those that say nothing
    left out."""
    corners = len(ring.exterior.coords) - 1
    if corners > _MANY:
        ring = ring.simplify(hair(unit), preserve_topology=True)
        check_count(
            "corners",
            len(ring.exterior.coords) - 1,
            path,
            "draw the ring with fewer",
            subject=f"the ring, those within {hair(unit):g} {unit.short} of it left out,",
        )
    return shapely.polygons(shapely.get_coordinates(ring) + shift)


def fewer_corners(ring: Polygon, corners: int, path: Path, unit: Unit) -> tuple[str, ...]:
    """The note where a ring of so many corners was simplified.

    Parameters
    ----------
    ring : Polygon
        As simplified.
    corners : int
        How many the file has.
    path : Path
        For the note.
    unit : Unit
        The site's.

    Returns
    -------
    tuple of str
        One note or none.
    """
    if corners <= _MANY:
        return ()
    left = len(ring.exterior.coords) - 1
    return (
        f"{path.name}: {corners:,} corners drawn with {left:,}, none of the others farther than "
        f"{hair(unit):g} {unit.short} from the ring",
    )


def read_line(path: Path, unit: Unit, decimal: str = ".") -> LineString:
    """Read a polyline of at least two different points, in (easting, northing).

    Parameters
    ----------
    path : Path
    unit : Unit
        The site's; a column named with another unit in brackets is an error.
    decimal : str
        The decimal sign of the file.

    Returns
    -------
    LineString
        [site unit]

    Raises
    ------
    InputError
        As for a ring, or fewer than two different points.
    """
    xy = _read_places(path, unit, decimal)
    check_count("corners", len(xy), path, "draw the line with fewer")
    if len(np.unique(xy, axis=0)) < 2:
        raise input_error("a line needs two different points", "add the other end", file=path)
    return shapely.linestrings(xy)


def read_points(path: Path, unit: Unit, decimal: str = ".") -> MultiPoint:
    """Read one point or more, in (easting, northing).

    Parameters
    ----------
    path : Path
    unit : Unit
        The site's; a column named with another unit in brackets is an error.
    decimal : str
        The decimal sign of the file.

    Returns
    -------
    MultiPoint
        [site unit]

    Raises
    ------
    InputError
        As for a ring's table, or far too many points.
    """
    xy = _read_places(path, unit, decimal)
    check_count("corners", len(xy), path, "give fewer points")
    return shapely.multipoints(xy)


def read_route(path: Path, unit: Unit, decimal: str = ".") -> Floats:
    """Read the way of a pipe: at least two different points of northing, easting, elevation.

    Parameters
    ----------
    path : Path
    unit : Unit
        The site's; a column named with another unit in brackets is an error.
    decimal : str
        The decimal sign of the file.

    Returns
    -------
    (k, 3) float array
        Easting, northing, elevation [site unit]; a point that repeats the one before is left out.

    Raises
    ------
    InputError
        As for a ring; no column of elevations, or fewer than two different points.
    """
    xyz = _read_places(path, unit, decimal, ("easting", "northing", "elevation"))
    xyz = np.asarray(xyz[np.append(True, (np.diff(xyz[:, :2], axis=0) != 0).any(axis=1))])
    if len(xyz) < 2:
        raise input_error("a pipe needs two different points", "add its other end", file=path)
    return xyz


def _fault(ring: Polygon, shift: Floats, unit: Unit) -> str:
    """How and where an invalid ring fails, from the reason that GEOS gives."""
    reason = shapely.is_valid_reason(ring)
    place = re.search(r"\[(\S+) (\S+)\]", reason)
    verb = "touches itself" if reason.startswith("Ring Self") else "crosses itself"
    if place is None:
        return verb
    east, north = float(place[1]) + shift[0], float(place[2]) + shift[1]
    return f"{verb} near northing {north:.{unit.places}f}, easting {east:.{unit.places}f}"


def _read_places(
    path: Path, unit: Unit, decimal: str, wanted: tuple[str, ...] = ("easting", "northing")
) -> Floats:
    """Points (n, 2) as (easting, northing), or with more, from a table whose header names them."""
    check_plain_file(path, most("ring bytes"))
    table = read_table(path, decimal)
    columns = _find_columns(table, unit, wanted)
    parts = []
    for chunk in table.chunks(table.first_row):
        for fields, row in zip(chunk.fields, chunk.rows.tolist(), strict=True):
            if len(fields) != len(table.first):
                raise input_error(
                    f"{counted(len(fields), 'column')} where the header has {len(table.first)}",
                    "give one value for each column",
                    file=path,
                    row=row,
                )
        places = np.column_stack([table.numbers(chunk, column, name) for name, column in columns])
        check_places(places, path, rows=chunk.rows)
        parts.append(places)
    if not parts:
        raise input_error("no points below the header", "add a row for each point", file=path)
    return np.concatenate(parts)


def _find_columns(table: Table, unit: Unit, roles_wanted: tuple[str, ...]) -> list[tuple[str, int]]:
    """The columns of easting and northing, or of more, by name."""

    def fault(problem: str, remedy: str) -> InputError:
        return input_error(problem, remedy, file=table.path, row=table.first_row)

    northing_first = ("northing", "easting", *roles_wanted[2:])
    header = f"write {','.join(northing_first)} as the first line"
    if all(is_number(field, table.decimal) for field in table.first):
        raise fault("there is no header row", header)
    roles = [ROLES.get(plain_name(name)) for name in table.first]
    for role in roles_wanted:
        if roles.count(role) > 1:
            names = [
                repr(name) for name, its in zip(table.first, roles, strict=True) if its == role
            ]
            raise fault(
                f"the columns {' and '.join(names)} both read as {role}", "rename one of them"
            )
    columns = []
    for wanted in roles_wanted:
        found = [column for column, role in enumerate(roles) if role == wanted]
        if not found:
            raise fault(f"the header has no column {wanted!r}", header)
        check_unit(table, table.first[found[0]], unit)
        columns.append((wanted, found[0]))
    return columns
