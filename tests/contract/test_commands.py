"""Files, columns, units, words and exit codes that programs outside the project read."""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import pytest
from click.testing import CliRunner, Result

from dripfield.cli import main
from dripfield.core.table import Column, Table
from dripfield.files.csv import write_csv

LEADING = {
    "joined.csv": "joined,zone,laterals,length,blank,elevation_min,elevation_max,unit",
    "zones.csv": "zone,joined,tubing,emitters,area,dose_flow,flush_flow,elevation_min,"
    "elevation_max,volume,unit,flow_unit,volume_unit",
    "hydraulics.csv": "zone,state,joined,flow_in,flow_out,pressure_in,pressure_least,pressure_most,"
    "velocity_out,emitter_least,emitter_most,flow_unit,pressure_unit,velocity_unit",
    "duty.csv": "zone,state,flow,head,flow_unit,head_unit",
    "checks.csv": "requirement,source,value,limit,unit,verdict",
    "laterals.csv": "lateral,panel,length,elevation,elevation_min,elevation_max,spacing_min,"
    "spacing_max,level_ok,spacing_ok,unit",
    "stakes.csv": "point,northing,easting,elevation,description",
    "comparison.csv": "run,lateral,verdict,length_plan,length_layout,elevation_plan,"
    "elevation_layout,offset_max,unit",
    "setbacks.csv": "feature,kind,required,distance,distance_plan,run,verdict,source,unit",
}
TOML = """\
[site]
name = "Pasture"
units = "ftUS"
[survey]
points = "survey.csv"
[bed]
boundary = "bed.csv"
[layout]
spacing = 2.0
method = "straight"
[design]
daily_flow = 100.0
loading_rate = 0.2
[emitters]
spacing = 2.0
flow = 0.6
pressure_least = 10.0
pressure_most = 60.0
[tubing]
bore = 0.57
[zones]
count = 1
longest = 150.0
flush_velocity = 2.0
[supply]
route = "supply.csv"
pipe = "1-1/2 in"
[return]
route = "return.csv"
pipe = "1-1/2 in"
[pump]
curve = [[0.0, 110.0], [15.0, 95.0], [30.0, 40.0]]
level = 690.0
other_loss = []
"""


@dataclass(frozen=True)
class Field:
    """A site with what ``layout`` and ``zones`` wrote of it."""

    site: Path
    out: Path
    zones: Result


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def table(path: Path) -> tuple[str, list[dict[str, str]]]:
    with path.open(newline="", encoding="utf-8") as stream:
        header = stream.readline().rstrip("\n")
        return header, list(csv.DictReader(stream, header.split(",")))


def write_site(folder: Path, toml: str = TOML) -> Path:
    """A plane that falls 8 % to the south; shots without header and without descriptions."""
    folder.mkdir()
    (folder / "site.toml").write_text(toml)
    shots = [(6.0 * i, 6.0 * j) for i in range(6) for j in range(10)]
    (folder / "survey.csv").write_text(
        "".join(f"{k},{n},{e},{700 + 0.08 * n:.3f}\n" for k, (n, e) in enumerate(shots, 1))
    )
    (folder / "bed.csv").write_text("northing,easting\n5,5\n5,45\n23,45\n23,5\n")
    (folder / "supply.csv").write_text("northing,easting,elevation\n-10,0,695\n5,3,700.4\n")
    (folder / "return.csv").write_text("northing,easting,elevation\n5,2,700.3\n-10,-2,696\n")
    return folder


@pytest.fixture(scope="module")
def field(tmp_path_factory: pytest.TempPathFactory) -> Field:
    folder = tmp_path_factory.mktemp("contract")
    site = write_site(folder / "site")
    assert run("layout", site, "--out", folder / "out").exit_code == 0
    return Field(site, folder / "out", run("zones", site, "--out", folder / "out"))


def test_columns_lead_in_their_order_and_carry_the_unit_of_the_site(field: Field) -> None:
    assert field.zones.exit_code == 0, field.zones.output
    for name, columns in LEADING.items():
        if name in ("comparison.csv", "setbacks.csv"):
            continue
        header, rows = table(field.out / name)
        assert header.startswith(columns), name
        assert rows
        if name in ("laterals.csv", "joined.csv", "zones.csv"):
            assert {row["unit"] for row in rows} == {"ftUS"}, name
    for name in ("trade.csv", "air.csv", "loading.csv"):  # places and lengths of the site, too
        assert {row["unit"] for row in table(field.out / name)[1]} == {"ftUS"}, name


def test_every_lateral_is_joined_once_and_water_never_climbs(field: Field) -> None:
    level = {r["lateral"]: float(r["elevation"]) for r in table(field.out / "laterals.csv")[1]}
    joined = [row["laterals"].split(" ") for row in table(field.out / "joined.csv")[1]]
    assert sorted(name for names in joined for name in names) == sorted(level)
    for names in joined:
        heights = [level[name] for name in names]
        assert heights == sorted(heights, reverse=True)


