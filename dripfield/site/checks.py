"""Do the parts of a site belong together?

The unit against the coordinate reference system, spacing and keepouts against the bed, the bed
against the survey. A bed that lies off the survey is tried with its columns swapped and in the
other unit, because that is how it usually comes about.
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
from dripfield.site.model import Site
from dripfield.survey.shots import Survey

_SITE_FILE = "site.toml"
_COVERED = 0.95  # share of a bed that counts as lying on the survey, when an error is looked for


def check_site(site: Site) -> None:
    """Refuse a site whose parts do not belong together.

    Raises
    ------
    InputError
        Naming the file and key at fault, and how to mend it.
    """
    if site.file.site.crs is not None:
        from dripfield.core.crs import check_crs_unit

        check_crs_unit(site.file.site.crs, site.unit, site.survey.xyz[:, :2])
    _check_on_survey(site)
    _check_features(site)
    _check_spacing(site)
    _check_room(site)


def notes_on(site: Site) -> tuple[str, ...]:
    """What a person should know of a site that is accepted, one line each."""
    if site.file.site.crs is None or _in_area_of_use(site.file.site.crs, site.survey.xyz):
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


def _check_on_survey(site: Site) -> None:
    """The bed must lie on the survey, at least in part."""
    bed, hull = site.bed.boundary, _hull(site.survey)
    if not hull.area:
        return  # no surface either: the survey's own fault, named when the surface is built
    bed_file, survey_file = site.file.bed.boundary, site.survey.source.name
    covered = _share(bed, hull)
    if covered < 0.7 and _share(_swapped(bed), hull) > _COVERED:
        raise _swapped_columns(site, hull)
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


def _swapped_columns(site: Site, hull: BaseGeometry) -> InputError:
    """Northing and easting are swapped in the bed or in the survey: say which looks it."""
    bed_file, survey_file = site.file.bed.boundary, site.survey.source.name
    suspect, other = bed_file, survey_file
    if _survey_looks_swapped(site, hull):
        suspect, other = survey_file, bed_file
    away = _away(site, site.bed.boundary, hull)
    apart = f"lies {away} away from the survey" if away else "lies largely off the survey"
    return input_error(
        f"northing and easting look swapped: the bed {apart}, and on it once they are swapped",
        f"correct the columns here (or those of {other})",
        file=suspect,
    )


def _survey_looks_swapped(site: Site, hull: BaseGeometry) -> bool:
    """Judge by the reference system, then by the other files, then by who named the columns."""
    survey = site.survey
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


def _check_features(site: Site) -> None:
    """A keepout or setback far off, but near once its columns are swapped, would be overlooked."""
    bed = site.bed.boundary
    near = shapely.minimum_bounding_radius(bed) * 2.0
    names = (*site.file.bed.keepouts, *(table.points for table in site.file.bed.setbacks))
    parts = [(keepout, 0.0) for keepout in site.bed.keepouts]
    parts += [(setback.feature, setback.distance) for setback in site.bed.setbacks]
    for name, (feature, distance) in zip(names, parts, strict=True):
        reach = near + distance
        if feature.distance(bed) > reach and _swapped(feature).distance(bed) < reach:
            raise input_error(
                "northing and easting look swapped: it lies "
                f"{_length(feature.distance(bed), site.unit)} away from the bed, and near it once "
                "they are swapped",
                "correct its columns",
                file=name,
            )


def _check_spacing(site: Site) -> None:
    width = bed_width(site.bed.boundary)
    if site.rules.spacing > width:
        raise input_error(
            f"{site.rules.spacing:g} is wider than the bed, which is "
            f"{_length(width, site.unit)} wide",
            f"give a spacing in {site.unit.value} that fits the bed",
            file=_SITE_FILE,
            field="[layout] spacing",
        )


def bed_width(bed: Polygon) -> float:
    """The least width of a bed between two parallel lines [site unit]."""
    corners = shapely.get_coordinates(shapely.convex_hull(bed))
    corners = corners - corners[0]
    along = np.diff(corners, axis=0)
    across = np.column_stack((-along[:, 1], along[:, 0])) / np.hypot(*along.T)[:, None]
    return float(np.ptp(corners @ across.T, axis=0).min())


def _check_room(site: Site) -> None:
    """Clearance, keepouts and setbacks must leave room for a lateral."""
    bed, clearance = site.bed, site.rules.edge_clearance
    if not bed.open_area(clearance).is_empty:
        return
    inner = bed.boundary.buffer(-clearance) if clearance else bed.boundary
    if inner.is_empty:
        raise input_error(
            f"{clearance:g} leaves nothing of the bed, which is "
            f"{_length(bed_width(bed.boundary), site.unit)} wide",
            "give a smaller clearance",
            file=_SITE_FILE,
            field="[layout] edge_clearance",
        )
    for name, keepout in zip(site.file.bed.keepouts, bed.keepouts, strict=True):
        if keepout.buffer(clearance).covers(inner):
            raise input_error(
                f"the keepout with its clearance of {_length(clearance, site.unit)} swallows the "
                "whole bed",
                "check its corners",
                file=name,
            )
    for table, setback in zip(site.file.bed.setbacks, bed.setbacks, strict=True):
        if setback.feature.buffer(setback.distance).covers(inner):
            raise input_error(
                f"the setback of {_length(setback.distance, site.unit)} from {setback.name!r} "
                "swallows the whole bed",
                "check its place and its distance",
                file=table.points,
            )
    raise input_error(
        "clearance, keepouts and setbacks together leave nothing of the bed",
        "check their places and distances",
        file=_SITE_FILE,
        field="[bed]",
    )


def _hull(survey: Survey) -> BaseGeometry:
    """The ground that shots and breaklines span."""
    known = np.vstack((survey.xyz, *survey.breaklines))
    return shapely.convex_hull(shapely.multipoints(known[:, :2]))


def _share(area: Polygon, hull: BaseGeometry) -> float:
    """The share of an area that lies on the survey's hull."""
    return float(area.intersection(hull).area / area.area)


def _swapped(shape: BaseGeometry) -> BaseGeometry:
    swap: Callable[[Floats], Floats] = lambda xy: xy[:, ::-1]  # noqa: E731
    return shapely.transform(shape, swap)


def _away(site: Site, bed: Polygon, hull: BaseGeometry) -> str:
    """How far the bed lies from the survey, in words; empty when they meet."""
    distance = bed.distance(hull)
    return _length(distance, site.unit) if distance else ""


def _length(length: float, unit: Unit) -> str:
    """A length for a message: decimals only where they say something."""
    return f"{length:,.0f} {unit.short}" if length >= 100 else f"{length:.4g} {unit.short}"
