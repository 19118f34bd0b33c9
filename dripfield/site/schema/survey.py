"""``[survey]``: where the shots are and how their file is written."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from dripfield.site.schema.key import Positive, Words, key


class Exclusion(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[survey.exclude]]``: a shot left out of the surface, by its name, and why."""

    point: Annotated[Words, key("name of the shot", example="159")]
    reason: Annotated[Words, key("why", example="shot on top of the rock, not on the ground")]


class SurveyTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[survey]``: where the shots are and how their file is written."""

    points: Annotated[
        str,
        key(
            "the survey file: point,northing,easting,elevation,description; other kinds are known "
            "from their ending and content",
            example="survey.csv",
        ),
    ]
    order: Annotated[
        str | None,
        key(
            "columns of a delimited file without a header, a letter each: P point, N or Y "
            "northing, E or X easting, Z elevation, D description, - a column to pass over",
            example="PNEZD",
        ),
    ] = None
    decimal: Annotated[
        Literal[".", ","], key('decimal sign in the survey and the rings: "." or ","')
    ] = "."
    no_reading: Annotated[
        Literal["skip", "keep"] | None,
        key('elevations such as 0 or -9999: "skip" or "keep" them', example="skip"),
    ] = None
    exclude: Annotated[
        list[Exclusion],
        key(
            "shots left out of the surface, each with its reason",
            example=[{"point": "159", "reason": "shot on top of the rock, not on the ground"}],
        ),
    ] = []
    points_layer: Annotated[
        str | None,
        key("layer of a drawing or a vector file that holds the shots", example="V-NODE-SPOT"),
    ] = None
    breakline_layer: Annotated[
        str | None,
        key("layer of a drawing whose lines must be edges of the surface", example="V-BRKL"),
    ] = None
    void_layer: Annotated[
        str | None, key("layer of a drawing whose rings hold no survey", example="V-VOID")
    ] = None
    surface: Annotated[
        str | None,
        key("which surface of a LandXML file that holds several", example="Existing ground"),
    ] = None
    crs: Annotated[
        str | None,
        key(
            "the file's own coordinate system where it is not the site's; \"site\" where a GeoJSON "
            "file is in the site's coordinates against that format's rule",
            example="EPSG:4326",
        ),
    ] = None
    elevation_unit: Annotated[
        Literal["ft", "ftUS", "m"] | None,
        key("of elevations in a file of another plan unit", example="ft"),
    ] = None
    elevation_field: Annotated[
        str | None,
        key("property of a vector file that holds the elevation", example="elev"),
    ] = None
    cell: Annotated[
        Positive | None,
        key(
            "a point cloud is thinned to one shot in each such square",
            unit="length",
            default=(2.0, 0.6),
            least=(0.05, 0.015),
            most=(300.0, 100.0),
            why="smaller squares thin nothing, larger ones leave nothing",
        ),
    ] = None
    control: Annotated[
        str | None,
        key("file of known points that the survey is fitted to, by name", example="control.csv"),
    ] = None
    control_tolerance: Annotated[
        Positive | None,
        key(
            "the fit may be off by this much at any of them",
            unit="length",
            default=(0.10, 0.03),
            most=(10.0, 3.0),
            why="a fit so far off is none",
        ),
    ] = None
    ground_scale: Annotated[
        Annotated[float, Meta(gt=0.99, lt=1.01)] | Literal["combined"] | None,
        key('from grid to ground; "combined" works it out from crs', example=1.0001),
    ] = None
    magnetic_declination: Annotated[
        Annotated[float, Meta(ge=-180, le=180)] | None,
        key("of magnetic north, east of true north; printed only", unit="degrees", example=-11.5),
    ] = None
    closure_tolerance: Annotated[
        Positive | None,
        key(
            "most misclosure of a level book that is adjusted",
            unit="length",
            example=0.05,
            absent="0.02 ft (0.006 m) times the root of the number of set-ups",
            most=(10.0, 3.0),
            why="such a book is measured again",
        ),
    ] = None
