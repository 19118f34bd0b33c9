"""The site's tables for preparing: ``[prepare]``, ``[[tank]]``, ``[[enclosure]]``, ``[day]`` ….

Lengths and elevations are in the site's unit. Where a foot is too coarse, the key says so here:
small sizes (walls, blocks, boxes, depths of stone) are in inches on a site in feet and in
millimetres on a site in metres; flows are in US gal/min or L/min, volumes of water in US gal or L,
weights in lb or kg, densities in lb/ft3 or kg/m3. A default of None means "the round value for the
unit", filled in by :mod:`dripfield.preparation.practice`, or "left out, and said so".
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

Positive = Annotated[float, Meta(gt=0)]
NotNegative = Annotated[float, Meta(ge=0)]
Count = Annotated[int, Meta(ge=1)]
Share = Annotated[float, Meta(ge=0, lt=1)]


class StockTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[prepare.stock]]``: how a material of the take-off is sold, and its waste.

    Attributes
    ----------
    material : str
        As the take-off names it ("sand", "Schedule 40 pipe, 1-1/2 in"), or the first words that
        several share ("Schedule 40 pipe").
    size : float or None
        What one sold piece holds, in the take-off's unit of the material. None: as by default.
    sold_as : str or None
        What one sold piece is called ("truck load").
    waste : float or None
        As a fraction of the quantity: 0.05 is 5 %.
    """

    material: str
    size: Positive | None = None
    sold_as: str | None = None
    waste: NotNegative | None = None


class ItemTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[prepare.items]]``: anything else to have there, of the user's own choice.

    ``size`` is what one sold piece holds in ``unit``, ``note`` goes into the column ``how``.
    """

    item: str
    quantity: Positive
    unit: str = "each"
    waste: NotNegative = 0.0
    size: Positive | None = None
    sold_as: str | None = None
    note: str | None = None


class PriceTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[prepare.prices]]``: the user's price of one ``unit`` of a material.

    ``unit`` is what the take-off sells it as ("20 ft length") or its unit of quantity ("ft").
    ``currency`` left out is that of ``[prepare]``.
    """

    material: str
    price: NotNegative
    unit: str
    currency: str | None = None


class BoxTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[prepare.boxes]]``: boxes in the ground over valves, vents and risers.

    Attributes
    ----------
    name : str
    count : int
    length, width, height : float
        Outside [in or mm].
    stone : float or None
        Depth of stone under each [in or mm]. None: 6 in, 150 mm.
    stone_beyond : float
        How far the stone goes beyond the box on every side [in or mm].
    insulated : bool
        Whether a box of rigid foam goes over it: its top and four sides.
    """

    name: str
    count: Count
    length: Positive
    width: Positive
    height: Positive
    stone: NotNegative | None = None
    stone_beyond: NotNegative = 0.0
    insulated: bool = False


class PrepareTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[prepare]``: what the contractor's list and the readiness list depend on.

    Attributes
    ----------
    home : str or None
        ``new`` or ``existing``; None: what hangs on it is left out, and said so.
    frost_depth : float or None
        Depth to which the ground freezes [site unit]; pipe above it is insulated.
    tail : float or None
        Tubing left beyond each end of a lateral to make the connection [site unit].
    coils, blank_coils : list of float
        Lengths in which tubing with and without emitters is sold [site unit].
    splices : bool
        Whether a lateral longer than the longest coil may be spliced.
    pipe_length : float or None
        Length in which pipe is sold [site unit].
    bell_ends : bool
        Whether each length of pipe brings its own coupling.
    finish : str or None
        ``seed``, ``mulch``, ``seed and mulch`` or ``none``.
    staple_spacing : float or None
        Distance between fasteners that hold tubing down [site unit]; 0 for none.
    spare_marks : float
        Flags and stakes beyond those counted, as a fraction.
    utility_lead_days : int or None
        Days that the one-call centre asks for between the call and the dig.
    permit_lead_days, inspection_lead_days : int or None
        Days before the day by which the permit is in hand and the inspector booked.
    return_to : str or None
        Where the return ends: ``tank`` (its inlet) or ``building sewer`` (by a wye).
    building_sewer : str or None
        Nominal size of the building sewer ("4 in").
    currency : str or None
    """

    home: Literal["new", "existing"] | None = None
    frost_depth: NotNegative | None = None
    tail: NotNegative | None = None
    coils: list[Positive] = []
    blank_coils: list[Positive] = []
    splices: bool = False
    pipe_length: Positive | None = None
    bell_ends: bool = True
    finish: Literal["seed", "mulch", "seed and mulch", "none"] | None = None
    staple_spacing: NotNegative | None = None
    spare_marks: NotNegative = 0.1
    utility_lead_days: Annotated[int, Meta(ge=0)] | None = None
    permit_lead_days: Annotated[int, Meta(ge=0)] | None = None
    inspection_lead_days: Annotated[int, Meta(ge=0)] | None = None
    return_to: Literal["tank", "building sewer"] | None = None
    building_sewer: str | None = None
    currency: str | None = None
    stock: list[StockTable] = []
    items: list[ItemTable] = []
    prices: list[PriceTable] = []
    boxes: list[BoxTable] = []


class TankTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[tank]]``: its inside, how it stands and the water in it.

    Attributes
    ----------
    name : str
    shape : str
        ``rectangle`` (``length``, ``width``, ``height``), ``horizontal cylinder`` (``diameter``,
        ``length``) or ``vertical cylinder`` (``diameter``, ``height``); inside [site unit].
    wall : float or None
        Thickness of walls, floor and top [in or mm]; flotation needs it.
    top : float or None
        Elevation of the tank's top, where a riser starts [site unit].
    riser_top : float or None
        Elevation at which the riser's lid ends [site unit].
    grade : float or None
        Elevation of finished grade above the tank [site unit].
    bottom : float or None
        Elevation of the inside of the floor [site unit].
    inlet : float or None
        Height of the inlet's invert over the inside of the floor [site unit].
    inlet_elevation : float or None
        The same as an elevation [site unit].
    riser_sections : list of float
        Heights in which risers are sold [in or mm].
    start_depth : float or None
        Depth of water to start up with [site unit].
    levels : dict of str to float
        Height of each switch over the inside of the floor [site unit]: ``pump cover``, ``off``,
        ``on``, ``override``, ``alarm``; those that are there must rise in this order.
    hose_flow : float or None
        [gal/min or L/min]
    weight : float or None
        Of the empty tank [lb or kg].
    soil_density : float or None
        Of the moist soil over it [lb/ft3 or kg/m3]; None: cover is not counted.
    ground_water : float or None
        Elevation of ground water [site unit]; None: at finished grade, the worst there is.
    flotation_factor : float
        By how much weight must exceed uplift.
    excavation : float or None
        Depth of the dig for it [site unit]; None: from finished grade to under its floor.
    """

    name: str
    shape: Literal["rectangle", "horizontal cylinder", "vertical cylinder"]
    length: Positive | None = None
    width: Positive | None = None
    height: Positive | None = None
    diameter: Positive | None = None
    wall: NotNegative | None = None
    top: float | None = None
    riser_top: float | None = None
    grade: float | None = None
    bottom: float | None = None
    inlet: Positive | None = None
    inlet_elevation: float | None = None
    riser_sections: list[Positive] = []
    start_depth: NotNegative | None = None
    levels: dict[str, NotNegative] = {}
    hose_flow: Positive | None = None
    weight: Positive | None = None
    soil_density: Positive | None = None
    ground_water: float | None = None
    flotation_factor: Annotated[float, Meta(ge=1)] = 1.0
    excavation: Positive | None = None


class EnclosureTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[enclosure]]``: a box of equipment that blocks bring to finished grade.

    Attributes
    ----------
    name : str
    height : float
        From its base to its lid [in or mm].
    stands_on : float
        Elevation of what the blocks stand on: undisturbed soil or a slab [site unit].
    grade : float
        Elevation of finished grade around it [site unit].
    stone : float
        Depth of stone between soil and blocks [in or mm].
    length, width : float or None
        Of its base [in or mm]; the take-off of stone needs them.
    above : float
        How far the lid is to end above finished grade [in or mm].
    blocks : list of float
        Thicknesses of block to be had [in or mm]; empty: 2, 4 and 8 in, 50, 100 and 200 mm.
    piers : int
        Number of stacks under it.
    excavation : float or None
        Depth of the dig for it [site unit]; None: from finished grade to ``stands_on``.
    """

    name: str
    height: Positive
    stands_on: float
    grade: float
    stone: NotNegative = 0.0
    length: Positive | None = None
    width: Positive | None = None
    above: NotNegative = 0.0
    blocks: list[Positive] = []
    piers: Count = 4
    excavation: Positive | None = None


class TaskTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[day.tasks]]``: something a crew does, after what, and for how long.

    Attributes
    ----------
    task, crew : str
    duration : float
        [h]
    after : list of str
        Tasks that must be finished first.
    not_before : str or None
        Clock time before which it cannot start ("13:00").
    needs : list of str
        What it cannot be done without ("water", "level bed").
    """

    task: str
    crew: str
    duration: float
    after: list[str] = []
    not_before: str | None = None
    needs: list[str] = []


class DayTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[day]``: when the day is and what is done in it; tasks left out are defaulted.

    Attributes
    ----------
    date : str or None
        ``2026-06-12``.
    start, end : str or None
        Clock times of the first task and of the end of work. None: 07:00 and 17:00, assumptions.
    inspection, backfill : str or None
        Names of the tasks whose time is watched; None: those of that name, if there are.
    electrician_late : float or None
        Hours of the "electrician is late" case. None: 2.
    rework : float or None
        Hours to rake and check a bed again that is out of tolerance. None: 2, an assumption.
    tasks : list of TaskTable
    """

    date: str | None = None
    start: str | None = None
    end: str | None = None
    inspection: str | None = None
    backfill: str | None = None
    electrician_late: NotNegative | None = None
    rework: NotNegative | None = None
    tasks: list[TaskTable] = []
