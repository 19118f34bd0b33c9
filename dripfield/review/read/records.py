"""Small tables with named columns: rows as dicts, and the numbers in them."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path

from dripfield.core.errors import input_error
from dripfield.core.limits import FARTHEST, check_count
from dripfield.core.textfile import read_text


def read_records(
    path: Path, wanted: tuple[str, ...], remedy: str
) -> list[tuple[int, dict[str, str]]]:
    """Read a CSV with a header, its columns in any order and case.

    Parameters
    ----------
    path : Path
    wanted : tuple of str
        Columns that must be there.
    remedy : str
        How to mend a header that lacks one.

    Returns
    -------
    list of (row, record)
        The row of the file that each record stands in.

    Raises
    ------
    InputError
        The file cannot be read, or a column is missing.
    """
    reader = csv.DictReader(io.StringIO(read_text(path)), restval="", skipinitialspace=True)
    try:
        header = [name.strip().lower() for name in reader.fieldnames or ()]
    except csv.Error as problem:
        raise input_error(f"the header cannot be read ({problem})", remedy, file=path) from None
    check_count("columns", len(header), path, "keep the columns that matter", row=1)
    reader.fieldnames = header
    missing = [name for name in wanted if name not in header]
    if missing:
        raise input_error(f"the header has no column {missing[0]!r}", remedy, file=path, row=1)
    records: list[tuple[int, dict[str, str]]] = []
    try:
        for record in reader:
            check_count("rows", len(records) + 1, path, "keep the rows that matter")
            records.append((reader.line_num, record))
    except csv.Error as problem:
        raise input_error(
            f"the row cannot be read ({problem})",
            "check its quotation marks",
            file=path,
            row=reader.line_num,
        ) from None
    return records


def read_figure(record: dict[str, str], column: str, path: Path, row: int, remedy: str) -> float:
    """The number in a column of a record.

    Parameters
    ----------
    record : dict of str to str
        Cells by column.
    column : str
    path : Path
    row : int
        From 1, for messages.
    remedy : str
        What to do about a cell that is no number.

    Returns
    -------
    float
        In the file's unit.

    Raises
    ------
    InputError
        It is none, or not finite.
    """
    text = record[column].strip()
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not abs(value) <= FARTHEST:
        shown = text if len(text) <= 40 else text[:37] + "..."
        raise input_error(f"{shown!r} is not a number", remedy, file=path, row=row, field=column)
    return value
