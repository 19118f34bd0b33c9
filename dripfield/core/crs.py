"""Coordinate systems: units against axes, transformations with their accuracy, grid and ground.

PROJ does the geodesy. Coordinates are (easting, northing) or (longitude, latitude) throughout,
whatever order a system's definition lists its axes in.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.units import Unit

if TYPE_CHECKING:
    from pyproj import CRS

WGS84 = "EPSG:4326"
Carry = Callable[[Floats], Floats]
_MEAN_RADIUS = 6_372_000.0
"""Mean radius of the earth for the elevation factor [m]: 20,906,000 ft, the round value that
National Geodetic Survey instructions use (value from memory)."""


def parse_crs(name: str, field: str) -> CRS:
    """The coordinate system called ``name``, such as ``EPSG:6559``.

    Raises
    ------
    InputError
        Where PROJ does not know it; names the key ``field`` of ``site.toml``.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        return CRS.from_user_input(name)
    except CRSError:
        raise input_error(
            f"'{name}' is not a known coordinate system",
            'give its code, as in crs = "EPSG:6559"',
            file="site.toml",
            field=field,
        ) from None


def check_crs_unit(name: str, unit: Unit, xy: Floats | None = None) -> None:
    """Refuse a site's coordinate system that is not projected, or not in the site's unit.

    Parameters
    ----------
    name : str
        ``crs`` under ``[site]``.
    unit : Unit
        ``units`` under ``[site]``.
    xy : (n, 2) float array, optional
        Points of the site, to say how far apart the two kinds of feet are there.

    Raises
    ------
    InputError
        Naming both units.
    """
    crs = parse_crs(name, "[site] crs")
    if not crs.is_projected:
        raise input_error(
            f"{name} ({crs.name}) is not a projected system",
            "name the projected system of the site's coordinates",
            file="site.toml",
            field="[site] crs",
        )
    for axis in crs.axis_info:
        ratio = float(axis.unit_conversion_factor) / unit.metres
        if abs(ratio - 1.0) < 1e-9:
            continue
        what = "elevations" if axis.direction in ("up", "down") else "coordinates"
        apart = ""
        if abs(ratio - 1.0) < 1e-5 and xy is not None and len(xy):  # the two kinds of feet
            largest = float(np.abs(xy).max())
            shift = largest * abs(ratio - 1.0)
            apart = f" (the two put a coordinate of {largest:,.0f} ft {shift:.2f} ft apart)"
        raise input_error(
            f"the site's units are {unit.label} and the {what} of {name} ({crs.name}) are in "
            f"{_unit_label(axis.unit_conversion_factor, axis.unit_name)}{apart}",
            "correct units or crs",
            file="site.toml",
            field="[site] units",
        )


def unit_of(crs: CRS) -> Unit | None:
    """The unit of a projected system's axes, or None for degrees and other lengths."""
    metres = float(crs.axis_info[0].unit_conversion_factor)
    if not crs.is_projected:
        return None
    return next((unit for unit in Unit if abs(metres / unit.metres - 1.0) < 1e-9), None)


def _unit_label(metres: float, name: str) -> str:
    return next((unit.label for unit in Unit if abs(metres / unit.metres - 1.0) < 1e-9), name)


