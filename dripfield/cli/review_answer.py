"""What the terminal says after a comparison or a record: the answer, then what to look at."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from dripfield.cli.shared import show

if TYPE_CHECKING:
    from rich.console import RenderableType

    from dripfield.core.table import Table
    from dripfield.sheets.review.content import Section, Sheet

MOST_ROWS = 12  # of those to look at, the worst
MOST_NOTES = 8


def print_answer(sheet: Sheet, out: Path) -> None:
    """Print a sheet's answer, its marked rows and what could not be checked."""
    show(_parts(sheet, out))


def _parts(sheet: Sheet, out: Path) -> Iterator[RenderableType]:
    from rich.text import Text

    yield Text(f"{sheet.site}: {sheet.answer}", style="bold")
    yield Text(sheet.counts)
    for section in (sheet.reasons, sheet.conditions):
        yield from _section(section)
    for table in (*sheet.summary, *sheet.tables):
        if table.marked:
            yield from _marked(table)
    for section in (sheet.unchecked, sheet.notes):
        yield from _section(section)
    yield Text(f"\nWritten: {out}")


def _section(section: Section) -> Iterator[RenderableType]:
    from rich.text import Text

    if not section.lines:
        return
    yield Text(f"\n{section.title}", style="bold")
    for line in section.lines[:MOST_NOTES]:
        yield Text(f"- {line}")
    if len(section.lines) > MOST_NOTES:
        yield Text(f"- and {len(section.lines) - MOST_NOTES} more, on the sheet")


def _marked(table: Table) -> Iterator[RenderableType]:
    """Rows to look at: their names, verdicts and reasons."""
    from rich.text import Text

    yield Text(f"\n{table.title}", style="bold")
    rows = sorted(table.marked)
    texts = table.texts()
    for i in rows[:MOST_ROWS]:
        words = any(column.wide for column in table.columns)
        named = [
            cell
            for cell, column in zip(texts[i], table.columns, strict=True)
            if cell and (not words or column.side != "right")
        ]
        yield Text(f"- {', '.join(named[:-1])}: {named[-1]}" if words else f"- {', '.join(named)}")
    if len(rows) > MOST_ROWS:
        yield Text(f"- and {len(rows) - MOST_ROWS} more, on the sheet")
