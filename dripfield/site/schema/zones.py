"""``[design]``, ``[emitters]``, ``[tubing]``, ``[zones]``, ``[manifold]``: the field's hydraulics.

Figures of tubing and emitters are the user's own, from the sheets of their makers and the permit:
none has a default that stands for a product.
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from dripfield.site.schema.key import NotNegative, Positive, key

NominalSize = Literal[
    "1/2 in", "3/4 in", "1 in", "1-1/4 in", "1-1/2 in", "2 in", "2-1/2 in", "3 in", "4 in", "6 in"
]

_BORE_UNIT = "bores are in inches on a site in feet, in mm on a site in metres"
_PRESSURE_UNIT = "pressures are in psi on a site in feet, in kPa on a site in metres"


class DesignTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[design]``: what the permit asks the field to take."""

    daily_flow: Annotated[
        Positive | None,
        key(
            "design flow of a day",
            unit="daily flow",
            example=450.0,
            most=(1e6, 4e6),
            why="no drip field takes more in a day",
        ),
    ] = None
    loading_rate: Annotated[
        Positive | None,
        key(
            "of the soil, entered from the permit",
            unit="loading",
            example=0.25,
            most=(10.0, 400.0),
            why="no soil takes more",
        ),
    ] = None
    absorption_area: Annotated[
        Positive | None,
        key(
            "least area that the design calls for",
            unit="area",
            example=1800.0,
            absent="daily_flow / loading_rate",
        ),
    ] = None
    water_temperature: Annotated[
        float | None,
        key(
            "of the water in the coldest month (an assumption, no source)",
            unit="temperature",
            default=(50.0, 10.0),
            least=(32.0, 0.0),
            most=(120.0, 50.0),
            why="effluent is neither ice nor hotter",
        ),
    ] = None


class EmitterTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[emitters]``: the emitters of your own tubing."""

    spacing: Annotated[
        Positive,
        key(
            "along the tubing",
            unit="length",
            example=2.0,
            least=(0.1, 0.03),
            most=(20.0, 6.0),
            why="emitters sit inches to feet apart",
        ),
    ]
    flow: Annotated[
        Positive | None,
        key(
            "of one emitter",
            unit="emitter flow",
            example=0.6,
            most=(50.0, 200.0),
            why="it is the flow of one emitter in an hour",
        ),
    ] = None
    pressure_least: Annotated[
        NotNegative | None,
        key(
            "pressure from which it keeps its flow",
            unit="pressure",
            example=10.0,
            most=(300.0, 2000.0),
            why=_PRESSURE_UNIT,
        ),
    ] = None
    pressure_most: Annotated[
        Positive | None,
        key(
            "pressure up to which it keeps its flow",
            unit="pressure",
            example=60.0,
            most=(300.0, 2000.0),
            why=_PRESSURE_UNIT,
        ),
    ] = None
    exponent: Annotated[
        Annotated[float, Meta(ge=0, le=1)],
        key(
            "0: pressure-compensating between the two pressures; else the flow is "
            "flow (p / pressure_nominal)^exponent"
        ),
    ] = 0.0
    pressure_nominal: Annotated[
        Positive | None,
        key(
            "pressure at which it gives its flow, where exponent is not 0",
            unit="pressure",
            example=20.0,
            most=(300.0, 2000.0),
            why=_PRESSURE_UNIT,
        ),
    ] = None
    variation: Annotated[
        Annotated[float, Meta(ge=0, le=0.5)] | None,
        key("maker's coefficient of variation of the flow", example=0.03),
    ] = None
    loss: Annotated[
        Annotated[float, Meta(ge=0, le=100)],
        key("head lost at each in-line emitter, in velocity heads"),
    ] = 0.0


class TubingTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[tubing]``: the tubing that the emitters sit in."""

    bore: Annotated[
        Positive | None,
        key(
            "inside diameter",
            unit="bore",
            example=0.57,
            least=(0.1, 3.0),
            most=(3.0, 80.0),
            why=_BORE_UNIT,
        ),
    ] = None
    roughness: Annotated[
        NotNegative | None,
        key(
            "of its wall (smooth plastic, an assumption)",
            unit="bore",
            default=(0.00006, 0.0015),
            most=(0.04, 1.0),
            why=_BORE_UNIT,
        ),
    ] = None


class ZonesTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[zones]``: how laterals are joined and dosed together."""

    count: Annotated[
        Annotated[int, Meta(ge=1, le=50)] | None, key("number of zones", example=2, absent="chosen")
    ] = None
    longest: Annotated[
        Positive | None,
        key(
            "greatest length of a joined lateral, from supply to return",
            unit="length",
            example=300.0,
            least=(10.0, 3.0),
            most=(10000.0, 3000.0),
            why="joined laterals run tens to hundreds of feet",
        ),
    ] = None
    flush_velocity: Annotated[
        Positive | None,
        key(
            "at the far end of every joined lateral while it is flushed",
            unit="velocity",
            example=2.0,
            most=(20.0, 6.0),
            why="no tubing is flushed faster",
        ),
    ] = None
    most_flow: Annotated[
        Positive | None,
        key("greatest flow of a zone while dosing", unit="flow", example=20.0, absent="no limit"),
    ] = None
    height: Annotated[
        Positive | None,
        key(
            "greatest difference of elevation in a zone",
            unit="length",
            example=8.0,
            absent="no limit",
        ),
    ] = None


class ManifoldTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[manifold]``: the pipes along the ends of a zone's joined laterals."""

    pipe: Annotated[
        NominalSize | None, key("nominal size, Schedule 40", example="1-1/4 in", absent="sized")
    ] = None
    bore: Annotated[
        Positive | None,
        key(
            "inside diameter, in place of pipe",
            unit="bore",
            instead="pipe",
            example=1.38,
            least=(0.2, 5.0),
            most=(24.0, 600.0),
            why=_BORE_UNIT,
        ),
    ] = None
    feed: Annotated[
        Literal["left", "right"] | None,
        key(
            "side of the panels that is fed, looking down the slope",
            example="left",
            absent="chosen",
        ),
    ] = None
