"""A table as delimited text.

Comma-separated, quoted as RFC 4180 asks, UTF-8, lines ended by a line feed. Text that a spreadsheet
would take for a formula is led by an apostrophe, which shows it as it is; numbers are left alone,
those in columns of text too.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from pathlib import Path

from dripfield.core.table import Table

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_NUMBER = re.compile(r"[-+]?\d+(\.\d+)?")


def write_csv(path: Path, table: Table, *, header: bool = True) -> None:
    """Write a table as CSV (UTF-8, line feeds, quotes only where needed).

    Parameters
    ----------
    path : Path
    table : Table
    header : bool
        Whether the first row holds the keys of the columns.
    """
    texts = [column.kind == "text" for column in table.columns]
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        if header:
            writer.writerow(table.keys)
        writer.writerows(_safe(row, texts) for row in table.texts())


def _safe(row: Sequence[str], texts: Sequence[bool]) -> list[str]:
    cells = [
        f"'{cell}"
        if is_text and cell.startswith(_FORMULA) and not _NUMBER.fullmatch(cell)
        else cell
        for cell, is_text in zip(row, texts, strict=True)
    ]
    # csv quotes a line feed but, with line feeds as line ends, no carriage return
    return [cell.replace("\r\n", "\n").replace("\r", "\n") for cell in cells]
