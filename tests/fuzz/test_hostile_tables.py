"""Tables, settings and plans beyond any measure: refused in one line, soon and in little memory."""

from __future__ import annotations

import io
import json
import tracemalloc
import zipfile
from pathlib import Path

import numpy as np
import pytest
from readers import XYZ, boundary, common_points, plan, seeds, settings, survey

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.staking.rod import plan_setups
from dripfield.survey.doubt.clean import clean, same_place
from dripfield.survey.shots import Survey


def refusal(read, path: Path, content: str | bytes) -> str:
    """The line, and no more memory than ten times the file and 100 MB."""
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    tracemalloc.start()
    try:
        with pytest.raises(InputError) as caught:
            read(path)
        assert tracemalloc.get_traced_memory()[1] < 1e8 + 12 * len(content)
    finally:
        tracemalloc.stop()
    return str(caught.value)


def test_pnezd_of_a_survey_without_descriptions(tmp_path: Path) -> None:
    rows = [f"{i},{n},{e},{z}" for i, (e, n, z) in enumerate(XYZ.tolist(), 1)]
    (tmp_path / "s.txt").write_text("\n".join(rows) + "\n")
    found = survey(tmp_path / "s.txt", order="PNEZD")
    assert found.xyz.tolist() == XYZ.tolist()
    assert set(found.descriptions) == {""}


def test_an_order_of_more_columns_than_there_are(tmp_path: Path) -> None:
    line = refusal(
        lambda p: survey(p, order="PNED-Z"), tmp_path / "s.txt", "1,2,3,4\n2,3,4,5\n3,4,4,5\n"
    )
    assert line == "s.txt, row 1: the row has 4 fields and no elevation; fill the row or delete it"


def test_far_off_coordinates(tmp_path: Path) -> None:
    far = "which is no place on earth; correct it or delete it"
    assert refusal(survey, tmp_path / "s.csv", "1,1e200,3,4\n2,3,4,5\n3,4,4,6\n") == (
        f"s.csv, row 1: it has the coordinate 1e+200, {far}"
    )
    ring = "northing,easting\n0,0\n0,1e200\n5,5\n"
    assert refusal(boundary, tmp_path / "b.csv", ring) == (
        f"b.csv, row 3: it has the coordinate 1e+200, {far}"
    )


def test_a_ring_of_blank_rows(tmp_path: Path) -> None:
    line = "b.csv: no points below the header; add a row for each point"
    for blank in ("\n\n\n", " , \n,\n \t\n", "   \n"):
        assert refusal(boundary, tmp_path / "b.csv", f"northing,easting\n{blank}") == line


def circle(corners: int, wobble: float) -> str:
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    radius = 100 + wobble * np.sin(corners / 3 * angle)
    rows = np.column_stack((radius * np.cos(angle), radius * np.sin(angle)))
    return "northing,easting\n" + "".join(f"{n:.4f},{e:.4f}\n" for n, e in rows)


def test_a_bed_of_100_000_corners(tmp_path: Path) -> None:
    """A circle within 0.005 ft needs some 2 pi / sqrt(8 h / r) = 314 chords (sagitta formula)."""
    from shapely import Polygon

    path = tmp_path / "bed.csv"
    path.write_text(circle(100_000, 0.0))
    ring, notes = boundary(path)
    assert 300 < len(ring.exterior.coords) < 800
    whole = Polygon(np.loadtxt(path, delimiter=",", skiprows=1)[:, ::-1])
    assert ring.exterior.hausdorff_distance(whole.exterior) <= 0.00501
    assert notes == (
        f"bed.csv: 100,000 corners drawn with {len(ring.exterior.coords) - 1}, none of the others "
        "farther than 0.005 ft from the ring",
    )
    line = refusal(boundary, path, circle(30_000, 1.0))
    assert "corners and at most 5,000 are taken; draw the ring with fewer" in line


