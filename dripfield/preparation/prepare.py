"""Everything for the day from one site's tables and what is known of its field."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from dripfield.core.units import Unit
from dripfield.hydraulics.tank_shape import water_unit
from dripfield.preparation.day import DayPlan, day_plan, default_tasks
from dripfield.preparation.enclosure import EnclosureHeights, enclosure_heights
from dripfield.preparation.flotation import Flotation, excavation_depth, flotation
from dripfield.preparation.heights import Finding, TankHeights, tank_heights
from dripfield.preparation.practice import practice_of
from dripfield.preparation.prices import Priced, priced
from dripfield.preparation.readiness import (
    Circumstances,
    Ready,
    excavations_of,
    readiness,
)
from dripfield.preparation.takeoff import Field, Takeoff, take_off
from dripfield.site.schema.preparation import DayTable, EnclosureTable, PrepareTable, TankTable


@dataclass(frozen=True)
class Tables:
    """The site's tables for preparing, as entered."""

    prepare: PrepareTable = field(default_factory=PrepareTable)
    tanks: tuple[TankTable, ...] = ()
    enclosures: tuple[EnclosureTable, ...] = ()
    day: DayTable = field(default_factory=DayTable)


@dataclass(frozen=True)
class Flows:
    """Volumes that zones work out; None is left out, and said so [gal or L]."""

    dose: float | None = None
    drained_back: float | None = None
    flushed_back: float | None = None
    daily_flow: float | None = None


@dataclass(frozen=True)
class Preparation:
    """What is ready to be written.

    Attributes
    ----------
    takeoff : Takeoff
    prices : Priced or None
    tanks : tuple of TankHeights
    flotation : tuple of Flotation
    enclosures : tuple of EnclosureHeights
    readiness : tuple of Ready
    day : DayPlan
    findings : tuple of Finding
        Of tanks and flotation together.
    notes : tuple of str
        What is left out, and every default that nobody entered.
    """

    takeoff: Takeoff
    prices: Priced | None
    tanks: tuple[TankHeights, ...]
    flotation: tuple[Flotation, ...]
    enclosures: tuple[EnclosureHeights, ...]
    readiness: tuple[Ready, ...]
    day: DayPlan
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]


def prepare(
    tables: Tables,
    unit: Unit,
    known: Field,
    *,
    flows: Flows | None = None,
    bed: bool = False,
    electrician: bool = True,
    zones: int = 0,
    rake_tolerance: float | None = None,
    frost_depth: float | None = None,
    digs: Sequence[tuple[str, float]] = (),
) -> Preparation:
    """Work out take-off, heights, readiness and day plan.

    Parameters
    ----------
    tables : Tables
    unit : Unit
    known : Field
        What is known of the field; its ``tanks`` and ``enclosures`` are filled in here.
    flows : Flows, optional
        Compared with the levels of the last tank, from which the field is dosed.
    bed : bool
        A sand bed is built, rather than lines laid in the ground.
    electrician : bool
        A control panel is wired on the day.
    zones : int
        Number of zones, 0 where they are not given.
    rake_tolerance : float, optional
        [site unit]
    frost_depth : float, optional
        [site unit]
    digs : sequence of (str, float)
        Trenches and pits beside those of tanks and enclosures, with their depths [site unit].

    Returns
    -------
    Preparation

    Raises
    ------
    InputError
        Whatever in the tables cannot be; each says how to mend it.
    """
    practice = practice_of(tables.prepare, unit, frost_depth)
    volumes = flows or Flows()
    tanks = tuple(
        tank_heights(
            one,
            unit,
            dose=volumes.dose if dosed else None,
            drained_back=volumes.drained_back if dosed else None,
            flushed_back=volumes.flushed_back if dosed else None,
            daily_flow=volumes.daily_flow if dosed else None,
        )
        for one, dosed in _dosed(tables.tanks)
    )
    floats = [(one, flotation(one, unit)) for one in tables.tanks]
    enclosures = tuple(enclosure_heights(one, unit) for one in tables.enclosures)
    takeoff = take_off(replace(known, tanks=tanks, enclosures=enclosures), practice)
    site = _circumstances(tables, unit, known, tanks, enclosures)
    site = replace(
        site,
        bed=bed,
        electrician=electrician,
        zones=zones,
        rake_tolerance=rake_tolerance,
        frost_depth=frost_depth,
        overhead=tables.prepare.overhead_lines,
        excavations=(*site.excavations, *excavations_of(digs)),
        items_to_buy=len(takeoff.items),
    )
    day = day_plan(
        tables.day, default_tasks(bed=bed, tanks=bool(tables.tanks), electrician=electrician)
    )
    notes = [
        *takeoff.notes,
        *(note for one in tanks for note in one.notes),
        *(
            f"{table.name}: wall, top and grade are not given: flotation is left out"
            for table, found in floats
            if found is None
        ),
        *([] if tables.tanks else ["no tank is given ([[tank]]): heights and water are left out"]),
        *day.notes,
    ]
    return Preparation(
        takeoff,
        priced(takeoff.items, tables.prepare.prices, tables.prepare.currency),
        tanks,
        tuple(found for _, found in floats if found is not None),
        enclosures,
        readiness(site),
        day,
        tuple(
            [one for tank in tanks for one in tank.findings]
            + [found.finding for _, found in floats if found is not None]
        ),
        tuple(notes),
    )


def _dosed(tanks: Sequence[TankTable]) -> list[tuple[TankTable, bool]]:
    """Each tank, and whether it is the last, from which the field is dosed."""
    return [(one, i == len(tanks)) for i, one in enumerate(tanks, 1)]


def _circumstances(
    tables: Tables,
    unit: Unit,
    known: Field,
    tanks: tuple[TankHeights, ...],
    enclosures: tuple[EnclosureHeights, ...],
) -> Circumstances:
    table, word = tables.prepare, unit.small
    gallons = water_unit(unit)
    figures = {
        one.name: f"{one.start_water:,.0f} {gallons} to start up"
        for one in tanks
        if one.start_water is not None
    }
    total = sum(one.start_water or 0.0 for one in tanks)
    minutes = [one.fill_minutes for one in tanks if one.fill_minutes is not None]
    hose = f", {sum(minutes):,.0f} min by hose" if minutes else ""
    digs = [(one.name, excavation_depth(one, unit)) for one in tables.tanks]
    digs += [(one.name, one.excavation or one.grade - one.stands_on) for one in tables.enclosures]
    return Circumstances(
        unit=unit,
        date=tables.day.date,
        home=table.home,
        tanks=tuple(one.name for one in tanks),
        risers={
            one.name: f"{one.riser_to_add:.1f} {word} to add" for one in tanks if one.riser_to_add
        },
        tank_figures=figures,
        excavations=excavations_of(digs),
        joined=len(known.joined or ()),
        enclosures={one.name: one.pile for one in enclosures if one.blocks},
        water=f"{total:,.0f} {gallons}{hose}" if total else "",
        utility_lead_days=table.utility_lead_days,
        permit_lead_days=table.permit_lead_days,
        inspection_lead_days=table.inspection_lead_days,
    )
