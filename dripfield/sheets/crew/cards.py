"""One card a lateral, in the order of work: its marks in runs that are set the same way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.lateral_table import LateralRow
from dripfield.staking.marking import Marking
from dripfield.staking.model import FieldMark, Method, Side


@dataclass(frozen=True)
class Run:
    """Marks of one lateral that are set the same way from the same line.

    ``above`` and ``side`` are empty unless a stick is held.
    """

    method: Method
    above: str
    side: Side | str
    marks: tuple[FieldMark, ...]


@dataclass(frozen=True)
class Card:
    """What a crew needs to mark one lateral.

    Attributes
    ----------
    number : int
        In the order of work, from 1.
    lateral : LateralRow
    marking : Marking
    runs : tuple of Run
        In order along it.
    """

    number: int
    lateral: LateralRow
    marking: Marking
    runs: tuple[Run, ...]


def cards(work: CrewWork) -> tuple[Card, ...]:
    """The cards of a layout in the order of work."""
    rows = {row.name: row for row in work.laterals}
    shown = {one.lateral: one for one in work.marking}
    return tuple(
        Card(number, rows[name], shown[name], runs(marks))
        for number, (name, marks) in enumerate(work.field.of_lateral().items(), 1)
    )


def runs(marks: Sequence[FieldMark]) -> tuple[Run, ...]:
    """Marks in order, grouped by how they are set."""
    grouped = groupby(marks, key=lambda mark: (mark.method, mark.above, mark.side))
    return tuple(Run(method, above, side, tuple(group)) for (method, above, side), group in grouped)
