"""Sections through the bed: every level along a line down the slope and one across it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from dripfield.bed.design import BedDesign
from dripfield.bed.profile import crossings, places_at
from dripfield.core.arrays import Floats
from dripfield.ground.triangles.tin import Surface

_JOINED = 1e-4  # a gap smaller than this is rounding [site unit]
_NUDGE = 5e-4  # a level that ends this near to a station is known at it [site unit]
_FLAT = 1e-6  # slope that is none
_MARGIN = 0.12  # of the graded length, shown beyond it at each end


@dataclass(frozen=True)
class Section:
    """Levels along a straight line.

    Attributes
    ----------
    name, title : str
        ``A`` and what it runs along.
    line : (2, 2) float array
        Start and end: easting, northing [site unit].
    stations : (m,) float array
        Distance from the start; between two of them every level is straight.
    levels : mapping of str to (m,) float array
        Elevation of each level, NaN where it is not; ``ground`` all along.
    graded, toe, shoulder, tubing : tuple of (start, end)
        Stretches where earth is moved, between daylight lines, inside the shoulder's edge, and
        where tubing may lie.
    """

    name: str
    title: str
    line: Floats
    stations: Floats
    levels: Mapping[str, Floats]
    graded: tuple[tuple[float, float], ...]
    toe: tuple[tuple[float, float], ...]
    shoulder: tuple[tuple[float, float], ...]
    tubing: tuple[tuple[float, float], ...]

    @property
    def length(self) -> float:
        """[site unit]"""
        return float(np.hypot(*(self.line[1] - self.line[0])))

    @property
    def bearing(self) -> float:
        """Direction from start to end, degrees clockwise from grid north."""
        east, north = self.line[1] - self.line[0]
        return math.degrees(math.atan2(east, north)) % 360.0

    def end_of(self, level: str) -> float:
        """The last station at which a level is known; 0 where it never is."""
        known = self.stations[~np.isnan(self.levels[level])]
        return float(known[-1]) if len(known) else 0.0

    def where(self, level: str, part: str) -> Floats:
        """A level ``all`` along, or only ``inside`` the shoulder's edge or ``beyond`` it, (m,)."""
        if part == "all":
            return self.levels[level]
        inside = np.zeros(len(self.stations), dtype=bool)
        ends = np.zeros(len(self.stations), dtype=bool)
        for low, high in self.shoulder:
            inside |= (self.stations >= low - _JOINED) & (self.stations <= high + _JOINED)
            ends |= np.abs(self.stations - low) <= _JOINED
            ends |= np.abs(self.stations - high) <= _JOINED
        kept = inside if part == "inside" else ~inside | ends
        return np.asarray(np.where(kept, self.levels[level], np.nan))

    def at(self, level: str, station: float) -> float:
        """A level's elevation at a station; NaN where it is not."""
        return float(np.interp(station, self.stations, self.levels[level]))


def bed_sections(design: BedDesign, ground: Surface) -> tuple[Section, Section]:
    """A section down the slope and one across it, both through the middle of the bed.

    Parameters
    ----------
    design : BedDesign
    ground : Surface
        Existing ground, drawn beyond the daylight line too.

    Returns
    -------
    tuple of Section
        Down the slope, across it.
    """
    fall = fall_direction(design)
    across = np.array((fall[1], -fall[0]))  # to the right as seen looking up the slope
    middle = _middle(design)
    return (
        section_along(design, ground, "A", "along the slope", middle, fall),
        section_along(design, ground, "B", "across the slope", middle, across),
    )


def fall_direction(design: BedDesign) -> Floats:
    """Unit vector down the mean slope of the top of sand; of the ground, or the long way, if flat.

    Returns
    -------
    (2,) float array
        Easting, northing.
    """
    for level in ("sand", "ground"):
        slope = _mean_slope(design, level)
        steep = float(np.hypot(*slope))
        if steep > _FLAT:
            return np.asarray(-slope / steep)
    box = shapely.get_coordinates(shapely.oriented_envelope(design.inner).exterior)
    sides = np.diff(box[:3], axis=0)
    longest = sides[int(np.hypot(*sides.T).argmax())]
    return np.asarray(longest / np.hypot(*longest))


