"""A laser or level book: rod readings against a benchmark, reduced to elevations.

The book is a CSV file with a header that names, in any order, ``point``, ``backsight``,
``intermediate``, ``foresight``, ``northing``, ``easting`` and, where wanted, ``elevation`` (of a
mark whose height is known) and ``description``. Rows stand in the order they were read. A
backsight opens a set-up; a turning point carries the foresight of the old set-up and the backsight
of the new one in one row.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from dripfield.core.errors import InputError, input_error
from dripfield.core.units import Unit
from dripfield.core.words import counted
from dripfield.formats.table import ROLES, Table, not_a_number, plain_name
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.shots import Survey

_READINGS = {
    "backsight": "backsight bs back",
    "intermediate": "intermediate is ifs side sideshot rod",
    "foresight": "foresight fs fore",
}
_COLUMNS = ROLES | {
    "station": "point",
    **{alias: role for role, aliases in _READINGS.items() for alias in aliases.split()},
}
_SIGHTS = tuple(_READINGS)


def is_level_book(table: Table) -> bool:
    """True where the first row of a table names backsights."""
    return any(_COLUMNS.get(plain_name(name)) == "backsight" for name in table.first)


@dataclass(frozen=True)
class Reading:
    """One row of the book; a reading that is not there is None."""

    row: int
    point: str
    backsight: float | None
    intermediate: float | None
    foresight: float | None
    northing: float | None
    easting: float | None
    elevation: float | None
    description: str


@dataclass(frozen=True)
class Levelled:
    """A reduced book.

    Attributes
    ----------
    elevations : dict of row to elevation
        Of each row whose rod was read, adjusted.
    set_ups : int
    misclosure : float or None
        Carried elevation less known elevation of the closing mark; None where nothing closes.
    closed_on : str
        Name of the closing mark.
    """

    elevations: dict[int, float]
    set_ups: int
    misclosure: float | None
    closed_on: str


def read_level_book(
    table: Table, options: SurveyTable, unit: Unit, marks: Mapping[str, float] | None = None
) -> Survey:
    """Read and reduce a level book.

    Parameters
    ----------
    table : Table
        The file, opened.
    options : SurveyTable
        ``closure_tolerance``, else 0.02 ft (6 mm) times the square root of the number of set-ups
        (common practice, no source).
    unit : Unit
        The site's: of readings, coordinates and elevations alike.
    marks : mapping of name to elevation, optional
        Marks known from elsewhere, such as the site's benchmark.

    Returns
    -------
    Survey
        A shot for each row with a reading and a plan position; notes tell the set-ups, the
        misclosure and what was done about it.

    Raises
    ------
    InputError
        Naming the row that breaks the book's order or lacks a number, or the misclosure where it
        exceeds the tolerance.
    """
    path = table.path
    readings = _readings(table)
    levelled = reduce_levels(readings, path, marks or {})
    tolerance = options.closure_tolerance
    if tolerance is None:
        tolerance = unit.default(0.02, 0.006) * float(np.sqrt(levelled.set_ups))
    places = unit.places + 1
    set_ups = counted(levelled.set_ups, "set-up")
    if levelled.misclosure is None:
        note = f"{path.name}: {set_ups}, not closed on a known mark: the levels have no check"
    else:
        if abs(levelled.misclosure) > tolerance + 1e-9:
            raise input_error(
                f"the book misses {levelled.closed_on} by {levelled.misclosure:+.{places}f} "
                f"{unit.short} over {set_ups}, more than {tolerance:.{places}f}",
                "find the reading that is wrong, or allow more with closure_tolerance under "
                "[survey] in site.toml",
                file=path,
            )
        adjusted = ", adjusted in proportion to the set-ups" if levelled.misclosure else ""
        note = (
            f"{path.name}: {set_ups}, misclosure {levelled.misclosure:+.{places}f} {unit.short} on "
            f"{levelled.closed_on} (allowed {tolerance:.{places}f}){adjusted}"
        )
    shots = [
        reading
        for reading in readings
        if reading.row in levelled.elevations and reading.northing is not None
    ]
    if not shots:
        raise input_error(
            "no row has both a reading and a plan position",
            "give northing and easting of the points shot",
            file=path,
        )
    return Survey(
        xyz=np.array([(r.easting, r.northing, levelled.elevations[r.row]) for r in shots]),
        names=tuple(reading.point for reading in shots),
        descriptions=tuple(reading.description for reading in shots),
        rows=np.array([reading.row for reading in shots], dtype=np.int64),
        source=path,
        notes=(note,),
    )


def reduce_levels(readings: list[Reading], path: Path, marks: Mapping[str, float]) -> Levelled:
    """Carry elevations through a book by height of instrument, and spread its misclosure.

    Height of instrument is the backsight point's elevation plus the backsight; an elevation is the
    height of instrument less the intermediate or foresight (any surveying textbook's differential
    levelling). The misclosure is spread in proportion to the set-ups passed, every reading of one
    set-up alike.

    Parameters
    ----------
    readings : list of Reading
        In the order read.
    path : Path
        For messages.
    marks : mapping of name to elevation
        Known marks, beside those that carry their elevation in the book.

    Returns
    -------
    Levelled

    Raises
    ------
    InputError
        A reading before the first backsight, a backsight on a point of unknown elevation, or an
        intermediate without a plan position.
    """
    known = dict(marks)
    for reading in readings:
        if reading.elevation is None:
            continue
        elsewhere = known.setdefault(reading.point, reading.elevation)
        if elsewhere != reading.elevation:
            raise _bad(
                path,
                reading,
                f"the elevation of {reading.point} is {reading.elevation:g} here and "
                f"{elsewhere:g} elsewhere",
                "correct the one that is wrong",
            )
    raw: dict[int, float] = {}
    set_up_of: dict[int, int] = {}
    carried: dict[str, float] = {}
    instrument: float | None = None
    set_up = 0
    last: Reading | None = None
    for reading in readings:
        for kind in ("intermediate", "foresight"):
            rod = getattr(reading, kind)
            if rod is None:
                continue
            if instrument is None:
                raise _bad(
                    path,
                    reading,
                    f"the {kind} comes before any backsight",
                    "start with the backsight on the benchmark",
                )
            raw[reading.row] = instrument - rod
            set_up_of[reading.row] = set_up
            if kind == "foresight":
                carried[reading.point] = raw[reading.row]
                last = reading
        if reading.backsight is not None:
            start = carried.get(reading.point, known.get(reading.point))
            if start is None:
                raise _bad(
                    path,
                    reading,
                    f"the elevation of {reading.point} is not known here",
                    "give it in the column elevation, or take the foresight first",
                )
            instrument = start + reading.backsight
            set_up += 1
    if instrument is None:
        raise input_error("the book has no backsight", "give the one on the benchmark", file=path)
    misclosure = None
    if last is not None and last.point in known:
        misclosure = round(raw[last.row] - known[last.point], 9)
    share = -(misclosure or 0.0) / set_up
    elevations = {row: z + share * set_up_of[row] for row, z in raw.items()}
    return Levelled(elevations, set_up, misclosure, last.point if last is not None else "")


def _bad(path: Path, reading: Reading, problem: str, remedy: str) -> InputError:
    return input_error(problem, remedy, file=path, row=reading.row)


def _readings(table: Table) -> list[Reading]:
    columns: dict[str, int] = {}
    for i, name in enumerate(table.first):
        role = _COLUMNS.get(plain_name(name))
        if role is not None:
            columns.setdefault(role, i)
    for role in ("point", "backsight", "foresight", "northing", "easting"):
        if role not in columns:
            raise input_error(
                f"the level book's header names no {role}",
                "name point, backsight, intermediate, foresight, northing and easting",
                file=table.path,
                row=table.first_row,
            )
    readings = []
    for chunk in table.chunks(table.first_row):
        for fields, row in zip(chunk.fields, chunk.rows.tolist(), strict=True):
            readings.append(_reading(table, columns, fields, row))
    return readings


def _reading(table: Table, columns: dict[str, int], fields: list[str], row: int) -> Reading:
    if table.cut_short(row) and len(fields) < len(table.first):
        raise table.cut_short_error(fields)

    def text(role: str) -> str:
        column = columns.get(role)
        return fields[column].strip() if column is not None and column < len(fields) else ""

    def number(role: str) -> float | None:
        written = text(role)
        if not written:
            return None
        problem = not_a_number(written, table.decimal)
        if problem is not None:
            raise input_error(*problem, file=table.path, row=row, field=role)
        return float(written.replace(",", "."))

    values = {role: number(role) for role in (*_SIGHTS, "northing", "easting", "elevation")}
    reading = Reading(row, text("point"), description=text("description"), **values)
    if not reading.point:
        raise _bad(table.path, reading, "the row names no point", "give the point's name")
    if all(getattr(reading, sight) is None for sight in _SIGHTS):
        raise _bad(table.path, reading, "the row has no reading", "fill it or delete it")
    if (reading.northing is None) != (reading.easting is None):
        raise _bad(
            table.path, reading, "only one of northing and easting is given", "give both or neither"
        )
    if reading.intermediate is not None:
        if reading.foresight is not None:
            raise _bad(
                table.path,
                reading,
                "the row has an intermediate and a foresight",
                "give one of them: the foresight where the instrument moves next",
            )
        if reading.northing is None:
            raise _bad(
                table.path,
                reading,
                f"point {reading.point} was shot but has no northing and easting",
                "give both",
            )
    return reading
