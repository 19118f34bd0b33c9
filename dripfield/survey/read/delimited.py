"""Delimited point files: PNEZD and its relatives, with or without a header."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.core.words import counted
from dripfield.formats.signature import kind_from_content
from dripfield.formats.table import (
    ROLES,
    Chunk,
    Table,
    check_unit,
    is_number,
    plain_name,
    split_first,
)
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.read.notebook import is_level_book
from dripfield.survey.shots import Survey

_LETTERS = {
    "P": "point",
    "N": "northing",
    "Y": "northing",
    "E": "easting",
    "X": "easting",
    "Z": "elevation",
    "D": "description",
}
_LARGE, _HEAD = 5_000_000, 100_000  # bytes of a file looked at first, and of what is looked at
_PLACES = ("easting", "northing", "elevation")
Columns = dict[str, int]
"""Column of each role: point, northing, easting, elevation, description."""
Shots = tuple[Floats, list[str], list[str], Ints]
"""Easting, northing, elevation (n, 3); names; descriptions; rows (n,)."""


def read_delimited(table: Table, options: SurveyTable, unit: Unit) -> Survey:
    """Read the shots of a delimited point file.

    A header that names its columns may have them in any order. Without one the order is
    ``options.order``, or PNEZD where the first row can be nothing else; where it could, the error
    asks for ``order``. Fields beyond the description belong to the description.

    Parameters
    ----------
    table : Table
        The file, opened.
    options : SurveyTable
        ``order``, ``no_reading`` and ``elevation_unit`` are used.
    unit : Unit
        The site's; a column named with another unit in brackets is an error.

    Returns
    -------
    Survey
        Coordinates as written [site unit; degrees where the header says latitude and longitude];
        ``rows`` count from 1 as an editor does.

    Raises
    ------
    InputError
        Naming file, row and column.
    """
    columns, header, notes = find_columns(table, options, unit)
    after = table.first_row if header else table.first_row - 1
    shots = _uniform_shots(table, columns, after)
    if shots is None:
        if options.no_reading == "skip":
            table, blank = _without_blank_elevations(table, columns["elevation"], after)
            notes += blank
        shots = _ragged_shots(table, columns, after, header)
    xyz, names, descriptions, rows = shots
    return Survey(xyz, tuple(names), tuple(descriptions), rows, table.path, notes=notes)


def check_head(path: Path, options: SurveyTable, unit: Unit) -> None:
    """Refuse a large file at its first rows, before the rest of it is read.

    Parameters
    ----------
    path : Path
    options : SurveyTable
    unit : Unit
        The site's.

    Raises
    ------
    InputError
        As :func:`read_delimited`.
    """
    if path.stat().st_size < _LARGE:
        return
    with path.open("rb") as stream:
        head = stream.read(_HEAD)
    text = head.decode("utf-8-sig", errors="replace").replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")[:-1]
    if not lines or "\0" in text or kind_from_content(head) is not None:
        return  # a row without end, UTF-16, or no text at all: refused, or read, as a whole
    table = split_first(path, lines, options.decimal)
    if is_level_book(table):
        return
    columns, header, _ = find_columns(table, options, unit)
    if options.no_reading != "skip":
        _ragged_shots(table, columns, table.first_row if header else table.first_row - 1, header)


def _without_blank_elevations(
    table: Table, column: int, after: int
) -> tuple[Table, tuple[str, ...]]:
    """The table with rows emptied that have a place for the elevation and nothing in it."""
    lines = list(table.lines)
    blank = [
        row
        for chunk in table.chunks(after)
        for fields, row in zip(chunk.fields, chunk.rows.tolist(), strict=True)
        if column < len(fields) and not fields[column].strip()
    ]
    for row in blank:
        lines[row - 1] = ""
    if not blank:
        return table, ()
    rows = counted(len(blank), "row")
    note = f"{table.path.name}: {rows} without an elevation skipped, as no_reading says"
    return replace(table, lines=lines), (note,)


def _uniform_shots(table: Table, columns: Columns, after: int) -> Shots | None:
    """All shots by numpy's own parser, or None where any row needs a closer look."""
    if table.decimal != ".":
        return None
    numeric = {columns[role]: role for role in _PLACES}
    if max(numeric) >= len(table.first):
        return None
    kinds = ["f8" if column in numeric else "O" for column in range(len(table.first))]
    lines = table.lines[after:]
    if not lines:
        return None
    try:
        fields = np.loadtxt(
            lines,
            dtype=np.dtype([(f"f{i}", kind) for i, kind in enumerate(kinds)]),
            delimiter=table.delimiter,
            comments=None,
            quotechar=None if table.delimiter is None else '"',
            ndmin=1,
        )
    except ValueError:
        return None
    xyz = np.column_stack([fields[f"f{columns[role]}"] for role in _PLACES])
    if len(fields) != len(lines) or not np.isfinite(xyz).all():
        return None
    rows = np.arange(after + 1, after + 1 + len(fields))

    def texts(role: str) -> list[str] | None:
        column = columns.get(role, len(table.first))  # order may name more than a row has
        return fields[f"f{column}"].tolist() if column < len(table.first) else None

    return xyz, _names(texts("point"), rows), _stripped(texts("description"), len(rows)), rows


