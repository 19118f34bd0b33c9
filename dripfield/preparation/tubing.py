"""Tubing in the take-off: laterals with their tails, joining tubing, connections, fasteners."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dripfield.preparation.coils import CoilPlan, coil_plan
from dripfield.preparation.practice import Practice
from dripfield.preparation.stock import Item, Need


@dataclass(frozen=True)
class LateralLength:
    """A lateral as tubing is cut for it.

    Attributes
    ----------
    name, panel : str
    length, elevation : float
        [site unit]
    """

    name: str
    panel: str
    length: float
    elevation: float


@dataclass(frozen=True)
class Joining:
    """What joins the laterals of one joined lateral.

    Attributes
    ----------
    name : str
    blanks : tuple of float
        Length of each stretch of blank tubing [site unit].
    connections : int
        Places where two stretches of tubing meet.
    """

    name: str
    blanks: tuple[float, ...]
    connections: int


@dataclass(frozen=True)
class Tubing:
    """Tubing as items, with the plan from which coil each length is cut.

    Attributes
    ----------
    items : tuple of Item
    needs : tuple of Need
        Connections and fasteners.
    plan : CoilPlan or None
        Of tubing with emitters; None without laterals.
    blank_plan : CoilPlan or None
        Of joining tubing.
    notes : tuple of str
    """

    items: tuple[Item, ...]
    needs: tuple[Need, ...]
    plan: CoilPlan | None
    blank_plan: CoilPlan | None
    notes: tuple[str, ...]


def laying_order(laterals: Sequence[LateralLength]) -> tuple[LateralLength, ...]:
    """Laterals from the top down, so that nobody crosses a line that is laid."""
    return tuple(sorted(laterals, key=lambda one: (-one.elevation, one.panel, one.name)))


def tubing_of(
    laterals: Sequence[LateralLength],
    joined: Sequence[Joining] | None,
    practice: Practice,
    *,
    waste: float = 0.0,
    blank_waste: float = 0.0,
) -> Tubing:
    """Tubing of a layout: what is cut, from which coil, and what connects it.

    Parameters
    ----------
    laterals : sequence of LateralLength
    joined : sequence of Joining or None
        None where zones are not given: connections to manifolds and joining tubing are left out.
    practice : Practice
        Tails and coils.
    waste, blank_waste : float
        As a fraction of each length.

    Returns
    -------
    Tubing

    Raises
    ------
    InputError
        A lateral longer than the longest coil where splices are not allowed.
    """
    unit, tail = practice.unit.short, practice.tail
    items: list[Item] = []
    needs: list[Need] = []
    notes: list[str] = []
    plan = blank_plan = None
    ordered = laying_order(laterals)
    total = sum(one.length for one in ordered)
    if ordered:
        cuts = [(one.name, one.length * (1.0 + waste) + 2.0 * tail) for one in ordered]
        plan = coil_plan(cuts, practice.coils, splices=practice.table.splices, unit=unit)
        count = len(ordered)
        cut = total + 2 * tail * count
        how = (
            f"{total:,.1f} {unit} of {count} laterals + {count} x 2 tails x {tail:g} {unit}"
            f" = {cut:,.1f} {unit}"
        )
        items.append(_coil_item("tubing with emitters", plan, cut, how, waste, practice, "layout"))
        needs += _fasteners(total, practice)
    else:
        notes.append("no laterals are given: tubing is left out")
    if joined is None:
        notes.append("zones are not given: joining tubing, connections and manifolds are left out")
        joined = ()
    blanks = [
        (f"{one.name} joint {i}", length * (1.0 + blank_waste) + 2.0 * tail)
        for one in joined
        for i, length in enumerate(one.blanks, 1)
        if length > 0.0
    ]
    if blanks:
        length = sum(sum(one.blanks) for one in joined)
        blank_plan = coil_plan(
            blanks, practice.blank_coils, splices=practice.table.splices, unit=unit
        )
        cut = length + 2 * tail * len(blanks)
        how = (
            f"{length:,.1f} {unit} of {len(blanks)} stretches + {len(blanks)} x 2 tails x"
            f" {tail:g} {unit} = {cut:,.1f} {unit}"
        )
        items.append(
            _coil_item("blank tubing", blank_plan, cut, how, blank_waste, practice, "zones")
        )
    if joined:
        needs += _connections(joined)
    splices = sum(one.splices for one in (plan, blank_plan) if one)
    if splices:
        what = f"{splices} splices of laterals longer than a coil"
        needs.append(Need("coupling, tubing to tubing", splices, "each", what, "layout"))
    return Tubing(tuple(items), tuple(needs), plan, blank_plan, tuple(notes))


def _coil_item(
    name: str,
    plan: CoilPlan,
    quantity: float,
    how: str,
    waste: float,
    practice: Practice,
    source: str,
) -> Item:
    unit = practice.unit.short
    sizes = sorted({coil.size for coil in plan.coils})
    counts = [sum(coil.size == size for coil in plan.coils) for size in sizes]
    if len(sizes) == 1:
        sold_as = f"{sizes[0]:g} {unit} coil"
    else:
        parts = ", ".join(f"{n} of {s:g} {unit}" for n, s in zip(counts, sizes, strict=True))
        sold_as = f"coil: {parts}"
    net = sum(piece.length for coil in plan.coils for piece in coil.pieces)
    grown = f", {net:,.1f} {unit} with waste" if waste else ""
    key = "coils" if name.startswith("tubing") else "blank_coils"
    return Item(
        name,
        quantity,
        unit,
        waste,
        len(plan.coils),
        sold_as,
        f"{how}{grown}; coil plan: {plan.splices} splices, {plan.quality}",
        f"{source}; stock: {practice.sources[key]}",
        plan.bought / len(plan.coils),
    )


def _fasteners(total: float, practice: Practice) -> list[Need]:
    spacing, unit = practice.staple_spacing, practice.unit.short
    if spacing == 0.0:
        return []
    source = practice.sources["staple_spacing"]
    how = f"{total:,.1f} {unit} of laterals / {spacing:g} {unit} between fasteners"
    return [Need("fastener for tubing", total / spacing, "each", how, f"layout, {source}")]


def _connections(joined: Sequence[Joining]) -> list[Need]:
    count, places = len(joined), sum(one.connections for one in joined)
    return [
        Need(
            "coupling, tubing to tubing",
            places,
            "each",
            f"{places} places where stretches of {count} joined laterals meet",
            "zones",
        ),
        Need(
            "adapter, tubing to manifold",
            2 * count,
            "each",
            f"2 ends x {count} joined laterals",
            "zones",
        ),
    ]
