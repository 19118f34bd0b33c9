"""Point clouds thinned to the bed, LAS files written with laspy."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import laspy
import numpy as np
import pytest
from shapely import box

from dripfield.core.units import Unit
from dripfield.survey.read.cloud import thin

BED = box(1000, 2000, 1100, 2050)
SCALE = 0.001


def ground(xy):
    return 100.0 + 0.03 * (xy[:, 0] - 1000) + 0.01 * (xy[:, 1] - 2000)


def cloud(n: int, seed: int = 1):
    """Points over a plane: two of three on it, the rest up to 8 above it."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform((900, 1900), (1200, 2150), (n, 2)).round(3)
    above = np.where(rng.random(n) < 1 / 3, rng.uniform(0.5, 8.0, n), 0.0)
    return np.column_stack((xy, (ground(xy) + above).round(3))), above == 0.0


def write_las(path: Path, xyz, on_ground=None, crs: str | None = None) -> Path:
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.offsets, header.scales = np.floor(xyz.min(axis=0)), np.full(3, SCALE)
    if crs is not None:
        from pyproj import CRS

        header.add_crs(CRS(crs))
    las = laspy.LasData(header)
    las.x, las.y, las.z = xyz.T
    if on_ground is not None:
        las.classification = np.where(on_ground, 2, 5).astype(np.uint8)
    las.write(path)
    return path


def test_ground_class_is_used_where_there_is_one(tmp_path, read):
    xyz, on_ground = cloud(60_000)
    survey = read(write_las(tmp_path / "a.las", xyz, on_ground), given={"around": BED}, cell=5.0)
    assert np.abs(survey.xyz[:, 2] - ground(survey.xyz)).max() <= SCALE  # no vegetation
    # 5 cells of 5 ft or a fifth of 100 ft: 25 ft around the bed
    assert survey.xyz[:, :2].min(axis=0) == pytest.approx([975, 1975], abs=5)
    assert survey.xyz[:, :2].max(axis=0) == pytest.approx([1125, 2075], abs=5)
    inside = ((xyz[:, :2] >= (975, 1975)) & (xyz[:, :2] <= (1125, 2075))).all(axis=1)
    assert survey.notes == (
        f"a.las: 60,000 points, {inside.sum():,} around the bed, thinned to 600: the median "
        "ground point of each 5 ft cell",
    )


def test_without_classes_the_lowest_of_each_cell(tmp_path, read):
    xyz, _ = cloud(60_000)
    survey = read(write_las(tmp_path / "a.las", xyz), given={"around": BED}, cell=5.0)
    assert "the lowest point of each 5 ft cell" in survey.notes[0]
    cells = np.floor((survey.xyz[:, :2] - (975, 1975)) / 5.0)
    assert len(np.unique(cells, axis=0)) == len(survey.xyz) == 600
    for (column, row), z in zip(cells[:50], survey.xyz[:50, 2], strict=True):  # brute force
        low = np.array((975 + 5 * column, 1975 + 5 * row))
        members = ((xyz[:, :2] >= low) & (xyz[:, :2] < low + 5)).all(axis=1)
        assert z == pytest.approx(xyz[members, 2].min(), abs=1e-9)


def test_text_clouds_are_thinned_when_large(tmp_path, read, monkeypatch):
    monkeypatch.setattr("dripfield.survey.read.survey_file._LARGE_XYZ", 1000)
    monkeypatch.setattr("dripfield.survey.read.cloud.CHUNK", 700)
    xyz, _ = cloud(5000)
    path = tmp_path / "a.xyz"
    np.savetxt(path, xyz, fmt="%.3f")
    from_text = read(path, given={"around": BED}, cell=5.0)
    from_las = read(write_las(tmp_path / "a.las", xyz), given={"around": BED}, cell=5.0)
    assert np.allclose(from_text.xyz, from_las.xyz, atol=SCALE / 2)
    whole = read(path, cell=5.0)  # no bed: the extent of the cloud
    assert np.ptp(whole.xyz[:, 0]) > 290


