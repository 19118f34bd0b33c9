"""What the command writes: columns, sums, units, and networks that solve to the same again."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from water_site import Run

from dripfield.core.cores import CORES

COLUMNS = {
    "joined.csv": "joined,zone,laterals,length,blank,elevation_min,elevation_max,unit",
    "zones.csv": "zone,joined,tubing,emitters,area,dose_flow,flush_flow,elevation_min,"
    "elevation_max,volume,unit,flow_unit,volume_unit",
    "hydraulics.csv": "zone,state,joined,flow_in,flow_out,pressure_in,pressure_least,pressure_most,"
    "velocity_out,emitter_least,emitter_most,flow_unit,pressure_unit,velocity_unit,pressure_out,"
    "emitter_unit",
    "duty.csv": "zone,state,flow,head,flow_unit,head_unit,throttle",
    "checks.csv": "requirement,source,value,limit,unit,verdict",
}
UNITS = {
    "plane": {"unit": "ft", "flow_unit": "gal/min", "pressure_unit": "psi", "velocity_unit": "ft/s",
              "head_unit": "ft", "volume_unit": "gal", "emitter_unit": "gal/h"},
    "metric": {"unit": "m", "flow_unit": "L/min", "pressure_unit": "kPa", "velocity_unit": "m/s",
               "head_unit": "m", "volume_unit": "L", "emitter_unit": "L/h"},
}  # fmt: skip


@pytest.fixture(params=["plane", "metric"])
def made(request: pytest.FixtureRequest) -> Run:
    return request.getfixturevalue(request.param)


def test_everything_passes_and_is_written(plane: Run) -> None:
    assert plane.result.exit_code == 0
    assert plane.result.output.startswith("Plane: pass: ")
    for name in (*COLUMNS, "zones.png", "zones.pdf", "zones.dxf", "loading.png", "trade.png"):
        assert (plane.out / name).stat().st_size > 0
    assert sorted(path.name for path in (plane.out / "networks").iterdir()) == [
        "Z1_dose.inp", "Z1_flush.inp", "Z2_dose.inp", "Z2_flush.inp",
    ]  # fmt: skip


def test_what_is_not_said_is_not_proven(metric: Run) -> None:
    assert metric.result.exit_code == 0
    lacks = [one for one in metric.rows("checks.csv") if one["verdict"] == "not proven"]
    assert {"missing: [design] frost_depth"} < {one["where"] for one in lacks} | {""}
    assert any("[tubing] pressure_rating" in one["where"] for one in lacks)


def test_columns_and_units(request: pytest.FixtureRequest) -> None:
    for name, units in UNITS.items():
        made: Run = request.getfixturevalue(name)
        for file, columns in COLUMNS.items():
            rows = made.rows(file)
            assert set(columns.split(",")) <= set(rows[0])
            if file == "checks.csv":
                continue
            for key in units.keys() & rows[0].keys():
                assert {row[key] for row in rows} == {units[key]}


def test_sums(made: Run) -> None:
    """By counting (hand-derived): ten laterals of 58 spacings hold 29 emitters each."""
    zones, joined = made.rows("zones.csv"), made.rows("joined.csv")
    metric = zones[0]["unit"] == "m"
    size, flow, velocity, bore = (0.3, 2.0, 0.6, 14.5) if metric else (1.0, 0.6, 2.0, 0.57)
    names = [name for one in joined for name in one["laterals"].split()]
    assert sorted(names) == sorted(f"L{k:02d}" for k in range(1, 11))
    assert sum(int(zone["emitters"]) for zone in zones) == 290
    assert sum(float(zone["area"]) for zone in zones) == pytest.approx(1200 * size**2, rel=1e-3)
    assert sum(float(zone["tubing"]) for zone in zones) == pytest.approx(580 * size, rel=1e-4)
    # area of a round section: gal/min of ft/s and in by 0.408498, L/min of m/s and mm by hand
    end = (
        velocity * np.pi / 4.0 * (bore / 1000.0) ** 2 * 60e3
        if metric
        else velocity * bore**2 / 0.408498
    )
    for zone in zones:
        mine = [one for one in joined if one["zone"] == zone["zone"]]
        assert int(zone["joined"]) == len(mine)
        dose = int(zone["emitters"]) * flow / 60.0
        assert float(zone["dose_flow"]) == pytest.approx(dose, abs=1e-4)
        assert float(zone["flush_flow"]) == pytest.approx(dose + len(mine) * end, rel=1e-4)
        tubing = sum(float(one["length"]) - float(one["blank"]) for one in mine)
        assert float(zone["tubing"]) == pytest.approx(tubing, abs=0.01)
    assert sum(float(zone["share"]) for zone in zones) == pytest.approx(1.0, abs=1e-4)


def test_laterals_never_climb_and_are_named_from_supply_to_return(made: Run) -> None:
    """On a plane that falls to the south a lateral's number grows downhill."""
    for one in made.rows("joined.csv"):
        names = one["laterals"].split()
        assert names == sorted(names)
        assert float(one["elevation_min"]) <= float(one["elevation_max"])


