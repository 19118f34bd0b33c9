"""The readiness list and its state."""

from __future__ import annotations

from pathlib import Path

import pytest

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.files.preparation import write_readiness
from dripfield.preparation.readiness import Circumstances, Excavation, Ready, readiness
from dripfield.preparation.readiness_file import (
    COLUMNS,
    Readiness,
    Ticked,
    meaning,
    merged,
    read_readiness,
    status,
)


def items(**about: object) -> dict[str, Ready]:
    return {one.item: one for one in readiness(Circumstances(Unit.FOOT, **about))}  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("depth", "exit_", "protection"),
    [(3.99, False, False), (4.0, True, False), (4.99, True, False), (5.0, True, True)],
)
def test_exit_and_protection_apart(depth: float, exit_: bool, protection: bool) -> None:
    """Published: 29 CFR 1926.651(c)(2), exit from 4 ft; 1926.652(a)(1), protection, but for stable
    rock, or under 5 ft where a competent person finds no sign of cave-in."""
    found = items(excavations=(Excavation("pump tank", depth),))
    assert ("way out of the excavation: pump tank" in found) == exit_
    row = found[f"protection from cave-in: {'pump tank' if exit_ else 'shallow digs'}"]
    assert ("sloped, shored or shielded, unless it is all" in row.done_when) == protection
    assert ("a competent person has looked" in row.done_when) != protection
    assert row.figure.endswith(f"{depth:.2f} ft deep")


def test_shallow_digs_share_a_row_that_names_them_all() -> None:
    found = items(excavations=(Excavation("box", 3.0), Excavation("bed", 0.7)))
    row = found["protection from cave-in: shallow digs"]
    assert row.done_when.startswith("box, bed: a competent person")
    assert row.figure == "up to 3.00 ft deep"


def test_the_same_depths_in_metres() -> None:
    """Hand-derived: 1.21 m is 3.97 ft, 1.22 m 4.003 ft."""
    for depth, wanted in ((1.21, False), (1.22, True)):
        rows = readiness(Circumstances(Unit.METRE, excavations=(Excavation("pit", depth),)))
        assert any(row.item.startswith("way out") for row in rows) == wanted


def test_only_what_applies() -> None:
    ground, bed = items(), items(bed=True, rake_tolerance=0.05, tanks=("pump tank",))
    assert "bed raked and checked" not in ground
    assert bed["bed raked and checked"].figure == "± 0.05 ft"
    assert "pump tank set and tested" in bed
    assert "electrician booked for the start of the day" not in items(electrician=False)
    assert "old system found and its use on the day agreed" in items(home="existing")
    assert "building sewer and power at their places" in items(home="new")
    assert "new or existing home" in items()
    assert "overhead lines looked for" not in items(overhead=False)


def test_dates_go_back_from_the_day() -> None:
    """Hand-derived: three days before 1 March 2028, a leap year, is 27 February."""
    found = items(date="2028-03-01", utility_lead_days=3)
    assert found["utilities: one-call made"].by == "2028-02-27"
    assert items(utility_lead_days=3)["utilities: one-call made"].by == "3 d before"
    assert items()["utilities: one-call made"].by == "before work starts"
    with pytest.raises(
        InputError, match=r"^site.toml, \[day\] date: '1 March' is no date; write it as"
    ):
        items(date="1 March")


@pytest.mark.parametrize(
    ("cell", "what"),
    [
        ("", "open"),
        ("open", "open"),
        ("x", "done"),
        ("X", "done"),
        ("done 12 June, Ann", "done"),
        ("Done.", "done"),
        ("✓", "done"),
        ("not done", "open"),
        ("not needed", "not needed"),
        ("n/a", "not needed"),
        ("waiting for Bob", "open"),
    ],
)
def test_what_a_tick_means(cell: str, what: str) -> None:
    assert meaning(cell) == what