TOML = {
    "dotted": ".".join(400_000 * "a") + " = 1\n",
    "tables": "".join(f"[a.b.c.d.e.f.g.h.i.j.t{i}]\n" for i in range(30_000)),
    "lists": "a = " + 100_000 * "[" + 100_000 * "]" + "\n",
    "inline": "a = " + 5000 * "{a=" + "1" + 5000 * "}" + "\n",
    "keys": "".join(f"a.b{i}.c.d = 1\n" for i in range(40_000)),
    "digits": "a = " + 4000 * "9" + "\n",
    "text": 'a = "' + 900_000 * "x" + '"\n',
    "long list": "a = [" + 100_000 * "1," + "]\n",
}


@pytest.mark.parametrize("content", TOML.values(), ids=TOML)
def test_settings_beyond_measure(tmp_path: Path, content: str) -> None:
    assert len(refusal(settings, tmp_path / "site.toml", content)) < 300


GEOJSON = {
    "digits": ('{"type": "LineString", "coordinates": [[%s, 1], [2, 2]]}' % (400 * "9"), "too long"),  # noqa: E501
    "kind": ('{"type": "Curve", "coordinates": [[0, 1], [2, 2]]}', "no geometry that can be read"),
    "none": ('{"type": "LineString", "coordinates": [[1e400, 1], [2, 2]]}', "is too large"),
    "far": ('{"type": "LineString", "coordinates": [[1e200, 1], [2, 2]]}', "no place on earth"),
    "text": ('{"type": "LineString", "coordinates": "x"}', "no geometry that can be read"),
    "mixed": ('{"type": "LineString", "coordinates": [[1], [2, 2]]}', "no geometry that can be read"),  # noqa: E501
}  # fmt: skip


@pytest.mark.parametrize(("geometry", "words"), GEOJSON.values(), ids=GEOJSON)
def test_plan_geojson(tmp_path: Path, geometry: str, words: str) -> None:
    content = '{"type": "FeatureCollection", "features": [{"geometry": ' + geometry + "}]}"
    assert words in refusal(plan, tmp_path / "plan.geojson", content)


def test_plan_geojson_of_a_length_of_400_digits(tmp_path: Path) -> None:
    content = seeds("plan-geojson")[0].decode().replace("62.4", 400 * "9", 1)
    assert "a number in it is too long" in refusal(plan, tmp_path / "plan.geojson", content)


def test_plan_tables_beyond_measure(tmp_path: Path) -> None:
    header = "run,length\n"
    path = tmp_path / "plan.csv"
    assert "20,001 rows" in refusal(plan, path, header + 1_500_000 * "L1,60\n")
    wide = header + 5000 * "," + "\n"
    assert "columns and at most 1,000" in refusal(plan, path, wide)
    assert refusal(plan, path, f"{header}{150 * 'L'}{100 * 'x'},60\n") == (
        f"plan.csv, row 2: the name '{20 * 'L'}' … has 250 characters in a name and at most 200 "
        "are taken; shorten it"
    )
    assert "a cell has 100,000 characters" in refusal(plan, path, f"{header}{100_000 * 'x'},60\n")
    many = header + "".join(f"L{i},60\n" for i in range(3000))
    assert "it has 3,000 runs and at most 2,000 are taken" in refusal(plan, path, many)


def workbook(old: bytes, new: bytes) -> bytes:
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(seeds("plan-xlsx")[0])) as whole,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        for name in whole.namelist():
            data = whole.read(name)
            if "sheet1" in name:
                assert old in data
                data = data.replace(old, new, 1)
            archive.writestr(name, data)
    return out.getvalue()


BOOKS = {
    "zipped": (b"</sheetData>", b"</sheetData>" + 250_000_000 * b" ", "bytes unzipped and at most"),
    "columns": (b'r="A2"', b'r="XFD2"', "16,384 columns and at most 1,000"),
    "rows": (b'r="A3"', b'r="A1048576"', "1,048,576 rows and at most 20,000"),
    "merged": (b'ref="A1:D1"', b'ref="A1:ALL20000"', "cells and at most 1,000,000"),
    "entities": (b"<worksheet", b'<!DOCTYPE a [<!ENTITY b "c">]><worksheet', "a document type"),
}


