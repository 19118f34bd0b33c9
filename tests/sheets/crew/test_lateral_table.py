"""The crew's lateral table and rod readings as CSV, and the settings behind them."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest
import shapely

from dripfield.core.errors import InputError
from dripfield.core.feet_inches import feet_inches
from dripfield.core.units import Unit
from dripfield.files.csv import write_csv
from dripfield.sheets.crew.lateral_table import flags_file, lateral_file, rod_file
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
        "rod_low_ft_in": "5'-10\"", "rod_high_ft_in": "6'-0 3/8\"", "above": "", "marks": "5",
        "expected_as_laid": rows[0]["expected_as_laid"],
    }  # fmt: skip
    assert {row["drop"] for row in rows[1:]} == {"0.16"}
    assert [row["above"] for row in rows[1:]] == [row["lateral"] for row in rows[:-1]]
    assert all(0.9 < float(row["expected_as_laid"]) <= 1.0 for row in rows)


def test_printed_sums_close(awkward: Any, benched: Any, tmp_path: Path) -> None:
    """Whoever adds up the printed figures gets the printed results, to the last digit."""
    work = benched(awkward, crew=CrewTable(backsight=4.25))
    laterals = laterals_csv(work, tmp_path)
    by_name = {row["lateral"]: row for row in laterals}
    assert any(row["above"] for row in laterals)
    for row in laterals:
        if row["above"]:
            drop = float(by_name[row["above"]]["elevation"]) - float(row["elevation"])
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
    assert [row["point"] for row in rows if row["point"]] == [str(s.mark) for s in work.stakes]
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
    assert (feet.paper, feet.rod_length, feet.rod_foot) == ("letter", 13.0, "ground")
    metres = crew_settings(hand.plane(Unit.METRE).site)
    assert (metres.paper, metres.rod_length, metres.language) == ("A4", 4.0, "en")


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


@pytest.mark.parametrize(
    ("written", "reading"),
    [  # hand-derived: 5 ft 4 1/2 in is 5 + 4.5 / 12 ft; 1.6 m is 1.6 / 0.3048 ft
        ("5.36", 5.36),
        ("5.36 ft", 5.36),
        ("5' 4 1/2\"", 5.375),
        ("5'-4½\"", 5.375),
        ("64.5 in", 5.375),
        ("1.6 m", 1.6 / 0.3048),
    ],
)
def test_backsights_as_people_write_them(
    plane: Any, benched: Any, written: str, reading: float
) -> None:
    site = benched(plane).design.site
    assert crew_settings(site, backsight=written).backsight == pytest.approx(reading)
    named = benched(plane, crew=CrewTable(backsight=written))
    assert named.settings.backsight == pytest.approx(reading)
    assert named.setups[0].height == pytest.approx(103.2 + reading)


@pytest.mark.parametrize("written", ["high", "", "-5.36", "5' 13\""])
def test_backsights_that_are_none(plane: Any, benched: Any, written: str) -> None:
    site = benched(plane).design.site
    with pytest.raises(InputError) as caught:
        crew_settings(site, backsight=written)
    assert str(caught.value) == (
        f"--backsight: the backsight {written!r} is no reading of a rod; write it as 5.36 or"
        " 5' 4 3/8\""
    )


def test_a_trench_rod_reads_more_by_the_depth(plane: Any, benched: Any, tmp_path: Path) -> None:
    """Hand-derived: the foot 0.50 ft lower reads 0.50 ft more; marks are read on the ground."""
    flat = benched(plane, crew=CrewTable(backsight=4.25))
    deep = benched(plane, crew=CrewTable(backsight=4.25, rod_foot="trench", rod_depth=0.5))
    for one, other in zip(flat.laterals, deep.laterals, strict=True):
        assert other.rod == pytest.approx(one.rod + 0.5)
        assert other.elevation == one.elevation
    assert [mark.rod for mark in flat.field.rows] == [mark.rod for mark in deep.field.rows]
    for row in rods_csv(deep, tmp_path):
        assert f"{float(row['backsight']) + float(row['from_backsight']):.2f}" == row["rod"]


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (
            CrewTable(rod_depth=0.5),
            "site.toml, [crew] rod_depth: the rod's foot stands on the ground and 0.50 ft below it;"
            ' leave rod_depth out, or give rod_foot = "trench"',
        ),
        (
            CrewTable(rod_foot="trench"),
            "site.toml, [crew] rod_depth: the rod's foot stands in a trench whose depth is not"
            " given; give rod_depth, how far the trench's bottom lies below the ground",
        ),
    ],
)
def test_a_foot_that_stands_nowhere(
    plane: Any, benched: Any, table: CrewTable, message: str
) -> None:
    with pytest.raises(InputError) as caught:
        benched(plane, crew=table)
    assert str(caught.value) == message


def test_errors_of_the_crew_are_those_of_the_site(plane: Any, benched: Any) -> None:
    careless = CrewTable(gauge_error=0.3, instrument_error=0.5, station_error=1.0, rod_error=1.0)
    assert benched(plane, crew=careless).as_laid.share_laid < 0.8
    errors = benched(plane, crew=careless).as_laid.errors
    assert (errors.gauge, errors.instrument, errors.tape) == (0.3, 0.5, 0.05)


@pytest.mark.parametrize(
    ("ends", "message"),
    [
        (
            ("BED1", "the gate"),
            "site.toml, [crew] base_line: 'the gate' is no point of the site with a position; name"
            " a survey point, the benchmark (with northing and easting), a permanent point of"
            " [[review.references]] or a corner: BED1, BED2 …",
        ),
        (
            ("BED1", "BED1"),
            "site.toml, [crew] base_line: 'BED1' and 'BED1' are one place; name two points apart"
            " from each other",
        ),
    ],
)
def test_base_line_names_that_will_not_do(
    plane: Any, benched: Any, ends: tuple[str, str], message: str
) -> None:
    with pytest.raises(InputError) as caught:
        benched(plane, crew=CrewTable(base_line=ends))
    assert str(caught.value) == message


def test_a_named_base_line_of_a_shot_and_the_benchmark(plane: Any, benched: Any) -> None:
    field = benched(plane, crew=CrewTable(base_line=("BM 1", "7"))).field
    assert field.base_line == ("BM 1", "7")
    ends = {p.name: p for p in field.points if p.description.endswith("end of base line")}
    assert set(ends) == {"BM 1", "7"}
    x, y, _ = plane.ground.read.xyz[6]
    assert (ends["7"].easting, ends["7"].northing) == (x, y)


def test_flags_strings_and_paint_are_counted(
    plane: Any, cone: Any, benched: Any, tmp_path: Path
) -> None:
    """Straight laterals are pulled along a string, arcs are painted; a flag stands at each mark."""
    for field, lay in ((plane, "string"), (cone, "paint")):
        work = benched(field)
        write_csv(tmp_path / "flags.csv", flags_file(work.marking, Unit.FOOT))
        rows = read(tmp_path / "flags.csv")
        assert {row["lay"] for row in rows} == {lay}
        assert sum(int(row["flags"]) for row in rows) == len(work.field.rows)
        assert [row["lateral"] for row in rows if row["guide"] == "true"] == list(work.field.guides)
        for row, one in zip(rows, work.laterals, strict=True):
            assert row[lay] == f"{one.length:.2f}"
            assert row["paint" if lay == "string" else "string"] == "0.00"


def test_a_lateral_beside_a_rock_has_no_lateral_above(awkward: Any, benched: Any) -> None:
    """By shapely: what is named lies within one and a half spacings along nine tenths and more."""
    lines = {one.name: shapely.linestrings(one.xy) for one in awkward.layout.laterals}
    rows = benched(awkward).laterals
    assert any(not row.above for row in rows[1:])
    for row in rows:
        if row.above:
            near = lines[row.above].buffer(1.5 * 2.0)
            assert near.intersection(lines[row.name]).length > 0.85 * row.length
