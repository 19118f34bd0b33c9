"""``[benchmark]`` and ``[crew]``: what the crew's sheets need beside the layout."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from dripfield.site.schema.key import NotNegative, Positive, Words, key

Paper = Literal["letter", "tabloid", "A4", "A3"]
SetBy = Literal["instrument and gauge", "tape and gauge", "instrument", "tape", "cheapest"]
Language = Literal["en", "es"]
RodFoot = Literal["ground", "trench", "sand", "tubing"]

_ERROR = "a larger error leaves nothing to set out by"


class Benchmark(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[benchmark]``: a mark of known elevation near the bed: with it rods can be read."""

    name: Annotated[str, key("what it is called", example="BM1")]
    elevation: Annotated[float, key("of the mark", unit="length", example=815.42)]
    northing: Annotated[
        float | None, key("of the mark, with easting or not at all", unit="length", example=5068.20)
    ] = None
    easting: Annotated[
        float | None,
        key("of the mark, with northing or not at all", unit="length", example=1990.75),
    ] = None
    description: Annotated[
        str | None, key("where to find it", example="nail in the root of an oak")
    ] = None

    def __post_init__(self) -> None:
        """Refuse half a position."""
        if (self.northing is None) != (self.easting is None):
            raise ValueError("Give the benchmark both a northing and an easting, or neither")


class CrewTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[crew]``: paper, rod, tape and base line, and how well the crew works.

    Each ``…_error`` is a standard deviation and an assumption (common practice, no source) until a
    crew has measured its own.
    """

    paper: Annotated[
        Paper | None,
        key(
            '"letter", "tabloid", "A4" or "A3"',
            example="letter",
            absent='"letter" on a site in feet, "A4" on one in metres',
        ),
    ] = None
    scale: Annotated[
        Positive | None,
        key(
            "feet to an inch; on a site in metres the N of 1:N",
            example=10.0,
            absent="chosen to fit",
            least=(1.0, 10.0),
            most=(1000.0, 10000.0),
            why="at another scale no sheet shows a bed",
        ),
    ] = None
    rod_length: Annotated[
        Positive | None,
        key(
            "greatest reading of the rod, whose foot reads 0",
            unit="length",
            default=(13.0, 4.0),
            least=(1.5, 0.5),
            most=(50.0, 15.0),
            why="no levelling rod is shorter or longer",
        ),
    ] = None
    backsight: Annotated[
        NotNegative | Words | None,
        key(
            'reading on the benchmark from the first set-up, as 4.85 or "4\' 10 1/4\\""',
            unit="length",
            example=4.85,
            absent="set-ups are planned",
        ),
    ] = None
    set_by: Annotated[
        SetBy,
        key(
            'what sets the marks: "instrument and gauge" or "tape and gauge" (one guide line a '
            'panel by that tool, all others by a stick), "instrument", "tape" (every mark), or '
            '"cheapest": the quickest of these that simulated crews keep the design with'
        ),
    ] = "instrument and gauge"
    rod_foot: Annotated[
        RodFoot,
        key(
            'what the rod stands on when a lateral is levelled: "ground", "trench" (its bottom), '
            '"sand" or "tubing"'
        ),
    ] = "ground"
    rod_depth: Annotated[
        NotNegative,
        key(
            "how far below the surface that is laid on the rod's foot stands then",
            unit="length",
            most=(10.0, 3.0),
            why="no tubing lies deeper",
        ),
    ] = 0.0
    language: Annotated[Language, key('of the crew\'s sheets: "en" or "es"')] = "en"
    large_print: Annotated[bool, key("the crew's sheets in larger type, on more pages")] = False
    base_line: Annotated[
        tuple[str, str] | None,
        key(
            "two points that tapes are laid from: permanent points or corners",
            example=["BED1", "BED2"],
            absent="chosen",
        ),
    ] = None
    instrument_error: Annotated[
        NotNegative | None,
        key(
            "of a mark set out by coordinates, in each coordinate",
            unit="length",
            default=(0.03, 0.01),
            most=(3.0, 1.0),
            why=_ERROR,
        ),
    ] = None
    tape_error: Annotated[
        NotNegative | None,
        key(
            "of a distance taped from a named point",
            unit="length",
            default=(0.05, 0.015),
            most=(3.0, 1.0),
            why=_ERROR,
        ),
    ] = None
    gauge_error: Annotated[
        NotNegative | None,
        key(
            "of a gap measured from the line that is already set",
            unit="length",
            default=(0.02, 0.006),
            most=(3.0, 1.0),
            why=_ERROR,
        ),
    ] = None
    station_error: Annotated[
        NotNegative | None,
        key(
            "of a distance measured along a line that is set",
            unit="length",
            default=(0.10, 0.03),
            most=(3.0, 1.0),
            why=_ERROR,
        ),
    ] = None
    rod_error: Annotated[
        NotNegative | None,
        key(
            "of an elevation set by rod and level",
            unit="length",
            default=(0.02, 0.006),
            most=(3.0, 1.0),
            why=_ERROR,
        ),
    ] = None
    square_error: Annotated[
        Annotated[float, Meta(ge=0, le=45)],
        key("of a right angle turned by eye off a line that is set", unit="degrees"),
    ] = 3.0