def test_flow_out_adds_up_to_nothing_while_dosing(made: Run) -> None:
    rows = [row for row in made.rows("hydraulics.csv") if row["state"] == "dose"]
    for zone in {row["zone"] for row in rows}:
        mine = [row for row in rows if row["zone"] == zone]
        assert sum(float(row["flow_out"]) for row in mine) == pytest.approx(0.0, abs=5e-4)
        flow = next(
            float(row["flow"])
            for row in made.rows("duty.csv")
            if (row["zone"], row["state"]) == (zone, "dose")
        )
        assert sum(float(row["flow_in"]) for row in mine) == pytest.approx(flow, abs=1e-3)


def test_flush_reaches_its_velocity_and_no_more_at_the_slowest(made: Run) -> None:
    asked = 0.6 if made.rows("zones.csv")[0]["unit"] == "m" else 2.0
    for zone in ("Z1", "Z2"):
        ends = [
            float(row["velocity_out"])
            for row in made.rows("hydraulics.csv")
            if (row["zone"], row["state"]) == (zone, "flush")
        ]
        assert min(ends) == pytest.approx(asked, rel=2e-3)


def test_duty_lies_on_the_pumps_curve(made: Run) -> None:
    metric = made.rows("zones.csv")[0]["unit"] == "m"
    curve = [(0, 34), (57, 29), (114, 12)] if metric else [(0, 110), (15, 95), (30, 40)]
    for row in made.rows("duty.csv"):
        head = np.interp(float(row["flow"]), *np.array(curve, dtype=float).T)
        assert float(row["head"]) == pytest.approx(head, abs=0.01)
        assert (float(row["throttle"]) > 0.0) == (row["state"] == "flush")


def test_networks_say_what_they_must(made: Run) -> None:
    metric = made.rows("zones.csv")[0]["unit"] == "m"
    for path in (made.out / "networks").iterdir():
        text = path.read_text()
        for line in (
            "HEADLOSS D-W", "DEMAND MODEL PDA", "MINIMUM PRESSURE 0", "PRESSURE EXPONENT 0.5",
            f"REQUIRED PRESSURE {70 if metric else 10}", f"UNITS {'LPM' if metric else 'GPM'}",
        ):  # fmt: skip
            assert f"\n{line}\n" in text
        curve = [line for line in text.splitlines() if line.startswith("pump-curve")]
        assert len(curve) >= 4


def solved(path: Path) -> dict[str, dict[str, float]]:
    """Flow of the first and last link and pressures of each joined lateral, by EPANET alone.

    The toolkit is called here directly, with nothing of the package.
    """
    import tempfile

    from epanet import toolkit as en

    found: dict[str, dict[str, float]] = {}
    project = en.createproject()
    with tempfile.TemporaryDirectory() as folder:
        en.open(project, str(path), f"{folder}/report", f"{folder}/out")
        en.solveH(project)
        links: dict[str, list[tuple[int, int]]] = {}
        for link in range(1, en.getcount(project, en.LINKCOUNT) + 1):
            name, _, number = en.getlinkid(project, link).partition("_")
            if number.isdigit():
                links.setdefault(name, []).append((int(number), link))
        for name, mine in links.items():
            mine.sort()
            nodes = [en.getlinknodes(project, link) for _, link in mine]
            emitting = [
                b
                for _, b in nodes
                if en.getnodetype(project, b) == en.JUNCTION and en.getnumdemands(project, b)
                and en.getbasedemand(project, b, 1) > 0.0
            ]  # fmt: skip
            pressure = [en.getnodevalue(project, b, en.PRESSURE) for b in emitting]
            found[name] = {
                "flow_in": en.getlinkvalue(project, mine[0][1], en.FLOW),
                "flow_out": en.getlinkvalue(project, mine[-1][1], en.FLOW),
                "velocity_out": en.getlinkvalue(project, mine[-1][1], en.VELOCITY),
                "pressure_in": en.getnodevalue(project, nodes[0][0], en.PRESSURE),
                "pressure_out": en.getnodevalue(project, nodes[-1][1], en.PRESSURE),
                "pressure_least": min(pressure),
                "pressure_most": max(pressure),
            }
        en.close(project)
    en.deleteproject(project)
    return found


