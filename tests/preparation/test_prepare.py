"""All of it together, and its files."""

from __future__ import annotations

import csv
from pathlib import Path

import msgspec
import pytest

from dripfield.core.units import Unit
from dripfield.files.preparation import write_day, write_effects
from dripfield.preparation.prepare import Flows, Preparation, Tables, prepare
from dripfield.preparation.takeoff import Field
from dripfield.preparation.tubing import LateralLength
from dripfield.site.schema.preparation import (
    DayTable,
    EnclosureTable,
    PrepareTable,
    TankTable,
    TaskTable,
)

TANK = TankTable(
    name="pump tank",
    shape="rectangle",
    length=8.0,
    width=4.0,
    height=5.0,
    wall=3.0,
    top=98.0,
    riser_top=99.0,
    grade=100.0,
    levels={"off": 1.0, "on": 2.0, "alarm": 3.0},
    inlet=4.0,
    weight=9000.0,
    start_depth=2.0,
)
BOX = EnclosureTable(name="filter box", height=18.0, stands_on=97.0, grade=100.0)


@pytest.fixture(scope="module")
def ready() -> Preparation:
    tables = Tables(PrepareTable(home="new"), (TANK,), (BOX,), DayTable(date="2026-06-12"))
    known = Field(laterals=(LateralLength("L01", "A", 100.0, 101.0),))
    return prepare(tables, Unit.FOOT, known, flows=Flows(dose=100.0), bed=True)


def test_heights_reach_the_take_off_and_the_readiness_list(ready: Preparation) -> None:
    items = {item.item: item for item in ready.takeoff.items}
    assert items["riser over pump tank"].quantity == pytest.approx(1.0)
    assert items["water to start up"].quantity == pytest.approx(478.8, abs=0.05)
    assert items["block, 8 in thick"].quantity == 8  # 18 in is 2 x 8 + 2 in each of 4 stacks
    rows = {row.item: row for row in ready.readiness}
    assert rows["riser on: pump tank"].figure == "12.0 in to add"
    assert rows["pump tank set and tested"].figure == "479 gal to start up"
    assert rows["blocks set: filter box"].figure.startswith("2 x 8 in")
    assert "way out of the excavation: pump tank" in rows  # 2 + 5.5 ft
    assert "way out of the excavation: filter box" not in rows  # 3 ft
    assert rows["everything on the take-off on site"].figure == f"{len(items)} rows"


def test_findings_of_tanks_and_flotation(ready: Preparation) -> None:
    """Hand-derived: 8.5 x 4.5 x 5.5 ft x 62.4 = 13,127 lb against 9,000 lb."""
    verdicts = {one.what: one.verdict for one in ready.findings}
    assert verdicts == {
        "lid at finished grade": "fail",
        "working volume": "pass",
        "flotation of the empty tank": "fail",
    }
    assert ready.flotation[0].uplift == pytest.approx(13_127.4, abs=0.1)


def test_day_and_what_if_files(ready: Preparation, tmp_path: Path) -> None:
    write_day(tmp_path / "day.csv", ready.day)
    with (tmp_path / "day.csv").open(newline="", encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    agreed = (
        "task,after,crew,duration,earliest_start,earliest_finish,latest_start,latest_finish,slack,"
        "critical,unit"
    )
    assert ",".join(rows[0]).startswith(agreed)
    names = {row["task"] for row in rows}
    for row in rows:
        assert set(filter(None, row["after"].split(";"))) <= names
        assert (row["critical"] == "true") == (float(row["slack"]) == 0.0)
        assert row["unit"] == "h"
    write_effects(tmp_path / "what_if.csv", ready.day)
    assert len((tmp_path / "what_if.csv").read_text().splitlines()) == 1 + len(ready.day.effects)


def test_with_nothing_given_everything_is_said_to_be_left_out() -> None:
    empty = prepare(Tables(), Unit.FOOT, Field())
    assert empty.takeoff.items == ()
    assert empty.findings == ()
    assert any("no tank is given" in note for note in empty.notes)
    assert empty.readiness
    assert empty.day.schedule.tasks


def test_the_same_twice() -> None:
    tables = Tables(tanks=(TANK,), enclosures=(BOX,))
    assert prepare(tables, Unit.FOOT, Field()) == prepare(tables, Unit.FOOT, Field())


@pytest.mark.parametrize(
    ("table", "content"),
    [
        (PrepareTable, {"coils": [0.0]}),
        (PrepareTable, {"frost": 3.0}),
        (PrepareTable, {"home": "old"}),
        (TankTable, {"name": "a", "shape": "sphere"}),
        (TankTable, {"name": "a", "shape": "rectangle", "length": -1.0}),
        (EnclosureTable, {"name": "a", "height": 1.0, "stands_on": 0.0}),
        (TaskTable, {"task": "dig", "crew": "a", "duration": "long"}),
    ],
)
def test_tables_refuse_what_they_do_not_know(table: type, content: dict[str, object]) -> None:
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert(content, table)
