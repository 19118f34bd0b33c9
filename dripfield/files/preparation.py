"""Take-off, coil plan, readiness, day and submittal as tables, and as CSV."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dripfield.core.table import Cell, Column, Table, figures, flag, text
from dripfield.files.csv import write_csv
from dripfield.preparation.coils import CoilPlan
from dripfield.preparation.day import DayPlan
from dripfield.preparation.prices import COLUMNS as TAKEOFF_COLUMNS
from dripfield.preparation.prices import Change, Priced
from dripfield.preparation.readiness_file import Readiness
from dripfield.preparation.stock import Item
from dripfield.preparation.submittal import Submittal

_HOURS = 3  # decimals


def takeoff_table(items: Sequence[Item], prices: Priced | None = None) -> Table:
    """The take-off: a row an item; with prices the columns ``amount`` and ``currency`` too.

    An item without a price has no amount.
    """
    numbers = {"quantity": figures("quantity", form=plain), "to_buy": figures("to_buy")}
    numbers["waste"] = figures("waste", form="{:g}".format)
    columns = [numbers.get(key, text(key)) for key in TAKEOFF_COLUMNS]
    rows: list[list[Cell]] = [
        [
            *(one.item, one.quantity, one.unit, one.waste),
            *(one.to_buy, one.sold_as, one.how, one.source),
        ]
        for one in items
    ]
    if prices is not None:
        columns += [figures("amount", 2), text("currency")]
        for row, one in zip(rows, items, strict=True):
            row += [prices.amounts.get(one.item), prices.currency]
    totals = frozenset({"amount"} if prices is not None else ())
    return Table(columns, rows, "Take-off", totals=totals)


def coils_table(plans: Sequence[tuple[str, CoilPlan | None]], unit: str) -> Table:
    """The coil plan: a row a piece cut, with what is left of its coil behind the last.

    Parameters
    ----------
    plans : sequence of (str, CoilPlan or None)
        Each kind of tubing with its plan.
    unit : str
        Of the lengths.

    Returns
    -------
    Table
    """
    columns = (
        *(text("material"), figures("coil"), figures("size", form=plain), text("piece")),
        *(figures("length", 2), figures("left", 2), text("unit")),
    )
    rows = [
        (
            *(material, coil.number, coil.size, piece.name, piece.length),
            *(coil.left if i == len(coil.pieces) else None, unit),
        )
        for material, plan in plans
        for coil in (plan.coils if plan else ())
        for i, piece in enumerate(coil.pieces, 1)
    ]
    return Table(columns, rows, "Coils")


def changes_table(found: Sequence[Change]) -> Table:
    """What is to be bought otherwise than an older take-off said."""
    columns = (text("item"), figures("was"), figures("now"), text("why"))
    return Table(columns, [(one.item, one.was, one.now, one.why) for one in found], "Changes")


def readiness_table(readiness: Readiness) -> Table:
    """The check list, with every tick and column that somebody put into it."""
    return Table([Column(key) for key in readiness.columns], readiness.cells, "Readiness")


def day_table(plan: DayPlan) -> Table:
    """The day: a row a task by earliest start; times in hours after the start."""
    times = ("duration", "earliest_start", "earliest_finish", "latest_start", "latest_finish")
    columns = (
        *(text("task"), text("after"), text("crew")),
        *(figures(key, _HOURS) for key in (*times, "slack")),
        *(flag("critical"), text("unit"), text("starts_at"), text("source")),
    )
    rows = [
        (
            *(one.task.name, ";".join(one.task.after), one.task.crew, one.task.duration),
            *(one.earliest_start, one.earliest_finish, one.latest_start, one.latest_finish),
            *(one.slack, one.critical, "h", plan.clock(one.earliest_start), one.task.source),
        )
        for one in plan.schedule.tasks
    ]
    return Table(columns, rows, "Day")


def effects_table(plan: DayPlan) -> Table:
    """The day as planned, then each thing that may go wrong."""
    columns = (
        text("case"),
        *(figures(key, _HOURS) for key in ("inspection", "backfill", "end")),
        *(text("unit"), text("effect")),
    )
    rows = [
        (one.case, one.inspection, one.backfill, one.end, "h", one.text) for one in plan.effects
    ]
    return Table(columns, rows, "What if")


def submittal_table(lists: Sequence[Submittal]) -> Table:
    """A row a thing to be shown, with its citation and what is missing."""
    keys = ("set", "citation", "to_be_shown", "found", "missing", "copy")
    rows = [
        (one.name, shown.citation, shown.text, shown.found, "; ".join(shown.gaps), one.copy)
        for one in lists
        for shown in one.shown
    ]
    return Table([text(key) for key in keys], rows, "Submittal")


def write_takeoff(path: Path, items: Sequence[Item], prices: Priced | None = None) -> None:
    """Write ``takeoff.csv``.

    Parameters
    ----------
    path : Path
    items : sequence of Item
    prices : Priced, optional
        Adds the columns ``amount`` (empty where an item has no price) and ``currency``.
    """
    write_csv(path, takeoff_table(items, prices))


def write_coils(path: Path, plans: Sequence[tuple[str, CoilPlan | None]], unit: str) -> None:
    """Write ``coils.csv``.

    Parameters
    ----------
    path : Path
    plans : sequence of (str, CoilPlan or None)
        Each kind of tubing with its plan.
    unit : str
        Of the lengths.
    """
    write_csv(path, coils_table(plans, unit))


def write_changes(path: Path, found: Sequence[Change]) -> None:
    """Write ``changes.csv``."""
    write_csv(path, changes_table(found))


def write_readiness(path: Path, readiness: Readiness) -> None:
    """Write ``readiness.csv``."""
    write_csv(path, readiness_table(readiness))


def write_day(path: Path, plan: DayPlan) -> None:
    """Write ``day.csv``."""
    write_csv(path, day_table(plan))


def write_effects(path: Path, plan: DayPlan) -> None:
    """Write ``what_if.csv``."""
    write_csv(path, effects_table(plan))


def write_submittal(path: Path, lists: Sequence[Submittal]) -> None:
    """Write ``submittal.csv``."""
    write_csv(path, submittal_table(lists))


def plain(value: float) -> str:
    """A quantity with three decimals at most, without trailing zeros."""
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")
