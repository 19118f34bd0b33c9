"""``[survey]``: where the shots are and how their file is written."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

Positive = Annotated[float, Meta(gt=0)]
Words = Annotated[str, Meta(pattern=r"\S")]


class Exclusion(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[survey.exclude]]``: a shot left out, by its name, and why."""

    point: Words
    reason: Words


class SurveyTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[survey]``.

    Attributes
    ----------
    points : str
        The survey file; its kind is known from its ending and content.
    order : str, optional
        Columns of a delimited file without a header, a letter each: P point, N or Y northing,
        E or X easting, Z elevation, D description, - a column to pass over.
    decimal : str
        Decimal sign of a delimited file.
    no_reading : str, optional
        What to do with elevations that look like "no reading" (0, -9999 …): skip or keep them.
    exclude : list of Exclusion
        Shots left out of the surface.
    points_layer, breakline_layer, void_layer : str, optional
        Layers of a drawing (or the layer of a vector file, for points).
    surface : str, optional
        Name of the surface of a LandXML file that holds several.
    crs : str, optional
        Coordinate system of the survey file where it is not the site's; "site" where a GeoJSON
        file is in the site's own coordinates against that format's rule.
    elevation_unit : str, optional
        Unit of the elevations of a file whose plan coordinates are not in the site's unit.
    elevation_field : str, optional
        Property of a vector file that holds the elevation.
    cell : float, optional
        Cell that a point cloud is thinned to, one shot each [site unit].
    control : str, optional
        File of control points; the survey is localised on those it holds by name.
    control_tolerance : float, optional
        Largest residual of the localisation [site unit].
    ground_scale : float or "combined", optional
        Stretch the survey from grid to ground by this, or by the factor computed from ``crs``.
    magnetic_declination : float, optional
        Degrees that magnetic north lies east of true north; stated on the sheets, no more.
    closure_tolerance : float, optional
        Largest misclosure of a level book that is adjusted [site unit].
    """

    points: str
    order: str | None = None
    decimal: Literal[".", ","] = "."
    no_reading: Literal["skip", "keep"] | None = None
    exclude: list[Exclusion] = []
    points_layer: str | None = None
    breakline_layer: str | None = None
    void_layer: str | None = None
    surface: str | None = None
    crs: str | None = None
    elevation_unit: Literal["ft", "ftUS", "m"] | None = None
    elevation_field: str | None = None
    cell: Positive | None = None
    control: str | None = None
    control_tolerance: Positive | None = None
    ground_scale: Annotated[float, Meta(gt=0.99, lt=1.01)] | Literal["combined"] | None = None
    magnetic_declination: Annotated[float, Meta(ge=-180, le=180)] | None = None
    closure_tolerance: Positive | None = None