def test_ticks_survive_writing_again(tmp_path: Path) -> None:
    path = tmp_path / "readiness.csv"
    made = readiness(Circumstances(Unit.FOOT, date="2026-06-12", tanks=("pump tank",)))
    write_readiness(path, merged(made))
    text = path.read_text(encoding="utf-8")
    assert text.splitlines()[0] == ",".join(COLUMNS)
    lines = text.splitlines()
    lines[0] += ",phone"
    lines[1] = lines[1].replace(",open,", ",done 1 June,") + ",555-0100"
    lines = [
        line.replace(",open,", ",x,") if line.startswith("pump tank set") else line
        for line in lines
    ]
    lines.append("bring coffee,Ann,,,,")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    # the tank is gone and the day moved: no tick, note or row of anybody's is lost
    again = merged(readiness(Circumstances(Unit.FOOT, date="2026-06-19")), read_readiness(path))
    write_readiness(path, again)
    kept = {row.ready.item: row for row in read_readiness(path)}
    first = kept["permit in hand and on site"]
    assert (first.state, dict(first.extra)["phone"]) == ("done 1 June", "555-0100")
    assert kept["pump tank set and tested"].state == "x"
    assert kept["bring coffee"].ready.who == "Ann"
    assert not kept["bring coffee"].made
    assert kept["private lines located"].ready.by == "2026-06-18"
    assert again.notes == (
        "pump tank set and tested: no longer asked for, kept with its state 'x'",
    )
    third = merged(readiness(Circumstances(Unit.FOOT, date="2026-06-19")), read_readiness(path))
    assert third.rows == again.rows


def test_rows_made_and_never_ticked_go_when_they_no_longer_apply() -> None:
    before = merged(readiness(Circumstances(Unit.FOOT, tanks=("pump tank",))))
    after = merged(readiness(Circumstances(Unit.FOOT)), before.rows)
    assert all(not row.ready.item.startswith("pump tank") for row in after.rows)


def test_two_files_and_rows_of_one_name() -> None:
    row = Ready("bring coffee", "", "", "")
    first = (Ticked(row, "x", made=False), Ticked(row, "", made=False))
    second = (Ticked(row, "", made=False),)
    both = merged((), first, second)
    assert [one.state for one in both.rows] == ["x", ""]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_a_file_as_a_spreadsheet_leaves_it(tmp_path: Path, delimiter: str, encoding: str) -> None:
    path = tmp_path / "readiness.csv"
    rows = [["Item", "State", "Who"], ["water on site", "done", "Zoë"], ["", "", ""]]
    path.write_text("\r\n".join(delimiter.join(row) for row in rows), encoding=encoding)
    (row,) = read_readiness(path)
    assert (row.ready.item, row.state, row.ready.who) == ("water on site", "done", "Zoë")


def test_files_that_are_no_list_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "readiness.csv"
    path.write_text("item,who\nwater,Ann\n")
    with pytest.raises(InputError) as refusal:
        read_readiness(path)
    assert str(refusal.value) == (
        "readiness.csv, row 1: the readiness list has no column 'state'; its header is"
        f" {','.join(COLUMNS)}"
    )
    path.write_text('item,state\n"water,done\n')
    with pytest.raises(InputError, match=r"^readiness.csv: this is no table"):
        read_readiness(path)


def test_status_names_what_is_open_first_due_first() -> None:
    made = (
        Ready("later", "a", "2026-06-12", "done"),
        Ready("sooner", "b", "2026-06-01", "done"),
        Ready("first", "", "before work starts", "done"),
    )
    assert status(merged(made)).splitlines() == [
        "3 of 3 open",
        "  before work starts: first (nobody named)",
        "  2026-06-01: sooner (b)",
        "  2026-06-12: later (a)",
    ]
    done = Readiness(tuple(Ticked(one, "x") for one in made), ())
    assert status(done) == "ready: 3 of 3 done or not needed"


def test_a_word_that_is_not_understood_is_kept_open_and_said() -> None:
    made = (Ready("water on site", "a", "", "done"),)
    again = merged(made, (Ticked(made[0], "maybe"),))
    assert again.rows[0].state == "maybe"
    assert again.open
    assert again.notes == ("water on site: the state 'maybe' is not understood: open",)