def test_text_clouds_name_the_bad_row(tmp_path, refusal, monkeypatch):
    monkeypatch.setattr("dripfield.survey.read.survey_file._LARGE_XYZ", 1000)
    monkeypatch.setattr("dripfield.survey.read.cloud.CHUNK", 700)
    rows = ["x,y,z", *(f"{i},{i},5.5" for i in range(2000))]
    rows[1500] = "1500,12°30'00\",5.5"
    path = tmp_path / "a.xyz"
    path.write_text("\n".join(rows) + "\n")
    assert refusal(path) == (
        "a.xyz, row 1501, northing: '12°30'00\"' is degrees, minutes and seconds; write decimal "
        "degrees or coordinates"
    )


def test_refusals(tmp_path, refusal):
    xyz, _ = cloud(3000)
    path = write_las(tmp_path / "a.las", xyz)
    content = path.read_bytes()
    assert refusal(path, given={"around": box(0, 0, 9, 9)}) == (
        "a.las: none of its 3,000 points lies around the bed (northing -10 to 19, easting -10 to "
        "19); check the cloud's coordinates and the order of its columns"
    )
    damaged = "the LAS file is damaged or cut short (the header is cut short); export it again"
    cut = len(content) // 2
    whole = (cut - 375) // 30  # bytes of a 1.4 header and of a point of format 6
    stops = "it stops after {:,} of 3,000 points; copy or export it again"
    for length, line in (
        (100, damaged),
        (cut, stops.format(whole)),
        (len(content) - 1, stops.format(2999)),
    ):
        (tmp_path / "cut.las").write_bytes(content[:length])
        assert refusal(tmp_path / "cut.las") == f"cut.las: {line}"
    (tmp_path / "not.las").write_text("1,2,3,4,5\n")
    assert refusal(tmp_path / "not.las") == "not.las: it is no LAS file; export it again"
    metric = write_las(tmp_path / "m.las", xyz, crs="EPSG:26910")
    assert refusal(metric) == (
        "m.las: the cloud is in m (NAD83 / UTM zone 10N) and the site in ft (international); carry "
        "the cloud into the site's system first"
    )
    assert refusal(metric, Unit.METRE, given={"crs": "EPSG:26911"}) == (
        "m.las: the cloud is in NAD83 / UTM zone 10N and the site in NAD83 / UTM zone 11N; carry "
        "the cloud into the site's system first"
    )


@pytest.mark.skipif(bool(laspy.LazBackend.detect_available()), reason="a LAZ decoder is installed")
def test_laz_without_a_decoder_names_the_package(tmp_path, refusal):
    content = bytearray(write_las(tmp_path / "a.las", cloud(100)[0]).read_bytes())
    content[104] |= 0x80  # the format byte's mark of compressed points
    (tmp_path / "a.laz").write_bytes(content)
    assert refusal(tmp_path / "a.laz") == (
        "a.laz: its points are compressed (LAZ) and no decoder is installed; run: pip install "
        '"laspy[lazrs]", or export it as LAS'
    )


def test_too_many_points_or_cells(tmp_path, monkeypatch):
    from dripfield.core.errors import InputError

    xyz, on_ground = cloud(20_000)
    extent = (900.0, 1900.0, 1200.0, 2150.0)
    monkeypatch.setattr("dripfield.survey.read.cloud.MOST_CELLS", 100)
    thinned = thin(iter([(xyz, on_ground)]), extent, 1.0, Path("a.las"))
    assert thinned.cell == pytest.approx(np.sqrt(300 * 250 / 100))
    assert len(thinned.xyz) <= 132
    monkeypatch.setattr("dripfield.survey.read.cloud.MOST_KEPT", 10_000)
    with pytest.raises(InputError) as caught:
        thin(iter([(xyz, on_ground)]), extent, 1.0, Path("a.las"))
    assert str(caught.value) == (
        "a.las: more than 0 million points lie around the bed; thin the cloud first"
    )


def test_memory_does_not_grow_with_what_lies_outside():
    """A hundred chunks of which a hundredth is kept: traced peak stays below two chunks or so."""
    rng = np.random.default_rng(0)

    def pieces():
        for _ in range(100):
            xyz = rng.uniform(0, 1000, (20_000, 3))
            yield xyz, np.zeros(20_000, dtype=bool)

    tracemalloc.start()
    thinned = thin(pieces(), (0.0, 0.0, 100.0, 100.0), 5.0, Path("a.las"))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert thinned.read == 2_000_000
    assert peak < 6 * 20_000 * 24  # bytes; all points together would be 48,000,000
