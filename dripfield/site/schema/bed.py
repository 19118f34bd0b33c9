"""``[bed]``: the ring to lay in and what no lateral may enter."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from dripfield.site.schema.bed_section import BedSection
from dripfield.site.schema.key import Positive, Words, key


class KeepoutTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A keepout with a name of its own: ``{ points = "rock.csv", name = "Ledge" }``."""

    points: Annotated[str, key("ring of northing,easting with a header row", example="rock.csv")]
    name: Annotated[
        Words | None, key("what the sheets call it", example="Ledge", absent="its file's name")
    ] = None

    @property
    def shown(self) -> str:
        """What the sheets call it."""
        return self.name or self.points.removesuffix(".csv")


class SetbackTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[bed.setbacks]]``: keep every lateral a distance away from a point, a line or a ring."""

    name: Annotated[str, key("what is kept clear of", example="Well")]
    points: Annotated[str, key("file of northing,easting with a header row", example="well.csv")]
    distance: Annotated[
        Positive, key("least distance to any lateral", unit="length", example=100.0)
    ]
    shape: Annotated[
        Literal["point", "line", "ring"], key('"point" (one or more), "line" or "ring"')
    ] = "point"
    source: Annotated[
        str | None,
        key("the rule that asks for it", example="distance from the local code: look it up"),
    ] = None


class BedTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[bed]``: the ring to lay in and what no lateral may enter."""

    boundary: Annotated[
        str,
        key(
            "ring of northing,easting with a header row, closed or not (or the one polygon of a "
            ".geojson file, or a closed line of a .dxf)",
            example="bed.csv",
        ),
    ]
    boundary_layer: Annotated[
        str | None,
        key('with boundary = "plan.dxf": the layer of its closed line', example="C-SSWR-BNDY"),
    ] = None
    keepouts: Annotated[
        list[str | KeepoutTable],
        key(
            "rings that no lateral may enter: files, or with a name of their own "
            '{ points = "rock.csv", name = "Ledge" }; [] for none',
            example=["rock.csv"],
        ),
    ] = []
    setbacks: list[SetbackTable] = []
    section: BedSection | None = None

    @property
    def named_keepouts(self) -> tuple[KeepoutTable, ...]:
        """Every keepout as a table, in the order of the file."""
        return tuple(
            KeepoutTable(points=one) if isinstance(one, str) else one for one in self.keepouts
        )
