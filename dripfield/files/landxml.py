"""A surface as LandXML 1.2, as machine control and survey programs read it."""

from __future__ import annotations

import re
from pathlib import Path

from dripfield.core.units import Unit
from dripfield.files.csv import COORDINATE_PLACES, number
from dripfield.ground.triangles.tin import Surface
from dripfield.site.model import Site

LANDXML = "http://www.landxml.org/schema/LandXML-1.2"
NO_DATE = "1970-01-01"  # LandXML wants a date; a site without a survey date gets this one


def landxml_units(unit: Unit) -> dict[str, str]:
    """The attributes that the schema requires of ``Metric`` or ``Imperial``."""
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
    from lxml import etree

    unit = site.unit
    date = site.file.site.survey_date or ""
    root = etree.Element(
        f"{{{LANDXML}}}LandXML",
        {
            "version": "1.2",
            "date": date if re.fullmatch(r"\d{4}-\d\d-\d\d", date) else NO_DATE,
            "time": "00:00:00",
            "readOnly": "false",
            "language": "English",
        },
        nsmap={None: LANDXML},
    )

    def add(parent: etree._Element, tag: str, **attributes: str) -> etree._Element:
        return etree.SubElement(parent, f"{{{LANDXML}}}{tag}", attributes)

    add(add(root, "Units"), "Metric" if unit.is_metric else "Imperial", **landxml_units(unit))
    if site.file.site.crs:
        add(root, "CoordinateSystem", name=site.file.site.crs, desc=site.file.site.crs)
    add(root, "Project", name=site.name)
    add(root, "Application", name="dripfield")
    definition = add(add(add(root, "Surfaces"), "Surface", name=name), "Definition", surfType="TIN")
    points = add(definition, "Pnts")
    for place, (x, y, z) in enumerate(surface.vertices.tolist(), 1):
        point = add(points, "P", id=str(place))
        point.text = " ".join(number(v, COORDINATE_PLACES) for v in (y, x, z))
    faces = add(definition, "Faces")
    for corners in (surface.triangles + 1).tolist():
        add(faces, "F").text = " ".join(map(str, corners))
    etree.ElementTree(root).write(
        str(path), encoding="UTF-8", xml_declaration=True, pretty_print=True
    )
