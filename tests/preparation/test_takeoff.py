"""The take-off: formulas by hand, rounding, the site's own stock, prices and changes."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.files.preparation import write_changes, write_coils, write_takeoff
from dripfield.preparation.fittings import PipeRun
from dripfield.preparation.practice import practice_of
from dripfield.preparation.prices import changes, priced, read_takeoff
from dripfield.preparation.site_needs import Bulk, Marks
from dripfield.preparation.stock import Item
from dripfield.preparation.takeoff import Field, Takeoff, take_off
from dripfield.preparation.tubing import Joining, LateralLength, laying_order
from dripfield.site.schema.preparation import (
    BoxTable,
    ItemTable,
    PrepareTable,
    PriceTable,
    StockTable,
)

LATERALS = tuple(LateralLength(f"L{i:02d}", "A", 100.0, 120.0 - i) for i in range(1, 11))
RUNS = (
    PipeRun("supply", "supply", "1-1/2 in", 130.0, (90.0, 45.0), shallow=40.0),
    PipeRun("Z1 s", "supply manifold", "1-1/4 in", 20.0, (), ("3/4 in",) * 9, 1, shallow=20.0),
    PipeRun("return", "return", "1-1/2 in", 110.0, (90.0,), shallow=None),
)
FIELD = Field(
    laterals=LATERALS,
    joined=(Joining("J01", (4.0, 5.0), 4), Joining("J02", (), 1)),
    runs=RUNS,
    valves=1,
    summits=2,
    bulk=(Bulk("sand", 2700.0, 2970.0), Bulk("topsoil", 270.0)),
    graded_area=4000.0,
    marks=Marks(flags=150, stakes=20),
)
TABLE = PrepareTable(
    finish="seed",
    return_to="building sewer",
    building_sewer="4 in",
    bell_ends=False,
    boxes=[
        BoxTable(name="valve box", count=2, length=24.0, width=18.0, height=12.0, insulated=True)
    ],
)


def made(table: PrepareTable = TABLE, field: Field = FIELD, unit: Unit = Unit.FOOT) -> Takeoff:
    return take_off(field, practice_of(table, unit, 3.0))


def rows(takeoff: Takeoff) -> dict[str, Item]:
    return {item.item: item for item in takeoff.items}


def test_tubing_with_its_tails_in_coils() -> None:
    """Hand-derived: 10 x (100 + 2 x 2) ft; four of 104 ft to a coil of 500 ft: three coils."""
    takeoff = made()
    item = rows(takeoff)["tubing with emitters"]
    assert (item.quantity, item.to_buy, item.sold_as) == (1040.0, 3, "500 ft coil")
    assert item.how.startswith("1,000.0 ft of 10 laterals + 10 x 2 tails x 2 ft = 1,040.0 ft")
    blank = rows(takeoff)["blank tubing"]
    assert (blank.quantity, blank.to_buy) == (9.0 + 8.0, 1)
    assert rows(takeoff)["coupling, tubing to tubing"].quantity == 5
    assert rows(takeoff)["adapter, tubing to manifold"].quantity == 4
    assert rows(takeoff)["fastener for tubing"].to_buy == 3  # 200 x 1.05 = 210


def test_pipe_and_fittings() -> None:
    """Hand-derived: (130 + 110) x 1.05 / 20 = 12.6; couplings 6 + 5 between lengths; sockets 2 x 3
    of bends, 3 x 9 of tees, 2 of the union, 2 for each of 11 couplings."""
    table = rows(made())
    assert table["Schedule 40 pipe, 1-1/2 in"].to_buy == 13
    assert table["Schedule 40 pipe, 1-1/4 in"].to_buy == 2
    assert table["bend 90°, Schedule 40, 1-1/2 in"].quantity == 2
    assert table["bend 45°, Schedule 40, 1-1/2 in"].quantity == 1
    assert table["tee, Schedule 40, 1-1/4 in x 1-1/4 in x 3/4 in"].quantity == 9
    assert table["coupling, Schedule 40, 1-1/2 in"].quantity == 6 + 5
    assert table["primer"].quantity == 6 + 27 + 2 + 22
    assert table["wye into the building sewer, 4 in x 4 in x 1-1/2 in"].to_buy == 1
    assert table["tracer wire"].quantity == 240.0


def test_insulation_is_listed_by_outside_diameter_and_the_unknown_said() -> None:
    takeoff = made()
    foam = [item for item in takeoff.items if item.item.startswith("foam pipe insulation")]
    assert [item.item.split(":")[0] for item in foam] == [
        "foam pipe insulation for 1.660 in (42.2 mm) outside diameter",
        "foam pipe insulation for 1.900 in (48.3 mm) outside diameter",
    ]
    assert [item.to_buy for item in foam] == [4, 7]  # 20 and 40 ft x 1.05 / 6 ft
    assert "cover over return is not known: its insulation is left out" in takeoff.notes


def test_stone_foam_fill_seed_and_marks() -> None:
    """Hand-derived: 2 x 24 x 18 x 6 in = 3 ft3; five faces of 2 x 1.5 x 1 ft are 10 ft2 each;
    2,970 ft3 loose = 110 yd3; 4,000 ft2 x 0.005 lb = 20 lb."""
    takeoff = made()
    table = rows(takeoff)
    assert table["stone"].quantity == pytest.approx(1.0 / 9.0)
    assert table["rigid foam board"].quantity == pytest.approx(20.0)
    assert (table["fill, sand"].quantity, table["fill, sand"].to_buy) == (pytest.approx(110.0), 11)
    assert table["fill, topsoil"].quantity == pytest.approx(10.0)
    assert any(
        note.startswith("topsoil: no factor from in place to loose") for note in takeoff.notes
    )
    assert (table["seed"].quantity, table["seed"].to_buy) == (pytest.approx(20.0), 3)
    assert (table["flag"].to_buy, table["stake"].to_buy) == (2, 1)


def test_every_row_shows_its_formula_and_source() -> None:
    for item in made().items:
        assert item.how
        assert item.source
        assert item.to_buy * item.piece >= item.quantity * (1.0 - 1e-9) or "coil" in item.sold_as


def test_what_is_not_given_is_left_out_and_said() -> None:
    takeoff = take_off(Field(), practice_of(PrepareTable(), Unit.FOOT))
    assert takeoff.items == ()
    for what in ("laterals", "zones", "no pipe", "no boxes", "no volumes", "no graded", "marks"):
        assert any(what in note for note in takeoff.notes), what


def test_a_site_in_metres() -> None:
    """Hand-derived: 10 x (30 + 2 x 0.5) m; four of 31 m to a coil of 150 m; 20 m3 of sand."""
    field = Field(
        laterals=tuple(LateralLength(f"L{i}", "A", 30.0, 1.0) for i in range(10)),
        joined=(),
        bulk=(Bulk("sand", 18.0, 20.0),),
    )
    table = rows(take_off(field, practice_of(PrepareTable(), Unit.METRE)))
    tubing = table["tubing with emitters"]
    assert (tubing.quantity, tubing.to_buy, tubing.sold_as) == (310.0, 3, "150 m coil")
    assert (table["fill, sand"].quantity, table["fill, sand"].to_buy) == (20.0, 3)
    assert table["fill, sand"].sold_as == "8 m3 truck load"


def test_the_sites_own_stock_and_items() -> None:
    table = PrepareTable(
        stock=[
            StockTable(material="fill, sand", size=14.0, sold_as="truck load", waste=0.1),
            StockTable(material="tubing with emitters", waste=0.05),
        ],
        items=[ItemTable(item="straw wattle", quantity=50.0, unit="ft", size=25.0, waste=0.02)],
    )
    takeoff = rows(made(table))
    sand = takeoff["fill, sand"]
    assert (sand.to_buy, sand.sold_as, sand.waste) == (9, "truck load", 0.1)  # 121 / 14
    assert takeoff["straw wattle"].to_buy == 3
    assert takeoff["tubing with emitters"].waste == 0.05
    assert takeoff["tubing with emitters"].to_buy == 3  # four of 109 ft to a coil


def refused(table: PrepareTable) -> str:
    def work() -> None:
        priced(made(table).items, table.prices, table.currency)

    with pytest.raises(InputError) as refusal:
        work()
    return str(refusal.value)


def test_bad_stock_and_prices() -> None:
    sand = {"material": "fill, sand", "price": 40.0}
    assert refused(PrepareTable(stock=[StockTable(material="fill, sandd")])) == (
        "site.toml, "
        "[[prepare.stock]] material: the take-off holds no material 'fill, sandd'; the closest in"
        " it is 'fill, sand'"
    )
    assert refused(PrepareTable(stock=[StockTable(material="blank tubing", size=30.0)])) == (
        "site.toml, "
        "[[prepare.stock]] size: blank tubing is sold in coils; give their lengths as [prepare]"
        " coils or blank_coils; only waste goes here"
    )
    assert refused(
        PrepareTable(prices=[PriceTable(unit="yd3", **sand)])  # type: ignore[arg-type]
    ).startswith("site.toml, [prepare] currency: prices are given without a currency;")
    assert refused(
        PrepareTable(
            currency="USD",
            prices=[PriceTable(unit="yd3", currency="CAD", **sand)],  # type: ignore[arg-type]
        )
    ) == (
        "site.toml, "
        "[[prepare.prices]] currency: fill, sand is priced in CAD, the list in USD; give every"
        " price in one currency"
    )
    assert refused(
        PrepareTable(currency="USD", prices=[PriceTable(unit="ton", **sand)])  # type: ignore[arg-type]
    ) == (
        "site.toml, "
        "[[prepare.prices]] unit: the price of fill, sand is for one 'ton'; fill, sand is sold as"
        " '10 yd3 truck load' and counted in 'yd3': price one of these"
    )
    assert refused(PrepareTable(coils=[100.0])).startswith(
        "site.toml, "
        "[prepare] coils: L01 takes 104.0 ft with its tails and the longest coil holds 100 ft;"
    )
    assert refused(PrepareTable(building_sewer="5 in", return_to="building sewer")).startswith(
        "'5 in' is no size of Schedule 40 pipe in the table;"
    )


def test_prices_by_piece_and_by_unit() -> None:
    """Hand-derived: 11 loads x 10 yd3 x 30 + 13 lengths x 25 + 2 lengths x 20 = 3,665."""
    prices = [
        PriceTable(material="fill, sand", price=30.0, unit="yd3"),
        PriceTable(material="Schedule 40 pipe", price=20.0, unit="20 ft length"),
        PriceTable(material="Schedule 40 pipe, 1-1/2 in", price=25.0, unit="20 ft length"),
    ]
    result = priced(made().items, prices, "USD")
    assert result is not None
    assert result.total == pytest.approx(3665.0)
    assert "seed" in result.without
    assert priced(made().items, [], None) is None


def test_what_changed_since_an_older_list(tmp_path: Path) -> None:
    prices = [PriceTable(material="fill, sand", price=30.0, unit="yd3")]
    old = made()
    write_takeoff(tmp_path / "old.csv", old.items, priced(old.items, prices, "USD"))
    older = read_takeoff(tmp_path / "old.csv")
    assert changes(old.items, older, priced(old.items, prices, "USD")) == ()
    field = Field(
        laterals=LATERALS, joined=FIELD.joined, runs=RUNS[:2], bulk=(Bulk("sand", 2700.0, 3240.0),)
    )
    new = made(field=field)
    found = {one.item: one for one in changes(new.items, older, priced(new.items, prices, "USD"))}
    assert found["fill, sand"].why == (
        "quantity 110 is now 120 yd3; amount 3,300.00 is now 3,600.00 USD"
    )
    assert (found["fill, sand"].was, found["fill, sand"].now) == (11, 12)
    assert (found["seed"].now, found["seed"].why) == (None, "gone")
    assert "tubing with emitters" not in found
    write_changes(tmp_path / "changes.csv", list(found.values()))
    assert (tmp_path / "changes.csv").read_text().startswith("item,was,now,why\n")


def test_an_older_list_that_is_none_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "takeoff.csv"
    path.write_text("item,quantity\nsand,1\n")
    with pytest.raises(
        InputError, match=r"^takeoff.csv: this is no take-off: it has no column uni"
    ):
        read_takeoff(path)
    path.write_text("item,quantity,unit,waste,to_buy,sold_as,how,source\nsand,many,yd3,0,1,a,b,c\n")
    with pytest.raises(InputError, match=r"^takeoff.csv, row 2: 'sand' has no number as quantity"):
        read_takeoff(path)


def test_files_have_the_columns_that_were_agreed(tmp_path: Path) -> None:
    takeoff = made()
    write_takeoff(tmp_path / "takeoff.csv", takeoff.items)
    with (tmp_path / "takeoff.csv").open(newline="", encoding="utf-8") as stream:
        table = list(csv.reader(stream))
    assert table[0] == ["item", "quantity", "unit", "waste", "to_buy", "sold_as", "how", "source"]
    assert len(table) == len(takeoff.items) + 1
    write_coils(tmp_path / "coils.csv", [("tubing with emitters", takeoff.coils)], "ft")
    with (tmp_path / "coils.csv").open(newline="", encoding="utf-8") as stream:
        cut = list(csv.DictReader(stream))
    assert sorted(row["piece"] for row in cut) == [one.name for one in LATERALS]
    assert sum(float(row["length"]) for row in cut) == pytest.approx(1040.0)


def test_laying_order_is_from_the_top_down() -> None:
    mixed = [
        LateralLength("B", "A", 1, 5),
        LateralLength("A", "A", 1, 9),
        LateralLength("C", "A", 1, 7),
    ]
    assert [one.name for one in laying_order(mixed)] == ["A", "C", "B"]
