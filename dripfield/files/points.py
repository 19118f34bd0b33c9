"""Stake-out points as delimited files, GeoJSON, KML, GPX and LandXML.

Delimited files carry the site's own coordinates without a header, as instruments read them. Phone
formats are written when the site has a coordinate system, and carry the warning that a phone is no
survey instrument. Nothing written here depends on the day or the machine.
"""

from __future__ import annotations

import csv
import json
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.files.csv import COORDINATE_PLACES, number
from dripfield.files.landxml import LANDXML, NO_DATE, landxml_units
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.kit.style import plain
from dripfield.staking.stakes import Stake

PHONE_WARNING = (
    "A phone's position is good to several feet (a few metres) at best: use it to find the bed and "
    "the stakes again, never to set a stake, a grade or a setback. Lay out with the tapes, laser "
    "and control points of the printed sheets."
)
_DEGREE_PLACES = 8  # about a millimetre
_KML = "http://www.opengis.net/kml/2.2"
_GPX = "http://www.topografix.com/GPX/1/1"


@dataclass(frozen=True)
class StakeoutPoint:
    """A point to set or to find: a stake, an end of a base line, the benchmark."""

    name: str
    easting: float
    northing: float
    elevation: float
    description: str


def stakeout_points(work: CrewWork) -> list[StakeoutPoint]:
    """The stakes, then the ends of base line and edge lines, then a benchmark with a position.

    Elevations are those set for stakes, the ground's for base-line ends (NaN where not known).
    """
    points = [
        StakeoutPoint(str(s.point), s.easting, s.northing, s.elevation, s.description)
        for s in work.stakes
    ]
    ends = [(end, "base line") for end in (work.flags.base.start, work.flags.base.end)]
    for edge in work.flags.edges.values():
        ends += [(end, "edge line") for end in (edge.start, edge.end)]
    mark = work.settings.benchmark
    if mark is not None and mark.easting is not None and mark.northing is not None:
        points.append(
            StakeoutPoint(mark.name, mark.easting, mark.northing, mark.elevation, "benchmark")
        )
        ends = [(end, use) for end, use in ends if end.name != mark.name]
    ground = work.design.surface.elevation(np.array([end.xy for end, _ in ends]).reshape(-1, 2))
    points += [
        StakeoutPoint(end.name, end.easting, end.northing, float(z), use)
        for (end, use), z in zip(ends, ground, strict=True)
    ]
    return points


def write_exports(folder: Path, work: CrewWork) -> list[str]:
    """Write every stake-out file that the site allows; returns their names.

    Raises
    ------
    InputError
        The site's coordinate system is not known.
    """
    points = stakeout_points(work)
    to_degrees = _to_degrees(work.design.site.file.site.crs)
    write_points(folder / "stakeout_pnezd.csv", points, work.design.site.unit, "PNEZD")
    write_points(folder / "stakeout_penzd.csv", points, work.design.site.unit, "PENZD")
    write_landxml(folder / "laterals.xml", work, points)
    names = ["stakeout_pnezd.csv", "stakeout_penzd.csv", "laterals.xml"]
    if to_degrees is not None:
        write_geojson(folder / "stakeout.geojson", work, points, to_degrees)
        write_kml(folder / "stakeout.kml", work, points, to_degrees)
        write_gpx(folder / "stakeout.gpx", work, points, to_degrees)
        names += ["stakeout.geojson", "stakeout.kml", "stakeout.gpx"]
    return names


def write_points(path: Path, points: Sequence[StakeoutPoint], unit: Unit, order: str) -> None:
    """Write points as ``PNEZD`` or ``PENZD`` without a header; an unknown elevation is empty."""
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        for point in points:
            cells = {
                "P": plain(point.name),
                "N": number(point.northing, COORDINATE_PLACES),
                "E": number(point.easting, COORDINATE_PLACES),
                "Z": number(point.elevation, unit.places + 1),
                "D": plain(point.description),
            }
            writer.writerow([cells[letter] for letter in order])


Degrees = Callable[[Floats], Floats]


def _to_degrees(crs: str | None) -> Degrees | None:
    """A function from site coordinates (k, 2) to longitude and latitude (k, 2) on WGS 84."""
    if crs is None:
        return None
    import pyproj

    try:
        transformer = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    except pyproj.exceptions.ProjError:
        raise input_error(
            f"{crs!r} is not a coordinate system that is known here",
            'give a code such as "EPSG:6559", or leave crs out',
            file="site.toml",
            field="[site] crs",
        ) from None

    def degrees(xy: Floats) -> Floats:
        return np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))

    return degrees


