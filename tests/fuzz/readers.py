"""Every reader, with whole files that it accepts: what fuzzing starts from."""

from __future__ import annotations

import functools
import io
import json
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from dripfield.core.units import Unit
from dripfield.site.schema.survey import SurveyTable

XYZ = np.array([(2000 + 10 * i, 5000 + 10 * j, 100 + i + 0.3 * j * i) for i in range(6)
                for j in range(6)], dtype=float)  # fmt: skip
SITE = """[site]
name = "Fuzz"
units = "ft"
crs = "EPSG:6559"
[survey]
points = "survey.csv"
order = "PNEZD"
no_reading = "skip"
[bed]
boundary = "bed.csv"
keepouts = ["rock.csv"]
[[bed.setbacks]]
name = "Well"
points = "well.csv"
distance = 100.0
[layout]
spacing = 2.0
method = "contour"
[benchmark]
name = "BM"
elevation = 101.0
"""


@dataclass(frozen=True)
class Reader:
    """One way in: the name its file has, whole files, and the function that reads it."""

    file: str
    seeds: Callable[[], list[bytes]]
    read: Callable[[Path], Any]


def survey(path: Path, **options: Any) -> Any:
    from dripfield.survey.read.survey_file import read_survey

    crs = "EPSG:6559" if path.suffix in (".gpkg", ".fgb", ".kml") else None
    return read_survey(path, SurveyTable(points=path.name, **options), Unit.FOOT, crs=crs)


def plan(path: Path) -> Any:
    from shapely import box

    from dripfield.review.model.plan import PlanOptions
    from dripfield.review.read.read_plan import read_plan

    site = SimpleNamespace(
        unit=Unit.FOOT,
        bed=SimpleNamespace(boundary=box(2000, 5000, 2050, 5050)),
        file=SimpleNamespace(site=SimpleNamespace(crs=None)),
    )
    return read_plan(path, site, PlanOptions())  # type: ignore[arg-type]


def boundary(path: Path) -> Any:
    from dripfield.site.boundary import read_boundary

    layer = "BED" if path.suffix == ".dxf" else None
    return read_boundary(path, Unit.FOOT, layer=layer, crs="EPSG:6559")


def settings(path: Path) -> Any:
    from dripfield.site.settings import read_settings

    return read_settings(path)


def common_points(path: Path) -> Any:
    from dripfield.review.read.common_points import read_common_points

    return read_common_points(path)


def takeoff(path: Path) -> Any:
    from dripfield.preparation.prices import read_takeoff

    return read_takeoff(path)


def readiness(path: Path) -> Any:
    from dripfield.preparation.readiness_file import read_readiness

    return read_readiness(path)


def _rows(header: str, order: str, sign: str = ",") -> bytes:
    lines = [header] if header else []
    for i, (e, n, z) in enumerate(XYZ.tolist(), 1):
        fields = {"P": f"{i}", "N": f"{n}", "E": f"{e}", "Z": f"{z:.2f}", "D": "GS"}
        lines.append(sign.join(fields[letter] for letter in order))
    return ("\n".join(lines) + "\n").encode()


def _points() -> list[bytes]:
    return [
        _rows("point,northing,easting,elevation,description", "PNEZD"),
        _rows("", "PNEZD"),
        _rows("# Point;Northing [ft];Easting [ft];Elev (ft)", "PNEZ", ";"),
        _rows("name\tlat\tlon\tz", "PNEZ", "\t"),
    ]


def _level_book() -> list[bytes]:
    rows = ["point,backsight,intermediate,foresight,northing,easting,elevation", "BM,5,,,,,101"]
    rows += [f"{i},,{4 + i / 10},,{5000 + i},{2000 + i * i}," for i in range(9)]
    rows += ["TP,3.2,,4.1,,,", "20,,5,,5010,2010,", "BM,,,4.1,,,"]
    return ["\n".join(rows).encode() + b"\n"]


