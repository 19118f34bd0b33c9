"""``[bed.section]``: what comes out, what goes in and at what height the tubing lies."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from dripfield.site.schema.key import key
from dripfield.site.schema.materials import Insulation, Material

Depth = Annotated[float, Meta(ge=0)]
Positive = Annotated[float, Meta(gt=0)]
Percent = Annotated[float, Meta(ge=0, le=100)]
Share = Annotated[float, Meta(gt=0, le=1)]
Grade = Literal["fit", "follow", "ground", "plane"]

_DEEP = "depths are in feet on a site in feet (6 in is 0.5), in metres on a site in metres"


class CoverLayer(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[bed.section.cover]]``: a layer over the top of sand, listed from the sand upward."""

    name: Annotated[str, key("of the material", example="topsoil")]
    depth: Annotated[Depth, key("of the layer", unit="length", example=0.25)]


class BedSection(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[bed.section]``: a bed that is built up: what comes out, what goes in, at what height the
    tubing lies. With it laterals are laid on the top of sand, "dripfield bed" gives volumes,
    section and grade stakes, "dripfield check-bed" the check of what was raked. Depths are
    positive; only tubing_height may be negative.
    """

    strip: Annotated[
        Depth | None,
        key(
            "what comes out: everything down to this depth",
            unit="length",
            example=0.70,
            most=(30.0, 10.0),
            why=_DEEP,
        ),
    ] = None
    strip_to: Annotated[
        float | None,
        key("in place of strip: everything down to this elevation", unit="length", example=808.0),
    ] = None
    strip_to_surface: Annotated[
        str | None,
        key(
            "in place of strip: everything down to a surveyed surface, a survey file",
            example="subgrade.csv",
        ),
    ] = None
    dig_beyond: Annotated[
        Depth,
        key("the dig keeps its depth so far beyond the shoulder's edge", unit="length"),
    ] = 0.0
    dig_slope: Annotated[Positive, key("sides of the dig: run for one of rise")] = 1.5
    sand: Annotated[
        Depth,
        key(
            "least depth of sand under the tubing; 0: none",
            unit="length",
            example=1.0,
            most=(30.0, 10.0),
            why=_DEEP,
        ),
    ] = 0.0
    deepen: Annotated[
        bool,
        key(
            "true: dig deeper where the grade would leave less sand; saves sand where the ground "
            "bends and the grade does not"
        ),
    ] = False
    tubing_height: Annotated[
        float,
        key("of the tubing over the top of sand; set into it: negative", unit="length"),
    ] = 0.0
    cover: Annotated[
        list[CoverLayer],
        key(
            "layers over the sand, upward",
            example=[{"name": "loam", "depth": 0.5}, {"name": "topsoil", "depth": 0.25}],
        ),
    ] = []
    shoulder: Annotated[
        Depth | None,
        key(
            "graded top beyond the tubing",
            unit="length",
            example=2.0,
            absent="to the bed's edge",
        ),
    ] = None
    side_slope: Annotated[Positive, key("from there to existing ground: run for one of rise")] = 3.0
    grade: Annotated[
        Grade,
        key(
            'the top of sand: "follow" the ground smoothed, a "plane" by strike and dip, "fit" '
            '(the plane that moves least earth), "ground" as it is'
        ),
    ] = "follow"
    smoothing: Annotated[
        Positive | None,
        key(
            '"follow": radius of the smoothing',
            unit="length",
            default=(10.0, 3.0),
            least=(0.1, 0.03),
            most=(300.0, 100.0),
            why="a smaller radius smooths nothing, a larger one leaves a plane",
        ),
    ] = None
    rise: Annotated[
        float | None,
        key(
            '"follow": height over the smoothed ground',
            unit="length",
            example=0.5,
            absent="as the sand asks",
        ),
    ] = None
    strike: Annotated[
        Annotated[float, Meta(ge=0, lt=360)] | None,
        key(
            '"plane": bearing of a level line, clockwise from grid north; it falls to the right',
            unit="degrees",
            example=85.0,
        ),
    ] = None
    dip: Annotated[
        Depth | None, key('"plane": the fall as a fraction (0.09 is 9 %)', example=0.09)
    ] = None
    elevation: Annotated[
        float | None,
        key('"plane": of the top of sand', unit="length", example=812.0, absent="as the sand asks"),
    ] = None
    at: Annotated[
        tuple[float, float] | None,
        key(
            '"plane": northing and easting of the point that has it',
            unit="length",
            example=[5030.0, 2060.0],
            absent="the middle of the bed",
        ),
    ] = None
    max_slope: Annotated[
        Positive | None, key('"fit": the steepest allowed, as a fraction', example=0.12)
    ] = None
    limiting: Annotated[
        float | None,
        key(
            "elevation of the limiting layer (rock, water)",
            unit="length",
            example=803.0,
        ),
    ] = None
    limiting_surface: Annotated[
        str | None,
        key("in place of limiting: its surveyed surface, a survey file", example="rock_top.csv"),
    ] = None
    separation: Annotated[
        Depth | None, key("least height of the tubing over it", unit="length", example=2.0)
    ] = None
    separation_source: Annotated[
        str | None, key("the code that asks for it", example="the local code: look it up")
    ] = None
    sieve: Annotated[
        dict[str, Percent],
        key(
            "percent passing of the sand as tested, by sieve",
            example={"3/8 in": 100, "No. 4": 97.5, "No. 8": 90},
        ),
    ] = {}
    materials: list[Material] = []
    rake_tolerance: Annotated[
        Positive | None,
        key(
            "a shot on the raked bed may be off by this much",
            unit="length",
            example=0.10,
            absent="level_tolerance of [layout]",
            most=(5.0, 1.5),
            why="no bed so far off is raked",
        ),
    ] = None
    rake_share: Annotated[
        Share, key("this share of the shots must be within it (0.95 is 95 %)")
    ] = 1.0
    stake_spacing: Annotated[
        Positive | None,
        key("of the grid of grade stakes", unit="length", default=(10.0, 3.0)),
    ] = None
    corner: Annotated[
        Literal["round", "hip"],
        key(
            'faces go round an outward corner "round", or in a "hip", the planes of the edges '
            "carried on to where they cross"
        ),
    ] = "round"
    keepouts: Annotated[
        Literal["kept", "graded over"],
        key('keepouts in a built bed: "kept", with slopes of their own, or "graded over"'),
    ] = "kept"
    side_material: Annotated[
        Annotated[str, Meta(min_length=1)] | None,
        key("what fills the side slopes under the cover", example="loam", absent="the sand"),
    ] = None
    reuse: Annotated[
        list[str],
        key("materials that stripped soil may serve as, the first first", example=["topsoil"]),
    ] = []
    reuse_share: Annotated[Share, key("share of the stripped soil that is fit for that")] = 1.0
    frost_depth: Annotated[Depth | None, key("of frost", unit="length", example=2.5)] = None
    insulation: Annotated[
        Insulation | None,
        key(
            "a layer against frost, and the depth of soil it is worth",
            example={"name": "straw", "depth": 0.5, "worth": 1.0},
        ),
    ] = None
    settlement: Annotated[
        Annotated[float, Meta(ge=0, lt=1)],
        key("share of its depth that the cover loses by settling"),
    ] = 0.0
    rake_worst: Annotated[
        Positive | None,
        key(
            "with rake_share below 1 no shot may be off by more",
            unit="length",
            example=0.30,
            absent="three times rake_tolerance",
        ),
    ] = None
    shots_reach: Annotated[
        Positive | None,
        key("a shot proves the bed so far around it", unit="length", default=(3.5, 1.2)),
    ] = None
    shots_share: Annotated[Share, key("share of the bed that must lie within reach of a shot")] = (
        0.95
    )
    shots_gap: Annotated[
        Positive | None,
        key("no place of the bed may be farther from any shot", unit="length", default=(7.0, 2.4)),
    ] = None
    shots_area: Annotated[
        Positive | None,
        key("most area that a shot may stand for on average", unit="area", default=(20.0, 2.2)),
    ] = None

    @property
    def cover_depth(self) -> float:
        """Depth of the cover over the tubing [site unit]."""
        return sum(layer.depth for layer in self.cover) - self.tubing_height
