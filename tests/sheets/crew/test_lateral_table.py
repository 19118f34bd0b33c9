"""The crew's lateral table and rod readings as CSV, and the settings behind them."""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from dripfield.core.errors import InputError
from dripfield.core.feet_inches import feet_inches
from dripfield.core.units import Unit
from dripfield.files.csv import write_csv
from dripfield.sheets.crew.lateral_table import lateral_file, rod_file
from dripfield.site.schema.crew import Benchmark, CrewTable
from dripfield.site.schema.zones import EmitterTable
from dripfield.staking.settings import crew_settings


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def laterals_csv(work: Any, folder: Path) -> list[dict[str, str]]:
    write_csv(folder / "lateral_table.csv", lateral_file(work.laterals, work.design.site.unit))
    return read(folder / "lateral_table.csv")


def rods_csv(work: Any, folder: Path) -> list[dict[str, str]]:
    write_csv(folder / "rod_readings.csv", rod_file(work.rods, work.setups, work.design.site.unit))
    return read(folder / "rod_readings.csv")


def test_lateral_table_of_a_plane(plane: Any, benched: Any, tmp_path: Path) -> None:
    """Hand-derived: 78 ft laterals, 0.16 ft of fall for 2 ft of an 8 % slope, running east."""
    work = benched(
        plane, emitters=EmitterTable(spacing=2.0, flow=0.6), crew=CrewTable(backsight=4.25)
    )
    rows = laterals_csv(work, tmp_path)
    assert [row["lateral"] for row in rows] == [f"L{i:02d}" for i in range(1, 11)]
    assert rows[0] == {
        "lateral": "L01", "panel": "A", "length": "78.00", "elevation": "101.52", "drop": "",
        "bearing": "90.0", "setup": "1", "rod": "5.93", "rod_low": "5.83", "rod_high": "6.03",
        "emitters": "39", "flow": "23.40", "level_ok": "true", "spacing_ok": "true", "mark": "",
        "staked": "", "unit": "ft", "length_ft_in": "78'-0\"", "rod_ft_in": "5'-11 1/8\"",
        "rod_low_ft_in": "5'-10\"", "rod_high_ft_in": "6'-0 3/8\"",
    }  # fmt: skip
    assert {row["drop"] for row in rows[1:]} == {"0.16"}


def test_printed_sums_close(awkward: Any, benched: Any, tmp_path: Path) -> None:
    """Whoever adds up the printed figures gets the printed results, to the last digit."""
    work = benched(awkward, crew=CrewTable(backsight=4.25))
    laterals = laterals_csv(work, tmp_path)
    for above, row in pairwise(laterals):
        if above["panel"] == row["panel"]:
            drop = float(above["elevation"]) - float(row["elevation"])
            assert f"{drop + 0.0:.2f}" == row["drop"]
        else:
            assert row["drop"] == ""
    for row in rods_csv(work, tmp_path):
        height = float(row["mark_elevation"]) + float(row["backsight"])
        assert f"{height:.2f}" == row["height_of_instrument"]
        assert f"{height - float(row['elevation']):.2f}" == row["rod"]
        assert f"{float(row['backsight']) + float(row['from_backsight']):.2f}" == row["rod"]
        assert f"{float(row['rod']) - 0.1:.2f}" == row["rod_low"]
        assert f"{float(row['rod']) + 0.1:.2f}" == row["rod_high"]


def test_every_lateral_and_stake_has_its_reading(
    awkward: Any, benched: Any, tmp_path: Path
) -> None:
    work = benched(awkward)
    rows = rods_csv(work, tmp_path)
    whole = [row["lateral"] for row in rows if not row["point"]]
    assert whole == [lateral.name for lateral in work.design.layout.laterals]
    assert [row["point"] for row in rows if row["point"]] == [str(s.point) for s in work.stakes]
    for row in rows:
        assert 0.0 <= float(row["rod"]) <= 13.0
        assert row["rod_ft_in"] == feet_inches(float(row["rod"]))


