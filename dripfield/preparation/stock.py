"""What a material is sold as, and rounding a quantity up to whole pieces of it.

Waste and sizes are common practice without a source, round in either unit system; the site's
``[[prepare.stock]]`` goes before them.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.preparation.practice import COMMON, ENTERED
from dripfield.site.schema.preparation import StockTable

_ROUNDING = 1e-6


@dataclass(frozen=True)
class Need:
    """A quantity of one material, and how it came about.

    Attributes
    ----------
    material : str
        What it is called in the take-off.
    quantity : float
        Before waste.
    unit : str
    how : str
        The formula with its figures.
    source : str
        Where the figures are from: ``layout``, ``zones``, ``bed``, ``site``, ``assumption`` ….
    """

    material: str
    quantity: float
    unit: str
    how: str
    source: str


@dataclass(frozen=True)
class Item:
    """One row of the take-off.

    Attributes
    ----------
    item : str
    quantity : float
        Before waste.
    unit : str
    waste : float
        As a fraction of the quantity.
    to_buy : int
        Whole pieces of what it is sold as.
    sold_as : str
    how, source : str
    piece : float
        What one sold piece holds, in ``unit``.
    """

    item: str
    quantity: float
    unit: str
    waste: float
    to_buy: int
    sold_as: str
    how: str
    source: str
    piece: float = 1.0


@dataclass(frozen=True)
class Stock:
    """How one kind of material is sold: ``size`` of its unit to a piece, called ``sold_as``."""

    size: float
    sold_as: str
    waste: float
    source: str


def stock_of(need: Need, unit: Unit, pipe_length: float) -> Stock:
    """How a material is sold where the site does not say.

    Parameters
    ----------
    need : Need
    unit : Unit
    pipe_length : float
        Length in which pipe is sold [site unit].

    Returns
    -------
    Stock
        Single pieces without waste for what is not known here.
    """
    short, metric = unit.short, unit.is_metric
    if need.material.startswith("Schedule 40 pipe"):
        return Stock(pipe_length, f"{pipe_length:g} {short} length", 0.05, COMMON)
    if need.material.startswith("foam pipe insulation"):
        size = 2.0 if metric else 6.0
        return Stock(size, f"{size:g} {short} piece", 0.05, COMMON)
    for name, (feet, metres, sold_as, waste) in _BY_NAME.items():
        if need.material.startswith(name):
            size = metres if metric else feet
            return Stock(size, sold_as.format(size=size, unit=need.unit), waste, COMMON)
    return Stock(1.0, need.unit, 0.0, COMMON)


_BY_NAME = {  # first words: size on a site in feet, in metres, what it is sold as, waste
    "tracer wire": (500.0, 150.0, "{size:g} {unit} roll", 0.05),
    "caution tape": (1000.0, 300.0, "{size:g} {unit} roll", 0.05),
    "rigid foam board": (32.0, 3.0, "{size:g} {unit} sheet", 0.15),
    "stone": (0.5, 0.5, "{size:g} {unit} bucket", 0.10),
    "solvent cement": (50.0, 50.0, "can for {size:g} joints", 0.10),
    "primer": (50.0, 50.0, "can for {size:g} joints", 0.10),
    "thread sealing tape": (20.0, 20.0, "roll for {size:g} joints", 0.0),
    "fastener": (100.0, 100.0, "box of {size:g}", 0.05),
    "flag": (100.0, 100.0, "bundle of {size:g}", 0.0),
    "stake": (25.0, 25.0, "bundle of {size:g}", 0.0),
    "marking paint": (350.0, 100.0, "can for {size:g} {unit}", 0.0),
    "seed": (10.0, 5.0, "{size:g} {unit} bag", 0.05),
    "mulch": (2.0, 1.5, "{size:g} {unit} load", 0.05),
    "straw": (1.0, 1.0, "bale", 0.0),
    "fill": (10.0, 8.0, "{size:g} {unit} truck load", 0.0),
}


def buy(
    needs: Iterable[Need], stock: Sequence[StockTable], unit: Unit, pipe_length: float
) -> tuple[Item, ...]:
    """Add waste to every quantity and round it up to what is sold.

    Parameters
    ----------
    needs : iterable of Need
        A material named several times becomes one row, its formulas joined.
    stock : sequence of StockTable
        The site's own sizes and waste.
    unit : Unit
    pipe_length : float
        Length in which pipe is sold [site unit].

    Returns
    -------
    tuple of Item
        In the order of the needs.

    Raises
    ------
    InputError
        A material in ``stock`` that the take-off does not hold, with the closest that it does.
    """
    merged = _merged(needs)
    entered = {table.material.strip().lower(): table for table in stock}
    check_materials(list(entered), [need.material for need in merged], "[[prepare.stock]]")
    items = []
    for need in merged:
        usual = stock_of(need, unit, pipe_length)
        table = _most_exact(entered, need.material)
        size, sold_as, waste, source = usual.size, usual.sold_as, usual.waste, usual.source
        if table is not None:
            waste = usual.waste if table.waste is None else table.waste
            size = table.size or usual.size
            renamed = table.size is not None and table.size != usual.size
            sold_as = table.sold_as or (f"{size:g} {need.unit}" if renamed else usual.sold_as)
            source = ENTERED
        pieces = whole_up(need.quantity * (1.0 + waste) / size)
        items.append(
            Item(
                need.material,
                need.quantity,
                need.unit,
                waste,
                pieces,
                sold_as,
                "; ".join(filter(None, (need.how, _rounding(need, waste, size, pieces)))),
                need.source if size == 1.0 and not waste else f"{need.source}; stock: {source}",
                size,
            )
        )
    return tuple(items)


def whole_up(value: float) -> int:
    """Rounded up to whole pieces, but not for a rounding error of a millionth."""
    return math.ceil(value - _ROUNDING * max(1.0, abs(value)))


def check_materials(asked: Sequence[str], known: Sequence[str], field: str) -> None:
    """Refuse a material that the take-off does not hold.

    Parameters
    ----------
    asked : sequence of str
        Names, or first words, in small letters.
    known : sequence of str
        Materials of the take-off.
    field : str
        The key to be named.

    Raises
    ------
    InputError
        Naming the closest material.
    """
    small = [name.lower() for name in known]
    for name in asked:
        if not any(covers(name, one) for one in small):
            closest = difflib.get_close_matches(name, small, n=1, cutoff=0.0)
            remedy = (
                f"the closest in it is {known[small.index(closest[0])]!r}"
                if closest
                else "it is empty"
            )
            raise input_error(
                f"the take-off holds no material {name!r}",
                remedy,
                file="site.toml",
                field=f"{field} material",
            )


def covers(name: str, material: str) -> bool:
    """Whether a name is a material, or the whole first words of it."""
    return material == name or (
        bool(name) and material.startswith(name) and not material[len(name)].isalnum()
    )


def _most_exact(entered: dict[str, StockTable], material: str) -> StockTable | None:
    fits = [name for name in entered if covers(name, material.lower())]
    return entered[max(fits, key=len)] if fits else None


def _merged(needs: Iterable[Need]) -> list[Need]:
    rows: dict[tuple[str, str], Need] = {}
    for need in needs:
        key = (need.material, need.unit)
        if key in rows:
            old = rows[key]
            sources = dict.fromkeys([*old.source.split(", "), *need.source.split(", ")])
            need = Need(
                need.material,
                old.quantity + need.quantity,
                need.unit,
                f"{old.how} + {need.how}",
                ", ".join(sources),
            )
        rows[key] = need
    return [need for need in rows.values() if need.quantity > 0.0]


def _rounding(need: Need, waste: float, size: float, pieces: int) -> str:
    """How a quantity becomes whole pieces; empty where it is whole pieces already."""
    if size == 1.0 and not waste and need.quantity == pieces:
        return ""
    total = f"{need.quantity:,.6g}"
    if waste:
        total = f"{total} x {1.0 + waste:.4g}"
    if size != 1.0:
        return f"{total} / {size:g} up to {pieces}"
    return f"{total} up to {pieces}"
