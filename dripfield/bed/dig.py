"""What comes out: the ground once the unsuitable soil is stripped."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from dripfield.bed.grade import plane_over
from dripfield.bed.pieces import Pieces, lower_of, overlay, pieces_of, pieces_of_area
from dripfield.bed.profile import drape, lower_along
from dripfield.core.arrays import Floats
from dripfield.core.errors import InputError, input_error
from dripfield.ground.build import survey_surface
from dripfield.ground.triangles.tin import Surface
from dripfield.site.model import Site
from dripfield.site.reader import inside
from dripfield.site.schema.bed_section import BedSection
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.read.survey_file import read_survey

MISSING = 1e-6  # share of an area that may be lost to rounding


def surveyed_surface(site: Site, name: str, key: str) -> Surface:
    """A surface from a further survey file of the site folder, named by ``[bed.section] key``.

    Parameters
    ----------
    site : Site
    name : str
        File in the site folder.
    key : str
        The key that names it, for messages.

    Returns
    -------
    Surface
        In (easting, northing, elevation) [site unit].

    Raises
    ------
    InputError
        The file lies outside the site folder, or is no survey in the site's unit.
    """
    path = inside(site.folder, name, f"[bed.section] {key}")
    options = SurveyTable(points=name, decimal=site.file.survey.decimal)
    return survey_surface(read_survey(path, options, site.unit), site.unit)


def dig_floor(site: Site, section: BedSection, area: Polygon) -> Surface | float:
    """Down to what the dig goes: a depth below the ground, or a surface over ``area``.

    Parameters
    ----------
    site : Site
    section : BedSection
    area : Polygon
        Bed and shoulder, in (easting, northing) [site unit].

    Returns
    -------
    Surface or float
        A float is a depth below the ground [site unit], 0 where nothing is stripped.

    Raises
    ------
    InputError
        More than one of ``strip``, ``strip_to`` and ``strip_to_surface`` is given, or the surveyed
        surface does not reach all over ``area``.
    """
    given = [
        key
        for key in ("strip", "strip_to", "strip_to_surface")
        if getattr(section, key) is not None
    ]
    if len(given) > 1:
        raise input_error(
            f"{' and '.join(given)} are given together",
            "keep the one that says how much comes out",
            file="site.toml",
            field="[bed.section]",
        )
    if section.strip_to is not None:
        middle = np.array((area.centroid.x, area.centroid.y))
        return plane_over(area, middle, section.strip_to, np.zeros(2))
    if section.strip_to_surface is not None:
        surface = surveyed_surface(site, section.strip_to_surface, "strip_to_surface")
        check_cover(surface, area, section.strip_to_surface, "the floor of the dig", site)
        return surface
    return section.strip or 0.0


def check_cover(surface: Surface, area: Polygon, file: str, what: str, site: Site) -> None:
    """Refuse a surface that is not known all over ``area``.

    Parameters
    ----------
    surface : Surface
    area : Polygon
        In (easting, northing) [site unit].
    file : str
        Where the surface comes from, for messages.
    what : str
        What the surface is, for messages.
    site : Site

    Raises
    ------
    InputError
        The surface is missing over more than a trifle of ``area``.
    """
    missing = area.difference(surface.outline.buffer(1e-6))
    if missing.area > MISSING * area.area:
        part = max(shapely.get_parts(missing), key=lambda polygon: float(polygon.area))
        raise uncovered(part, area, what, file, site)


def uncovered(part: Polygon, area: Polygon, what: str, file: str, site: Site) -> InputError:
    """The error for a part of the dug or graded area where a surface is not surveyed.

    Parameters
    ----------
    part : Polygon
        The part without surface, in (easting, northing) [site unit].
    area : Polygon
        The whole area.
    what : str
        What the surface is.
    file : str
        Where it comes from.
    site : Site

    Returns
    -------
    InputError
        To be raised.
    """
    place = part.representative_point()
    short = site.unit.short
    return input_error(
        f"{what} is not surveyed over {part.area / area.area:.0%} of the bed and its shoulder "
        f"({part.area:,.0f} {short}2 about N {place.y:.1f}, E {place.x:.1f})",
        "survey there too, or give a smaller bed or shoulder",
        file=file,
    )


def stripped(ground: Pieces, floor: Surface | float) -> Pieces:
    """Pieces of the ground with the level ``stripped``: never above the ground.

    Parameters
    ----------
    ground : Pieces
        With the level ``ground``.
    floor : Surface or float
        From :func:`dig_floor`.

    Returns
    -------
    Pieces
        Each with the level ``stripped`` besides those it had.
    """
    if isinstance(floor, float):
        return ground.with_level("stripped", ground.levels["ground"] - floor)
    cut = overlay(ground, pieces_of(floor, "floor"))
    cut = lower_of(cut, "ground", "floor", "stripped")
    return cut.only(*ground.levels, "stripped")


def stripped_within(ground: Pieces, floor: Surface | float, area: Polygon) -> Pieces:
    """The stripped ground over an area.

    Parameters
    ----------
    ground : Pieces
    floor : Surface or float
        A float is a depth below the ground [site unit].
    area : Polygon
        In (easting, northing) [site unit].

    Returns
    -------
    Pieces
    """
    return stripped(overlay(ground, pieces_of_area(area)), floor)


def stripped_along(ring: Floats, ground: Surface, floor: Surface | float) -> Floats:
    """The stripped ground along a line (k, 2), as (m, 3) with a point at every bend.

    Parameters
    ----------
    ring : (k, 2) float array
        In (easting, northing) [site unit].
    ground : Surface
    floor : Surface or float
        A float is a depth below the ground [site unit].

    Returns
    -------
    (m, 3) float array
        Easting, northing, elevation [site unit].
    """
    if isinstance(floor, float):
        return np.asarray(drape(ring, ground) - np.array((0.0, 0.0, floor)))
    return lower_along(ring, ground, floor)
