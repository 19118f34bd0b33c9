"""A table as HTML, and text that HTML cannot take for markup."""

from __future__ import annotations

from html import escape

from dripfield.core.table import NONE, Column, Table
from dripfield.core.words import plain


def html_text(text: str) -> str:
    """Text on one line with nothing in it that HTML reads as markup."""
    return escape(plain(text), quote=True)


def html_table(table: Table) -> str:
    """A table in a box that scrolls sideways; its title and notes are left to the page.

    Numbers are of class ``number``, the wide column's cells of class ``wide`` and rows to look at
    first of class ``marked``.
    """
    heads = "".join(
        f'<th scope="col"{_kind(column)}>{_heading(column)}</th>' for column in table.columns
    )
    rows = []
    for i, row in enumerate(table.texts(NONE)):
        cells = "".join(
            f"<td{_kind(column)}>{html_text(cell)}</td>"
            for cell, column in zip(row, table.columns, strict=True)
        )
        marked = ' class="marked"' if i in table.marked else ""
        rows.append(f"<tr{marked}>{cells}</tr>")
    return (
        f'<div class="scroll"><table><thead><tr>{heads}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _heading(column: Column) -> str:
    lines = [*column.heading.split("\n"), *([column.unit] if column.unit else [])]
    return "<br>".join(html_text(line) for line in lines)


def _kind(column: Column) -> str:
    kind = "number" if column.side == "right" else "wide" if column.wide else ""
    return f' class="{kind}"' if kind else ""