def _ragged_shots(table: Table, columns: Columns, after: int, header: bool) -> Shots:
    """Shots row by row, naming the first that cannot be read."""
    coordinates: list[Floats] = []
    names: list[str] = []
    descriptions: list[str] = []
    rows: list[Ints] = []
    for chunk in table.chunks(after):
        if not chunk.fields:
            continue
        places = [table.numbers(chunk, columns[role], role) for role in _PLACES]
        last = chunk.fields[-1]
        if table.cut_short(int(chunk.rows[-1])) and columns["elevation"] == len(last) - 1:
            whole = len(table.first) if header else len(chunk.fields[0])
            if len(last) < whole:  # the elevation itself may have lost digits
                raise table.cut_short_error(last)
        coordinates.append(np.column_stack(places))
        point = columns.get("point")
        texts = (
            None if point is None else [f[point] if point < len(f) else "" for f in chunk.fields]
        )
        names += _names(texts, chunk.rows)
        descriptions += _stripped(_descriptions(table, chunk, columns, header), len(chunk.rows))
        rows.append(chunk.rows)
    if not coordinates:
        raise input_error(
            "there is no shot below the header", "export the points again", file=table.path
        )
    return np.concatenate(coordinates), names, descriptions, np.concatenate(rows)


def _names(texts: list[str] | None, rows: Ints) -> list[str]:
    """Point names; row numbers stand in for names that the file does not give."""
    if texts is None:
        return [str(row) for row in rows.tolist()]
    names = [text.strip() for text in texts]
    if all(names):
        return names
    return [name or str(row) for name, row in zip(names, rows.tolist(), strict=True)]


def _stripped(texts: list[str] | None, count: int) -> list[str]:
    return [""] * count if texts is None else [text.strip() for text in texts]


def _descriptions(table: Table, chunk: Chunk, columns: Columns, header: bool) -> list[str] | None:
    """Descriptions of a chunk, fields beyond the last column joined to it again."""
    column = columns.get("description")
    if column is None:
        return None
    if header and column < len(table.first) - 1:
        return [fields[column] if column < len(fields) else "" for fields in chunk.fields]
    joint = table.delimiter or " "
    return [joint.join(fields[column:]).rstrip(joint) for fields in chunk.fields]


def find_columns(
    table: Table, options: SurveyTable, unit: Unit
) -> tuple[Columns, bool, tuple[str, ...]]:
    """Settle what each column means.

    Parameters
    ----------
    table : Table
    options : SurveyTable
    unit : Unit
        The site's.

    Returns
    -------
    columns : dict of role to column number
    header : bool
        True where the first row names the columns (and is no shot).
    notes : tuple of str
        What was taken for granted.

    Raises
    ------
    InputError
        Where the order is ambiguous, contradicted or incomplete.
    """
    named = _named_columns(table, options, unit)
    ordered = None if options.order is None else _ordered_columns(options.order)
    if named is not None:
        if ordered is not None and any(named.get(role) != at for role, at in ordered.items()):
            raise input_error(
                f"the header names the columns in another order than [survey] order = "
                f'"{options.order}"',
                "remove order from site.toml, or correct it",
                file=table.path,
                row=table.first_row,
            )
        return named, True, ()
    header = not any(is_number(field, table.decimal) for field in table.first)
    if ordered is not None:
        return ordered, header, ()
    if header:
        raise input_error(
            f"the header '{', '.join(table.first)}' does not name northing, easting and elevation",
            'name them, or give order = "PNEZD" or the like under [survey] in site.toml',
            file=table.path,
            row=table.first_row,
        )
    return _assumed_columns(table)