def _drawings() -> list[bytes]:
    import ezdxf

    found = []
    for binary in (False, True):
        document = ezdxf.new(setup=False)
        document.header["$INSUNITS"] = 2
        space = document.modelspace()
        block = document.blocks.new("SPOT")
        block.add_circle((0, 0), 0.5)
        block.add_attdef("ELEV", (0, 0))
        inner = document.blocks.new("GROUP")
        inner.add_point((1, 1, 100))
        inner.add_blockref("SPOT", (2, 2, 101))
        for x, y, z in XYZ[:9].tolist():
            space.add_point((x, y, z))
        space.add_blockref("GROUP", (2100, 5100, 1))
        space.add_blockref("SPOT", (2010, 5015, 0)).add_attrib("ELEV", "101.5")
        space.add_polyline3d(XYZ[:4].tolist(), dxfattribs={"layer": "BREAK"})
        space.add_3dface([tuple(XYZ[0]), tuple(XYZ[1]), tuple(XYZ[7])])
        for k in range(3):
            line = [(2000, 5000 + 9 * k), (2050, 5004 + 9 * k)]
            space.add_lwpolyline(line, dxfattribs={"layer": "LATERALS"})
            space.add_text(f"L0{k + 1} EL 101.2{k}", height=2).set_placement(line[0])
        space.add_arc((2000, 5030), 20, 10, 60, dxfattribs={"layer": "LATERALS"})
        ring = [(1990, 4990), (2060, 4990), (2060, 5060), (1990, 5060)]
        space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "BED"})
        space.add_mtext("Sheet 1\\PL=62.4'").set_location((2000, 5000))
        if binary:
            raw = io.BytesIO()
            document.write(raw, fmt="bin")
            found.append(raw.getvalue())
        else:
            text = io.StringIO()
            document.write(text)
            found.append(text.getvalue().encode())
    return found


def _landxml() -> list[bytes]:
    units = '<LandXML version="1.2"><Units><Imperial linearUnit="foot"/></Units>'
    points = "".join(f'<CgPoint name="{i}" code="GS">{n} {e} {z}</CgPoint>'
                     for i, (e, n, z) in enumerate(XYZ.tolist()))  # fmt: skip
    vertices = "".join(f'<P id="{i}">{n} {e} {z}</P>' for i, (e, n, z) in enumerate(XYZ.tolist()))
    faces = "".join(f"<F>{i} {i + 1} {i + 7}</F>" for i in range(28))
    surface = (
        f'<Surfaces><Surface name="s"><SourceData><Breaklines><Breakline><PntList3D>0 0 1 5 5 2'
        "</PntList3D></Breakline></Breaklines></SourceData><Definition surfType='TIN'>"
        f"<Pnts>{vertices}</Pnts><Faces>{faces}</Faces></Definition></Surface></Surfaces>"
    )
    return [
        f"{units}<CgPoints>{points}</CgPoints></LandXML>".encode(),
        f"{units}{surface}</LandXML>".encode(),
    ]


def _features(kind: str) -> list[bytes]:
    features: list[dict[str, Any]] = []
    if kind == "points":
        for i, place in enumerate(XYZ.tolist()):
            features.append({"type": "Feature", "properties": {"name": str(i), "code": "GS"},
                             "geometry": {"type": "Point", "coordinates": place}})  # fmt: skip
    elif kind == "bed":
        ring = [[2000, 5000], [2050, 5000], [2050, 5050], [2000, 5050], [2000, 5000]]
        features.append({"geometry": {"type": "Polygon", "coordinates": [ring]}})
    else:
        for i in range(4):
            line = [[2000, 5000 + 9 * i, 101], [2020, 5001 + 9 * i, 101], [2050, 5004 + 9 * i, 101]]
            features.append({"type": "Feature", "id": i, "properties": {"run": f"L{i}",
                             "length": 62.4, "elevation": 101.25},
                             "geometry": {"type": "LineString", "coordinates": line}})  # fmt: skip
    return [json.dumps({"type": "FeatureCollection", "features": features}).encode()]


def _clouds(ending: str) -> list[bytes]:
    import laspy

    found = []
    for version, form in (("1.2", 1), ("1.4", 6)):
        header = laspy.LasHeader(point_format=form, version=version)
        header.offsets, header.scales = np.zeros(3), np.full(3, 0.01)
        data = laspy.LasData(header)
        data.x, data.y, data.z = XYZ.T
        with tempfile.TemporaryDirectory() as folder:
            data.write(f"{folder}/a.{ending}")
            found.append(Path(folder, f"a.{ending}").read_bytes())
    return found


def _vector(ending: str) -> list[bytes]:
    import pyogrio
    import shapely

    with tempfile.TemporaryDirectory() as folder:
        pyogrio.raw.write(
            f"{folder}/a.{ending}", geometry=shapely.to_wkb(shapely.points(XYZ)),
            field_data=[np.arange(len(XYZ)).astype(str).astype(object)], fields=np.array(["name"]),
            geometry_type="Point Z", crs="EPSG:6559",
        )  # fmt: skip
        return [Path(folder, f"a.{ending}").read_bytes()]


def _kml() -> list[bytes]:
    marks = "".join(
        f"<Placemark><name>{i}</name><Point><coordinates>{-123 + i / 1e5},{44 + i / 1e5},{100 + i}"
        "</coordinates></Point></Placemark>"
        for i in range(9)
    )
    head = '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
    return [f"{head}<Folder><name>s</name>{marks}</Folder></Document></kml>".encode()]


