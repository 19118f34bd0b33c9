"""A typed sheet as rows of text cells: CSV or an Excel workbook, merged cells filled down."""

from __future__ import annotations

import csv
import datetime
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dripfield.core.errors import input_error
from dripfield.core.textfile import check_plain_file, read_text

_MOST_BYTES = 20_000_000
_MOST_ROWS = 20_000


@dataclass(frozen=True)
class Cells:
    """One sheet: its rows of stripped texts, from the file's row 1, and its name if it has one."""

    rows: list[list[str]]
    sheet: str | None = None


def read_csv_cells(path: Path) -> Cells:
    """Read delimited text; the delimiter is the one of comma, semicolon and tab most rows share.

    Raises
    ------
    InputError
        Missing, empty, not text, or a quotation mark that does not close.
    """
    text = read_text(path, _MOST_BYTES)
    lines = text.split("\n")
    delimiter = max(",;\t", key=lambda sign: sum(sign in line for line in lines))
    rows: list[list[str]] = []
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    try:
        for cells in reader:
            # a cell with line breaks spans rows: keep the numbers that an editor counts
            rows.extend([] for _ in range(reader.line_num - 1 - len(rows)))
            rows.append([" ".join(cell.split()) for cell in cells])
    except csv.Error as problem:
        raise input_error(
            f"the row cannot be read ({problem})",
            "check its quotation marks",
            file=path,
            row=reader.line_num,
        ) from None
    return Cells(rows)


def read_excel_cells(path: Path) -> list[Cells]:
    """Read every visible sheet of a workbook; a cell merged down fills the rows it covers.

    Raises
    ------
    InputError
        Missing, not a workbook, or far too long.
    """
    check_plain_file(path, _MOST_BYTES)
    import openpyxl

    try:
        book = openpyxl.load_workbook(path, data_only=True)
    except Exception:  # a damaged workbook fails in many ways: zip, XML, keys, types
        raise input_error(
            "this is not an Excel workbook that can be read",
            "save it as .xlsx without a password, or as CSV",
            file=path,
        ) from None
    sheets = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    return [_sheet_cells(sheet, path) for sheet in sheets]


def _sheet_cells(sheet: Any, path: Path) -> Cells:
    if sheet.max_row > _MOST_ROWS:
        raise input_error(
            f"the sheet {sheet.title!r} has {sheet.max_row:,} rows",
            "keep the table of runs only",
            file=path,
        )
    rows = [[_text(value) for value in row] for row in sheet.iter_rows(values_only=True)]
    for area in sheet.merged_cells.ranges:
        top = rows[area.min_row - 1][area.min_col - 1]
        for row in range(area.min_row, area.max_row):
            rows[row][area.min_col - 1] = top
    return Cells(rows, sheet.title)


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() else repr(round(value, 9))
    return " ".join(str(value).split())
