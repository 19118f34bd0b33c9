"""The user's prices, totals, and what changed since an older take-off."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from dripfield.core.errors import input_error
from dripfield.core.textfile import read_text
from dripfield.preparation.stock import Item, check_materials, covers
from dripfield.site.schema.preparation import PriceTable

COLUMNS = ("item", "quantity", "unit", "waste", "to_buy", "sold_as", "how", "source")


@dataclass(frozen=True)
class Priced:
    """What a take-off costs.

    Attributes
    ----------
    currency : str
    amounts : dict of str to float
        By item, for those with a price.
    total : float
        Of the items with a price.
    without : tuple of str
        Items that nobody gave a price for.
    """

    currency: str
    amounts: dict[str, float]
    total: float
    without: tuple[str, ...]


@dataclass(frozen=True)
class Older:
    """A row of an older take-off; ``amount`` is None where it had no price."""

    to_buy: int
    sold_as: str
    quantity: float
    unit: str
    amount: float | None = None
    currency: str = ""


@dataclass(frozen=True)
class Change:
    """An item that differs from an older take-off; None where it was, or is, not in it.

    ``was`` and ``now`` are numbers to buy; ``why`` says what else changed.
    """

    item: str
    was: int | None
    now: int | None
    why: str


def priced(
    items: Sequence[Item], prices: Sequence[PriceTable], currency: str | None
) -> Priced | None:
    """Price what is bought; None where no price is given.

    Parameters
    ----------
    items : sequence of Item
    prices : sequence of PriceTable
        For one piece as sold, or for one unit of quantity.
    currency : str or None
        That of the list.

    Returns
    -------
    Priced or None

    Raises
    ------
    InputError
        A material that is not in the take-off or has two prices, no currency, another currency, or
        a unit that the material is neither counted nor sold in.
    """
    if not prices:
        return None
    names = [item.item for item in items]
    check_materials([one.material.strip().lower() for one in prices], names, "[[prepare.prices]]")
    if currency is None:
        raise input_error(
            "prices are given without a currency",
            'add currency = "USD" or the like to [prepare]',
            file="site.toml",
            field="[prepare] currency",
        )
    amounts: dict[str, float] = {}
    exact: dict[str, PriceTable] = {}
    for price in prices:
        key = price.material.strip().lower()
        if price.currency not in (None, currency):
            raise input_error(
                f"{price.material} is priced in {price.currency}, the list in {currency}",
                "give every price in one currency",
                file="site.toml",
                field="[[prepare.prices]] currency",
            )
        if key in exact:
            raise input_error(
                f"{price.material} has two prices",
                "keep one",
                file="site.toml",
                field="[[prepare.prices]] material",
            )
        exact[key] = price
    for item in items:
        found = [one for name, one in exact.items() if covers(name, item.item.lower())]
        if found:
            best = max(found, key=lambda one: len(one.material.strip()))
            amounts[item.item] = best.price * _pieces(item, best)
    without = tuple(name for name in names if name not in amounts)
    return Priced(currency, amounts, math.fsum(amounts.values()), without)


def _pieces(item: Item, price: PriceTable) -> float:
    if price.unit == item.sold_as:
        return float(item.to_buy)
    if price.unit == item.unit:
        return item.to_buy * item.piece
    raise input_error(
        f"the price of {price.material} is for one {price.unit!r}",
        f"{item.item} is sold as {item.sold_as!r} and counted in {item.unit!r}: price one of these",
        file="site.toml",
        field="[[prepare.prices]] unit",
    )


def read_takeoff(path: Path) -> dict[str, Older]:
    """An older ``takeoff.csv``, by item.

    Raises
    ------
    InputError
        Not a take-off, or a cell that is no number.
    """
    rows = csv.DictReader(io.StringIO(read_text(path, 5_000_000)), restval="")
    missing = [one for one in COLUMNS if one not in (rows.fieldnames or ())]
    if missing:
        raise input_error(
            f"this is no take-off: it has no column {missing[0]}",
            f"its header starts {','.join(COLUMNS)}",
            file=path,
        )
    older = {}
    for row in rows:
        try:
            amount = float(row["amount"]) if row.get("amount") else None
            older[row["item"]] = Older(
                int(row["to_buy"]),
                row["sold_as"],
                float(row["quantity"]),
                row["unit"],
                amount,
                row.get("currency") or "",
            )
        except ValueError:
            raise input_error(
                f"{row['item']!r} has no number as quantity, to_buy or amount",
                "write them plainly, or leave the older take-off out",
                file=path,
                row=rows.line_num,
            ) from None
    return older


def changes(
    items: Sequence[Item], older: dict[str, Older], prices: Priced | None = None
) -> tuple[Change, ...]:
    """What is to be bought otherwise than an older take-off said, in the order of the list.

    Parameters
    ----------
    items : sequence of Item
    older : dict of str to Older
    prices : Priced, optional
        Amounts are compared where both lists have them in one currency.

    Returns
    -------
    tuple of Change
        Items that are gone come last.
    """
    found = []
    for item in items:
        was = older.get(item.item)
        if was is None:
            found.append(Change(item.item, None, item.to_buy, "new"))
            continue
        why = _why(item, was, prices)
        if why:
            found.append(Change(item.item, was.to_buy, item.to_buy, "; ".join(why)))
    names = {item.item for item in items}
    gone = [(name, was) for name, was in older.items() if name not in names]
    return (*found, *(Change(name, was.to_buy, None, "gone") for name, was in gone))


def _why(item: Item, was: Older, prices: Priced | None) -> list[str]:
    why = []
    if was.unit != item.unit:
        why.append(f"unit {was.unit} is now {item.unit}")
    elif abs(was.quantity - item.quantity) > 1e-3:
        why.append(f"quantity {was.quantity:,.6g} is now {item.quantity:,.6g} {item.unit}")
    if was.sold_as != item.sold_as:
        why.append(f"sold as {was.sold_as} is now {item.sold_as}")
    if was.to_buy != item.to_buy and not why:
        why.append("waste or rounding")
    now = prices.amounts.get(item.item) if prices else None
    same_money = prices is not None and was.currency == prices.currency
    if same_money and now is not None and was.amount is not None and abs(now - was.amount) >= 0.01:
        why.append(f"amount {was.amount:,.2f} is now {now:,.2f} {was.currency}")
    return why
