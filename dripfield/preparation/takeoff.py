"""The take-off: everything that must be there, with its formula, rounded to what is sold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dripfield.core.errors import input_error
from dripfield.preparation.coils import CoilPlan
from dripfield.preparation.enclosure import EnclosureHeights
from dripfield.preparation.fittings import PipeRun
from dripfield.preparation.heights import TankHeights
from dripfield.preparation.pipe_needs import pipe_needs
from dripfield.preparation.practice import Practice
from dripfield.preparation.site_needs import (
    Bulk,
    Marks,
    box_needs,
    bulk_needs,
    finish_needs,
    mark_needs,
)
from dripfield.preparation.stock import Item, Need, buy, whole_up
from dripfield.preparation.tubing import Joining, LateralLength, tubing_of
from dripfield.site.schema.preparation import ItemTable

TUBING = ("tubing with emitters", "blank tubing")


@dataclass(frozen=True)
class Field:
    """What is known of the field; whatever is None or empty is left out, and said so.

    Attributes
    ----------
    laterals : tuple of LateralLength
    joined : tuple of Joining or None
    runs : tuple of PipeRun
    valves, summits : int
        Zone valves, and high ends of manifolds with an air vent each.
    bulk : tuple of Bulk
    graded_area : float or None
        [square site unit]
    marks : Marks or None
    tanks : tuple of TankHeights
    enclosures : tuple of EnclosureHeights
    """

    laterals: tuple[LateralLength, ...] = ()
    joined: tuple[Joining, ...] | None = None
    runs: tuple[PipeRun, ...] = ()
    valves: int = 0
    summits: int = 0
    bulk: tuple[Bulk, ...] = ()
    graded_area: float | None = None
    marks: Marks | None = None
    tanks: tuple[TankHeights, ...] = ()
    enclosures: tuple[EnclosureHeights, ...] = ()


@dataclass(frozen=True)
class Takeoff:
    """The list to buy from.

    Attributes
    ----------
    items : tuple of Item
    coils, blank_coils : CoilPlan or None
        From which coil each length of tubing is cut.
    notes : tuple of str
        What is left out and why, and every default that nobody entered.
    """

    items: tuple[Item, ...]
    coils: CoilPlan | None
    blank_coils: CoilPlan | None
    notes: tuple[str, ...]


def take_off(field: Field, practice: Practice) -> Takeoff:
    """Work out the take-off of a field.

    Raises
    ------
    InputError
        A lateral longer than the longest coil, a size of pipe that is not in the table, or a
        material under ``[[prepare.stock]]`` that the take-off does not hold.
    """
    table, unit = practice.table, practice.unit
    stock = [one for one in table.stock if one.material.strip().lower() not in TUBING]
    waste = _tubing_waste(practice)
    tubing = tubing_of(field.laterals, field.joined, practice, waste=waste[0], blank_waste=waste[1])
    notes = list(tubing.notes)
    needs: list[Need] = list(tubing.needs)
    pipe, left_out = pipe_needs(field.runs, practice)
    needs += pipe
    notes += left_out
    needs += _valves(field)
    frost = bool(practice.frost_depth)
    needs += box_needs(table.boxes, unit, frost)
    if not table.boxes:
        notes.append("no boxes are given ([[prepare.boxes]]): boxes, their stone and foam left out")
    for enclosure in field.enclosures:
        needs += enclosure.needs
    for tank in field.tanks:
        needs += tank.needs
    bulk, left_out = bulk_needs(field.bulk, unit)
    needs += bulk
    notes += left_out if field.bulk else ["no volumes of a bed are given: fill is left out"]
    if field.graded_area is not None:
        finish, left_out = finish_needs(field.graded_area, practice)
        needs += finish
        notes += left_out
    else:
        notes.append("no graded area is given: seed and mulch are left out")
    if field.marks is not None:
        needs += mark_needs(field.marks, practice)
    else:
        notes.append("the field method's marks are not given: flags and stakes are left out")
    items = (
        *tubing.items,
        *buy(needs, stock, unit, practice.pipe_length),
        *(_entered(one) for one in table.items),
    )
    return Takeoff(items, tubing.plan, tubing.blank_plan, (*notes, *practice.notes))


def _tubing_waste(practice: Practice) -> tuple[float, float]:
    """Waste of tubing with and without emitters; its coils are given elsewhere."""
    waste = dict.fromkeys(TUBING, 0.0)
    for one in practice.table.stock:
        name = one.material.strip().lower()
        if name in TUBING:
            if one.size is not None or one.sold_as is not None:
                raise input_error(
                    f"{name} is sold in coils",
                    "give their lengths as [prepare] coils or blank_coils; only waste goes here",
                    file="site.toml",
                    field="[[prepare.stock]] size",
                )
            waste[name] = one.waste or 0.0
    return waste[TUBING[0]], waste[TUBING[1]]


def _valves(field: Field) -> Sequence[Need]:
    needs = []
    if field.valves:
        how = f"1 for each of {field.valves} zones with a supply manifold"
        needs.append(Need("zone valve", field.valves, "each", how, "zones"))
    if field.summits:
        how = f"1 at the high end of each of {field.summits} manifolds"
        needs.append(Need("air vent", field.summits, "each", how, "zones"))
    return needs


def _entered(one: ItemTable) -> Item:
    size = one.size or 1.0
    pieces = whole_up(one.quantity * (1.0 + one.waste) / size)
    how = f"{one.quantity:g} {one.unit} entered" + (f" x {1 + one.waste:g}" if one.waste else "")
    if one.note:
        how = f"{one.note}; {how}"
    sold_as = one.sold_as or (f"{size:g} {one.unit}" if one.size else one.unit)
    return Item(one.item, one.quantity, one.unit, one.waste, pieces, sold_as, how, "site", size)
