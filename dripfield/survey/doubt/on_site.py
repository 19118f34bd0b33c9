"""Does a survey belong to its site?

A bed that lies off the survey is tried with its columns swapped and in the other unit, because that
is how it usually comes about.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.core.errors import InputError, input_error
from dripfield.core.units import Unit
from dripfield.site.checks import length_in_words
from dripfield.site.model import Site
from dripfield.survey.shots import Survey

_COVERED = 0.95  # share of a bed that counts as lying on the survey, when an error is looked for


def check_on_survey(site: Site, survey: Survey) -> None:
    """Refuse a bed that does not lie on its survey, at least in part.

    Raises
    ------
    InputError
        Swapped columns, another unit, or another place.
    """
    bed, hull = site.bed.boundary, _hull(survey)
    if not hull.area:
        return  # no surface either: the survey's own fault, named when the surface is built
    bed_file, survey_file = site.file.bed.boundary, survey.source.name
    covered = _share(bed, hull)
    if covered < 0.7 and _share(_swapped(bed), hull) > _COVERED:
        raise _swapped_columns(site, survey, hull)
    if scale := _other_unit(bed, hull, covered):
        raise input_error(
            f"it and {survey_file} look to be in different units: times {scale:.4f} the bed lies "
            "on the survey",
            f"write both in {site.unit.value}",
            file=bed_file,
        )
    if covered == 0.0:
        raise input_error(
            f"the bed lies outside the survey, {_away(site, bed, hull)} from it",
            f"check that it and {survey_file} use the same coordinates, or survey the bed",
            file=bed_file,
        )


def _other_unit(bed: Polygon, hull: BaseGeometry, covered: float) -> float:
    """The factor that brings a bed of the other unit onto the survey, or 0.

    A bed in the larger unit with near coordinates lies inside the survey either way, so there only
    the same extent at another scale tells.
    """
    size = np.array(hull.bounds)[2:] - np.array(hull.bounds)[:2]
    feet = (Unit.FOOT.metres, Unit.SURVEY_FOOT.metres)
    for scale in (*feet, *(1.0 / foot for foot in feet)):
        scaled = shapely.transform(bed, lambda xy, by=scale: xy * by)
        fits = covered < 0.25 and _share(scaled, hull) > _COVERED
        sides = np.abs(np.array(scaled.bounds) - np.array(hull.bounds)) / np.tile(size, 2)
        if fits or sides.max() < 0.02:
            return scale
    return 0.0


def _swapped_columns(site: Site, survey: Survey, hull: BaseGeometry) -> InputError:
    """Northing and easting are swapped in the bed or in the survey: say which looks it."""
    bed_file, survey_file = site.file.bed.boundary, survey.source.name
    suspect, other = bed_file, survey_file
    if _survey_looks_swapped(site, survey, hull):
        suspect, other = survey_file, bed_file
    away = _away(site, site.bed.boundary, hull)
    apart = f"lies {away} away from the survey" if away else "lies largely off the survey"
    return input_error(
        f"northing and easting look swapped: the bed {apart}, and on it once they are swapped",
        f"correct the columns here (or those of {other})",
        file=suspect,
    )


def _survey_looks_swapped(site: Site, survey: Survey, hull: BaseGeometry) -> bool:
    """Judge by the reference system, then by the other files, then by who named the columns."""
    if crs := site.file.site.crs:
        as_written = _in_area_of_use(crs, survey.xyz)
        if as_written != _in_area_of_use(crs, survey.xyz[:, [1, 0]]):
            return not as_written
    features = [*site.bed.keepouts, *(setback.feature for setback in site.bed.setbacks)]
    votes = [part.distance(hull) - part.distance(site.bed.boundary) for part in features]
    if votes and abs(sum(votes)) > 0.0:
        return bool(sum(votes) > 0.0)
    unnamed = bool(len(survey.rows)) and int(survey.rows.min()) == 1  # no header row
    return unnamed and survey.source.suffix.lower() in (".csv", ".txt")


def notes_on(site: Site, survey: Survey) -> tuple[str, ...]:
    """What a person should know of a site that is accepted, one line each."""
    if site.file.site.crs is None or _in_area_of_use(site.file.site.crs, survey.xyz):
        return ()
    return (
        f"the survey lies outside the area where {site.file.site.crs} is used: "
        "check crs, or leave it out for local coordinates",
    )


def _in_area_of_use(name: str, xyz: Floats) -> bool:
    """Does the middle of the points lie within a degree of where the system is used?"""
    from pyproj import Transformer

    from dripfield.core.crs import parse_crs

    crs = parse_crs(name, "[site] crs")
    area, geodetic = crs.area_of_use, crs.geodetic_crs
    if area is None or geodetic is None:
        return True
    to_degrees = Transformer.from_crs(crs.to_2d(), geodetic.to_2d(), always_xy=True)
    longitude, latitude = to_degrees.transform(*np.median(xyz[:, :2], axis=0))
    if not np.isfinite((longitude, latitude)).all():
        return False
    east = (longitude - area.west) % 360.0 <= (area.east - area.west) % 360.0 + 1.0
    west = (area.east - longitude) % 360.0 <= (area.east - area.west) % 360.0 + 1.0
    return bool(east or west) and bool(area.south - 1.0 <= latitude <= area.north + 1.0)


def _hull(survey: Survey) -> BaseGeometry:
    """The ground that shots and breaklines span."""
    known = np.vstack((survey.xyz, *survey.breaklines))
    return shapely.convex_hull(shapely.multipoints(known[:, :2]))


def _share(area: Polygon, hull: BaseGeometry) -> float:
    """The share of an area that lies on the survey's hull."""
    return float(area.intersection(hull).area / area.area)


def _away(site: Site, bed: Polygon, hull: BaseGeometry) -> str:
    """How far the bed lies from the survey, in words; empty when they meet."""
    distance = bed.distance(hull)
    return length_in_words(distance, site.unit) if distance else ""


def check_features(site: Site) -> None:
    """Refuse a keepout or setback that lies far off, but near the bed once its columns are swapped.

    It would be overlooked otherwise. Asked when the survey has shown that the bed itself is right.

    Raises
    ------
    InputError
        Naming the feature's file.
    """
    bed = site.bed.boundary
    near = shapely.minimum_bounding_radius(bed) * 2.0
    names = [keepout.points for keepout in site.file.bed.named_keepouts]
    names += [setback.points for setback in site.file.bed.setbacks]
    parts = [(keepout, 0.0) for keepout in site.bed.keepouts]
    parts += [(setback.feature, setback.distance) for setback in site.bed.setbacks]
    for name, (feature, distance) in zip(names, parts, strict=True):
        reach = near + distance
        if feature.distance(bed) > reach and _swapped(feature).distance(bed) < reach:
            raise input_error(
                "northing and easting look swapped: it lies "
                f"{length_in_words(feature.distance(bed), site.unit)} away from the bed, and near "
                "it once they are swapped",
                "correct its columns",
                file=name,
            )


def _swapped(shape: BaseGeometry) -> BaseGeometry:
    swap: Callable[[Floats], Floats] = lambda xy: xy[:, ::-1]  # noqa: E731
    return shapely.transform(shape, swap)
