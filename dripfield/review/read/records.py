"""Small tables with named columns: rows as dicts, and the numbers in them."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path

from dripfield.core.errors import input_error
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
    header = [name.strip().lower() for name in reader.fieldnames or ()]
    reader.fieldnames = header
    missing = [name for name in wanted if name not in header]
    if missing:
        raise input_error(f"the header has no column {missing[0]!r}", remedy, file=path, row=1)
    return [(reader.line_num, record) for record in reader]


def read_figure(record: dict[str, str], column: str, path: Path, row: int, remedy: str) -> float:
    """The number in a column of a record.

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
    if not math.isfinite(value):
        raise input_error(f"{text!r} is not a number", remedy, file=path, row=row, field=column)
    return value
