"""One way in for every kind of survey file."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from shapely import Polygon

from dripfield.core.crs import WGS84, check_crs_unit
from dripfield.core.errors import input_error
from dripfield.core.limits import check_count, check_places, most
from dripfield.core.textfile import check_plain_file
from dripfield.core.units import Unit
from dripfield.formats.signature import kind_from_content
from dripfield.formats.table import read_table
from dripfield.site.schema.key import setting
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.doubt.no_reading import settle_no_readings
from dripfield.survey.place.localise import localise_survey
from dripfield.survey.place.placing import into_site, on_the_ground
from dripfield.survey.read.cloud import read_cloud
from dripfield.survey.read.delimited import check_head, names_degrees, read_delimited
from dripfield.survey.read.dxf import read_dxf
from dripfield.survey.read.landxml import read_landxml
from dripfield.survey.read.notebook import is_level_book, read_level_book
from dripfield.survey.read.vector import read_geojson, read_vector
from dripfield.survey.shots import Survey

Kind = Literal["delimited", "dxf", "landxml", "geojson", "vector", "cloud"]

_ENDINGS: dict[str, Kind] = {
    ".dxf": "dxf",
    ".xml": "landxml",
    ".landxml": "landxml",
    ".geojson": "geojson",
    ".json": "geojson",
    ".las": "cloud",
    ".laz": "cloud",
    ".shp": "vector",
    ".gpkg": "vector",
    ".fgb": "vector",
    ".kml": "vector",
    ".gml": "vector",
    ".gpx": "vector",
}
_LARGE_XYZ = 20_000_000
"""Bytes from which a text file of points is thinned as a cloud: some 700,000 points."""


def read_survey(
    path: Path,
    options: SurveyTable,
    unit: Unit,
    *,
    crs: str | None = None,
    around: Polygon | None = None,
    control: Path | None = None,
    marks: Mapping[str, float] | None = None,
) -> Survey:
    """Read a survey file, its kind known from its ending and content.

    Parameters
    ----------
    path : Path
        The file.
    options : SurveyTable
        ``[survey]`` of the site file.
    unit : Unit
        The site's unit.
    crs : str, optional
        The site's coordinate system.
    around : Polygon, optional
        The bed, in site coordinates: a point cloud is thinned around it.
    control : Path, optional
        Control points to localise the survey on.
    marks : mapping of name to elevation, optional
        Marks that a level book may start from and close on [site unit].

    Returns
    -------
    Survey
        In the site's unit and coordinates; notes tell what was assumed, converted or adjusted.

    Raises
    ------
    InputError
        One line naming the file, the row where there is one, and the remedy.
    """
    kind = kind_of(path)
    survey, source = _read(kind, path, options, unit, crs, around, marks)
    _check_survey(survey)
    source = options.crs or source
    if crs is not None:
        check_crs_unit(crs, unit, survey.xyz[:, :2] if source in (None, "site") else None)
    if source is not None and source != "site":
        told = None if options.elevation_unit is None else Unit(options.elevation_unit)
        survey = into_site(survey, source, crs, unit, told, kind == "delimited")
    elif options.elevation_unit not in (None, unit.value):
        raise input_error(
            f"elevations are in the site's unit, {unit.label}, as plan coordinates are",
            "remove elevation_unit, or convert the file",
            file="site.toml",
            field="[survey] elevation_unit",
        )
    survey = settle_no_readings(survey, options.no_reading)
    if control is not None:
        known = read_delimited(read_table(control), SurveyTable(points=control.name), unit)
        survey = localise_survey(survey, known, unit, setting(options, "control_tolerance", unit))
    return on_the_ground(survey, options, unit, crs, around)


def _check_survey(survey: Survey) -> None:
    """No more of it than can be worked with, and every place one on earth."""
    check_count("points", len(survey.xyz), survey.source)
    check_count("vertices", sum(map(len, survey.breaklines)), survey.source)
    check_places(survey.xyz, survey.source, rows=survey.rows)
    for line in (*survey.breaklines, *survey.voids):
        check_places(line, survey.source, "vertex")


def kind_of(path: Path) -> Kind:
    """The kind of a survey file.

    Raises
    ------
    InputError
        Missing, empty, a folder, or a file whose content is not what its ending says.
    """
    check_plain_file(path, most("cloud bytes"))
    with path.open("rb") as stream:
        head = stream.read(4096)
    ending = path.suffix.lower()
    content = kind_from_content(head)
    if content == "a LAS point cloud":
        return "cloud"
    if content == "a binary DXF drawing":
        return "dxf"
    if ending in (".las", ".laz"):
        raise input_error("it is no LAS file", "export it again", file=path)
    if ending == ".zip" and zipfile.is_zipfile(path):
        return "vector"
    if ending in _ENDINGS and (content is None or _ENDINGS[ending] == "vector"):
        return _ENDINGS[ending]
    if ending == ".xyz" and content is None and path.stat().st_size > _LARGE_XYZ:
        return "cloud"
    start = head.lstrip(b"\xef\xbb\xbf \t\r\n")
    if start.startswith((b"<?xml", b"<LandXML")):
        return "landxml"
    if start.startswith(b"{"):
        return "geojson"
    if start[:1] == b"0" and start[1:].split()[:1] == [b"SECTION"]:
        return "dxf"
    return "delimited"


def _read(
    kind: Kind,
    path: Path,
    options: SurveyTable,
    unit: Unit,
    crs: str | None,
    around: Polygon | None,
    marks: Mapping[str, float] | None,
) -> tuple[Survey, str | None]:
    """The survey in the file's own coordinates, and their system where it is not the site's."""
    if kind == "delimited":
        check_head(path, options, unit)
        table = read_table(path, options.decimal)
        if is_level_book(table):
            return read_level_book(table, options, unit, marks), None
        survey = read_delimited(table, options, unit)
        return survey, WGS84 if names_degrees(table) else None
    if kind == "dxf":
        return read_dxf(path, options, unit), None
    if kind == "landxml":
        return read_landxml(path, options, unit), None
    if kind == "cloud":
        return read_cloud(path, options, unit, crs, around), None
    return (read_geojson if kind == "geojson" else read_vector)(path, options)