def _named_columns(table: Table, options: SurveyTable, unit: Unit) -> Columns | None:
    """Columns by the names in the first row, or None where it names too few to be a header."""
    roles = [ROLES.get(plain_name(field)) for field in table.first]
    found = [role for role in roles if role is not None]
    if len(set(found) - {"point", "description"}) < 2:
        return None
    columns: Columns = {}
    for column, (role, name) in enumerate(zip(roles, table.first, strict=True)):
        if role is None:
            continue
        if role in columns:
            raise input_error(
                f"the columns '{table.first[columns[role]]}' and '{name}' both read as {role}",
                "rename one of them",
                file=table.path,
                row=table.first_row,
            )
        columns[role] = column
        if role != "elevation" or options.elevation_unit is None:
            check_unit(table, name, unit)
    if "latitude" in columns or "longitude" in columns:
        columns |= {
            role: columns.pop(name)
            for role, name in (("northing", "latitude"), ("easting", "longitude"))
            if name in columns
        }
    for role in ("northing", "easting", "elevation"):
        if role not in columns:
            raise input_error(
                f"the header names no {role}",
                f"name the column that holds the {role}",
                file=table.path,
                row=table.first_row,
            )
    return columns


def _ordered_columns(order: str) -> Columns:
    """Columns from ``order``."""
    columns: Columns = {}
    for column, letter in enumerate(order.strip().upper()):
        if letter == "-":
            continue
        role = _LETTERS.get(letter)
        if role is None or role in columns:
            raise input_error(
                f'order = "{order}" holds '
                + (f"'{letter}'" if role is None else f"two columns for the {role}"),
                "use P, N, E, Z, D once each (X for E, Y for N, - to pass over a column)",
                file="site.toml",
                field="[survey] order",
            )
        columns[role] = column
    for role in ("northing", "easting", "elevation"):
        if role not in columns:
            raise input_error(
                f'order = "{order}" has no {role}',
                'name every column, as in "PNEZD"',
                file="site.toml",
                field="[survey] order",
            )
    return columns


def _assumed_columns(table: Table) -> tuple[Columns, bool, tuple[str, ...]]:
    """PNEZD where the first row can be nothing else."""
    first = table.first
    numeric = [is_number(field, table.decimal) for field in first]
    if table.path.suffix.lower() == ".xyz" and len(first) >= 3 and all(numeric[:3]):
        note = f"{table.path.name}: columns read as x, y, z (easting first), as its ending says"
        return _ordered_columns("XYZ"), False, (note,)
    if len(first) < 3:
        raise input_error(
            f"the first row has {counted(len(first), 'field')}",
            "give a point, northing, easting and elevation in each row",
            file=table.path,
            row=table.first_row,
        )
    is_name = not numeric[0] or first[0].strip().lstrip("+-").isdigit()
    if len(first) >= 5 or (len(first) == 4 and is_name):
        order = "PNEZD" if len(first) >= 5 else "PNEZ"
        return _ordered_columns(order), False, (f"{table.path.name}: no header, read as {order}",)
    raise input_error(
        f"{len(first)} columns without a header could stand in several orders",
        'give order = "NEZ", "ENZ" or the like under [survey] in site.toml',
        file=table.path,
        row=table.first_row,
    )


def names_degrees(table: Table) -> bool:
    """True where the first row of a table names latitude or longitude."""
    return any(ROLES.get(plain_name(name)) in ("latitude", "longitude") for name in table.first)
