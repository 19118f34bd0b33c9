"""Placing a survey in the site's grid: transformed, localised, stretched to the ground."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.core.crs import grid_ground, parse_crs, transformation, unit_of
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.shots import Survey


def into_site(
    survey: Survey,
    source: str,
    crs: str | None,
    unit: Unit,
    elevation_unit: Unit | None,
    elevations_in_site_unit: bool,
) -> Survey:
    """Carry a survey from its own coordinate system into the site's.

    Parameters
    ----------
    survey : Survey
        Easting or longitude first.
    source : str
        Its coordinate system.
    crs : str or None
        The site's.
    unit : Unit
        The site's.
    elevation_unit : Unit or None
        The unit of its elevations, where the site file tells it.
    elevations_in_site_unit : bool
        True for files whose elevations are in the site's unit unless told otherwise.

    Returns
    -------
    Survey
        In the site's coordinates and unit, with notes of what was done.

    Raises
    ------
    InputError
        The site names no system, the transformation would be a guess, or the unit of the
        elevations is not told and could be another.
    """
    if crs is None:
        raise input_error(
            f"its coordinates are in {source} and the site names no system to carry them into",
            'add crs = "EPSG:…" under [site] in site.toml, or crs = "site" under [survey] where '
            "they are the site's own",
            file=survey.source,
        )
    every = np.concatenate([survey.xyz, *survey.breaklines])
    carry, note = transformation(every[:, :2], source, crs)
    system = parse_crs(source, "[survey] crs")
    notes = [note] if note else []
    if elevation_unit is None:
        if not (elevations_in_site_unit or unit is Unit.METRE or unit_of(system) is unit):
            raise input_error(
                f"its coordinates are in {system.name} and the unit of its elevations is not told",
                'add elevation_unit = "m", "ft" or "ftUS" under [survey] in site.toml',
                file=survey.source,
            )
        elevation_unit = unit
    elif elevation_unit is not unit:
        notes.append(f"elevations converted from {elevation_unit.label} to {unit.label}")
    return survey.moved(carry, *notes, stretch=elevation_unit.metres / unit.metres)


def on_the_ground(
    survey: Survey, options: SurveyTable, unit: Unit, crs: str | None, around: Polygon | None
) -> Survey:
    """State grid against ground and true against magnetic north; stretch only where asked.

    The scale is taken at the bed's centre, or the survey's middle where there is no bed, and the
    survey is stretched about that point.

    Parameters
    ----------
    survey : Survey
        In (easting, northing, elevation) [site unit].
    options : SurveyTable
        Its ``ground_scale`` and ``magnetic_declination`` [degrees] count.
    unit : Unit
        The site's.
    crs : str or None
        The site's coordinate system.
    around : Polygon or None
        The bed.

    Returns
    -------
    Survey
        With a note of what was stated or stretched.

    Raises
    ------
    InputError
        ``ground_scale = "combined"`` without a coordinate system of the site.
    """
    scale, notes = options.ground_scale, []
    middle = _middle(survey, around)
    if crs is not None:
        factors = grid_ground(crs, middle, float(np.median(survey.xyz[:, 2])), unit)
        notes.append(factors.describe())
        if scale == "combined":
            scale = 1.0 / factors.combined
    declination = options.magnetic_declination
    if declination is not None:
        notes.append(
            f"magnetic north is stated {abs(declination):g}° "
            f"{'east' if declination >= 0 else 'west'} of true north; bearings are from grid north"
        )
    if scale == "combined":
        raise input_error(
            "the factor cannot be computed without a coordinate system",
            'add crs = "EPSG:…" under [site], or give the factor as a number',
            file="site.toml",
            field="[survey] ground_scale",
        )
    if scale is None:
        return survey.moved(np.asarray, *notes) if notes else survey
    factor = float(scale)
    east, north = middle
    notes.append(
        f"stretched from grid to ground by {factor:.8f} about northing {north:.{unit.places}f}, "
        f"easting {east:.{unit.places}f}, as ground_scale says"
    )
    return survey.moved(lambda xy: middle + (xy - middle) * factor, *notes)


def _middle(survey: Survey, around: Polygon | None) -> Floats:
    if around is not None:
        return np.array((around.centroid.x, around.centroid.y))
    xy = survey.xyz[:, :2]
    middle: Floats = (xy.min(axis=0) + xy.max(axis=0)) / 2.0
    return middle
