"""A delimited file as rows of fields: delimiter, header and row numbers settled.

Nothing here knows what a column means beyond its name; :mod:`dripfield.survey.read.delimited` reads
shots from it, :mod:`dripfield.survey.read.notebook` a level book.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import InputError, input_error
from dripfield.core.limits import most
from dripfield.core.units import Unit
from dripfield.core.words import counted
from dripfield.formats.signature import read_survey_text

_ALIASES = {
    "point": "point pt p pnt no nr name number id pointname pointno pointnumber pointid ptno ptid",
    "northing": "northing north n y northings",
    "easting": "easting east e x eastings",
    "elevation": "elevation elev z height el level h",
    "description": "description desc d code note notes remark remarks descriptor rawdescription",
    "latitude": "latitude lat",
    "longitude": "longitude lon long lng",
}
ROLES = {alias: role for role, aliases in _ALIASES.items() for alias in aliases.split()}
"""Meaning of every column name known, spelt in small letters without spaces or signs."""

_CHUNK = 100_000
_LONGEST_ROW = most("characters")
_LONGEST_NUMBER = 200  # characters of a field that might be a number written in another way
_UNIT_IN_NAME = re.compile(r"[\(\[]\s*([A-Za-z .]+?)\s*[\)\]]\s*$")
_EITHER_FOOT = ("ft", "feet", "foot")
_UNIT_NAMES = {
    Unit.METRE: ("m", "metre", "metres", "meter", "meters"),
    Unit.FOOT: (*_EITHER_FOOT, "ift", "intft", "ftint", "internationalfeet"),
    Unit.SURVEY_FOOT: (*_EITHER_FOOT, "usft", "ftus", "sft", "ussurveyft", "ussurveyfeet"),
}


@dataclass(frozen=True)
class Chunk:
    """Some rows of a table: their fields, and their numbers as an editor counts them."""

    fields: list[list[str]]
    rows: Ints


@dataclass(frozen=True)
class Table:
    """A delimited file.

    Attributes
    ----------
    path : Path
    lines : list of str
        Every line, comments blanked, so that a line's number is its row.
    delimiter : str or None
        None where fields are parted by any run of blanks.
    first : list of str
        Fields of the first row that holds any.
    first_row : int
        Its number, from 1.
    decimal : str
        The decimal sign to expect.
    ends_open : bool
        True where no line end follows the last row.
    """

    path: Path
    lines: list[str]
    delimiter: str | None
    first: list[str]
    first_row: int
    decimal: str
    ends_open: bool

    def chunks(self, after: int) -> Iterator[Chunk]:
        """Rows below row ``after`` that hold anything, some 100,000 at a time."""
        lines = islice(self.lines, after, None)
        parted = (
            self._blank_parted(lines, after)
            if self.delimiter is None
            else self._delimited(lines, after)
        )
        for chunk in parted:
            if chunk.fields:
                yield chunk

    def _blank_parted(self, lines: Iterator[str], after: int) -> Iterator[Chunk]:
        while block := list(islice(lines, _CHUNK)):
            yield _chunk([line.split() for line in block], after)
            after += len(block)

    def _delimited(self, lines: Iterator[str], after: int) -> Iterator[Chunk]:
        reader = csv.reader(
            lines, delimiter=self.delimiter or ",", skipinitialspace=True, strict=True
        )
        start = after
        while True:
            try:
                block = list(islice(reader, _CHUNK))
            except csv.Error:
                raise self._bad_quote(start) from None
            if not block:
                return
            if after + len(block) != start + reader.line_num:
                raise self._bad_quote(start)
            yield _chunk(block, after)
            after += len(block)

    def _bad_quote(self, after: int) -> InputError:
        """The error for the first row whose quotes do not close on the same row."""
        for row, line in enumerate(islice(self.lines, after, None), after + 1):
            try:
                next(
                    csv.reader(
                        [line], delimiter=self.delimiter or ",", skipinitialspace=True, strict=True
                    ),
                    None,
                )
            except csv.Error:
                return input_error(
                    "a quotation mark is not closed where its field ends",
                    'close it, or write an inch mark inside quotes as ""',
                    file=self.path,
                    row=row,
                )
        return input_error("its quotation marks do not match", "export it again", file=self.path)

    def cut_short(self, row: int) -> bool:
        """True where ``row`` is the last one and no line end follows: a file cut short."""
        return self.ends_open and row == len(self.lines)

    def cut_short_error(self, fields: list[str]) -> InputError:
        """The error for a last row that stops before its line's end."""
        return input_error(
            f"the last row stops after {counted(len(fields), 'field')}: the file is cut short",
            "export it again, or end the row with a line end if it is whole",
            file=self.path,
            row=len(self.lines),
        )

    def numbers(self, chunk: Chunk, column: int, name: str) -> Floats:
        """One column of a chunk as finite numbers.

        Parameters
        ----------
        chunk : Chunk
        column : int
            From 0.
        name : str
            Of the column, for messages.

        Returns
        -------
        (n,) float array
            One for each row of the chunk, in the file's unit.

        Raises
        ------
        InputError
            Naming the first row whose field is missing or is not a number, and what it looks like.
        """
        try:
            if self.decimal == ",":
                values = [float(fields[column].replace(",", ".")) for fields in chunk.fields]
            else:
                values = [float(fields[column]) for fields in chunk.fields]
        except (ValueError, IndexError):
            raise self._first_bad(chunk, column, name) from None
        numbers = np.array(values, dtype=np.float64)
        if not np.isfinite(numbers).all():
            raise self._first_bad(chunk, column, name)
        return numbers

    def _first_bad(self, chunk: Chunk, column: int, name: str) -> InputError:
        for fields, row in zip(chunk.fields, chunk.rows.tolist(), strict=True):
            if column >= len(fields):
                if self.cut_short(row):
                    return self.cut_short_error(fields)
                return input_error(
                    f"the row has {counted(len(fields), 'field')} and no {name}",
                    "fill the row or delete it",
                    file=self.path,
                    row=row,
                )
            problem = not_a_number(fields[column], self.decimal)
            if problem is not None:
                return input_error(*problem, file=self.path, row=row, field=name)
        raise AssertionError("every field is a number")