def transformation(
    points: Floats, source: str, target: str, field: str = "[survey] crs"
) -> tuple[Carry, str | None]:
    """The best operation PROJ has here from one coordinate system to another.

    Parameters
    ----------
    points : (n, 2) float array
        (easting, northing) or (longitude, latitude) in ``source``: where it is to serve.
    source, target : str
        Coordinate systems.
    field : str
        Key of ``site.toml`` to blame for the source.

    Returns
    -------
    carry : callable
        Takes points (k, 2) of ``source`` to points (k, 2) of ``target``; raises an InputError
        where one has no place there.
    note : str or None
        Which operation, and its stated accuracy; None where the systems are the same.

    Raises
    ------
    InputError
        Where a system is not known, or PROJ could only shift between the datums at a guess.
    """
    from pyproj.transformer import AreaOfInterest, TransformerGroup

    here, there = parse_crs(source, field), parse_crs(target, "[site] crs")
    if here.equals(there, ignore_axis_order=True):
        return np.asarray, None
    area = None
    west, south, east, north = _geographic_box(here, points)
    if -180 <= west <= east <= 180 and -90 <= south <= north <= 90:
        area = AreaOfInterest(west, south, east, north)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # said in the note instead
        group = TransformerGroup(here, there, always_xy=True, area_of_interest=area)
    best = group.transformers[0]
    operation = best.description.replace("axis order change (2D) + ", "")
    better = next(iter(group.unavailable_operations), None)
    if "Ballpark" in best.description:
        raise input_error(
            f"{here.name} to {there.name} can only be guessed at here (no shift between their "
            "datums is installed, and the guess may be off by many feet)",
            "give the survey in the site's own crs",
            file="site.toml",
            field=field,
        )
    note = f"{here.name} to {there.name} by {operation}: {_accuracy(best.accuracy)}"
    if better is not None and not group.best_available:
        note += f"; {better.name} (±{better.accuracy:g} m) would be better and is not installed"

    def carry(places: Floats) -> Floats:
        xy = np.column_stack(best.transform(places[:, 0], places[:, 1]))
        lost = ~np.isfinite(xy).all(axis=1)
        if lost.any():
            first = places[lost.argmax()]
            raise input_error(
                f"the point {first[0]:g}, {first[1]:g} (x, y) of {here.name} has no place in "
                f"{there.name}",
                "check the order of the columns and both coordinate systems",
                file="site.toml",
                field=field,
            )
        return xy

    return carry, note


def _geographic_box(crs: CRS, points: Floats) -> tuple[float, float, float, float]:
    """West, south, east and north of points, degrees on the system's own datum."""
    from pyproj import Transformer

    if crs.is_geographic:
        x, y = points[:, 0], points[:, 1]
    else:
        to_degrees = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
        x, y = to_degrees.transform(points[:, 0], points[:, 1])
    return float(np.min(x)), float(np.min(y)), float(np.max(x)), float(np.max(y))


def _accuracy(metres: float) -> str:
    if metres < 0:
        return "its accuracy is not stated"
    if metres == 0:
        return "exact"
    return f"approximate (±{metres:g} m stated)"


@dataclass(frozen=True)
class GridGround:
    """Grid against ground at one place.

    Attributes
    ----------
    grid_scale : float
        Scale of the projection: grid length over length on the ellipsoid.
    elevation_factor : float
        Length on the ellipsoid over length at the ground.
    convergence : float
        Degrees clockwise from true to grid north.
    """

    grid_scale: float
    elevation_factor: float
    convergence: float

    @property
    def combined(self) -> float:
        """Grid length over ground length."""
        return self.grid_scale * self.elevation_factor

    def describe(self) -> str:
        """One line for a sheet."""
        return (
            f"grid to ground: combined factor {self.combined:.8f} (scale {self.grid_scale:.8f}, "
            f"elevation {self.elevation_factor:.8f}; 100 on the ground is "
            f"{100 * self.combined:.4f} on the grid); grid north is {abs(self.convergence):.4f}° "
            f"{'east' if self.convergence >= 0 else 'west'} of true north"
        )


def grid_ground(crs: str, xy: Floats, elevation: float, unit: Unit) -> GridGround:
    """Scale factor and convergence at a point of the site.

    Parameters
    ----------
    crs : str
        The site's projected system.
    xy : (2,) float array
        Easting, northing [unit].
    elevation : float
        Height [unit]; the geoid's height above the ellipsoid is left out, which changes the
        factor by at most 1.7e-5 (geoid within 107 m of the ellipsoid).
    unit : Unit
        The site's unit.

    Returns
    -------
    GridGround
        The scale is the projection's meridional one (all directions alike on conformal
        projections).
    """
    from pyproj import Proj, Transformer

    system = parse_crs(crs, "[site] crs")
    to_degrees = Transformer.from_crs(system, system.geodetic_crs, always_xy=True)
    longitude, latitude = to_degrees.transform(float(xy[0]), float(xy[1]))
    factors = Proj(system).get_factors(longitude, latitude)
    return GridGround(
        grid_scale=float(factors.meridional_scale),
        elevation_factor=_MEAN_RADIUS / (_MEAN_RADIUS + elevation * unit.metres),
        convergence=float(factors.meridian_convergence),
    )
