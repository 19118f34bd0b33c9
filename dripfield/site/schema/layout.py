"""``[layout]``: how the laterals are to lie."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from dripfield.site.schema.key import NotNegative, Positive, key

Method = Literal["balanced", "contour", "offset", "straight"]


class LayoutTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[layout]``: how the laterals are to lie.

    The defaults are common practice, no source: a level tolerance that a rod reading resolves, a
    bend that flexible tubing takes without a kink.
    """

    spacing: Annotated[
        Positive,
        key(
            "on centre, from lateral to lateral",
            unit="length",
            example=2.0,
            least=(0.2, 0.06),
            most=(100.0, 30.0),
            why="laterals lie inches to feet apart",
        ),
    ]
    spacing_measured: Annotated[
        Literal["plan", "slope"], key('"plan" (level distance) or "slope" (along the ground)')
    ] = "plan"
    edge_clearance: Annotated[
        NotNegative | None,
        key(
            "from the bed's edge and keepouts to any part of a lateral",
            unit="length",
            example=1.0,
            absent="half the spacing",
        ),
    ] = None
    method: Annotated[
        Method,
        key(
            '"balanced": level and evenly spaced as far as both go together; "contour": true level '
            'lines, spacing within its tolerance; "offset": exact spacing, parallel to one base '
            'line; "straight": straight lines along the strike, for flags'
        ),
    ] = "balanced"
    level_tolerance: Annotated[
        Positive | None,
        key(
            "a lateral may leave its own elevation by this much",
            unit="length",
            default=(0.10, 0.03),
            least=(0.001, 0.0003),
            most=(10.0, 3.0),
            why="no crew sets tubing finer, and beyond it nothing is level",
        ),
    ] = None
    spacing_tolerance: Annotated[
        Annotated[float, Meta(gt=0, lt=1)],
        key("spacing may be off by this fraction (0.10 is 10 %)"),
    ] = 0.10
    min_length: Annotated[
        NotNegative | None,
        key(
            "shorter pieces are not laid, and are counted",
            unit="length",
            default=(5.0, 1.5),
            most=(1000.0, 300.0),
            why="nothing would be laid",
        ),
    ] = None
    max_length: Annotated[
        NotNegative, key("longer laterals are cut; 0: no limit", unit="length", example=0)
    ] = 0.0
    reserve: Annotated[
        Annotated[float, Meta(ge=0, le=0.5)],
        key("share of both tolerances kept back for laying (0.2 is 20 %)"),
    ] = 0.0
    bearing: Annotated[
        Annotated[float, Meta(ge=0, lt=360)] | None,
        key(
            'direction of "straight", clockwise from grid north',
            unit="degrees",
            example=75.0,
            absent="the best-fit strike of the bed",
        ),
    ] = None
    bend_radius: Annotated[
        NotNegative | None,
        key(
            "tightest bend that the tubing takes",
            unit="length",
            default=(2.0, 0.6),
            most=(100.0, 30.0),
            why="tubing bends tighter than that",
        ),
    ] = None
    smoothing: Annotated[
        NotNegative | None,
        key(
            "shots may be off by this much, so ground between them is smoothed by no more than it; "
            "0: never",
            unit="length",
            default=(0.05, 0.015),
            most=(5.0, 1.5),
            why="shots so far off are no survey",
        ),
    ] = None
    panels: Annotated[
        Annotated[int, Meta(ge=1, le=50)] | None,
        key("parts that the bed is divided into", example=1, absent="chosen"),
    ] = None
    max_panels: Annotated[Annotated[int, Meta(ge=1, le=12)], key("most parts to try")] = 6
    panel_gain: Annotated[
        Annotated[float, Meta(ge=0, lt=1)],
        key("a further part must gain this much merit to be chosen"),
    ] = 0.01
    connection_worth: Annotated[
        NotNegative | None,
        key(
            "length of tubing that a connection must be worth (an assumption, no source)",
            unit="length",
            default=(6.0, 2.0),
            most=(1000.0, 300.0),
            why="no connection costs as much",
        ),
    ] = None
    least_mean_length: Annotated[
        NotNegative,
        key(
            "least mean length of the laterals of a division into panels; 0: no limit",
            unit="length",
            most=(1000.0, 300.0),
            why="no bed would allow it",
        ),
    ] = 0.0
    stake_interval: Annotated[
        Positive | None,
        key(
            "most between two stakes along a lateral",
            unit="length",
            default=(25.0, 7.5),
            least=(0.5, 0.15),
            most=(300.0, 100.0),
            why="closer stakes fill the bed, wider ones hold no line",
        ),
    ] = None
    contour_interval: Annotated[
        Positive | None,
        key(
            "between level lines",
            unit="length",
            example=1.0,
            absent="chosen",
            least=(0.02, 0.005),
            most=(100.0, 30.0),
            why="closer lines are black, wider ones show nothing",
        ),
    ] = None
    coverage_multiple: Annotated[
        Positive,
        key(
            "ground farther from any shot than this many times the survey's own spacing counts as "
            "not surveyed",
            least=(0.5, 0.5),
            most=(100.0, 100.0),
            why="below it all ground is a gap, above it none is",
        ),
    ] = 3.0
