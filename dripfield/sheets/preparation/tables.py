"""The set's lists as tables: take-off, changes, coils, readiness, submittal."""

from __future__ import annotations

from dripfield.core.table import NONE, TICK, Cell, Column, Table, figures, text
from dripfield.files.preparation import plain
from dripfield.preparation.prepared import Prepared
from dripfield.preparation.readiness_file import Ticked
from dripfield.preparation.submittal import Submittal

_DONE = "\N{BALLOT BOX WITH CHECK}"


def takeoff_sheet(found: Prepared) -> Table:
    """What to buy, with a box to tick when it is there, and the formula of each."""
    made = found.preparation
    prices = made.prices
    columns = [
        text("there", align="center"),
        text("item", bold=True, most=27),
        figures("to_buy", head="to buy", bold=True),
        text("sold_as", head="sold as", most=17),
        text("quantity", align="right", most=16),
        text("waste", align="right"),
    ]
    columns += [figures("amount", 2, unit=prices.currency)] if prices else []
    columns += [text("how", wide=True, most=200), text("source", most=19)]
    rows: list[list[Cell]] = []
    for one in made.takeoff.items:
        row: list[Cell] = [TICK, one.item, one.to_buy, one.sold_as]
        row.append(f"{one.quantity:,.1f} {one.unit}".replace(".0 ", " "))
        row.append(f"{one.waste:.0%}" if one.waste else NONE)
        if prices:
            row.append(prices.amounts.get(one.item))
        rows.append([*row, one.how, one.source])
    notes = [
        "To buy: the quantity with its waste, rounded up to what is sold. Source: where the"
        " figures are from; what nobody entered is marked as an assumption or as common practice."
    ]
    if prices:
        without = f"; {len(prices.without)} items without a price" if prices.without else ""
        notes.append(f"Total {prices.total:,.2f} {prices.currency}{without}.")
    return Table(columns, rows, "Take-off", notes)


def changes_sheet(found: Prepared) -> Table:
    """What is to be bought otherwise than before."""
    columns = (
        text("item", bold=True, most=60),
        figures("was"),
        figures("now"),
        text("why", wide=True, most=120),
    )
    rows = [(one.item, one.was, one.now, one.why) for one in found.changes or ()]
    return Table(columns, rows, "Changes since the last take-off")


def readiness_sheet(found: Prepared) -> Table:
    """The list to tick."""
    columns = (
        text("ready", align="center"),
        text("item", bold=True, most=26),
        text("who", most=14),
        text("by"),
        text("done when", wide=True, most=120),
        text("figure", most=20),
        text("state", most=10),
    )
    rows = [
        (
            *(_box(row), row.ready.item, row.ready.who, row.ready.by),
            *(row.ready.done_when, row.ready.figure, row.state),
        )
        for row in found.readiness.rows
    ]
    count = len(found.readiness.open)
    notes = [
        f"{count} of {len(rows)} open. Tick here, in readiness.csv (any word such as done or x in"
        " its column state) or on readiness.html: ticks are kept when the list is made again."
    ]
    return Table(columns, rows, "Readiness list", notes)


def _box(row: Ticked) -> str:
    return {"open": TICK, "done": _DONE, "not needed": NONE}[row.meaning]


def submittal_sheet(one: Submittal) -> Table:
    """What a rule set asks a plan to show, filled; rows with gaps are marked."""
    columns = (
        text("citation"),
        text("to be shown", bold=True, most=30),
        text("found", wide=True, most=90),
        text("missing", align="left", most=30),
    )
    rows = [
        (shown.citation, shown.text, shown.found or NONE, "; ".join(shown.gaps))
        for shown in one.shown
    ]
    marked = frozenset(i for i, shown in enumerate(one.shown) if not shown.complete)
    notes = [
        f"{one.title}. Scope: {one.scope}. Text read: {one.copy} ({one.status}).",
        f"{len(marked)} of {len(rows)} have gaps. The list says less than the rules do: the rules"
        " themselves and the office that applies them decide.",
    ]
    return Table(columns, rows, f"Submittal: {one.name}", notes, marked=marked)


def coils_sheet(found: Prepared) -> Table:
    """Every piece to cut, coil by coil, in the order of laying."""
    short = found.design.site.unit.short
    columns = (
        text("cut", align="center"),
        text("material", once=True),
        figures("coil", bold=True),
        figures("size", form=plain, unit=short),
        Column("piece", bold=True),
        figures("length", 1, unit=short),
        figures("left", 1, unit=short),
    )
    rows: list[list[Cell]] = []
    groups = []
    takeoff = found.preparation.takeoff
    for material, plan in (("emitters", takeoff.coils), ("blank", takeoff.blank_coils)):
        for coil in plan.coils if plan else ():
            for i, piece in enumerate(coil.pieces, 1):
                left = coil.left if i == len(coil.pieces) else None
                rows.append(
                    [TICK, material, coil.number, coil.size, piece.name, piece.length, left]
                )
                groups.append((material, coil.number))
    return Table(columns, rows, "Coil plan: pieces", groups=groups)
