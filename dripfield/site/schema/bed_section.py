"""``[bed.section]``: what comes out, what goes in and at what height the tubing lies.

Lengths and depths are in the site's unit like every other length: on a site in feet 6 in is
written 0.5. Depths are given as positive numbers; only ``tubing_height`` may be negative.
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

Depth = Annotated[float, Meta(ge=0)]
Positive = Annotated[float, Meta(gt=0)]
Percent = Annotated[float, Meta(ge=0, le=100)]
Grade = Literal["fit", "follow", "ground", "plane"]


class CoverLayer(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[bed.section.cover]]``: a layer over the top of sand, listed from the sand upward."""

    name: str
    depth: Depth


class Quantity(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A volume with its own unit, as a truck's load is known."""

    value: Positive
    unit: Literal["yd3", "m3"]


class Density(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A bulk density with its own unit (``ton/yd3`` is short tons of 2,000 lb)."""

    value: Positive
    unit: Literal["t/m3", "kg/m3", "lb/ft3", "ton/yd3"]


class Material(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[bed.section.materials]]``: how a material changes volume, and what it weighs.

    ``loose`` and ``compacted`` are volumes for one volume in the bank (undisturbed in its pit or
    bed): swell above 1, shrink below 1. ``density`` is that of the material as ``density_state``
    says.
    """

    name: str
    loose: Positive | None = None
    compacted: Positive | None = None
    density: Density | None = None
    density_state: Literal["loose", "bank", "compacted"] = "loose"
    truck: Quantity | None = None


class BedSection(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The bed's section, from the dig up to the finished grade.

    Attributes
    ----------
    strip, strip_to, strip_to_surface
        What comes out, one of the three: a depth, everything down to an elevation, or everything
        down to a surveyed surface (a survey file of the site folder).
    dig_beyond, dig_slope
        How far beyond the shoulder the dig keeps its depth, and the run for one of rise of its
        sides.
    sand
        Least depth of sand under the tubing.
    deepen
        Whether the dig may go below what is stripped where the design grade would leave less sand.
    tubing_height
        Height of the tubing over the top of sand; negative when it is set into it.
    cover
        Layers over the top of sand, from the sand upward.
    shoulder, side_slope
        Width of the graded top beyond the tubing, and the run for one of rise from there to
        existing ground.
    grade
        ``ground``: the top of sand is existing ground as it is; ``follow``: existing ground
        smoothed; ``plane``: by strike, dip and one elevation; ``fit``: the plane that moves the
        least earth, no steeper than ``max_slope``.
    smoothing, rise
        For ``follow``: radius of the smoothing, and height of the top of sand over the smoothed
        ground (left out: as the sand depth asks).
    strike, dip, elevation, at
        For ``plane``: bearing of a level line [degrees clockwise from grid north], the fall to the
        right of it as a fraction (0.05 is 5 %), the top of sand's elevation (left out: as the sand
        depth asks) and the point (northing, easting) that has it (left out: the bed's centroid).
    max_slope
        For ``fit``: the steepest allowed, as a fraction.
    limiting, limiting_surface, separation, separation_source
        The limiting layer as an elevation or a surveyed surface, the least separation from the
        tubing down to it, and the code that asks for it.
    sieve
        Percent passing by sieve of the sand that was tested.
    materials
        Swell, shrink, density and truck by material.
    rake_tolerance, rake_share
        Allowed departure of a shot from the design, and the share of shots that must be within.
    stake_spacing
        Grid of grade stakes.
    """

    strip: Depth | None = None
    strip_to: float | None = None
    strip_to_surface: str | None = None
    dig_beyond: Depth = 0.0
    dig_slope: Positive = 1.5
    sand: Depth = 0.0
    deepen: bool = False
    tubing_height: float = 0.0
    cover: list[CoverLayer] = []
    shoulder: Depth | None = None
    side_slope: Positive = 3.0
    grade: Grade = "follow"
    smoothing: Positive | None = None
    rise: float | None = None
    strike: Annotated[float, Meta(ge=0, lt=360)] | None = None
    dip: Depth | None = None
    elevation: float | None = None
    at: tuple[float, float] | None = None
    max_slope: Positive | None = None
    limiting: float | None = None
    limiting_surface: str | None = None
    separation: Depth | None = None
    separation_source: str | None = None
    sieve: dict[str, Percent] = {}
    materials: list[Material] = []
    rake_tolerance: Positive | None = None
    rake_share: Annotated[float, Meta(gt=0, le=1)] = 1.0
    stake_spacing: Positive | None = None

    @property
    def cover_depth(self) -> float:
        """Depth of the cover over the tubing [site unit]."""
        return sum(layer.depth for layer in self.cover) - self.tubing_height
