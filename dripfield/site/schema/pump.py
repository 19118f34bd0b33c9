"""``[supply]``, ``[return]`` and ``[pump]``: what lies between tank and field."""

from __future__ import annotations

from typing import Annotated

import msgspec
from msgspec import Meta

from dripfield.site.schema.key import NotNegative, Positive, key
from dripfield.site.schema.zones import NominalSize

Curve = Annotated[list[tuple[NotNegative, NotNegative]], Meta(min_length=2, max_length=200)]
LossCurve = Annotated[list[tuple[NotNegative, NotNegative]], Meta(max_length=200)]


class SupplyTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[supply]``: the pipe from the pump to the field."""

    route: Annotated[
        str | None,
        key(
            "file of northing,easting,elevation of the pipe, from the pump to the field",
            example="supply.csv",
        ),
    ] = None
    pipe: Annotated[NominalSize | None, key("nominal size, Schedule 40", example="1-1/2 in")] = None
    bore: Annotated[
        Positive | None,
        key(
            "inside diameter, in place of pipe",
            unit="bore",
            instead="pipe",
            example=1.61,
            least=(0.2, 5.0),
            most=(24.0, 600.0),
            why="bores are in inches on a site in feet, in mm on a site in metres",
        ),
    ] = None


class ReturnTable(SupplyTable, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[return]``: the pipe from the field back to the tank."""

    route: Annotated[
        str | None,
        key(
            "file of northing,easting,elevation of the pipe, from the field back to the tank",
            example="return.csv",
        ),
    ] = None


class PumpTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[pump]``: what the pump gives, and what is lost before the field."""

    curve: Annotated[
        Curve | None,
        key(
            "points of flow and head from its own sheet, straight between them",
            unit="flow and head",
            example=[[0.0, 120.0], [15.0, 100.0], [30.0, 40.0]],
        ),
    ] = None
    level: Annotated[
        float | None,
        key("elevation of the water when the pump stops", unit="length", example=92.5),
    ] = None
    other_loss: Annotated[
        LossCurve | None,
        key(
            "points of flow and head lost in filter, valve and regulator together; [] for none",
            unit="flow and head",
            example=[[7.0, 3.0], [16.0, 9.0]],
        ),
    ] = None
