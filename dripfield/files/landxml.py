"""LandXML 1.2: lines as alignments with level profiles, points, and a surface of triangles."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

from dripfield.core.lines import line_length
from dripfield.core.units import Unit
from dripfield.core.words import COORDINATE_PLACES, number
from dripfield.files.features import Features
from dripfield.files.xml import XmlDocument
from dripfield.ground.triangles.tin import Surface
from dripfield.site.model import Site

_NO_DATE = "1970-01-01"  # LandXML wants a date; a site without a survey date gets this one


def write_landxml(path: Path, features: Features) -> None:
    """Write an alignment a line, with its level profile, and the points.

    Coordinates are northing then easting, as the schema has them. The schema's date is the survey's
    date, so that the same site gives the same file.
    """
    unit = features.unit
    tree = _document(unit, features.crs, features.title, features.date)
    add = tree.add
    group = add(tree.root, "CgPoints", name="stake-out points")
    for point in features.points:
        height = number(point.elevation, unit.places + 1)
        text = f"{_north_east(point.northing, point.easting)} {height}".strip()
        add(group, "CgPoint", text, name=point.name, desc=point.description)
    alignments = add(tree.root, "Alignments", name="laterals")
    for line in features.lines:
        length = number(line_length(line.xy), COORDINATE_PLACES)
        one = add(alignments, "Alignment", name=line.name, length=length, staStart="0")
        geometry = add(one, "CoordGeom")
        corners = [_north_east(y, x) for x, y in line.xy.tolist()]
        for start, end in pairwise(corners):
            leg = add(geometry, "Line")
            add(leg, "Start", start)
            add(leg, "End", end)
        profile = add(add(one, "Profile", name=line.name), "ProfAlign", name=line.name)
        height = number(line.elevation, unit.places + 1)
        add(profile, "PVI", f"0 {height}")
        add(profile, "PVI", f"{length} {height}")
    tree.save(path)


def write_landxml_surface(path: Path, surface: Surface, name: str, site: Site) -> None:
    """Write a surface as points (northing, easting, elevation) and faces of three of them.

    Parameters
    ----------
    path : Path
    surface : Surface
    name : str
        Of the surface in the file.
    site : Site
        Its unit, coordinate system, name and survey date go along.
    """
    told = site.file.site
    tree = _document(site.unit, told.crs, site.name, told.survey_date or "")
    add = tree.add
    place = add(add(tree.root, "Surfaces"), "Surface", name=name)
    definition = add(place, "Definition", surfType="TIN")
    points = add(definition, "Pnts")
    for count, (x, y, z) in enumerate(surface.vertices.tolist(), 1):
        text = f"{_north_east(y, x)} {number(z, COORDINATE_PLACES)}"
        add(points, "P", text, id=str(count))
    faces = add(definition, "Faces")
    for corners in (surface.triangles + 1).tolist():
        add(faces, "F", " ".join(map(str, corners)))
    tree.save(path)


def _document(unit: Unit, crs: str | None, title: str, date: str) -> XmlDocument:
    """A document with its unit, system, project and date."""
    dated = re.fullmatch(r"\d{4}-\d\d-\d\d", date)
    tree = XmlDocument(
        "LandXML",
        "http://www.landxml.org/schema/LandXML-1.2",
        version="1.2",
        date=date if dated else _NO_DATE,
        time="00:00:00",
        readOnly="false",
        language="English",
    )
    add = tree.add
    system = "Metric" if unit.is_metric else "Imperial"
    add(add(tree.root, "Units"), system, **_units(unit))
    if crs:
        add(tree.root, "CoordinateSystem", name=crs, desc=crs)
    add(tree.root, "Project", name=title)
    add(tree.root, "Application", name="dripfield")
    return tree


def _units(unit: Unit) -> dict[str, str]:
    if unit.is_metric:
        return {
            "areaUnit": "squareMeter",
            "linearUnit": "meter",
            "volumeUnit": "cubicMeter",
            "temperatureUnit": "celsius",
            "pressureUnit": "milliBars",
        }
    return {
        "areaUnit": "squareFoot",
        "linearUnit": "USSurveyFoot" if unit is Unit.SURVEY_FOOT else "foot",
        "volumeUnit": "cubicFeet",
        "temperatureUnit": "fahrenheit",
        "pressureUnit": "inHG",
    }


def _north_east(northing: float, easting: float) -> str:
    return f"{number(northing, COORDINATE_PLACES)} {number(easting, COORDINATE_PLACES)}"