def _chunk(block: list[list[str]], after: int) -> Chunk:
    keep = [
        i
        for i, fields in enumerate(block)
        if fields and (fields[0].strip() or any(field.strip() for field in fields))
    ]
    if len(keep) < len(block):
        block = [block[i] for i in keep]
    return Chunk(block, np.array(keep, dtype=np.int64) + (after + 1))


_DEGREES = re.compile(
    r"""^\s*[NSEWnsew]?\s*[+-]?\d{1,3}\s*[°ºd:\s-]\s*\d{1,2}\s*['’′m:\s-]\s*
        \d{1,2}([.,]\d*)?\s*["”″s]?'*\s*[NSEWnsew]?\s*$""",
    re.VERBOSE,
)
_DECIMAL_COMMA = re.compile(r"^\s*[+-]?\d+,\d+\s*$")
_THOUSANDS = re.compile(r"^\s*[+-]?\d{1,3}(,\d{3})+\.\d*\s*$")


def not_a_number(text: str, decimal: str = ".") -> tuple[str, str] | None:
    """Why a field is not a plain finite number, as (problem, remedy), or None where it is one."""
    plain = text.replace(",", ".") if decimal == "," else text
    try:
        value = float(plain)
    except ValueError:
        pass
    else:
        if np.isfinite(value):
            return None
        return f"'{_short(text)}' is not a number", "give the shot's number or delete the row"
    shown = text.strip()
    if len(shown) > _LONGEST_NUMBER:
        return f"'{_short(shown)}' is not a number", "correct it"
    if not shown:
        return "the field is empty", "fill it or delete the row"
    if _DEGREES.match(shown) or "°" in shown:
        return f"'{shown}' is degrees, minutes and seconds", "write decimal degrees or coordinates"
    if _THOUSANDS.match(shown):
        return f"'{shown}' parts its thousands with commas", "write it without them"
    if _DECIMAL_COMMA.match(shown):
        return f"'{shown}' has a decimal comma", 'add decimal = "," under [survey] in site.toml'
    return f"'{_short(shown)}' is not a number", "correct it"