def test_networks_solved_again_give_the_table(made: Run) -> None:
    """EPANET, opened by itself on the files written: within half a percent of each figure."""
    rows = made.rows("hydraulics.csv")
    for path in sorted((made.out / "networks").iterdir()):
        zone, state = path.stem.split("_")
        again = solved(path)
        mine = [row for row in rows if (row["zone"], row["state"]) == (zone, state)]
        assert {row["joined"] for row in mine} == set(again)
        scale = max(float(row["flow_in"]) for row in mine)
        for row in mine:
            for key, value in again[row["joined"]].items():
                slack = 0.005 * (scale if key in ("flow_out", "velocity_out") else 0.0) + 1e-3
                assert float(row[key]) == pytest.approx(value, rel=0.005, abs=slack), key


def test_print_and_drawing(plane: Run) -> None:
    """Read back by a PDF reader, a picture reader and a DXF reader of their own."""
    import ezdxf
    import pypdf
    from PIL import Image

    pages = [page.extract_text() for page in pypdf.PdfReader(plane.out / "zones.pdf").pages]
    for words in (
        "Design checks", "Zone Z1", "Zone Z2", "Profile through", "Commissioning sheet, Z1",
        "Fault finder", "Air and vacuum release", "Loading of the ground",
    ):  # fmt: skip
        assert any(words in page for page in pages), words
    assert "1 in = " in pages[0]
    assert "Local code, the permit" in " ".join(pages[0].split())
    assert Image.open(plane.out / "zones.png").size[0] > 2000
    document = ezdxf.readfile(plane.out / "zones.dxf")
    count: dict[str, int] = {}
    for entity in document.modelspace().query("POLYLINE"):
        count[entity.dxf.layer] = count.get(entity.dxf.layer, 0) + 1
    assert count["C-SSWR-ZN01"] + count["C-SSWR-ZN02"] == 10
    assert {"C-SSWR-SPLY", "C-SSWR-RETN", "C-SSWR-BLNK"} <= set(count)
    assert document.header["$INSUNITS"] == 2


def test_commissioning_and_faults(plane: Run) -> None:
    readings = plane.rows("commissioning.csv")
    assert {(row["zone"], row["state"]) for row in readings} == {
        (zone, state) for zone in ("Z1", "Z2") for state in ("dose", "flush")
    }
    for row in readings:
        assert float(row["least"]) <= float(row["expected"]) <= float(row["most"])
    faults = plane.rows("faults.csv")
    cut = [row for row in faults if "cut through" in row["fault"] and row["state"] == "dose"]
    assert all(float(row["change"]) > 0.1 for row in cut)
    shut = [row for row in faults if "both ends" in row["fault"] and row["state"] == "dose"]
    assert all(float(row["change"]) < -0.1 for row in shut)


def test_loading_on_a_plane(plane: Run) -> None:
    """Hand-derived: Q / A over the bed, and Q / W along the lower edge of a plane."""
    loading = plane.rows("loading.csv")
    assert len(loading) == 290
    assert sum(float(row["daily"]) for row in loading) == pytest.approx(200.0, abs=0.01)
    assert sum(float(row["area"]) for row in loading) == pytest.approx(1200.0, abs=0.1)
    along = plane.rows("linear_loading.csv")
    width = sum(float(row["width"]) for row in along)
    carried = sum(float(row["width"]) * float(row["linear_loading"]) for row in along)
    assert width == pytest.approx(60.0, rel=0.01)
    assert carried / width == pytest.approx(200.0 / 60.0, rel=0.01)


def test_same_bytes_and_nothing_stray_on_standard_output(plane: Run, tmp_path: Path) -> None:
    """In a process of its own, where libraries in C write on the real standard output."""
    out = tmp_path / "again"
    done = subprocess.run(
        [sys.executable, "-m", "dripfield", "zones", str(plane.site), "--out", str(out)],
        check=True,
        capture_output=True,
        text=True,
        env={**os.environ, CORES: "8", "PYTHONHASHSEED": "7", "TZ": "UTC7", "COLUMNS": "80"},
        timeout=300,
    )
    assert done.stderr == ""
    said = done.stdout.split("\nWritten into")[0]
    assert said == plane.result.output.split("\nWritten into")[0]
    files = [path.relative_to(plane.out) for path in plane.out.rglob("*") if path.is_file()]
    assert sorted(files) == sorted(
        path.relative_to(out) for path in out.rglob("*") if path.is_file()
    )
    assert [
        name for name in files if (out / name).read_bytes() != (plane.out / name).read_bytes()
    ] == []