def test_dosing_flows_balance_and_the_duty_is_on_the_pump_curve(field: Field) -> None:
    dose = [r for r in table(field.out / "hydraulics.csv")[1] if r["state"] == "dose"]
    emitted = float(table(field.out / "zones.csv")[1][0]["dose_flow"])
    emitters = int(table(field.out / "zones.csv")[1][0]["emitters"])
    assert emitted == pytest.approx(emitters * 0.6 / 60.0, abs=1e-4)
    assert sum(float(row["flow_out"]) for row in dose) == pytest.approx(0.0, abs=0.005 * emitted)
    for row in table(field.out / "duty.csv")[1]:
        flow = float(row["flow"])
        assert flow < 15.0
        assert float(row["head"]) == pytest.approx(110.0 - flow, rel=0.005)


def test_numbers_below_zero_stay_numbers(field: Field, tmp_path: Path) -> None:
    siphon = [r for r in table(field.out / "checks.csv")[1] if r["requirement"].startswith("no si")]
    assert float(siphon[0]["value"]) < 0.0
    write_csv(
        tmp_path / "t.csv",
        Table((Column("a"),), [("-0.83",), ("+4",), ("-1+1",), ("-A1",)], ""),
    )
    assert [r["a"] for r in table(tmp_path / "t.csv")[1]] == ["-0.83", "+4", "'-1+1", "'-A1"]


def test_own_drawing_passes_where_labels_stand_nearer_to_other_lines(
    field: Field, tmp_path: Path
) -> None:
    document = ezdxf.readfile(field.out / "staking.dxf")
    names = [r["lateral"] for r in table(field.out / "laterals.csv")[1]]
    labels = document.modelspace().query('TEXT[layer=="C-ANNO-TEXT"]')
    for label in labels:  # each name a line further down the slope, within reach of its own
        if label.dxf.text.split(" ")[0] in names[:-1]:
            label.translate(0.0, -2.0, 0.0)
    document.saveas(tmp_path / "plan.dxf")
    answer = run("compare", field.site, "--plan", tmp_path / "plan.dxf", "--out", tmp_path / "c")
    header, rows = table(tmp_path / "c/comparison.csv")
    assert answer.exit_code == 0, answer.output
    assert [row["run"] for row in rows] == [row["lateral"] for row in rows] == names
    assert header.startswith(LEADING["comparison.csv"])
    assert table(tmp_path / "c/setbacks.csv")[0] == LEADING["setbacks.csv"]


def test_a_plan_a_foot_downhill_fails_in_word_file_and_exit(field: Field, tmp_path: Path) -> None:
    document = ezdxf.readfile(field.out / "staking.dxf")
    for line in document.modelspace().query('LWPOLYLINE[layer=="C-SSWR-LATL"]'):
        line.translate(0.0, -1.0, 0.0)
    document.saveas(tmp_path / "plan.dxf")
    answer = run("compare", field.site, "--plan", tmp_path / "plan.dxf", "--out", tmp_path / "c")
    verdict = json.loads((tmp_path / "c/verdict.json").read_text())
    assert answer.exit_code == 4
    assert set(verdict) == {"verdict", "reasons", "measure_more"}
    assert verdict["verdict"] == "fail"
    assert ": fail: " in answer.output.splitlines()[0]


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ("[15.0, 95.0]", "[15.0, 115.0]", "[pump] curve"),
        ("pressure_least = 10.0", "pressure_least = 70.0", "pressure_least"),
        ("flush_velocity", "flush_velocty", "'flush_velocity'"),
    ],
)
def test_bad_input_is_one_line_and_writes_nothing(
    tmp_path: Path, old: str, new: str, named: str
) -> None:
    site = write_site(tmp_path / "site", TOML.replace(old, new))
    answer = run("zones", site, "--out", tmp_path / "out")
    assert answer.exit_code == 2
    assert answer.stderr.startswith("error: site.toml")
    assert named in answer.stderr
    assert answer.stderr.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_an_empty_out_is_refused(field: Field) -> None:
    answer = run("layout", field.site, "--out", "")
    assert answer.exit_code == 2
    assert answer.stderr.startswith("error: ")


def test_a_weak_pump_is_a_failed_check(tmp_path: Path) -> None:
    site = write_site(
        tmp_path / "site", TOML.replace("110.0], [15.0, 95.0], [30.0, 40.0]", "25.0], [30.0, 5.0]")
    )
    answer = run("zones", site, "--out", tmp_path / "out")
    assert answer.exit_code == 4
    assert "fail" in {row["verdict"] for row in table(tmp_path / "out/checks.csv")[1]}
