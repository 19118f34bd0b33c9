"""Tables as a spreadsheet, one sheet each: numbers as numbers, text as text, sums under them."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from dripfield.core.table import Column, Figure, Plain, Table
from dripfield.core.words import plain

_WIDEST = 60  # letters
_NO_DATE = "1980-01-01T00:00:00Z"


def write_workbook(path: Path, tables: Sequence[Table]) -> None:
    """Write a workbook; the same tables give the same bytes.

    Parameters
    ----------
    path : Path
    tables : sequence of Table
        Each becomes a sheet under its title, with a heading row that stays in sight, and a last
        row of sums where it names totals.

    Raises
    ------
    ValueError
        There is no table, or two have the same title.
    """
    from openpyxl import Workbook

    names = [_sheet_name(table.title) for table in tables]
    if not names or len(set(names)) < len(names):
        raise ValueError("every sheet of a workbook has a title of its own")
    book = Workbook()
    book.remove(book.active)
    for name, table in zip(names, tables, strict=True):
        _fill(book.create_sheet(name), table)
    stream = io.BytesIO()
    book.save(stream)
    path.write_bytes(_without_dates(stream.getvalue()))


def _sheet_name(title: str) -> str:
    """A title as a sheet may be called: no sign that a reference uses, 31 letters at most."""
    return re.sub(r"[\[\]:*?/\\']", " ", plain(title)).strip()[:31]


def _fill(sheet: Any, table: Table) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    sheet.append([_heading(column) for column in table.columns])
    for cell in sheet[1]:
        cell.font = Font(bold=True)
        cell.alignment = Alignment(wrap_text=True, vertical="bottom")
    for at, row in enumerate(table.rows, 2):
        for k, (column, value) in enumerate(zip(table.columns, row, strict=True), 1):
            if isinstance(value, Figure):
                column, value = replace(column, places=value.places), value.value
            _set(sheet.cell(at, k), column, column.plain_value(value))
    last = len(table.rows) + 1
    if table.totals and last > 1:
        sheet.cell(last + 1, 1).value = "total"
        for k, column in enumerate(table.columns, 1):
            if column.key in table.totals:
                letter = get_column_letter(k)
                cell = sheet.cell(last + 1, k)
                cell.value = f"=SUM({letter}2:{letter}{last})"
                cell.number_format = _format(column)
        for cell in sheet[last + 1]:
            cell.font = Font(bold=True)
    texts = table.texts()
    for k, column in enumerate(table.columns):
        longest = max((len(row[k]) for row in texts), default=0)
        head = max(len(part) for part in _heading(column).split("\n"))
        width = min(max(longest, head, 6) + 2, _WIDEST)
        sheet.column_dimensions[get_column_letter(k + 1)].width = width
    sheet.freeze_panes = "A2"


def _heading(column: Column) -> str:
    head = plain(column.heading)
    return f"{head}\n[{column.unit}]" if column.unit else head


def _set(cell: Any, column: Column, value: Plain) -> None:
    if isinstance(value, str):
        cell.value = "".join(c if c.isprintable() else " " for c in value)
        cell.data_type = "s"  # whatever it begins with
        cell.number_format = "@"
        return
    cell.value = value
    if column.kind == "number":
        cell.number_format = _format(column)


def _format(column: Column) -> str:
    return "0" if not column.places else f"0.{'0' * column.places}"


def _without_dates(content: bytes) -> bytes:
    """The same archive with every date in it set to one."""
    result = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(result, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in sorted(old.namelist()):
            part = old.read(name)
            if name == "docProps/core.xml":
                part = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", _NO_DATE.encode(), part)
            new.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), part, zipfile.ZIP_DEFLATED)
    return result.getvalue()
