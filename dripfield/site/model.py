"""A loaded site: the file's content and the bed as geometry.

The tables of ``site.toml`` are declared in :mod:`dripfield.site.schema`. Lengths are in the site's
unit throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from dripfield.core.units import Unit
from dripfield.site.schema.layout import Method, PlainMethod
from dripfield.site.schema.site import SiteFile


@dataclass(frozen=True)
class LayoutSettings:
    """Layout settings with every default filled in, in the site's unit.

    ``spacing_tolerance`` is a fraction; ``max_length`` 0 means no limit; ``bearing`` is degrees
    clockwise from grid north or None for the best-fit strike; ``panels`` None lets the engine
    choose; ``reserve`` is the share of both tolerances kept back for laying. ``seams`` are pairs of
    (easting, northing).
    """

    spacing: float
    spacing_measured: Literal["plan", "slope"]
    edge_clearance: float
    method: Method
    level_tolerance: float
    spacing_tolerance: float
    min_length: float
    max_length: float
    bearing: float | None
    bend_radius: float
    smoothing: float
    panels: int | None
    max_panels: int
    panel_gain: float
    stake_interval: float
    contour_interval: float | None
    coverage_multiple: float
    reserve: float = 0.0
    connection_worth: float = 0.0
    least_mean_length: float = 0.0
    seams: tuple[tuple[tuple[float, float], tuple[float, float]], ...] = ()
    panel_methods: tuple[tuple[str, PlainMethod], ...] = ()
    accepted: str | None = None
    locked: tuple[str, ...] = ()
    dropped: tuple[str, ...] = ()


@dataclass(frozen=True)
class Setback:
    """A feature, the least distance from it to any lateral, and the citation of the rule."""

    name: str
    feature: BaseGeometry
    distance: float
    source: str | None


@dataclass(frozen=True)
class Bed:
    """The bed's ring, the keepout rings with their names, and the setbacks, in site coordinates."""

    boundary: Polygon
    keepouts: tuple[Polygon, ...] = ()
    setbacks: tuple[Setback, ...] = ()
    keepout_names: tuple[str, ...] = ()

    def open_area(self, edge_clearance: float) -> Polygon | MultiPolygon:
        """Where a lateral may lie: the bed less the clearance, keepouts and setbacks.

        Parameters
        ----------
        edge_clearance : float
            Least distance from the bed's edge and from a keepout to any part of a lateral
            [site unit]. Setbacks use their own distance.

        Returns
        -------
        Polygon or MultiPolygon
            Possibly empty.
        """
        area = self.boundary.buffer(-edge_clearance, quad_segs=_ARC)
        for keepout in self.keepouts:
            area = area.difference(keepout.buffer(edge_clearance, quad_segs=_ARC))
        for setback in self.setbacks:
            area = area.difference(_kept_clear(setback.feature, setback.distance))
        return area


_ARC = 64  # chords of a quarter circle


def _kept_clear(feature: BaseGeometry, distance: float) -> BaseGeometry:
    """What lies within a distance of a feature, and no less of it than that.

    The chords that GEOS draws a circle with lie inside it: 100 ft would fall short by 0.007 ft. So
    the circles about a feature's points are drawn longer by as much.
    """
    corners = shapely.multipoints(shapely.get_coordinates(feature))
    circles = corners.buffer(distance / math.cos(math.pi / (4 * _ARC)), quad_segs=_ARC)
    return shapely.union(feature.buffer(distance, quad_segs=_ARC), circles)


@dataclass(frozen=True)
class Site:
    """A site folder, read and checked; its survey is read with the ground.

    ``notes`` say what was taken for granted of the bed.
    """

    folder: Path
    file: SiteFile
    unit: Unit
    settings: LayoutSettings
    bed: Bed
    notes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The site's name as written in ``site.toml``."""
        return self.file.site.name
