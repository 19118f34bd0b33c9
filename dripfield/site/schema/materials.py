"""Materials of a built bed: how they change volume and what they weigh."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from dripfield.site.schema.key import NotNegative, Positive, key


class Quantity(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A volume with its own unit, as a truck's load is known."""

    value: Annotated[Positive, key("the number", example=14.0)]
    unit: Annotated[Literal["yd3", "m3"], key("its unit", example="yd3")]


class Weight(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A weight with its own unit ("ton" is the short ton of 2,000 lb)."""

    value: Annotated[Positive, key("the number", example=15.0)]
    unit: Annotated[Literal["t", "kg", "lb", "ton"], key("its unit", example="ton")]


class Density(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A bulk density with its own unit ("ton/yd3" is short tons of 2,000 lb)."""

    value: Annotated[Positive, key("the number", example=100.0)]
    unit: Annotated[
        Literal["t/m3", "kg/m3", "lb/ft3", "ton/yd3"], key("its unit", example="lb/ft3")
    ]


class Insulation(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """An insulating layer over the tubing: its depth, and the depth of soil that it is worth."""

    name: Annotated[str, key("of the material", example="straw")]
    depth: Annotated[NotNegative, key("of the layer", unit="length", example=0.5)]
    worth: Annotated[NotNegative, key("depth of soil it stands for", unit="length", example=1.0)]


class Material(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[bed.section.materials]]``: how "sand", "stripped soil" and the cover layers swell, shrink
    and weigh: your own figures. Volumes are for one volume in the bank, undisturbed in its pit or
    bed.
    """

    name: Annotated[str, key("of the material", example="sand")]
    loose: Annotated[Positive | None, key("volume loose for one in the bank", example=1.11)] = None
    compacted: Annotated[
        Positive | None, key("volume compacted for one in the bank", example=0.95)
    ] = None
    density: Annotated[
        Density | None,
        key(
            'in "lb/ft3", "ton/yd3" (2,000 lb), "t/m3" or "kg/m3"',
            example={"value": 100.0, "unit": "lb/ft3"},
        ),
    ] = None
    density_state: Annotated[
        Literal["loose", "bank", "compacted"],
        key('what was weighed: "loose", "bank" or "compacted"'),
    ] = "loose"
    truck: Annotated[
        Quantity | None,
        key('a load, loose, in "yd3" or "m3"', example={"value": 14.0, "unit": "yd3"}),
    ] = None
    truck_weight: Annotated[
        Weight | None,
        key(
            'most that a load may weigh, in "ton" (2,000 lb), "lb", "t" or "kg"',
            example={"value": 15.0, "unit": "ton"},
        ),
    ] = None
    waste: Annotated[
        Annotated[float, Meta(ge=0, le=1)],
        key("ordered over what is wanted, as a fraction of it"),
    ] = 0.0
