"""The site's tables for preparing: ``[prepare]``, ``[[tank]]``, ``[[enclosure]]``, ``[day]``.

Small sizes (walls, blocks, boxes, depths of stone) are in inches on a site in feet and in
millimetres on a site in metres. What is left out is taken as
:mod:`dripfield.preparation.practice` says, marked as an assumption or as common practice, or it is
left out of the lists, and they say so.
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from dripfield.site.schema.key import NotNegative, Positive, Words, key
from dripfield.site.schema.zones import NominalSize

Count = Annotated[int, Meta(ge=1, le=10_000)]
Days = Annotated[int, Meta(ge=0, le=3650)]
Lengths = Annotated[list[Positive], Meta(max_length=50)]

_LEFT_OUT = "left out, and said so"
_SMALL = "small sizes are in inches on a site in feet, in mm on a site in metres"
_WASTE = "waste is a fraction: 0.05 is 5 %"


class StockTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[prepare.stock]]``: how a material of the take-off is sold, and its waste."""

    material: Annotated[
        Words,
        key(
            "as the take-off names it, or the first words that several share", example="fill, sand"
        ),
    ]
    size: Annotated[
        Positive | None,
        key(
            "what one sold piece holds, in the take-off's unit of the material",
            example=14.0,
            absent="as is usual",
        ),
    ] = None
    sold_as: Annotated[
        str | None, key("what one sold piece is called", example="truck load", absent="as is usual")
    ] = None
    waste: Annotated[
        NotNegative | None,
        key(
            "as a fraction of the quantity",
            example=0.05,
            absent="as is usual",
            most=(2.0, 2.0),
            why=_WASTE,
        ),
    ] = None


class ItemTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[prepare.items]]``: anything else that must be there, of your own choice."""

    item: Annotated[Words, key("what it is", example="geotextile")]
    quantity: Annotated[Positive, key("how much, in its own unit", example=600.0)]
    unit: Annotated[str, key("of the quantity", example="ft2")] = "each"
    waste: Annotated[
        NotNegative,
        key("as a fraction of the quantity", example=0.1, most=(2.0, 2.0), why=_WASTE),
    ] = 0.0
    size: Annotated[
        Positive | None,
        key("what one sold piece holds, in that unit", example=500.0, absent="single pieces"),
    ] = None
    sold_as: Annotated[
        str | None, key("what one sold piece is called", example="roll", absent="its size")
    ] = None
    note: Annotated[str | None, key("what it is for", example="over the sand")] = None


class PriceTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[prepare.prices]]``: your price of one piece of a material."""

    material: Annotated[
        Words,
        key(
            "as the take-off names it, or the first words that several share",
            example="Schedule 40 pipe, 1-1/2 in",
        ),
    ]
    price: Annotated[NotNegative, key("of one unit", example=14.5)]
    unit: Annotated[
        Words, key("what is priced: a piece as sold, or the unit of the quantity", example="ft")
    ]
    currency: Annotated[
        str | None, key("of this price", example="USD", absent="that of [prepare]")
    ] = None


class BoxTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[prepare.boxes]]``: boxes in the ground over valves, vents and risers."""

    name: Annotated[Words, key("what it holds", example="zone valves")]
    count: Annotated[Count, key("how many there are", example=2)]
    length: Annotated[
        Positive,
        key(
            "outside",
            unit="small length",
            example=20.0,
            least=(2.0, 50.0),
            most=(240.0, 6000.0),
            why=_SMALL,
        ),
    ]
    width: Annotated[
        Positive,
        key(
            "outside",
            unit="small length",
            example=14.0,
            least=(2.0, 50.0),
            most=(240.0, 6000.0),
            why=_SMALL,
        ),
    ]
    height: Annotated[
        Positive,
        key(
            "outside",
            unit="small length",
            example=12.0,
            least=(2.0, 50.0),
            most=(240.0, 6000.0),
            why=_SMALL,
        ),
    ]
    stone: Annotated[
        NotNegative | None,
        key(
            "depth of stone under each (common practice, no source)",
            unit="small length",
            default=(6.0, 150.0),
            most=(48.0, 1200.0),
            why=_SMALL,
        ),
    ] = None
    stone_beyond: Annotated[
        NotNegative,
        key(
            "how far the stone goes beyond the box on every side",
            unit="small length",
            example=2.0,
            most=(48.0, 1200.0),
            why=_SMALL,
        ),
    ] = 0.0
    insulated: Annotated[
        bool, key("whether a box of rigid foam goes over it, where the ground freezes")
    ] = False


class LineTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[prepare.lines]]``: further pipe of Schedule 40, beside ``[supply]``, ``[return]`` and
    the manifolds.
    """

    name: Annotated[Words, key("as the lists call it", example="filter flush to the septic tank")]
    use: Annotated[
        Literal["pump line", "gravity return", "other"],
        key("what it is for; a gravity return is looked at for its fall", example="gravity return"),
    ]
    route: Annotated[
        str,
        key(
            "file of northing,easting,elevation of the pipe, in the order of flow",
            example="flush.csv",
        ),
    ]
    pipe: Annotated[NominalSize, key("nominal size, Schedule 40", example="1-1/2 in")]


class PrepareTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[prepare]``: what the contractor's take-off and the readiness list depend on."""

    home: Annotated[
        Literal["new", "existing"] | None,
        key("new or existing home", example="new", absent="what hangs on it is left out"),
    ] = None
    tail: Annotated[
        NotNegative | None,
        key(
            "tubing left beyond each end of a lateral for its connection (an assumption)",
            unit="length",
            default=(2.0, 0.5),
            most=(50.0, 15.0),
            why="a tail only reaches the connection",
        ),
    ] = None
    coils: Annotated[
        Lengths,
        key(
            "lengths in which tubing with emitters is sold",
            unit="length",
            example=[500.0, 1000.0],
            absent="500 ft, 150 m (common practice, no source)",
        ),
    ] = []
    blank_coils: Annotated[
        Lengths,
        key(
            "lengths in which tubing without emitters is sold",
            unit="length",
            example=[100.0],
            absent="100 ft, 50 m (common practice, no source)",
        ),
    ] = []
    splices: Annotated[
        bool, key("whether a lateral longer than the longest coil may be spliced")
    ] = False
    pipe_length: Annotated[
        Positive | None,
        key(
            "in which pipe is sold (common practice, no source)",
            unit="length",
            default=(20.0, 6.0),
            most=(100.0, 30.0),
            why="a truck carries no longer pipe",
        ),
    ] = None
    bell_ends: Annotated[bool, key("whether each length of pipe brings its own coupling")] = True
    finish: Annotated[
        Literal["seed", "mulch", "seed and mulch", "none"] | None,
        key("what goes on the graded area", example="seed and mulch", absent=_LEFT_OUT),
    ] = None
    staple_spacing: Annotated[
        NotNegative | None,
        key(
            "between fasteners that hold tubing down, 0 for none (common practice, no source)",
            unit="length",
            default=(5.0, 1.5),
            most=(100.0, 30.0),
            why="fasteners hold tubing every few feet",
        ),
    ] = None
    spare_marks: Annotated[
        NotNegative,
        key(
            "flags and stakes beyond those counted, as a fraction",
            most=(2.0, 2.0),
            why="spares are a fraction: 0.1 is 10 %",
        ),
    ] = 0.1
    utility_lead_days: Annotated[
        Days | None,
        key("days that the one-call centre asks for before the dig", example=3, absent=_LEFT_OUT),
    ] = None
    permit_lead_days: Annotated[
        Days | None,
        key("days before the day by which the permit is in hand", example=14, absent=_LEFT_OUT),
    ] = None
    inspection_lead_days: Annotated[
        Days | None,
        key("days before the day by which the inspector is booked", example=5, absent=_LEFT_OUT),
    ] = None
    overhead_lines: Annotated[
        bool | None,
        key(
            "whether power or telephone lines hang over the machine's way or near it",
            example=False,
            absent="looking for them is on the list",
        ),
    ] = None
    return_to: Annotated[
        Literal["tank", "building sewer"] | None,
        key(
            "where the return ends: in the tank, by its inlet, or by a wye in the building sewer",
            example="tank",
            absent="its last fitting is left out",
        ),
    ] = None
    building_sewer: Annotated[
        NominalSize | None,
        key("nominal size of the building sewer", example="4 in", absent=_LEFT_OUT),
    ] = None
    submittal: Annotated[
        list[Literal["texas-222", "washington-272b"]],
        key(
            "rule sets whose list of what a plan shows is filled, beside those of [rules] check",
            example=["texas-222"],
        ),
    ] = []
    currency: Annotated[str | None, key("of every price", example="USD")] = None
    stock: list[StockTable] = []
    items: list[ItemTable] = []
    prices: list[PriceTable] = []
    boxes: list[BoxTable] = []
    lines: list[LineTable] = []