@pytest.mark.parametrize(("old", "new", "words"), BOOKS.values(), ids=BOOKS)
def test_workbooks_that_unfold(tmp_path: Path, old: bytes, new: bytes, words: str) -> None:
    path = tmp_path / "plan.xlsx"
    path.write_bytes(workbook(old, new))
    tracemalloc.start()
    try:
        with pytest.raises(InputError) as caught:
            plan(path)
        assert tracemalloc.get_traced_memory()[1] < 1e8
    finally:
        tracemalloc.stop()
    assert words in str(caught.value)


def test_common_points_with_a_field_of_no_end(tmp_path: Path) -> None:
    content = "name,plan_x,plan_y,northing,easting\n" + 200_000 * "x" + ",1,2,3,4\n"
    assert "field larger than field limit" in refusal(common_points, tmp_path / "c.csv", content)


def logged(n: int, spread: float) -> Survey:
    """A receiver left logging: n shots about one place."""
    rng = np.random.default_rng(1)
    xyz = np.column_stack((rng.uniform(0, spread, (n, 2)), np.full(n, 100.0)))
    return Survey(xyz, tuple(map(str, range(n))), n * ("",), np.arange(n), Path("s.csv"))


@pytest.mark.parametrize("spread", [0.0, 0.02, 0.5])
def test_shots_at_one_place_take_memory_in_proportion(spread: float) -> None:
    survey = logged(20_000, spread)
    tracemalloc.start()
    found = clean(survey, Unit.FOOT)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 5e7  # a list of all pairs would take 3.2e9
    assert len(found.xyz) < 1000
    assert all(len(note) < 400 for note in found.notes)


def test_crowded_and_ordinary_grouping_agree(monkeypatch: pytest.MonkeyPatch) -> None:
    import dripfield.survey.doubt.clean as module

    xy = np.random.default_rng(3).uniform(0, 1, (600, 2))
    ordinary = same_place(xy, 0.05)
    monkeypatch.setattr(module, "_MOST_PAIRS", -1)
    assert same_place(xy, 0.05).tolist() == ordinary.tolist()


def test_a_benchmark_of_a_slipped_point_is_named() -> None:
    with pytest.raises(InputError) as caught:
        plan_setups(np.array([100.0, 103.0]), 10100.0, 13.0, name="BM 1")
    assert str(caught.value) == (
        "site.toml, [benchmark]: the benchmark BM 1 at 10,100.00 ft lies 10,000.00 ft from what is "
        "to be read (100.00 ft to 103.00 ft); correct the elevation of BM 1 under [benchmark] or "
        "rod_length (13.00 ft) under [crew]: at most 20 set-ups of the laser are planned"
    )
    assert len(plan_setups(np.array([100.0, 103.0]), 250.0, 13.0)) < 21
    with pytest.raises(InputError, match="rod_length"):
        plan_setups(np.array([100.0, 103.0]), 101.0, 0.001)


def test_every_ceiling_is_documented_and_used() -> None:
    from dripfield.core.limits import LIMITS

    root = Path(__file__).parents[2]
    code = "".join(path.read_text() for path in sorted((root / "dripfield").rglob("*.py")))
    page = (root / "DEVELOPERS.md").read_text()
    for name, limit in LIMITS.items():
        assert limit.most > 0
        assert code.count(f'"{name}"') >= 2, f"{name} is declared and not used"
        assert f"| {name} | {limit.most:,} |" in page


def test_json_that_is_no_geojson(tmp_path: Path) -> None:
    for content in (json.dumps(5), json.dumps("x"), "[]", '{"type": 3}'):
        refusal(survey, tmp_path / "s.geojson", content)
        refusal(plan, tmp_path / "p.geojson", content)
