"""Is the bed raked right: shots on the finished work against the design."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.bed.common_cause import CommonCause, common_cause
from dripfield.bed.design import design_bed, laying_surface
from dripfield.bed.pieces import Pieces, overlay, pieces_of, pieces_of_area, split
from dripfield.bed.profile import crossings, places_at
from dripfield.bed.shot_cover import Enough, ShotCover, cover_of, enough_shots
from dripfield.bed.shot_places import ShotPlaces, shot_places
from dripfield.bed.volumes import Volume, volume_of
from dripfield.bed.wrong_unit import explain_off_bed
from dripfield.core.arrays import Bools, Floats
from dripfield.ground.triangles.tin import Surface
from dripfield.layout.model import Layout
from dripfield.site.model import Site
from dripfield.site.schema.bed_section import BedSection
from dripfield.survey.shots import Survey

Level = Literal["stripped", "sand", "finished"]
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Zone:
    """A part of the bed that lies out of tolerance between the shots.

    Attributes
    ----------
    name : str
        ``Z1`` … by the volume to move.
    high : bool
        Whether it lies above the design: rake off. Otherwise bring material.
    area : Polygon
    worst_xy : (2,) float array
        Where it departs most.
    worst, mean : float
        Greatest and mean height above (below, negative) the design [site unit].
    volume : float
        Between the work and the design inside the zone [cubic site unit].
    chord : float
        Where most of the zone lies under lines between far shots: the longest of them [site unit];
        else 0.
    """

    name: str
    high: bool
    area: Polygon
    worst_xy: Floats
    worst: float
    mean: float
    volume: float
    chord: float = 0.0


@dataclass(frozen=True)
class LateralAsRaked:
    """How a lateral would lie on the bed as raked.

    Attributes
    ----------
    name : str
    elevation : float
        The elevation that the layout sets.
    raked : float
        Middle of the highest and lowest of the bed along it; NaN where no shots cover it.
    departure : float
        Farthest of the bed along it from that middle.
    covered : float
        Share of its length that lies between shots.
    level_ok : bool
        Whether it is covered and departs by no more than the level tolerance.
    """

    name: str
    elevation: float
    raked: float
    departure: float
    covered: float
    level_ok: bool


@dataclass(frozen=True)
class BedCheck:
    """Shots against a design.

    Attributes
    ----------
    level : str
        What was shot: ``stripped``, ``sand`` or ``finished``.
    shots : Survey
    design : (n,) float array
        Design elevation at each shot; NaN outside the bed.
    inside : (n,) bool array
        Which shots lie in the bed and its shoulder: only these are judged.
    area : Polygon
    tolerance, share_wanted : float
        Allowed departure [site unit] and the share of shots that must be within it.
    worst_allowed : float
        Most that any shot may be off [site unit].
    places : ShotPlaces
        The judged shots by place: shots at one place that agree are one.
    enough : Enough
        How densely the bed must be shot to be judged.
    cover : ShotCover
        How densely it was.
    cause : CommonCause or None
        One cause that explains most of the differences.
    cover_depth : float
        Of all that lies over the top of sand [site unit].
    built : Pieces or None
        The bed between the shots with the levels ``built`` and ``design``; None for fewer than
        three shots, or shots in a line.
    volume : Volume or None
        From the work to the design: its cut is what lies high, its fill what lies low.
    zones : tuple of Zone
    laterals : tuple of LateralAsRaked
    """

    level: Level
    shots: Survey
    design: Floats
    inside: Bools
    area: Polygon | MultiPolygon
    tolerance: float
    share_wanted: float
    worst_allowed: float
    places: ShotPlaces
    enough: Enough
    cover: ShotCover
    cause: CommonCause | None
    cover_depth: float
    built: Pieces | None
    volume: Volume | None
    zones: tuple[Zone, ...]
    laterals: tuple[LateralAsRaked, ...]

    @property
    def difference(self) -> Floats:
        """Measured less design, (n,) [site unit]; NaN outside the bed."""
        return np.asarray(self.shots.xyz[:, 2] - self.design)

    @property
    def ok(self) -> Bools:
        """Which shots lie in the bed and within tolerance, (n,)."""
        with np.errstate(invalid="ignore"):
            return np.asarray(np.abs(self.difference) <= self.tolerance + _ROUNDING)

    @property
    def place_difference(self) -> Floats:
        """Measured less design at each place, (m,) [site unit]."""
        designs = [float(self.design[shots].mean()) for shots in self.places.shots]
        return np.asarray(self.places.xyz[:, 2] - np.array(designs).reshape(-1))

    @property
    def place_ok(self) -> Bools:
        """Which places lie within tolerance, (m,)."""
        return np.asarray(np.abs(self.place_difference) <= self.tolerance + _ROUNDING)

    @property
    def worst_place(self) -> int:
        """Number of the place that departs most."""
        return int(np.abs(self.place_difference).argmax())

    @property
    def worst(self) -> int:
        """Number of the shot there."""
        return int(self.places.shots[self.worst_place][0])

    @property
    def rms(self) -> float:
        """Root mean square of the differences [site unit]; NaN without a place."""
        difference = self.place_difference
        return float(np.sqrt(np.mean(difference**2))) if len(difference) else float("nan")

    @property
    def mean(self) -> float:
        """Mean difference [site unit]: far from zero, suspect the benchmark or the backsight."""
        return float(self.place_difference.mean()) if len(self.places.xyz) else float("nan")

    @property
    def share_within(self) -> float:
        """Share of the places shot in the bed that are within tolerance; 0 without any."""
        return float(self.place_ok.mean()) if len(self.places.xyz) else 0.0

    @property
    def covered(self) -> float:
        """Share of the bed that lies between shots."""
        if self.built is None:
            return 0.0
        return min(1.0, float(self.built.areas.sum()) / float(self.area.area))


def check_bed(
    site: Site,
    ground: Surface,
    shots: Survey,
    level: Level = "sand",
) -> BedCheck:
    """Compare shots with the bed's design.

    Parameters
    ----------
    site : Site
        Without a bed section, or with the ground as its grade, shots are compared with existing
        ground.
    ground : Surface
        Existing ground.
    shots : Survey
        As built, in the site's unit and coordinates.
    level : str
        What was shot.

    Returns
    -------
    BedCheck

    Raises
    ------
    InputError
        No shot lies in the bed, or the shots are in another unit than the site: the factor is
        named.
    """
    target, area = _target(site, ground, level)
    xyz = shots.xyz
    inside = shapely.intersects_xy(area, xyz[:, :2])
    explain_off_bed(shots, inside, area, target, site.unit)
    design = np.where(inside, target.elevation(xyz[:, :2]), np.nan)
    section = site.file.bed.section
    tolerance = site.settings.level_tolerance
    if section is not None and section.rake_tolerance is not None:
        tolerance = section.rake_tolerance
    judged = inside & ~np.isnan(design)
    places = shot_places(xyz, judged, site.unit.default(0.1, 0.03), tolerance)
    surface = _between(places.xyz)
    enough = enough_shots(section, site.unit)
    built: Pieces | None = None
    volume: Volume | None = None
    zones: tuple[Zone, ...] = ()
    if surface is not None:
        built = overlay(pieces_of(surface, "built"), pieces_of(target, "design"))
        built = overlay(built, pieces_of_area(area))
        volume = volume_of(built, "built", "design")
        zones = _with_chords(_zones(built, tolerance), surface, 2.0 * enough.reach)
    share = 1.0 if section is None else section.rake_share
    check = BedCheck(
        level=level,
        shots=shots,
        design=design,
        inside=judged,
        area=area,
        tolerance=tolerance,
        share_wanted=share,
        worst_allowed=_worst_allowed(section, tolerance),
        places=places,
        enough=enough,
        cover=cover_of(places.xyz[:, :2], _to_cover(site, area), enough),
        cause=None,
        cover_depth=sum(layer.depth for layer in section.cover) if section is not None else 0.0,
        built=built,
        volume=volume,
        zones=zones,
        laterals=(),
    )
    cause = common_cause(places.xyz[:, :2], check.place_difference, tolerance)
    return replace(check, cause=cause)


def _worst_allowed(section: BedSection | None, tolerance: float) -> float:
    if section is None or section.rake_share == 1.0:
        return tolerance
    return max(section.rake_worst or 3.0 * tolerance, tolerance)


def _to_cover(site: Site, area: Polygon) -> Polygon | MultiPolygon:
    """What must be shot: the bed itself, without keepouts that are not graded over."""
    section = site.file.bed.section
    bed = shapely.intersection(site.bed.boundary, area)
    if section is None or section.keepouts != "graded over":
        bed = shapely.difference(bed, shapely.union_all(list(site.bed.keepouts)))
    return bed if not bed.is_empty else area


def _with_chords(zones: tuple[Zone, ...], surface: Surface, far: float) -> tuple[Zone, ...]:
    """Mark the zones that straight lines between far shots make."""
    corners = surface.vertices[surface.triangles][:, :, :2]
    sides = np.hypot(*(corners - np.roll(corners, 1, axis=1)).transpose(2, 0, 1)).max(axis=1)
    long = sides > far
    if not long.any():
        return zones
    number = np.flatnonzero(long)
    shapes = shapely.polygons(corners[long])
    marked = []
    for zone in zones:
        shared = shapely.area(shapely.intersection(shapes, zone.area))
        chord = float(sides[number[shared > 0.0]].max(initial=0.0))
        mostly = shared.sum() > 0.5 * zone.area.area
        marked.append(replace(zone, chord=chord if mostly else 0.0))
    return tuple(marked)


def with_laterals(check: BedCheck, layout: Layout, tolerance: float) -> BedCheck:
    """The same check with a layout's laterals laid on the bed as raked.

    Parameters
    ----------
    check : BedCheck
        Of the top of sand.
    layout : Layout
    tolerance : float
        Allowed departure of any point of a lateral from its middle elevation [site unit].

    Returns
    -------
    BedCheck
    """
    surface = _between(check.places.xyz)
    if surface is None:
        return check
    return replace(check, laterals=_laterals_on(surface, layout, tolerance))


def _target(site: Site, ground: Surface, level: Level) -> tuple[Surface, Polygon]:
    """The design of a level and the area that it is checked in."""
    if site.file.bed.section is None:
        return laying_surface(site, ground).surface, site.bed.boundary
    design = design_bed(site, ground)
    return design.inside.surface(level), design.inner


def _between(xyz: Floats) -> Surface | None:
    """A surface over shots; None where they do not span one."""
    near = xyz[:, :2] - xyz[:, :2].mean(axis=0) if len(xyz) else xyz[:, :2]
    if len(np.unique(near, axis=0)) < 3 or np.linalg.svd(near, compute_uv=False)[-1] < 1e-6:
        return None
    return Surface.from_points(xyz)


def _zones(built: Pieces, tolerance: float) -> tuple[Zone, ...]:
    """Parts that lie out of tolerance, the most volume to move first."""
    cut = split(split(built, "built", "design", tolerance), "built", "design", -tolerance)
    height = cut.levels["built"] - cut.levels["design"]
    mean = height.mean(axis=1)
    found: list[Zone] = []
    for high in (True, False):
        out = mean > tolerance + _ROUNDING if high else mean < -tolerance - _ROUNDING
        part = cut.where(out)
        if not len(part):
            continue
        for area in shapely.get_parts(part.outline()):
            mine = shapely.contains_xy(area.buffer(1e-6), part.centres)
            if mine.any():
                found.append(_zone(high, area, part.where(mine), height[out][mine]))
    found.sort(key=lambda zone: -zone.volume)
    return tuple(
        Zone(f"Z{i}", z.high, z.area, z.worst_xy, z.worst, z.mean, z.volume)
        for i, z in enumerate(found, 1)
    )


def _zone(high: bool, area: Polygon, part: Pieces, height: Floats) -> Zone:
    worst = int(np.abs(height).argmax())
    volume = float((part.areas * height.mean(axis=1)).sum())
    return Zone(
        "",
        high,
        area,
        part.xy.reshape(-1, 2)[worst],
        float(height.reshape(-1)[worst]),
        volume / float(part.areas.sum()),
        abs(volume),
    )


def _laterals_on(surface: Surface, layout: Layout, tolerance: float) -> tuple[LateralAsRaked, ...]:
    """Lay each lateral on the bed as raked."""
    result = []
    for lateral in layout.laterals:
        stations = crossings(lateral.xy, surface)
        z = surface.elevation(places_at(lateral.xy, stations))
        middles = 0.5 * (stations[:-1] + stations[1:])
        seen = ~np.isnan(surface.elevation(places_at(lateral.xy, middles)))
        covered = float(np.diff(stations)[seen].sum() / stations[-1])
        raked = departure = np.nan
        if not np.isnan(z).all():
            raked = 0.5 * (np.nanmax(z) + np.nanmin(z))
            departure = 0.5 * (np.nanmax(z) - np.nanmin(z))
        result.append(
            LateralAsRaked(
                lateral.name,
                lateral.elevation,
                float(raked),
                float(departure),
                covered,
                bool(departure <= tolerance + _ROUNDING),
            )
        )
    return tuple(result)


def read_shots(site: Site, path: Path) -> Survey:
    """Read as-built shots; the file need not lie in the site folder."""
    from dripfield.site.schema.survey import SurveyTable
    from dripfield.survey.read.survey_file import read_survey

    options = SurveyTable(points=path.name, decimal=site.file.survey.decimal)
    return read_survey(path, options, site.unit)
