"""What a site folder says, as data.

:class:`SiteFile` and its tables mirror ``site.toml`` one to one and are validated by msgspec;
:class:`Site` is the loaded site: the file's content and the bed as geometry. Lengths
are in the site's unit throughout. A default of ``None`` means "the round value for the unit",
filled in by :mod:`dripfield.site.reader`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import msgspec
import shapely
from msgspec import Meta
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from dripfield.core.units import Unit
from dripfield.site.schema.bed_section import BedSection
from dripfield.site.schema.crew import Benchmark, CrewTable, EmitterTable
from dripfield.site.schema.review import ReviewTable
from dripfield.site.schema.survey import SurveyTable

Positive = Annotated[float, Meta(gt=0)]
NotNegative = Annotated[float, Meta(ge=0)]
Method = Literal["balanced", "contour", "offset", "straight"]


class SiteTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[site]``: what the site is called and the unit of everything in it."""

    name: str
    units: Literal["ft", "ftUS", "m"]
    crs: str | None = None
    vertical_datum: str | None = None
    survey_date: str | None = None
    surveyor: str | None = None
    address: str | None = None
    owner: str | None = None
    designer: str | None = None
    permit_number: str | None = None
    design_date: str | None = None
    revision: str | None = None
    revision_date: str | None = None
    notes: str | None = None


class SetbackTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[bed.setbacks]]``: keep every lateral ``distance`` away from a point, line or ring."""

    name: str
    points: str
    distance: Positive
    shape: Literal["point", "line", "ring"] = "point"
    source: str | None = None


class BedTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[bed]``: the ring to lay in and what no lateral may enter.

    ``boundary_layer`` is the layer of the bed's closed line where ``boundary`` is a drawing.
    """

    boundary: str
    boundary_layer: str | None = None
    keepouts: list[str] = []
    setbacks: list[SetbackTable] = []
    section: BedSection | None = None


class LayoutTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[layout]``: how the laterals are to lie."""

    spacing: Positive
    spacing_measured: Literal["plan", "slope"] = "plan"
    edge_clearance: NotNegative | None = None
    method: Method = "balanced"
    level_tolerance: Positive | None = None
    spacing_tolerance: Annotated[float, Meta(gt=0, lt=1)] = 0.10
    min_length: NotNegative | None = None
    max_length: NotNegative = 0.0
    bearing: Annotated[float, Meta(ge=0, lt=360)] | None = None
    bend_radius: NotNegative | None = None
    smoothing: NotNegative | None = None
    panels: Annotated[int, Meta(ge=1)] | None = None
    max_panels: Annotated[int, Meta(ge=1, le=12)] = 6
    panel_gain: Annotated[float, Meta(ge=0, lt=1)] = 0.01
    stake_interval: Positive | None = None
    contour_interval: Positive | None = None
    coverage_multiple: Positive = 3.0


class RulesTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[rules]``: which published rule sets warn (none unless named).

    ``off`` names single rules to leave out. ``absorption_area`` is the least area that the design
    calls for [site unit squared], for rules that tie the tubing's length to it.
    """

    check: list[str] = []
    off: list[str] = []
    absorption_area: Positive | None = None


class SiteFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The whole of ``site.toml``."""

    site: SiteTable
    survey: SurveyTable
    bed: BedTable
    layout: LayoutTable
    rules: RulesTable = RulesTable()
    benchmark: Benchmark | None = None
    crew: CrewTable = CrewTable()
    emitters: EmitterTable | None = None
    review: ReviewTable = ReviewTable()


@dataclass(frozen=True)
class LayoutRules:
    """Layout settings with every default filled in, in the site's unit.

    ``spacing_tolerance`` is a fraction; ``max_length`` 0 means no limit; ``bearing`` is degrees
    clockwise from grid north or None for the best-fit strike; ``panels`` None lets the engine
    choose.
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
    chord_tolerance: float
    contour_interval: float | None
    coverage_multiple: float


@dataclass(frozen=True)
class Setback:
    """A feature, the least distance from it to any lateral, and the citation of the rule."""

    name: str
    feature: BaseGeometry
    distance: float
    source: str | None


@dataclass(frozen=True)
class Bed:
    """The bed's ring, the keepout rings and the setbacks, in site coordinates."""

    boundary: Polygon
    keepouts: tuple[Polygon, ...] = ()
    setbacks: tuple[Setback, ...] = ()

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
    rules: LayoutRules
    bed: Bed
    notes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The site's name as written in ``site.toml``."""
        return self.file.site.name
