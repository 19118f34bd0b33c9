"""The one model of a table: columns that know how their cells are written, and rows of values.

A table is made once from values. How it is set is somebody else's: as CSV and spreadsheet by
:mod:`dripfield.files.csv` and :mod:`dripfield.files.xlsx`, on paper, in a drawing and on a web page
by ``paper_table``, ``dxf_table`` and ``html_table`` of :mod:`dripfield.sheets.kit`.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from dripfield.core.words import number, signed


@dataclass(frozen=True)
class Figure:
    """A number with decimals of its own, where those of its column do not suit its row."""

    value: float | None
    places: int


Plain = str | float | bool | None
Cell = Plain | Figure
Kind = Literal["text", "number", "flag"]
Align = Literal["left", "center", "right"]

TICK = "\N{BALLOT BOX}"
NONE = "–"
"""What stands on a sheet where a number is not known or does not apply."""


@dataclass(frozen=True)
class Column:
    """A column of a table; made by :func:`text`, :func:`figures`, :func:`flag` or by hand.

    Attributes
    ----------
    key : str
        Its name in a file.
    head : str
        Its heading on a sheet, lines parted by line feeds; the key unless given.
    unit : str
        Under the heading.
    kind : "text", "number" or "flag"
        Only text can be taken for a formula by a spreadsheet, so only text is made safe.
    places : int, optional
        Decimals of a number; a whole number without.
    form : callable, optional
        Writes a number in another way, such as feet and inches.
    signed : bool
        A number with its sign.
    align : "left", "center" or "right", optional
        Numbers stand to the right, all else to the left, unless given.
    bold : bool
    once : bool
        A sheet leaves a cell out that says the same as the one above it.
    wide : bool
        On a sheet it takes the width that is left.
    most : int
        Letters that a sheet gives it at most.
    """

    key: str
    head: str = ""
    unit: str = ""
    kind: Kind = "text"
    places: int | None = None
    form: Callable[[float], str] | None = None
    signed: bool = False
    align: Align | None = None
    bold: bool = False
    once: bool = False
    wide: bool = False
    most: int = 32

    @property
    def heading(self) -> str:
        """What stands over it on a sheet."""
        return self.head or self.key

    @property
    def side(self) -> Align:
        """Where its cells stand."""
        return self.align or ("right" if self.kind == "number" else "left")

    def write(self, value: Cell, none: str = "") -> str:
        """A cell as text; ``none`` for None, NaN and infinity."""
        if isinstance(value, Figure):
            return replace(self, places=value.places).write(value.value, none)
        if value is None:
            return none
        if self.kind == "flag":
            return "true" if value else "false"
        if self.kind == "text":
            return str(value)
        figure = float(value)
        if self.form is not None:
            return self.form(figure) or none
        if self.signed:
            return signed(figure, self.places or 0) or none
        return number(figure, self.places or 0) or none

    def plain_value(self, value: Cell) -> Plain:
        """A cell as JSON and a spreadsheet hold it: rounded, None where there is none."""
        if isinstance(value, Figure):
            return replace(self, places=value.places).plain_value(value.value)
        if value is None or self.kind == "text":
            return value
        if self.kind == "flag":
            return bool(value)
        if self.form is not None:
            return self.write(value) or None
        text = number(float(value), self.places or 0)
        if not text:
            return None
        return int(text) if self.places is None else float(text)


def text(key: str, head: str = "", unit: str = "", **look: object) -> Column:
    """A column of text.

    Parameters
    ----------
    key : str
        Name of the column in a file.
    head : str
        Name on a sheet, where it is another.
    unit : str
        Shown under the name.
    **look
        Further fields of :class:`Column`.

    Returns
    -------
    Column
    """
    return Column(key, head, unit, **look)  # type: ignore[arg-type]


def figures(
    key: str, places: int | None = None, head: str = "", unit: str = "", **look: object
) -> Column:
    """A column of numbers.

    Parameters
    ----------
    key : str
    places : int, optional
        Decimals; whole numbers without.
    head, unit : str
    **look
        Further attributes of :class:`Column`.

    Returns
    -------
    Column
    """
    return Column(key, head, unit, kind="number", places=places, **look)  # type: ignore[arg-type]


def flag(key: str, head: str = "") -> Column:
    """A column of true and false."""
    return Column(key, head, kind="flag")


@dataclass(frozen=True)
class Table:
    """Rows of values under columns.

    Attributes
    ----------
    columns : sequence of Column
    rows : sequence of rows of cells
        A value for each column.
    title : str
    notes : sequence of str
        Paragraphs that stand above it on paper.
    marked : frozenset of int
        Rows to look at first.
    groups : sequence, optional
        One value a row: a heavier rule is drawn on paper where it changes.
    totals : frozenset of str
        Keys of the columns that a spreadsheet sums.
    """

    columns: Sequence[Column]
    rows: Sequence[Sequence[Cell]]
    title: str = ""
    notes: Sequence[str] = ()
    marked: frozenset[int] = frozenset()
    groups: Sequence[Hashable] = ()
    totals: frozenset[str] = frozenset()

    @property
    def keys(self) -> list[str]:
        """Names of the columns."""
        return [column.key for column in self.columns]

    def texts(self, none: str = "") -> list[list[str]]:
        """Every row as text; ``none`` where a value is none."""
        return [
            [column.write(cell, none) for column, cell in zip(self.columns, row, strict=True)]
            for row in self.rows
        ]

    def records(self) -> list[dict[str, Plain]]:
        """Every row as values by key, rounded as they are written."""
        return [
            {
                column.key: column.plain_value(cell)
                for column, cell in zip(self.columns, row, strict=True)
            }
            for row in self.rows
        ]