def _mean_slope(design: BedDesign, level: str) -> Floats:
    """Gradient of the plane fitted to a level inside the shoulder's edge, by area."""
    pieces = design.inside
    xy = (pieces.xy - pieces.xy[0, 0]).reshape(-1, 2)
    z = pieces.levels[level].reshape(-1)
    weight = np.sqrt(np.repeat(pieces.areas, 3))
    columns = np.column_stack((np.ones(len(xy)), xy)) * weight[:, None]
    return np.asarray(np.linalg.lstsq(columns, (z - z.mean()) * weight, rcond=None)[0][1:])


def _middle(design: BedDesign) -> Floats:
    inner = design.inner
    point = inner.centroid if inner.contains(inner.centroid) else inner.representative_point()
    return np.array((point.x, point.y))


def section_along(
    design: BedDesign, ground: Surface, name: str, title: str, through: Floats, along: Floats
) -> Section:
    """A section through a point in a direction, from beyond one daylight line to the other.

    Parameters
    ----------
    design : BedDesign
    ground : Surface
    name, title : str
    through : (2,) float array
        Easting, northing [site unit].
    along : (2,) float array
        Unit vector.

    Returns
    -------
    Section
    """
    corners = shapely.get_coordinates(ground.outline) - through
    far = float(np.hypot(*corners.T).max()) + 1.0
    whole = LineString((through - far * along, through + far * along))
    graded = shapely.get_coordinates(shapely.intersection(whole, design.footprint))
    places = (graded - through) @ along
    margin = _MARGIN * float(np.ptp(places)) + 1e-3
    ends = np.array((places.min() - margin, places.max() + margin))
    known = shapely.intersection(whole, ground.outline.buffer(-1e-6))
    surveyed = max(shapely.get_parts(known), key=lambda part: float(part.length))
    reach = (shapely.get_coordinates(surveyed) - through) @ along
    ends = np.clip(ends, reach.min(), reach.max())
    line = through + ends[:, None] * along
    surfaces = dict(design.surfaces)
    if design.limiting is not None:
        surfaces["limiting"] = design.limiting
    bends = [crossings(line, ground)]
    bends += [crossings(line, surface) for surface in surfaces.values()]
    stretches = {
        key: _stretches(line, area)
        for key, area in (
            ("graded", design.footprint),
            ("toe", design.daylight),
            ("shoulder", design.inner),
            ("tubing", design.tubing_area),
        )
    }
    bends += [np.array(pairs).reshape(-1) for pairs in stretches.values()]
    stations = np.unique(np.concatenate(bends))
    stations = stations[np.concatenate(([True], np.diff(stations) > 1e-7))]
    xy = places_at(line, stations)
    levels = {key: _known_near(surface, xy, along) for key, surface in surfaces.items()}
    levels["ground"] = ground.elevation(xy)
    return Section(name, title, line, stations, levels, **stretches)


def _known_near(surface: Surface, xy: Floats, along: Floats) -> Floats:
    """Elevations at points of a line; at the surface's very rim, those a hair inside it."""
    z = surface.elevation(xy)
    for nudge in (_NUDGE, -_NUDGE):
        off = np.isnan(z)
        z[off] = surface.elevation(xy[off] + nudge * along)
    return z


def _stretches(line: Floats, area: BaseGeometry) -> tuple[tuple[float, float], ...]:
    """Where a straight line runs inside an area, as distances from its start."""
    start = line[0]
    along = (line[1] - start) / np.hypot(*(line[1] - start))
    found: list[tuple[float, float]] = []
    parts = shapely.get_parts(shapely.intersection(LineString(line), area))
    ends = [np.sort((shapely.get_coordinates(part) - start) @ along)[[0, -1]] for part in parts]
    for low, high in sorted((float(low), float(high)) for low, high in ends):
        if found and low - found[-1][1] < _JOINED:
            found[-1] = (found[-1][0], high)
        elif high - low > _JOINED:
            found.append((low, high))
    return tuple(found)
