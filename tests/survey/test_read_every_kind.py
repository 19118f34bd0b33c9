"""Every kind of survey file: the same shots give the same surface, damage is never swallowed."""

from __future__ import annotations

import json
import random
from pathlib import Path

import ezdxf
import laspy
import numpy as np
import pyogrio
import pytest
import shapely

from dripfield.core.errors import InputError
from dripfield.ground.triangles.tin import Surface

N = 60
CRS = "EPSG:6559"


def shots():
    """Invented: 60 shots on a curved slope, coordinates to the hundredth."""
    rng = np.random.default_rng(60)
    xy = (np.array((7663000.0, 675000.0)) + rng.uniform(0, 120, (N, 2))).round(2)
    near = xy - (7663000, 675000)
    z = 210.0 + 0.05 * near[:, 0] - 0.08 * near[:, 1] + 0.0004 * near[:, 0] * near[:, 1]
    return np.column_stack((xy, z.round(2)))


XYZ = shots()
TEXTS = [[f"{value:.2f}" for value in row] for row in XYZ.tolist()]


def delimited(order: str, sign: str, header: bool):
    def write(folder: Path) -> Path:
        names = {"P": "point", "N": "northing", "E": "easting", "Z": "elevation", "D": "code"}
        rows = [sign.join(names[letter] for letter in order)] if header else []
        for i, (e, n, z) in enumerate(TEXTS, 1):
            values = {"P": str(i), "N": n, "E": e, "Z": z, "D": "GS"}
            rows.append(sign.join(values[letter] for letter in order))
        path = folder / "survey.txt"
        path.write_text("\n".join(rows) + "\n")
        return path

    return write


def dxf(how: str):
    def write(folder: Path) -> Path:
        document = ezdxf.new()
        document.header["$INSUNITS"] = 2
        space = document.modelspace()
        block = document.blocks.new("SPOT")
        block.add_circle((0, 0), 0.5)
        for (x, y, z), (_, _, text) in zip(XYZ.tolist(), TEXTS, strict=True):
            if how == "points":
                space.add_point((x, y, z))
            elif how == "symbols":
                space.add_blockref("SPOT", (x, y, z))
            else:
                space.add_text(text).set_placement((x, y))
        document.saveas(folder / "survey.dxf")
        return folder / "survey.dxf"

    return write


def landxml(tin: bool):
    def write(folder: Path) -> Path:
        body = '<LandXML version="1.2"><Units><Imperial linearUnit="foot"/></Units>'
        if tin:
            points = "".join(f'<P id="{i}">{n} {e} {z}</P>' for i, (e, n, z) in enumerate(TEXTS))
            faces = "".join(
                f"<F>{a} {b} {c}</F>" for a, b, c in Surface.from_points(XYZ).triangles.tolist()
            )
            body += (
                '<Surfaces><Surface name="s"><Definition surfType="TIN">'
                f"<Pnts>{points}</Pnts><Faces>{faces}</Faces></Definition></Surface></Surfaces>"
            )
        else:
            points = "".join(f'<CgPoint name="{i}">{n} {e} {z}</CgPoint>'
                             for i, (e, n, z) in enumerate(TEXTS))  # fmt: skip
            body += f"<CgPoints>{points}</CgPoints>"
        path = folder / "survey.xml"
        path.write_text(body + "</LandXML>")
        return path

    return write


def geojson(folder: Path) -> Path:
    features = [
        {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": place}}
        for place in XYZ.tolist()
    ]
    path = folder / "survey.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return path


def shapefile(folder: Path) -> Path:
    pyogrio.raw.write(
        folder / "survey.shp",
        geometry=shapely.to_wkb(shapely.points(XYZ), output_dimension=3),
        field_data=[np.arange(N)],
        fields=np.array(["number"]),
        geometry_type="Point Z",
        crs=CRS,
    )
    return folder / "survey.shp"


def las(folder: Path) -> Path:
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.offsets, header.scales = np.floor(XYZ.min(axis=0)), np.full(3, 0.01)
    data = laspy.LasData(header)
    data.x, data.y, data.z = XYZ.T
    data.write(folder / "survey.las")
    return folder / "survey.las"


def level_book(folder: Path) -> Path:
    """Rods read against a mark at 215.00, the instrument 5.00 above it."""
    rows = ["point,backsight,intermediate,foresight,northing,easting,elevation", "BM,5,,,,,215"]
    rows += [f"{i},,{220 - float(z):.2f},,{n},{e}," for i, (e, n, z) in enumerate(TEXTS)]
    path = folder / "survey.csv"
    path.write_text("\n".join(rows) + "\n")
    return path


KINDS = {
    "pnezd": (delimited("PNEZD", ",", header=False), {}),
    "penzd": (delimited("PENZD", "\t", header=False), {"order": "PENZD"}),
    "header": (delimited("DZEN", ";", header=True), {}),
    "xyz": (delimited("ENZ", " ", header=False), {"order": "XYZ"}),
    "dxf-points": (dxf("points"), {}),
    "dxf-symbols": (dxf("symbols"), {}),
    "dxf-texts": (dxf("texts"), {}),
    "landxml": (landxml(tin=False), {}),
    "landxml-tin": (landxml(tin=True), {}),
    "geojson": (geojson, {}),
    "shapefile": (shapefile, {}),
    "las": (las, {"cell": 0.3}),
    "level-book": (level_book, {}),
}
EVERY_KIND = pytest.mark.parametrize(("write", "options"), KINDS.values(), ids=KINDS)


@EVERY_KIND
def test_same_shots_same_surface(tmp_path, read, write, options):
    survey = read(write(tmp_path), given={"crs": CRS}, **options)
    order = np.lexsort(survey.xyz.T)
    expected = XYZ[np.lexsort(XYZ.T)]
    assert np.abs(survey.xyz[order] - expected).max() < 1e-6  # written to the hundredth
    rng = np.random.default_rng(1)
    places = rng.uniform(XYZ[:, :2].min(axis=0), XYZ[:, :2].max(axis=0), (400, 2))
    own = Surface(survey.xyz, survey.faces) if survey.faces is not None else (
        Surface.from_points(survey.xyz)
    )  # fmt: skip
    one, other = own.elevation(places), Surface.from_points(XYZ).elevation(places)
    assert (np.isnan(one) == np.isnan(other)).all()
    assert np.nanmax(np.abs(one - other)) < 1e-6


@EVERY_KIND
def test_damage_is_read_past_or_refused_in_one_line(tmp_path, read, write, options):
    """Cut, changed, added and lost bytes never give anything but a survey or one line."""
    path = write(tmp_path)
    whole = path.read_bytes()
    rng = random.Random(path.name)
    lines = []
    for damage in 4 * ["cut", "change", "add", "lose"]:
        content, at = bytearray(whole), rng.randrange(len(whole))
        if damage == "cut":
            del content[at:]
        elif damage == "change":
            for _ in range(10):
                content[rng.randrange(len(content))] = rng.randrange(256)
        elif damage == "add":
            content[at:at] = rng.choice([b"\0", b"\xff", b'"', b"<", b",,", b"1e999", b"\n\n"])
        else:
            del content[at : at + rng.randrange(1, 500)]
        path.write_bytes(content)
        try:
            survey = read(path, given={"crs": CRS}, **options)
        except InputError as refused:
            lines.append(str(refused))
        else:
            assert np.isfinite(survey.xyz).all()
    assert not any("\n" in line for line in lines)
