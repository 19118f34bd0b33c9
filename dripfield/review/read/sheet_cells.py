"""A typed sheet as rows of text cells: CSV or an Excel workbook, merged cells filled down."""

from __future__ import annotations

import csv
import datetime
import io
import re
import warnings
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dripfield.core.errors import InputError, input_error
from dripfield.core.limits import check_count, most
from dripfield.core.textfile import check_plain_file, read_text

_MERGED = re.compile(rb"<(?:\w+:)?mergeCell\s[^>]*?ref\s*=\s*[\"']([^\"']{1,60})[\"']")
_CELL = re.compile(rb"<(?:\w+:)?c[\s>/]")
_REFERENCE = re.compile(rb"\s(?:r|ref)\s*=\s*[\"']\$?([A-Za-z]{1,3})\$?([0-9]{1,7})")


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
    text = read_text(path, most("table bytes"))
    lines = text.split("\n")
    delimiter = max(",;\t", key=lambda sign: sum(sign in line for line in lines))
    rows: list[list[str]] = []
    filled = 0
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    try:
        for cells in reader:
            # a cell with line breaks spans rows: keep the numbers that an editor counts
            rows.extend([] for _ in range(reader.line_num - 1 - len(rows)))
            check_count("rows", reader.line_num, path, "keep the table of runs only")
            check_count(
                "columns", len(cells), path, "keep the table of runs only", row=reader.line_num
            )
            rows.append([_bounded(" ".join(cell.split()), path, len(rows) + 1) for cell in cells])
            filled += len(cells)
            check_count("cells", filled, path, "keep the table of runs only")
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
    check_plain_file(path, most("table bytes"))
    import openpyxl

    try:
        _check_workbook(path)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what it leaves out is no table
            book = openpyxl.load_workbook(path, data_only=True, keep_links=False)
        sheets = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
        return [_sheet_cells(sheet, path) for sheet in sheets]
    except (InputError, MemoryError):
        raise
    except Exception:  # a damaged workbook fails in many ways: zip, XML, keys, types
        raise input_error(
            "this is not an Excel workbook that can be read",
            "save it as .xlsx without a password, or as CSV",
            file=path,
        ) from None


def _check_workbook(path: Path) -> None:
    """Refuse a workbook that would unfold beyond any table, before it is unfolded."""
    with zipfile.ZipFile(path) as archive:
        members = archive.infolist()
        check_count("unzipped bytes", sum(member.file_size for member in members), path, _ONLY)
        cells = 0.0
        for member in members:
            if not member.filename.lower().endswith((".xml", ".rels")):
                continue
            text = archive.read(member)  # no more than its stated size
            if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
                raise input_error(
                    "it holds a document type, which a workbook never needs", "save it again",
                    file=path,
                )  # fmt: skip
            cells += len(_CELL.findall(text))
            for area in _MERGED.findall(text):
                cells += _area(area)
            check_count("cells", cells, path, _ONLY)
            for letters, row in _REFERENCE.findall(text):
                check_count("rows", int(row), path, _ONLY)
                check_count("columns", _column(letters), path, _ONLY)


_ONLY = "keep the table of runs only"


def _area(reference: bytes) -> float:
    """How many cells a reference such as ``A1:C3`` covers."""
    corners = re.findall(rb"\$?([A-Za-z]{1,3})\$?([0-9]{1,7})", reference)
    if len(corners) != 2:
        return 1.0
    (left, top), (right, bottom) = corners
    width = abs(_column(right) - _column(left)) + 1.0
    return width * (abs(int(bottom) - int(top)) + 1.0)


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters.upper():
        number = 26 * number + letter - ord("A") + 1
    return number


def _bounded(text: str, path: Path, row: int) -> str:
    check_count("characters", len(text), path, "shorten it", row=row, subject="a cell")
    return text


def _sheet_cells(sheet: Any, path: Path) -> Cells:
    subject = f"the sheet {sheet.title!r}"
    check_count("rows", sheet.max_row, path, _ONLY, subject=subject)
    check_count("columns", sheet.max_column, path, _ONLY, subject=subject)
    check_count("cells", sheet.max_row * sheet.max_column, path, _ONLY, subject=subject)
    rows = [
        [_bounded(_text(value), path, number) for value in row]
        for number, row in enumerate(sheet.iter_rows(values_only=True), 1)
    ]
    for area in sheet.merged_cells.ranges:
        if area.min_row > len(rows) or area.min_col > len(rows[area.min_row - 1]):
            continue
        top = rows[area.min_row - 1][area.min_col - 1]
        for row in range(area.min_row, min(area.max_row, len(rows))):
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
