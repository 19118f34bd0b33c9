"""The sample sites reviewed with their own drawings and tables, as laid out by the engine."""

from __future__ import annotations

import csv
import json
import math
import shutil
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from click.testing import CliRunner
from ezdxf.math import Matrix44
from pyproj import Transformer
from scipy.interpolate import CubicSpline

from dripfield.cli import main

SITES = Path(__file__).parents[2] / "sample_sites"


def run(*arguments: object) -> int:
    result = CliRunner().invoke(main, [str(one) for one in arguments])
    assert isinstance(result.exception, SystemExit | None), result.exception
    return result.exit_code


def verdicts(folder: Path) -> dict[str, dict[str, str]]:
    with (folder / "comparison.csv").open(encoding="utf-8", newline="") as stream:
        return {row["lateral"] or row["run"]: row for row in csv.DictReader(stream)}


@pytest.fixture(scope="module")
def nose(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The layout of the nose: bent laterals, some in two pieces beside a rock."""
    out = tmp_path_factory.mktemp("nose")
    assert run("layout", SITES / "nose", "--out", out) == 0
    return out


@pytest.mark.usefixtures("undrawn")
def test_own_drawing_turned_at_paper_scale_and_changed(nose: Path, tmp_path: Path) -> None:
    """One lateral moved 0.70 north and 0.70 east, another taken out: just these are found."""
    document = ezdxf.readfile(nose / "staking.dxf")
    space = document.modelspace()
    laterals = list(space.query("LWPOLYLINE[layer=='C-SSWR-LATL']"))
    names = [one.get_xdata("DRIPFIELD")[0].value.removeprefix("lateral=") for one in laterals]
    laterals[9].translate(0.7, 0.7, 0.0)
    space.delete_entity(laterals[4])
    for one in laterals[12::3]:
        one.explode()
    x, y = laterals[0][0][:2]
    matrix = (
        Matrix44.translate(-x, -y, 0.0)
        @ Matrix44.scale(1.0 / 20.0, 1.0 / 20.0, 1.0)
        @ Matrix44.z_rotate(1.1)
    )
    for entity in list(space):
        if entity.dxftype() == "HATCH":
            space.delete_entity(entity)
        else:
            entity.transform(matrix)
    document.saveas(tmp_path / "approved.dxf")
    code = run("compare", SITES / "nose", "--plan", tmp_path / "approved.dxf", "--out", tmp_path)
    assert code == 4
    found = verdicts(tmp_path)
    assert found[names[4]]["verdict"] == "not on plan"
    assert found[names[9]]["verdict"] == "does not conform"
    moved = math.hypot(0.7, 0.7)
    assert 0.7 <= float(found[names[9]]["offset_max"]) <= moved + 0.01
    others = [name for name in names if name not in (names[4], names[9])]
    assert {found[name]["verdict"] for name in others} == {"conforms"}
    assert [found[name]["run"] for name in others] == others


@pytest.mark.usefixtures("undrawn")
def test_own_table_conforms(nose: Path, tmp_path: Path) -> None:
    plan = nose / "laterals.csv"
    assert run("compare", SITES / "nose", "--plan", plan, "--out", tmp_path) == 0
    assert {row["verdict"] for row in verdicts(tmp_path).values()} == {"conforms"}


def bent(places: list[tuple[float, float]]) -> np.ndarray:
    """Points of a thin tube bent through stakes: a natural cubic spline (SciPy)."""
    xy = np.array(places)
    chord = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))))
    spline = CubicSpline(chord, xy - xy[0], bc_type="natural")
    return spline(np.linspace(0.0, chord[-1], 8 * len(xy))) + xy[0]


@pytest.mark.usefixtures("undrawn")
def test_own_laterals_in_longitude_and_latitude(nose: Path, tmp_path: Path) -> None:
    """GeoJSON as RFC 7946 has it, made with pyproj."""
    back = Transformer.from_crs("EPSG:6595", "EPSG:4326", always_xy=True)
    stakes: dict[str, list[tuple[float, float]]] = {}
    with (nose / "stakes.csv").open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            place = (float(row["easting"]), float(row["northing"]))
            stakes.setdefault(row["description"].split()[0], []).append(place)
    features = [
        {
            "type": "Feature",
            "properties": {"name": name},
            "geometry": {
                "type": "LineString",
                "coordinates": [list(back.transform(*place)) for place in bent(places)],
            },
        }
        for name, places in stakes.items()
    ]
    plan = tmp_path / "plan.geojson"
    plan.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    assert run("compare", SITES / "nose", "--plan", plan, "--out", tmp_path) == 0
    assert max(float(row["offset_max"]) for row in verdicts(tmp_path).values()) < 0.1
    for feature in features:
        places = [place[::-1] for place in feature["geometry"]["coordinates"]]
        feature["geometry"]["coordinates"] = places
    plan.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    ran = CliRunner().invoke(
        main, ["compare", str(SITES / "nose"), "--plan", str(plan), "--out", str(tmp_path / "no")]
    )
    assert (ran.exit_code, ran.stderr) == (
        2,
        "error: plan.geojson: the coordinates are latitude, longitude and fall on the site only as "
        "longitude, latitude, the order of GeoJSON; exchange the two numbers of each position\n",
    )


@pytest.mark.usefixtures("undrawn")
def test_stakes_shot_as_they_stand(nose: Path, tmp_path: Path) -> None:
    """Stakes up to 25 ft apart prove what lies between only where the site says so."""
    stakes = nose / "stakes.csv"
    assert run("record", SITES / "nose", "--shots", stakes, "--out", tmp_path) == 4
    verdict = json.loads((tmp_path / "verdict.json").read_text(encoding="utf-8"))
    assert verdict["verdict"] == "not proven"
    site = shutil.copytree(SITES / "nose", tmp_path / "site")
    with (site / "site.toml").open("a", encoding="utf-8") as stream:
        stream.write("\n[review]\nshot_spacing = 25.0\n")
    assert run("record", site, "--shots", stakes, "--out", tmp_path) == 0
    with (tmp_path / "record.csv").open(encoding="utf-8", newline="") as stream:
        table = list(csv.DictReader(stream))
    assert {row["verdict"] for row in table} == {"conforms"}
    # stakes stand where a tube bent through them follows the lateral to a twentieth of 2 ft
    assert np.max([float(row["offset_max"]) for row in table]) < 0.10


@pytest.mark.usefixtures("undrawn")
def test_another_method_is_another_layout(nose: Path, tmp_path: Path) -> None:
    straight = tmp_path / "straight"
    assert run("layout", SITES / "nose", "--method", "straight", "--out", straight) == 0
    assert run("compare", SITES / "nose", nose, "--out", tmp_path / "same") == 0
    assert run("compare", nose, straight, "--out", tmp_path / "none") == 2
    assert run("compare", SITES / "nose", straight, "--out", tmp_path / "other") == 4
    assert {row["verdict"] for row in verdicts(tmp_path / "other").values()} >= {"does not conform"}


@pytest.mark.usefixtures("undrawn")
def test_a_written_layout_is_read_to_its_last_digit(nose: Path, tmp_path: Path) -> None:
    """By its own file; where only the tables were kept, by tubes bent through the stakes."""
    tables = tmp_path / "tables"
    tables.mkdir()
    for name in ("laterals.csv", "stakes.csv"):
        shutil.copy(nose / name, tables)
    code = json.loads((nose / "layout.json").read_text(encoding="utf-8"))["code"]
    gaps = {}
    for folder in (nose, tables):
        out = tmp_path / f"{folder.name} compared"
        assert run("compare", SITES / "nose", folder, "--out", out) == 0
        with (out / "totals.csv").open(encoding="utf-8", newline="") as stream:
            totals = {row["item"]: row for row in csv.DictReader(stream)}
        gaps[folder] = float(totals["tubing"]["difference"])
        page = (out / "comparison.html").read_text(encoding="utf-8")
        assert (f"Layout {code}" in page) == (folder == nose)
    assert gaps[nose] == 0.0
    assert 0.0 < abs(gaps[tables]) < 5.0
