"""Points as waypoints and lines as tracks in GPX 1.1.

Written with lxml: GDAL's driver holds waypoints and tracks as two layers, and cannot add the second
to a file that is closed.
"""

from __future__ import annotations

from pathlib import Path

from dripfield.core.arrays import Floats
from dripfield.files.features import DEGREE_PLACES, Features, to_degrees
from dripfield.files.xml import XmlDocument


def write_gpx(path: Path, features: Features) -> None:
    """Write features as GPX.

    Elevations stand in the descriptions in the site's unit: GPX's own are metres above the geoid.

    Raises
    ------
    InputError
        The coordinate system is missing or not known.
    """
    degrees = to_degrees(features.crs)
    tree = XmlDocument(
        "gpx", "http://www.topografix.com/GPX/1/1", version="1.1", creator="dripfield"
    )
    add = tree.add
    about = add(tree.root, "metadata")
    add(about, "name", features.title)
    add(about, "desc", features.note)
    for point, place in zip(features.points, degrees(features.places), strict=True):
        waypoint = add(tree.root, "wpt", **_lat_lon(place))
        add(waypoint, "name", point.name)
        add(waypoint, "desc", f"{point.description}, {features.height(point.elevation)}")
    for line in features.lines:
        track = add(tree.root, "trk")
        add(track, "name", line.name)
        add(track, "desc", f"set to elevation {features.height(line.elevation)}")
        segment = add(track, "trkseg")
        for place in degrees(line.xy):
            add(segment, "trkpt", **_lat_lon(place))
    tree.save(path)


def _lat_lon(place: Floats) -> dict[str, str]:
    return {"lat": f"{place[1]:.{DEGREE_PLACES}f}", "lon": f"{place[0]:.{DEGREE_PLACES}f}"}
