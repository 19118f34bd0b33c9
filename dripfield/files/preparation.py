"""Take-off, coil plan, readiness, day and submittal as CSV."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dripfield.files.csv import number, write_csv
from dripfield.preparation.coils import CoilPlan
from dripfield.preparation.day import DayPlan
from dripfield.preparation.prices import COLUMNS as TAKEOFF_COLUMNS
from dripfield.preparation.prices import Change, Priced
from dripfield.preparation.readiness_file import Readiness
from dripfield.preparation.stock import Item
from dripfield.preparation.submittal import Submittal

DAY_COLUMNS = (
    "task",
    "after",
    "crew",
    "duration",
    "earliest_start",
    "earliest_finish",
    "latest_start",
    "latest_finish",
    "slack",
    "critical",
    "unit",
    "starts_at",
    "source",
)
EFFECT_COLUMNS = ("case", "inspection", "backfill", "end", "unit", "effect")
COIL_COLUMNS = ("material", "coil", "size", "piece", "length", "left", "unit")
CHANGE_COLUMNS = ("item", "was", "now", "why")
SUBMITTAL_COLUMNS = ("set", "citation", "to_be_shown", "found", "missing", "copy")


def write_takeoff(path: Path, items: Sequence[Item], prices: Priced | None = None) -> None:
    """Write ``takeoff.csv``: a row an item.

    Parameters
    ----------
    path : Path
    items : sequence of Item
    prices : Priced, optional
        Adds the columns ``amount`` (empty where an item has no price) and ``currency``.
    """
    columns: tuple[str, ...] = TAKEOFF_COLUMNS
    rows = [
        [
            one.item,
            plain(one.quantity),
            one.unit,
            f"{one.waste:g}",
            str(one.to_buy),
            one.sold_as,
            one.how,
            one.source,
        ]
        for one in items
    ]
    if prices is not None:
        columns = (*columns, "amount", "currency")
        for row, one in zip(rows, items, strict=True):
            amount = prices.amounts.get(one.item)
            row += ["" if amount is None else number(amount, 2), prices.currency]
    write_csv(path, columns, rows)


def write_coils(path: Path, plans: Sequence[tuple[str, CoilPlan | None]], unit: str) -> None:
    """Write ``coils.csv``: a row a piece cut, with what is left of its coil behind the last.

    Parameters
    ----------
    path : Path
    plans : sequence of (str, CoilPlan or None)
        Each kind of tubing with its plan.
    unit : str
        Of the lengths.
    """
    rows = []
    for material, plan in plans:
        for coil in plan.coils if plan else ():
            for i, piece in enumerate(coil.pieces, 1):
                left = number(coil.left, 2) if i == len(coil.pieces) else ""
                rows.append(
                    [
                        material,
                        str(coil.number),
                        plain(coil.size),
                        piece.name,
                        number(piece.length, 2),
                        left,
                        unit,
                    ]
                )
    write_csv(path, COIL_COLUMNS, rows)


def write_changes(path: Path, found: Sequence[Change]) -> None:
    """Write ``changes.csv``: what is to be bought otherwise than an older take-off said."""
    rows = [
        [
            one.item,
            "" if one.was is None else str(one.was),
            "" if one.now is None else str(one.now),
            one.why,
        ]
        for one in found
    ]
    write_csv(path, CHANGE_COLUMNS, rows)


def write_readiness(path: Path, readiness: Readiness) -> None:
    """Write ``readiness.csv``, with every tick and column that somebody put into it."""
    write_csv(path, readiness.columns, readiness.cells)


def write_day(path: Path, plan: DayPlan) -> None:
    """Write ``day.csv``: a row a task by earliest start; times in hours after the start."""
    rows = [
        [
            one.task.name,
            ";".join(one.task.after),
            one.task.crew,
            *(
                number(value, 3)
                for value in (
                    one.task.duration,
                    one.earliest_start,
                    one.earliest_finish,
                    one.latest_start,
                    one.latest_finish,
                    one.slack,
                )
            ),
            "true" if one.critical else "false",
            "h",
            plan.clock(one.earliest_start),
            one.task.source,
        ]
        for one in plan.schedule.tasks
    ]
    write_csv(path, DAY_COLUMNS, rows)


def write_effects(path: Path, plan: DayPlan) -> None:
    """Write ``what_if.csv``: the day as planned, then each thing that may go wrong."""
    rows = [
        [
            one.case,
            *(
                "" if value is None else number(value, 3)
                for value in (one.inspection, one.backfill, one.end)
            ),
            "h",
            one.text,
        ]
        for one in plan.effects
    ]
    write_csv(path, EFFECT_COLUMNS, rows)


def write_submittal(path: Path, lists: Sequence[Submittal]) -> None:
    """Write ``submittal.csv``: a row a thing to be shown, with its citation and what is missing."""
    rows = [
        [one.name, shown.citation, shown.text, shown.found, "; ".join(shown.gaps), one.copy]
        for one in lists
        for shown in one.shown
    ]
    write_csv(path, SUBMITTAL_COLUMNS, rows)


def plain(value: float) -> str:
    """A quantity with three decimals at most, without trailing zeros."""
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")