_INSIDE = "tanks are feet long, not miles"


class TankTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[tank]]``: its inside, how it stands and the water in it, one table a tank in the order of
    flow: the last is the one from which the field is dosed.

    A rectangle has ``length``, ``width`` and ``height``, a horizontal cylinder ``diameter`` and
    ``length``, a vertical cylinder ``diameter`` and ``height``.
    """

    name: Annotated[Words, key("as the lists call it", example="pump tank")]
    shape: Annotated[
        Literal["rectangle", "horizontal cylinder", "vertical cylinder"],
        key("of the inside", example="rectangle"),
    ]
    length: Annotated[
        Positive | None,
        key("inside", unit="length", example=8.0, most=(200.0, 60.0), why=_INSIDE),
    ] = None
    width: Annotated[
        Positive | None,
        key("inside", unit="length", example=4.0, most=(200.0, 60.0), why=_INSIDE),
    ] = None
    height: Annotated[
        Positive | None,
        key("inside", unit="length", example=5.0, most=(200.0, 60.0), why=_INSIDE),
    ] = None
    diameter: Annotated[
        Positive | None,
        key("inside", unit="length", example=5.0, most=(200.0, 60.0), why=_INSIDE),
    ] = None
    wall: Annotated[
        NotNegative | None,
        key(
            "thickness of walls, floor and top; flotation needs it",
            unit="small length",
            example=3.0,
            most=(36.0, 900.0),
            why=_SMALL,
        ),
    ] = None
    top: Annotated[
        float | None,
        key("elevation of the tank's top, where a riser starts", unit="length", example=96.5),
    ] = None
    riser_top: Annotated[
        float | None,
        key(
            "elevation at which the riser's lid ends now",
            unit="length",
            example=98.0,
            absent="no riser is on yet",
        ),
    ] = None
    grade: Annotated[
        float | None,
        key("elevation of finished grade over the tank", unit="length", example=98.5),
    ] = None
    inlet: Annotated[
        Positive | None,
        key(
            "height of the inlet's invert over the inside of the floor", unit="length", example=4.2
        ),
    ] = None
    inlet_elevation: Annotated[
        float | None,
        key(
            "elevation of the inlet's invert",
            unit="length",
            example=95.4,
            absent="from top, wall, height and inlet, where these are given",
        ),
    ] = None
    riser_sections: Annotated[
        Lengths, key("heights in which risers are sold", unit="small length", example=[6.0, 12.0])
    ] = []
    start_depth: Annotated[
        NotNegative | None,
        key("of water to start up with", unit="length", example=2.0, absent=_LEFT_OUT),
    ] = None
    levels: Annotated[
        dict[str, NotNegative],
        key(
            "height of each switch over the inside of the floor, upward: pump cover, off, on,"
            " override, alarm",
            unit="length",
            example={"pump cover": 0.9, "off": 1.2, "on": 1.9, "alarm": 3.0},
        ),
    ] = {}
    hose_flow: Annotated[
        Positive | None,
        key(
            "of the hose that fills it",
            unit="flow",
            example=8.0,
            absent=_LEFT_OUT,
            most=(2000.0, 8000.0),
            why="no hose gives more",
        ),
    ] = None
    weight: Annotated[
        Positive | None,
        key("of the empty tank", unit="weight", example=9500.0, absent="flotation is not proven"),
    ] = None
    soil_density: Annotated[
        Positive | None,
        key(
            "of the moist soil over it",
            unit="density",
            example=100.0,
            absent="cover is not counted against flotation",
            least=(30.0, 500.0),
            most=(200.0, 3200.0),
            why="soil weighs about 100 lb/ft3, 1600 kg/m3",
        ),
    ] = None
    ground_water: Annotated[
        float | None,
        key(
            "elevation of ground water",
            unit="length",
            example=94.0,
            absent="at finished grade, the worst there is",
        ),
    ] = None
    flotation_factor: Annotated[
        Annotated[float, Meta(ge=1, le=10)], key("by how much weight must exceed uplift")
    ] = 1.0
    excavation: Annotated[
        Positive | None,
        key(
            "depth of the dig for it",
            unit="length",
            example=7.0,
            absent="from finished grade to under its floor",
        ),
    ] = None


class EnclosureTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[enclosure]]``: a box of equipment, of filter or valves, that blocks bring to finished
    grade.
    """

    name: Annotated[Words, key("as the lists call it", example="filter box")]
    height: Annotated[
        Positive,
        key(
            "from its base to its lid",
            unit="small length",
            example=24.0,
            least=(1.0, 25.0),
            most=(240.0, 6000.0),
            why=_SMALL,
        ),
    ]
    stands_on: Annotated[
        float,
        key(
            "elevation of what the blocks stand on: undisturbed soil or a slab",
            unit="length",
            example=95.0,
        ),
    ]
    grade: Annotated[
        float, key("elevation of finished grade around it", unit="length", example=98.0)
    ]
    stone: Annotated[
        NotNegative,
        key(
            "depth of stone between soil and blocks",
            unit="small length",
            example=4.0,
            most=(48.0, 1200.0),
            why=_SMALL,
        ),
    ] = 0.0
    length: Annotated[
        Positive | None,
        key("of its base", unit="small length", example=30.0, absent="its stone is left out"),
    ] = None
    width: Annotated[
        Positive | None,
        key("of its base", unit="small length", example=24.0, absent="its stone is left out"),
    ] = None
    above: Annotated[
        NotNegative,
        key(
            "how far the lid is to end above finished grade",
            unit="small length",
            example=1.0,
            most=(48.0, 1200.0),
            why=_SMALL,
        ),
    ] = 0.0
    blocks: Annotated[
        Lengths,
        key(
            "thicknesses of block to be had",
            unit="small length",
            example=[2.0, 4.0, 8.0],
            absent="2, 4 and 8 in; 50, 100 and 200 mm (common practice, no source)",
        ),
    ] = []
    piers: Annotated[
        Annotated[int, Meta(ge=1, le=100)], key("number of stacks of blocks under it")
    ] = 4
    excavation: Annotated[
        Positive | None,
        key(
            "depth of the dig for it",
            unit="length",
            example=3.5,
            absent="from finished grade to stands_on",
        ),
    ] = None


class TaskTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[[day.tasks]]``: something a crew does, after what, and for how long. Entered tasks stand
    in place of all usual ones.
    """

    task: Annotated[Words, key("its name", example="lay laterals from the top down")]
    crew: Annotated[Words, key("who does it", example="field crew")]
    duration: Annotated[float, key("how long it takes", unit="hours", example=3.0)]
    after: Annotated[
        list[str], key("tasks that must be finished first", example=["mark out laterals"])
    ] = []
    not_before: Annotated[
        str | None, key("clock time before which it cannot start", example="13:00")
    ] = None
    needs: Annotated[
        list[str],
        key("what it cannot be done without: water, level bed", example=["level bed"]),
    ] = []


class DayTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[day]``: when the day is and what is done in it."""

    date: Annotated[
        str | None,
        key("of the day", example="2026-06-12", absent="days before the day are counted"),
    ] = None
    start: Annotated[
        str | None, key("clock time at which work starts", example="07:00", absent="07:00, assumed")
    ] = None
    end: Annotated[
        str | None, key("clock time at which work ends", example="17:00", absent="17:00, assumed")
    ] = None
    inspection: Annotated[
        str | None,
        key("the task whose time is watched", example="inspection", absent="inspection, if there"),
    ] = None
    backfill: Annotated[
        str | None,
        key("the task whose time is watched", example="backfill", absent="backfill, if there"),
    ] = None
    electrician_late: Annotated[
        NotNegative | None,
        key(
            "by which the electrician may be late (an assumption)",
            unit="hours",
            default=(2.0, 2.0),
            most=(48.0, 48.0),
            why="later than that is another day",
        ),
    ] = None
    rework: Annotated[
        NotNegative | None,
        key(
            "to rake and check a bed again that is out of tolerance (an assumption)",
            unit="hours",
            default=(2.0, 2.0),
            most=(48.0, 48.0),
            why="longer than that is another day",
        ),
    ] = None
    tasks: list[TaskTable] = []
