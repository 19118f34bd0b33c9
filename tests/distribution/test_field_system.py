"""A site's figures led through zones and hydraulics: what is missing, what fails, and where."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from water_site import TOML, without, write_route, write_site

from dripfield.design.lay_out import lay_out
from dripfield.distribution.facts import spare_zones
from dripfield.distribution.grade_line import grade_line
from dripfield.distribution.system import FieldSystem, field_system
from dripfield.distribution.tables import tables
from dripfield.site.reader import read_site


def solve(folder: Path, toml: str = TOML) -> FieldSystem:
    """The field of a site file."""
    return field_system(lay_out(read_site(write_site(folder, toml))))


def failing(system: FieldSystem) -> dict[str, str]:
    """Requirements that fail, each with where."""
    return {one.requirement: one.where or one.value for one in system.failed}


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ("emitters", "[emitters] spacing and flow"),
        ("tubing", "[tubing] bore"),
        ("zones", "[zones] longest"),
        ("supply", "[supply] route"),
        ("return", "[return] route"),
        ("pump", "[pump] curve"),
        ("design", "[design] daily_flow"),
    ],
)
def test_a_missing_table_is_named_and_nothing_else_is_lost(
    tmp_path: Path, table: str, key: str
) -> None:
    system = solve(tmp_path, without(table))
    assert system.failed == []
    assert any(key in one.where for one in system.not_proven)
    made = tables(system)
    assert len(made["joined.csv"].rows) == sum(len(zone.joined) for zone in system.plan.zones)
    zones = made["zones.csv"].records()
    assert sum(float(str(one["tubing"])) for one in zones) == pytest.approx(580.0, rel=1e-3)
    assert [one["dose_flow"] is None for one in zones] == [table == "emitters"] * len(zones)
    told = {"emitters", "tubing", "supply", "pump"}
    assert bool(made["hydraulics.csv"].rows) == (table not in told)


def test_a_site_with_none_of_them(tmp_path: Path) -> None:
    toml = TOML
    for table in ("design", "emitters", "tubing", "zones", "supply", "return", "pump"):
        toml = without(table, toml)
    system = solve(tmp_path, toml)
    assert system.failed == []
    assert system.simulation is None
    assert len(system.not_proven) >= 5
    assert sum(len(zone.joined) for zone in system.plan.zones) > 0


def test_without_an_emitters_flow_emitters_are_still_counted(tmp_path: Path) -> None:
    system = solve(tmp_path, TOML.replace("flow = 0.6\n", ""))
    zones = tables(system)["zones.csv"].records()
    assert sum(int(str(one["emitters"])) for one in zones) == 290
    assert all(one["dose_flow"] is None for one in zones)
    assert any("[emitters] flow" in one.where for one in system.not_proven)


def test_emitters_out_of_their_range_are_named_with_their_place(tmp_path: Path) -> None:
    found = failing(solve(tmp_path, TOML.replace("pressure_most = 60.0", "pressure_most = 20.0")))
    where = found["Z1 dose: greatest pressure at an emitter"]
    assert where.startswith("J0")
    assert "emitter" in where


def test_a_lateral_that_is_too_long_by_itself_fails_and_is_named(tmp_path: Path) -> None:
    found = failing(solve(tmp_path, TOML.replace("longest = 200.0", "longest = 40.0")))
    assert set(found) == {"Z1: length of a joined lateral", "Z2: length of a joined lateral"}
    assert found["Z1: length of a joined lateral"].startswith("J0")


def test_zones_that_cannot_keep_their_flow_fail(tmp_path: Path) -> None:
    """One lateral alone doses 29 x 0.6 / 60 = 0.29 gal/min (by hand)."""
    toml = TOML.replace("count = 2\n", "most_flow = 0.2\n")
    found = failing(solve(tmp_path, toml))
    said = found["zones keep their limits and every end is reached by pipe"]
    assert said.startswith("one joined lateral alone doses more than most_flow")


def test_a_flush_that_the_pump_cannot_give_fails(tmp_path: Path) -> None:
    toml = TOML.replace("flush_velocity = 2.0", "flush_velocity = 9.0")
    system = solve(tmp_path, toml)
    flush = [one for one in system.checks if " flush" in one.requirement]
    assert any(one.verdict == "fail" for one in flush)


def test_pipe_through_a_keepout_fails_and_is_named(tmp_path: Path) -> None:
    write_site(tmp_path)
    toml = TOML.replace('boundary = "bed.csv"', 'boundary = "bed.csv"\nkeepouts = ["stump.csv"]')
    (tmp_path / "stump.csv").write_text(
        "northing,easting\n" + "".join(
            f"{5000 + n},{2000 + e}\n" for n, e in ((6, -1), (6, 3), (11, 3), (11, -1))
        )
    )  # fmt: skip
    (tmp_path / "site.toml").write_text(toml)
    write_route(tmp_path / "supply.csv", [(-18, -14, 94.0), (8, -4, 99.0), (8, 0.5, 99.5)])
    system = field_system(lay_out(read_site(tmp_path)))
    assert "supply through" in failing(system)["pipe is clear of keepouts"]


def test_frost(tmp_path: Path) -> None:
    """A supply with a belly keeps its water: it must lie below frost."""
    write_site(tmp_path, TOML.replace("frost_depth = 1.0", "frost_depth = 3.5"))
    write_route(tmp_path / "supply.csv", [(-18, -14, 97.0), (-10, -6, 96.5), (8, -4, 99.0)])
    system = field_system(lay_out(read_site(tmp_path)))
    said = failing(system)
    assert list(said) == ["supply line lies below frost, or drains back to the tank"]
    assert "from the tank" in next(iter(said.values()))


@pytest.mark.parametrize(
    ("areas", "required", "spare"),
    [
        ([500.0, 500.0, 500.0], 1000.0, 1),
        ([500.0, 500.0, 500.0], 1000.1, 0),
        ([700.0, 400.0, 400.0], 800.0, 1),
        ([500.0, 500.0, 500.0], 400.0, 2),
        ([500.0], None, None),
    ],
)
def test_zones_that_may_stand_still(
    areas: list[float], required: float | None, spare: int | None
) -> None:
    """By hand: whatever zones stand still, the largest among them, the rest has the area."""
    assert spare_zones(areas, required) == spare


def test_named_rules_are_held(tmp_path: Path) -> None:
    """30 TAC 222.121(b): two zones, and the larger of one and a tenth may stand still."""
    toml = TOML + '\n[rules]\ncheck = ["texas-222"]\n'
    system = solve(tmp_path, toml)
    found = {one.rule.id: one.verdict for one in system.findings}
    assert found["texas-222-zones"] == "pass"
    # 1000 ft2 are called for, 1200 are there in two zones: none may stand still
    assert found["texas-222-zones-out"] == "fail"
    assert any("texas-222" in one.requirement for one in system.failed)


def test_the_grade_line_falls_with_the_flow(tmp_path: Path) -> None:
    system = solve(tmp_path)
    assert system.simulation is not None
    line = grade_line(system.simulation)
    assert line is not None
    head = line.head["flush"]
    assert (np.diff(head) < 1e-6).all()
    state = system.simulation.get(line.zone, "flush")
    assert state is not None
    other = 0.4 * state.flow  # its curve's first stretch, 4 ft at 10 gal/min
    assert head[0] == pytest.approx(90.0 + state.head - other, abs=0.05)
    assert list(dict.fromkeys(line.part)) == ["supply", "feed", "tubing", "collect", "return"]


def test_doses_add_up_to_the_day(tmp_path: Path) -> None:
    system = solve(tmp_path)
    assert sum(day.dosing.daily for day in system.days) == pytest.approx(200.0)
    for day in system.days:
        one = day.dosing
        assert one.doses * one.dose == pytest.approx(one.daily)
        assert one.doses * (one.run + one.rest) == pytest.approx(1440.0)
    entered = solve(tmp_path, TOML.replace("frost_depth", "doses = 3\nfrost_depth"))
    assert {day.dosing.doses for day in entered.days} == {3}


def test_what_rules_see_of_it(tmp_path: Path) -> None:
    facts = solve(tmp_path).facts
    assert facts.zones == 2
    assert facts.compensating is True
    assert facts.emitter_flows == pytest.approx((0.6, 0.6))
    assert facts.zone_heights is not None
    assert sum(facts.zone_heights) == pytest.approx(8 * 2.0 * 0.08, abs=0.05)


TANK = """
[[tank]]
name = "pump tank"
shape = "rectangle"
length = 8.0
width = 4.0
height = 5.0
wall = 3.0
top = 94.0
levels = { off = 1.25, on = 1.5 }
"""


def test_the_dosing_tank_is_held_against_the_doses(tmp_path: Path) -> None:
    """Floor 94.0 - 0.25 - 5.0 = 88.75, so the pump stops at 90.0; 8 ft2 x 0.25 ft x 7.48 gal."""
    system = solve(tmp_path, TOML + TANK)
    checks = {one.requirement: one for one in system.checks}
    room = checks["pump tank: a dose with what drains back, between off and on"]
    most = max(day.dosing.pumped for day in system.days)
    assert (room.value, room.limit) == ("60", f"at least {most:.0f}")
    assert room.verdict == ("pass" if most < 59.8 else "fail")
    stops = checks["the pump's level is that at which its switch stops it"]
    assert (stops.verdict, stops.value) == ("pass", "90.00")
    rows = {row[1]: row for row in tables(system, readings=False)["tank_levels.csv"].texts()}
    assert list(rows["off"][2:4]) == ["15.0", ""]
    assert float(rows["on"][3]) == pytest.approx(15.0 + 12.0 * most * 231 / 1728 / 32.0, abs=0.06)
    doses = tables(system, readings=False)["doses.csv"]
    for row, day in zip(doses.texts(), system.days, strict=True):
        told = dict(zip(doses.keys, row, strict=True))
        assert float(told["draw_down"]) == pytest.approx(
            12.0 * day.dosing.pumped * 231 / 1728 / 32.0, abs=0.06
        )


def test_a_tank_that_says_otherwise_than_the_pump_or_nothing(tmp_path: Path) -> None:
    system = solve(
        tmp_path, TOML + TANK.replace("top = 94.0", "top = 95.0").replace(", on = 1.5", "")
    )
    checks = {one.requirement: one for one in system.checks}
    room = checks["pump tank: a dose with what drains back, between off and on"]
    assert (room.verdict, room.where) == ("not proven", "missing: [[tank]] levels on")
    stops = checks["the pump's level is that at which its switch stops it"]
    assert stops.verdict == "fail"
    assert "top, wall, height or off of pump tank" in stops.where