def _run_rows(sign: str) -> list[list[str]]:
    rows = [["Sheet C-3", "", "", ""], ["Run", "Length (ft)", "Elev", "Spacing o.c."]]
    rows += [[f"L{i:02d}", f"{60 + i}'-4 1/2\"", f"10{i}.25", '24"'] for i in range(8)]
    return [*rows, ["Total", "500", "", ""]]


def _run_table() -> list[bytes]:
    return ["\n".join(sign.join(row) for row in _run_rows(sign)).encode() for sign in (";", "\t")]


def _workbook() -> list[bytes]:
    import openpyxl

    book = openpyxl.Workbook()
    for row in _run_rows(","):
        book.active.append(row)
    book.active.merge_cells("A1:D1")
    out = io.BytesIO()
    book.save(out)
    return [out.getvalue()]


def _page() -> list[bytes]:
    """A sheet in inches with runs, their names and an outline round them."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(11.0, 8.5))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(0.0, 11.0), ylim=(0.0, 8.5))
    axes.plot([1.0, 10.0, 10.0, 1.0, 1.0], [1.0, 1.0, 7.0, 7.0, 1.0], color="k", lw=2.0)
    for i in range(5):
        axes.plot([2.0, 9.0], [2.0 + i, 2.0 + i], color="b", lw=0.7)
        axes.text(9.1, 2.0 + i, f"L0{i + 1}", fontsize=8)
    axes.text(1.0, 0.5, "1\" = 20'", fontsize=8)
    out = io.BytesIO()
    figure.savefig(out, format="pdf")
    return [out.getvalue()]


def _picture() -> list[bytes]:
    from PIL import Image

    found = []
    for kind in ("PNG", "JPEG", "TIFF"):
        out = io.BytesIO()
        Image.new("L", (40, 30), 255).save(out, format=kind)
        found.append(out.getvalue())
    return found


def _ring() -> list[bytes]:
    return [b"northing,easting\n5000,2000\n5000,2050\n5050,2050\n5050,2000\n"]


def _common() -> list[bytes]:
    return [b"name,plan_x,plan_y,northing,easting\nA,0,0,5000,2000\nB,10,0,5000,2100\n"]


def _takeoff() -> list[bytes]:
    from dripfield.preparation.prices import COLUMNS

    values = {"to_buy": "3", "quantity": "250.5", "amount": "12.50"}
    return [(",".join(COLUMNS) + "\n" + ",".join(values.get(c, "text") for c in COLUMNS)).encode()]


def _readiness() -> list[bytes]:
    return [b"item,who,by,done_when,figure,state,origin\nflags,crew,day 1,counted,40,done,made\n"]


READERS = {
    "points": Reader("survey.csv", _points, survey),
    "points-ordered": Reader("survey.txt", _points, lambda p: survey(p, order="PNEZD")),
    "level-book": Reader("book.csv", _level_book, survey),
    "survey-dxf": Reader("survey.dxf", _drawings, survey),
    "landxml": Reader("survey.xml", _landxml, survey),
    "survey-geojson": Reader("survey.geojson", lambda: _features("points"), survey),
    "las": Reader("cloud.las", lambda: _clouds("las"), survey),
    "laz": Reader("cloud.laz", lambda: _clouds("laz"), survey),
    "gpkg": Reader("survey.gpkg", lambda: _vector("gpkg"), survey),
    "fgb": Reader("survey.fgb", lambda: _vector("fgb"), survey),
    "kml": Reader("survey.kml", _kml, lambda p: survey(p, elevation_unit="m")),
    "ring": Reader("bed.csv", _ring, boundary),
    "bed-dxf": Reader("bed.dxf", _drawings, boundary),
    "bed-geojson": Reader("bed.geojson", lambda: _features("bed"), boundary),
    "settings": Reader("site.toml", lambda: [SITE.encode()], settings),
    "plan-dxf": Reader("plan.dxf", _drawings, plan),
    "plan-geojson": Reader("plan.geojson", lambda: _features("lines"), plan),
    "plan-table": Reader("plan.csv", _run_table, plan),
    "plan-xlsx": Reader("plan.xlsx", _workbook, plan),
    "plan-pdf": Reader("plan.pdf", _page, plan),
    "plan-png": Reader("plan.png", _picture, plan),
    "common-points": Reader("common.csv", _common, common_points),
    "takeoff": Reader("takeoff.csv", _takeoff, takeoff),
    "readiness": Reader("readiness.csv", _readiness, readiness),
}


@functools.cache
def seeds(name: str) -> tuple[bytes, ...]:
    """The whole files of a reader."""
    return tuple(READERS[name].seeds())