def _short(text: str) -> str:
    """A field as it is shown in a message."""
    shown = text.strip()
    return shown if len(shown) <= 40 else shown[:37] + "..."


def plain_name(name: str) -> str:
    """A column's name in small letters, without its unit, spaces and signs: ``Elev (ft)`` elev."""
    return re.sub(r"[^a-z0-9]", "", _UNIT_IN_NAME.sub("", name).lower())


def unit_in_name(name: str) -> str | None:
    """The unit a column's name ends with in brackets (``Northing [m]``), or None."""
    found = _UNIT_IN_NAME.search(name)
    return found.group(1).strip() if found else None


def check_unit(table: Table, name: str, unit: Unit) -> None:
    """Refuse a column named in another unit than the site's: metres, or the other kind of foot.

    Parameters
    ----------
    table : Table
    name : str
        Of the column, with a unit in brackets or none.
    unit : Unit
        The site's.

    Raises
    ------
    InputError
        The column names another unit.
    """
    written = (unit_in_name(name) or "").lower().replace(".", "").replace(" ", "")
    named = {unit for unit, names in _UNIT_NAMES.items() if written in names}
    if named and unit not in named:
        raise input_error(
            f"the column '{name}' is in {unit_in_name(name)} and the site in {unit.label}",
            "convert the file, or correct units under [site] in site.toml",
            file=table.path,
            row=table.first_row,
        )


def is_number(text: str, decimal: str = ".") -> bool:
    """True where a field is a finite number."""
    return not_a_number(text, decimal) is None


def read_table(path: Path, decimal: str = ".") -> Table:
    """Open a delimited file.

    The delimiter is the one that parts the first row best: semicolon, tab, comma, blanks, in that
    order. Lines that begin with # are comments, unless the first of them names the columns.

    Raises
    ------
    InputError
        Where the file is missing, empty, too large or not text, or has no row.
    """
    text = read_survey_text(path)
    return split_first(path, text.rstrip().split("\n"), decimal, not text.endswith("\n"))


def split_first(path: Path, lines: list[str], decimal: str, ends_open: bool = False) -> Table:
    """Make a table of lines: find its first row and the delimiter that parts it.

    Parameters
    ----------
    path : Path
    lines : list of str
        All lines of the file.
    decimal : str
        The decimal sign to expect.
    ends_open : bool
        True where no line end follows the last row.

    Returns
    -------
    Table

    Raises
    ------
    InputError
        There is no row, or one goes on without an end.
    """
    if any(line.startswith("#") for line in lines):
        lines = _without_comments(lines)
    first_row = next((i for i, line in enumerate(lines, 1) if line.strip(" \t,;")), None)
    if first_row is None:
        raise input_error("the file has no rows", "export it again", file=path)
    line = lines[first_row - 1]
    if len(line) > _LONGEST_ROW:
        raise input_error(
            f"the row runs over {len(line):,} characters without a line end",
            "export it again with a row for each point",
            file=path,
            row=first_row,
        )
    delimiter = _delimiter(line)
    if delimiter is None:
        first = line.split()
    else:
        first = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    return Table(path, lines, delimiter, first, first_row, decimal, ends_open)


def _without_comments(lines: list[str]) -> list[str]:
    """The lines with comments blanked; a leading comment that names columns becomes the header."""
    bare = [line if not line.startswith("#") else "" for line in lines]
    first = next((i for i, line in enumerate(bare) if line.strip()), len(bare))
    for i in range(first):
        names = lines[i].lstrip("#/ \t")
        known = {ROLES.get(plain_name(n)) for n in re.split(r"[,;\t ]+", names)} - {None}
        if len(known) >= 3:
            bare[i] = names
            break
    return bare


def _delimiter(line: str) -> str | None:
    """The delimiter that parts a line into three fields or more, else the likeliest."""
    for least in (2, 1):
        for sign in (";", "\t", ","):
            if line.count(sign) >= least:
                return sign
    return None
