"""Pieces of text and drawing poured into the columns of as many pages as they take."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

Draw = Callable[[Any, float, float, float], None]
"""Draws on axes at (left, top) over a width [pt]."""


@dataclass(frozen=True)
class Piece:
    """Something drawn in a column.

    Attributes
    ----------
    height : float
        [pt]
    draw : callable
        Takes axes, left, top and width [pt].
    stick : bool
        Stays in one column with the piece after it.
    again : tuple of Piece
        Drawn over it where it begins a column: what it goes on with.
    """

    height: float
    draw: Draw
    stick: bool = False
    again: tuple[Piece, ...] = ()


@dataclass(frozen=True)
class Placed:
    """A piece in a column of a page, its top measured down from the column's [pt]."""

    column: int
    down: float
    piece: Piece


def pour(
    pieces: Sequence[Piece],
    columns: int,
    height: Callable[[int], float],
    head: Piece | None = None,
) -> list[list[Placed]]:
    """Place pieces down the columns of pages.

    Parameters
    ----------
    pieces : sequence of Piece
        In order.
    columns : int
        Of a page.
    height : callable
        Of the columns of a page, by its number from 0 [pt].
    head : Piece, optional
        Drawn over every column, within its height.

    Returns
    -------
    list of lists of Placed
        A page each. A piece higher than a column has a column to itself.
    """
    pages: list[list[Placed]] = [[]]
    over = () if head is None else (head,)
    column, start = 0, sum(piece.height for piece in over)
    down = start
    pages[0] += [Placed(0, 0.0, piece) for piece in over]
    for group in _groups(pieces):
        need = sum(piece.height for piece in group)
        if down > start and down + need > height(len(pages) - 1) + 1e-6:
            column, down = column + 1, start
            if column == columns:
                column = 0
                pages.append([])
            pages[-1] += [Placed(column, 0.0, piece) for piece in over]
            for piece in group[0].again:
                pages[-1].append(Placed(column, down, piece))
                down += piece.height
        for piece in group:
            pages[-1].append(Placed(column, down, piece))
            down += piece.height
    return pages


def balanced(pieces: Sequence[Piece], columns: int) -> list[Placed]:
    """Pieces in columns about as high as each other."""
    total = sum(piece.height for piece in pieces)
    share = 1.0 / columns
    while True:
        pages = pour(pieces, columns, lambda _, most=share * total: most)  # type: ignore[misc]
        if len(pages) == 1:
            return pages[0]
        share *= 1.03


def depth(placed: Sequence[Placed]) -> float:
    """How far down the pieces of a page reach [pt]."""
    return max((one.down + one.piece.height for one in placed), default=0.0)


def draw_placed(
    axes: Any, placed: Sequence[Placed], left: float, top: float, width: float, gap: float
) -> None:
    """Draw one page of placed pieces.

    Parameters
    ----------
    axes : Axes
        In points.
    placed : sequence of Placed
    left, top : float
        Corner of the first column [pt].
    width : float
        Of a column [pt].
    gap : float
        Between columns [pt].
    """
    for one in placed:
        one.piece.draw(axes, left + one.column * (width + gap), top - one.down, width)


def _groups(pieces: Sequence[Piece]) -> list[list[Piece]]:
    """Pieces that stay together."""
    groups: list[list[Piece]] = []
    open_ = False
    for piece in pieces:
        if open_:
            groups[-1].append(piece)
        else:
            groups.append([piece])
        open_ = piece.stick
    return groups
