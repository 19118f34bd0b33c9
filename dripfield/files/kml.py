"""Lines and points as KML 2.2 (OGC 07-147r2).

Written with lxml: GDAL's drivers write neither the warning that belongs to the whole document nor
the two styles.
"""

from __future__ import annotations

from pathlib import Path

from dripfield.core.arrays import Floats
from dripfield.files.features import DEGREE_PLACES, Features, to_degrees
from dripfield.files.xml import XmlDocument


def write_kml(path: Path, features: Features) -> None:
    """Write features as KML, lines white (proposed excavation), points pink (survey marks).

    Raises
    ------
    InputError
        The coordinate system is missing or not known.
    """
    degrees = to_degrees(features.crs)
    tree = XmlDocument("kml", "http://www.opengis.net/kml/2.2")
    add = tree.add
    document = add(tree.root, "Document")
    add(document, "name", features.title)
    add(document, "description", features.note)
    style = add(add(document, "Style", id="lateral"), "LineStyle")
    add(style, "color", "ffffffff")
    add(style, "width", "3")
    icon = add(add(document, "Style", id="stake"), "IconStyle")
    add(icon, "color", "ff8f27d6")  # written alpha, blue, green, red
    add(icon, "scale", "0.6")
    for line in features.lines:
        mark = add(document, "Placemark")
        add(mark, "name", line.name)
        add(mark, "description", f"set to elevation {features.height(line.elevation)}")
        add(mark, "styleUrl", "#lateral")
        shape = add(mark, "LineString")
        add(shape, "tessellate", "1")
        add(shape, "coordinates", " ".join(_pair(place) for place in degrees(line.xy)))
    for point, place in zip(features.points, degrees(features.places), strict=True):
        mark = add(document, "Placemark")
        add(mark, "name", point.name)
        add(mark, "description", f"{point.description}, {features.height(point.elevation)}")
        add(mark, "styleUrl", "#stake")
        add(add(mark, "Point"), "coordinates", _pair(place))
    tree.save(path)


def _pair(place: Floats) -> str:
    return f"{place[0]:.{DEGREE_PLACES}f},{place[1]:.{DEGREE_PLACES}f}"