def test_readings_on_the_ground_as_surveyed(plane: Any, benched: Any, tmp_path: Path) -> None:
    """On a plane the ground at a stake is at the elevation set."""
    for row in rods_csv(benched(plane), tmp_path):
        assert row["rod_on_ground"] == (row["rod"] if row["point"] else "")


def test_metric_table_reads_to_the_millimetre(hand: Any, benched: Any, tmp_path: Path) -> None:
    """Hand-derived: 100 + 0.08 x 5.7 = 100.456; 101.000 + 1.524 - 100.456 = 2.068."""
    work = benched(
        hand.plane(Unit.METRE),
        benchmark=Benchmark(name="PM", elevation=101.0),
        crew=CrewTable(backsight=1.524),
    )
    rows = laterals_csv(work, tmp_path)
    assert (rows[0]["elevation"], rows[0]["rod"]) == ("100.456", "2.068")
    assert (rows[0]["rod_low"], rows[0]["rod_high"]) == ("2.038", "2.098")
    assert rows[0]["unit"] == "m"
    assert not [column for column in rows[0] if column.endswith("ft_in")]


def test_no_benchmark_no_readings(plane: Any, crew_work: Any, tmp_path: Path) -> None:
    work = crew_work(plane)
    assert work.setups == ()
    assert work.rods == ()
    row = laterals_csv(work, tmp_path)[0]
    assert [row[column] for column in ("setup", "rod", "rod_low", "rod_high")] == [""] * 4
    assert row["emitters"] == row["flow"] == ""


def test_names_survive_the_table(
    plane: Any, benched: Any, names: dict[str, str], renamed: Any, tmp_path: Path
) -> None:
    for name in names.values():
        work = benched(renamed(plane, name), benchmark=Benchmark(name=name, elevation=103.2))
        assert laterals_csv(work, tmp_path)[3]["lateral"] == f"{name} 3"
        row = rods_csv(work, tmp_path)[0]
        assert (row["lateral"], row["mark"]) == (f"{name} 0", name)


def test_defaults_follow_the_unit(plane: Any, hand: Any) -> None:
    feet = crew_settings(plane.site)
    assert (feet.paper, feet.rod_length, feet.tape_accuracy) == ("letter", 13.0, 0.1)
    metres = crew_settings(hand.plane(Unit.METRE).site)
    assert (metres.paper, metres.rod_length, metres.tape_accuracy) == ("A4", 4.0, 0.01)


def test_backsight_without_a_benchmark(plane: Any, crew_work: Any) -> None:
    with pytest.raises(InputError) as caught:
        crew_work(plane, options={"backsight": 5.2})
    assert str(caught.value) == (
        "--backsight: a backsight of 5.20 ft is given, but the site has no benchmark to read it"
        " on; add a [benchmark] table with name and elevation to site.toml, or leave the"
        " backsight out"
    )
    with pytest.raises(InputError) as caught:
        crew_work(plane, crew=CrewTable(backsight=5.2))
    assert str(caught.value).startswith("site.toml, [crew] backsight: a backsight of 5.20 ft")


@pytest.mark.parametrize("reading", [-0.5, 13.01, float("nan"), float("inf")])
def test_backsight_that_is_not_on_the_rod(plane: Any, benched: Any, reading: float) -> None:
    mark = Benchmark(name="BM 1", elevation=103.2)
    site = benched(plane, benchmark=mark).design.site
    with pytest.raises(InputError) as caught:
        crew_settings(site, backsight=reading)
    assert str(caught.value) == (
        f"--backsight: the backsight {reading:.2f} ft is not on the rod, which reads 0 to 13.00"
        " ft; give the reading taken on the benchmark, or the rod's length as [crew] rod_length"
    )


def test_no_lateral_at_all(plane: Any) -> None:
    from dataclasses import replace

    from dripfield.sheets.crew.gather import gather

    empty = replace(plane.layout, laterals=())
    with pytest.raises(InputError) as caught:
        gather(replace(plane, layout=empty), crew_settings(plane.site))
    assert str(caught.value) == (
        "site.toml, [layout]: no lateral fits this bed, so there is nothing to stake; run"
        " dripfield layout and read its notes, then change [layout] or the bed"
    )
