"""``[review]``: limits that a reviewer sets, marks to tie from, setbacks to check."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from dripfield.site.schema.key import Fraction, NotNegative, Positive, key

_WIDE = "a limit so wide would let anything pass"


class ReferenceTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[review.references]]``: a permanent point that the record drawing measures from."""

    name: Annotated[
        Annotated[str, Meta(min_length=1)], key("what it is called", example="House NE")
    ]
    northing: Annotated[float, key("of the point", unit="length", example=5001.20)]
    easting: Annotated[float, key("of the point", unit="length", example=2010.40)]
    description: Annotated[
        str | None, key("where to find it", example="corner of the foundation")
    ] = None


class ReviewSetbackTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[review.setbacks]]``: a distance that is checked but does not shape the layout."""

    name: Annotated[str, key("what is kept clear of", example="Neighbor's well")]
    points: Annotated[
        str, key("file of northing,easting with a header row", example="neighbor_well.csv")
    ]
    distance: Annotated[Positive, key("least distance to any lateral", unit="length", example=50.0)]
    shape: Annotated[
        Literal["point", "line", "ring"], key('"point" (one or more), "line" or "ring"')
    ] = "point"
    kind: Annotated[
        Literal["well", "property line", "building", "water", "keepout", "other"],
        key('"well", "property line", "building", "water", "keepout" or "other"', example="well"),
    ] = "other"
    source: Annotated[
        str | None, key("the rule that asks for it", example="the local code: look it up")
    ] = None


class ReviewTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[review]``: what still counts as the same, what is allowed, and how much must be measured.

    Each ``…_conforms`` is the greatest difference that still counts as the same, each ``…_limit``
    the greatest that is allowed. Half a foot is the accuracy that WAC 246-272A-0265(1) asks of a
    record drawing; a length is allowed that much at either end. What conforms is half of the
    limit, a quarter for lengths (common practice, no source).
    """

    length_conforms: Annotated[
        NotNegative | None,
        key(
            "lengths this near are the same",
            unit="length",
            default=(0.25, 0.075),
            most=(50.0, 15.0),
            why=_WIDE,
        ),
    ] = None
    length_limit: Annotated[
        NotNegative | None,
        key(
            "most difference of length allowed",
            unit="length",
            default=(1.0, 0.3),
            most=(50.0, 15.0),
            why=_WIDE,
        ),
    ] = None
    elevation_conforms: Annotated[
        NotNegative | None,
        key(
            "elevations this near are the same",
            unit="length",
            example=0.05,
            absent="half of elevation_limit",
            most=(10.0, 3.0),
            why=_WIDE,
        ),
    ] = None
    elevation_limit: Annotated[
        NotNegative | None,
        key(
            "most difference of elevation allowed",
            unit="length",
            example=0.10,
            absent="level_tolerance of [layout]",
            most=(10.0, 3.0),
            why=_WIDE,
        ),
    ] = None
    offset_conforms: Annotated[
        NotNegative | None,
        key(
            "lines this near lie in the same place",
            unit="length",
            default=(0.25, 0.075),
            most=(20.0, 6.0),
            why=_WIDE,
        ),
    ] = None
    offset_limit: Annotated[
        NotNegative | None,
        key(
            "most departure in plan allowed",
            unit="length",
            default=(0.5, 0.15),
            most=(20.0, 6.0),
            why=_WIDE,
        ),
    ] = None
    spacing_conforms: Annotated[
        NotNegative | None,
        key(
            "spacings this near are the same",
            unit="length",
            example=0.10,
            absent="half of spacing_limit",
            most=(20.0, 6.0),
            why=_WIDE,
        ),
    ] = None
    spacing_limit: Annotated[
        NotNegative | None,
        key(
            "most difference of spacing allowed",
            unit="length",
            example=0.20,
            absent="spacing_tolerance times spacing of [layout]",
            most=(20.0, 6.0),
            why=_WIDE,
        ),
    ] = None
    total_conforms: Annotated[Fraction, key("totals this near are the same, as a fraction")] = 0.005
    total_limit: Annotated[Fraction, key("most difference of totals allowed, as a fraction")] = 0.02
    tie_accuracy: Annotated[
        Positive | None,
        key(
            "how well a tied point must be found again from its two ties",
            unit="length",
            default=(0.5, 0.15),
            most=(20.0, 6.0),
            why=_WIDE,
        ),
    ] = None
    tie_error: Annotated[
        Positive | None,
        key(
            "how far a taped tie may be off",
            unit="length",
            default=(0.1, 0.03),
            most=(5.0, 1.5),
            why="a tape is not so far off",
        ),
    ] = None
    laid_depth: Annotated[
        NotNegative,
        key(
            "how far below the elevation that was set the shots were taken; 0: on the ground",
            unit="length",
            most=(10.0, 3.0),
            why="no tubing lies deeper",
        ),
    ] = 0.0
    shot_accuracy: Annotated[
        NotNegative | None,
        key(
            "how far a shot of what was laid or built may be off; what is outside a limit by no"
            " more than that is not proven instead of wrong",
            unit="length",
            example=0.05,
            absent="lines outside a limit fail; distances that a rule asks for are allowed 0.05 ft"
            " or 0.015 m (common practice, no source)",
            most=(5.0, 1.5),
            why="worse shots prove nothing",
        ),
    ] = None
    shot_spacing: Annotated[
        Positive | None,
        key(
            "most between two shots along a lateral that proves what lies between them",
            unit="length",
            default=(6.0, 2.0),
            least=(0.1, 0.03),
            most=(100.0, 30.0),
            why="closer shots cannot be asked for, wider ones prove nothing",
        ),
    ] = None
    conditions: Annotated[
        list[str],
        key(
            "the reviewer's conditions, printed on the sheets",
            example=["Shoot every lateral before it is covered."],
        ),
    ] = []
    references: list[ReferenceTable] = []
    setbacks: list[ReviewSetbackTable] = []