def _lines(work: CrewWork) -> list[tuple[str, Floats, list[Stake]]]:
    """Each lateral's name, the line through its stakes (k, 2), and the stakes."""
    of_lateral: dict[str, list[Stake]] = {}
    for stake in work.stakes:
        of_lateral.setdefault(stake.lateral, []).append(stake)
    return [
        (name, np.array([(s.easting, s.northing) for s in stakes]), stakes)
        for name, stakes in of_lateral.items()
    ]


def write_geojson(
    path: Path, work: CrewWork, points: Sequence[StakeoutPoint], to_degrees: Degrees
) -> None:
    """Write laterals and points as GeoJSON (RFC 7946: WGS 84 longitude and latitude)."""
    unit = work.design.site.unit

    def rounded(xy: Floats) -> list[list[float]]:
        return [[round(float(v), _DEGREE_PLACES) for v in pair] for pair in to_degrees(xy)]

    features: list[dict[str, Any]] = []
    for (name, xy, _), row in zip(_lines(work), work.laterals, strict=True):
        features.append(
            {
                "type": "Feature",
                "id": name,
                "geometry": {"type": "LineString", "coordinates": rounded(xy)},
                "properties": {
                    "kind": "lateral",
                    "name": name,
                    "panel": row.panel,
                    "elevation": round(row.elevation, unit.places + 1),
                    "length": round(row.length, unit.places),
                    "unit": unit.value,
                },
            }
        )
    where = rounded(np.array([(p.easting, p.northing) for p in points]))
    for point, place in zip(points, where, strict=True):
        known = math.isfinite(point.elevation)
        features.append(
            {
                "type": "Feature",
                "geometry": {"type": "Point", "coordinates": place},
                "properties": {
                    "kind": "point",
                    "name": point.name,
                    "description": point.description,
                    "elevation": round(point.elevation, unit.places + 1) if known else None,
                    "unit": unit.value,
                },
            }
        )
    content = {
        "type": "FeatureCollection",
        "name": work.design.site.name,
        "warning": PHONE_WARNING,
        "features": features,
    }
    path.write_text(json.dumps(content, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")


def write_kml(
    path: Path, work: CrewWork, points: Sequence[StakeoutPoint], to_degrees: Degrees
) -> None:
    """Write laterals and points as KML 2.2 (OGC 07-147r2)."""
    root, add = _document("kml", _KML)
    document = add(root, "Document")
    add(document, "name", work.design.site.name)
    add(document, "description", PHONE_WARNING)
    line = add(add(document, "Style", id="lateral"), "LineStyle")
    add(line, "color", "ffffffff")  # white: proposed excavation
    add(line, "width", "3")
    icon = add(add(document, "Style", id="stake"), "IconStyle")
    add(icon, "color", "ff8f27d6")  # pink (written alpha, blue, green, red): survey mark
    add(icon, "scale", "0.6")
    for name, xy, stakes in _lines(work):
        mark = add(document, "Placemark")
        add(mark, "name", name)
        add(mark, "description", f"set to elevation {_elevation(work, stakes[0].elevation)}")
        add(mark, "styleUrl", "#lateral")
        shape = add(mark, "LineString")
        add(shape, "tessellate", "1")
        add(shape, "coordinates", " ".join(_pair(place) for place in to_degrees(xy)))
    where = to_degrees(np.array([(p.easting, p.northing) for p in points]))
    for point, place in zip(points, where, strict=True):
        mark = add(document, "Placemark")
        add(mark, "name", point.name)
        add(mark, "description", f"{point.description}, {_elevation(work, point.elevation)}")
        add(mark, "styleUrl", "#stake")
        add(add(mark, "Point"), "coordinates", _pair(place))
    _save(path, root)


def write_gpx(
    path: Path, work: CrewWork, points: Sequence[StakeoutPoint], to_degrees: Degrees
) -> None:
    """Write points as waypoints and laterals as tracks in GPX 1.1.

    Elevations stand in the descriptions in the site's unit: GPX's own are metres above the geoid.
    """
    root, add = _document("gpx", _GPX, version="1.1", creator="dripfield")
    about = add(root, "metadata")
    add(about, "name", work.design.site.name)
    add(about, "desc", PHONE_WARNING)
    where = to_degrees(np.array([(p.easting, p.northing) for p in points]))
    for point, place in zip(points, where, strict=True):
        waypoint = add(root, "wpt", **_lat_lon(place))
        add(waypoint, "name", point.name)
        add(waypoint, "desc", f"{point.description}, {_elevation(work, point.elevation)}")
    for name, xy, stakes in _lines(work):
        track = add(root, "trk")
        add(track, "name", name)
        add(track, "desc", f"set to elevation {_elevation(work, stakes[0].elevation)}")
        segment = add(track, "trkseg")
        for place in to_degrees(xy):
            add(segment, "trkpt", **_lat_lon(place))
    _save(path, root)


def write_landxml(path: Path, work: CrewWork, points: Sequence[StakeoutPoint]) -> None:
    """Write an alignment a lateral, with its level profile, and the points, as LandXML 1.2.

    Coordinates are northing then easting, as the schema has them. The schema's date is the site's
    survey date, so that the same site gives the same file.
    """
    site, unit = work.design.site, work.design.site.unit
    date = site.file.site.survey_date or ""
    root, add = _document(
        "LandXML",
        LANDXML,
        version="1.2",
        date=date if re.fullmatch(r"\d{4}-\d\d-\d\d", date) else NO_DATE,
        time="00:00:00",
        readOnly="false",
        language="English",
    )
    add(add(root, "Units"), "Metric" if unit.is_metric else "Imperial", **landxml_units(unit))
    if site.file.site.crs:
        add(root, "CoordinateSystem", name=site.file.site.crs, desc=site.file.site.crs)
    add(root, "Project", name=site.name)
    add(root, "Application", name="dripfield")
    group = add(root, "CgPoints", name="stake-out points")
    for point in points:
        height = number(point.elevation, unit.places + 1)
        text = f"{_north_east(point.northing, point.easting)} {height}".strip()
        add(group, "CgPoint", text, name=point.name, desc=point.description)
    alignments = add(root, "Alignments", name="laterals")
    for name, xy, stakes in _lines(work):
        length = number(float(np.hypot(*np.diff(xy, axis=0).T).sum()), COORDINATE_PLACES)
        one = add(alignments, "Alignment", name=name, length=length, staStart="0")
        geometry = add(one, "CoordGeom")
        corners = [_north_east(y, x) for x, y in xy]
        for start, end in pairwise(corners):
            line = add(geometry, "Line")
            add(line, "Start", start)
            add(line, "End", end)
        profile = add(add(one, "Profile", name=name), "ProfAlign", name=name)
        height = number(stakes[0].elevation, unit.places + 1)
        add(profile, "PVI", f"0 {height}")
        add(profile, "PVI", f"{length} {height}")
    _save(path, root)


def _elevation(work: CrewWork, elevation: float) -> str:
    if not math.isfinite(elevation):
        return "elevation not known"
    return f"{elevation:.{work.design.site.unit.places}f} {work.design.site.unit.short}"


def _pair(place: Floats) -> str:
    return f"{place[0]:.{_DEGREE_PLACES}f},{place[1]:.{_DEGREE_PLACES}f}"


def _lat_lon(place: Floats) -> dict[str, str]:
    return {"lat": f"{place[1]:.{_DEGREE_PLACES}f}", "lon": f"{place[0]:.{_DEGREE_PLACES}f}"}


def _north_east(northing: float, easting: float) -> str:
    return f"{number(northing, COORDINATE_PLACES)} {number(easting, COORDINATE_PLACES)}"


def _document(tag: str, namespace: str, **attributes: str) -> tuple[Any, Callable[..., Any]]:
    """An XML root and a function that adds a child of its namespace (text made printable)."""
    from lxml import etree

    root = etree.Element(f"{{{namespace}}}{tag}", nsmap={None: namespace}, **attributes)

    def add(parent: Any, tag: str, text: str | None = None, **attributes: str) -> Any:
        clean = {key: plain(value) for key, value in attributes.items()}
        child = etree.SubElement(parent, f"{{{namespace}}}{tag}", **clean)
        if text is not None:
            child.text = plain(text)
        return child

    return root, add


def _save(path: Path, root: Any) -> None:
    from lxml import etree

    path.write_bytes(
        etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)
    )
