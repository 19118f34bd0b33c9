"""The tables of a field's water, by the files that they are written as."""

from __future__ import annotations

from dripfield.core.table import Table
from dripfield.distribution.day_tables import (
    doses_table,
    drainage_table,
    remedies_table,
    tank_table,
)
from dripfield.distribution.rows import Row, quantities_of, shown, table_of
from dripfield.distribution.system import FieldSystem
from dripfield.hydraulics.commissioning import expected_readings
from dripfield.hydraulics.faults import FaultReading, find_faults
from dripfield.hydraulics.tables import (
    CHECKS,
    DUTY,
    HYDRAULICS,
    PIPES,
    ZONES,
    check_rows,
    duty_rows,
    hydraulics_rows,
    pipe_rows,
    zone_rows,
)
from dripfield.zones.settings import flow_to


def hydraulics_table(system: FieldSystem) -> Table:
    """Every joined lateral in both states, as ``hydraulics.csv`` has it; no rows where unsolved."""
    simulation = system.simulation
    return table_of(HYDRAULICS, hydraulics_rows(simulation) if simulation else ())


def tables(system: FieldSystem, *, readings: bool = True) -> dict[str, Table]:
    """Every table by the name of its file.

    Parameters
    ----------
    system : FieldSystem
    readings : bool
        Whether to solve every zone again with each of the usual faults.

    Returns
    -------
    dict of str to Table
        A table of what could not be worked out has its header alone.
    """
    simulation = system.simulation
    none: list[Row] = []
    return {
        "joined.csv": joined_table(system),
        "zones.csv": zones_table(system),
        "hydraulics.csv": hydraulics_table(system),
        "duty.csv": table_of(DUTY, duty_rows(simulation) if simulation else none),
        "checks.csv": table_of(CHECKS, check_rows(list(system.checks))),
        "pipes.csv": table_of(PIPES, pipe_rows(simulation) if simulation else none),
        "trade.csv": trade_table(system),
        "air.csv": air_table(system),
        "doses.csv": doses_table(system),
        "tank_levels.csv": tank_table(system),
        "drainage.csv": drainage_table(system),
        "remedies.csv": remedies_table(system),
        "loading.csv": loading_table(system),
        "linear_loading.csv": linear_table(system),
        "commissioning.csv": commissioning_table(system),
        **({"faults.csv": faults_table(system)} if readings else {}),
    }


def joined_table(system: FieldSystem) -> Table:
    """A row for each joined lateral."""
    columns = (
        "joined", "zone", "laterals", "length", "blank", "elevation_min", "elevation_max", "unit",
        "emitters",
    )  # fmt: skip
    unit = system.design.site.unit
    level = {lateral.name: lateral.elevation for lateral in system.design.layout.laterals}
    rows = []
    for zone in system.plan.zones:
        for one in zone.joined:
            heights = [level[name] for name in one.laterals if name in level]
            heights = heights or [float(piece.xyz[:, 2].mean()) for piece in one.pieces]
            rows.append(
                (
                    one.name, zone.name, " ".join(one.laterals), shown(one.length, 3),
                    shown(one.blank, 3), shown(min(heights), 3), shown(max(heights), 3),
                    unit.value, str(one.emitters) if system.design.site.file.emitters else "",
                )
            )  # fmt: skip
    return table_of(columns, rows)


def zones_table(system: FieldSystem) -> Table:
    """A row for each zone; flows and contents are empty where a figure is missing."""
    columns = (*ZONES, "share")
    if system.simulation is not None:
        rows = zone_rows(system.simulation)
    else:
        rows = [_bare_zone(system, number) for number in range(len(system.plan.zones))]
    return table_of(
        columns, [(*row, shown(system.zones.shares[row[0]], 5)) for row in rows], ("joined",)
    )


def _bare_zone(system: FieldSystem, number: int) -> Row:
    """A zone without the flow of its emitters."""
    zone, q = system.plan.zones[number], quantities_of(system)
    level = {lateral.name: lateral.elevation for lateral in system.design.layout.laterals}
    heights = [level[name] for one in zone.joined for name in one.laterals]
    file = system.design.site.file
    volume = None
    if file.tubing is not None and file.tubing.bore is not None:
        length = sum(one.length for one in zone.joined)
        volume = float(q.volume_of(length, file.tubing.bore))
    emitters = sum(one.emitters for one in zone.joined)
    return (
        zone.name, str(len(zone.joined)), shown(sum(one.tubing for one in zone.joined), 3),
        str(emitters) if file.emitters else "", shown(zone.area, 2), "", "",
        shown(min(heights), 3), shown(max(heights), 3), shown(volume, 3),
        system.design.site.unit.value, q.flow, q.volume,
    )  # fmt: skip


def trade_table(system: FieldSystem) -> Table:
    """What every sensible longest length and number of zones costs and gives."""
    columns = (
        "longest", "zones", "joined", "connections", "joints", "blank", "dose_flow",
        "flush_nominal", "flush_flow", "head", "chosen", "unit", "flow_unit", "head_unit",
    )  # fmt: skip
    unit, q = system.design.site.unit, quantities_of(system)
    known = not any(one.key != "[zones] longest" for one in system.assumed)
    emits = system.figures is not None
    zones = len(system.plan.zones)

    def flow(value: float, *, told: bool) -> str:
        return shown(flow_to(unit, value, "minute"), 3) if told else ""

    rows = [
        (
            shown(one.longest, 2), str(one.zones), str(one.joined), str(one.connections),
            str(one.joints), shown(one.blank, 2), flow(one.dose_flow, told=emits),
            flow(one.flush_nominal, told=emits and known),
            flow(one.flush_flow, told=emits and known),
            shown(one.head, 3) if known else "",
            "yes" if one.chosen and one.zones == zones else "no", unit.value, q.flow, q.head,
        )
        for one in system.zones.trade
    ]  # fmt: skip
    return table_of(columns, rows, ("joined",))


def air_table(system: FieldSystem) -> Table:
    """Where air is let in and out, and what that protects."""
    columns = ("number", "zone", "line", "northing", "easting", "elevation", "protects", "unit")
    unit = system.design.site.unit
    return table_of(
        columns,
        [
            (
                f"AR{number}", one.zone, one.line, shown(one.xyz[1], unit.places),
                shown(one.xyz[0], unit.places), shown(one.xyz[2], unit.places), one.protects,
                unit.value,
            )
            for number, one in enumerate(system.zones.air, 1)
        ],
    )  # fmt: skip


def loading_table(system: FieldSystem) -> Table:
    """The ground that each emitter serves and its water in a day."""
    columns = (
        "zone", "joined", "lateral", "northing", "easting", "area", "emission", "daily", "loading",
        "unit", "emitter_unit", "volume_unit", "loading_unit",
    )  # fmt: skip
    load, q = system.load, quantities_of(system)
    if load is None:
        return table_of(columns, [])
    unit = system.design.site.unit
    places = unit.places
    return table_of(
        columns,
        [
            (
                zone, joined, lateral, shown(y, places), shown(x, places), shown(area, 4),
                shown(emission, 4), shown(daily, 5), shown(rate, 5), unit.value,
                q.emitter_flow, q.volume, q.loading,
            )
            for zone, joined, lateral, (x, y), area, emission, daily, rate in zip(
                load.zone, load.joined, load.lateral, load.points.tolist(), load.area.tolist(),
                load.emission.tolist(), load.daily.tolist(), load.surface.rate.tolist(),
                strict=True,
            )
        ],
    )  # fmt: skip


def linear_table(system: FieldSystem) -> Table:
    """Water that passes the lower edge in a day, along it."""
    columns = ("northing", "easting", "width", "linear_loading", "unit", "linear_loading_unit")
    load, q = system.load, quantities_of(system)
    if load is None or load.linear is None:
        return table_of(columns, [])
    unit = system.design.site.unit
    places = unit.places
    return table_of(
        columns,
        [
            (
                shown(y, places), shown(x, places), shown(width, 3), shown(rate, 4), unit.value,
                f"{q.volume}/day/{q.length}",
            )
            for (x, y), width, rate in zip(
                load.linear.xy.tolist(), load.linear.width.tolist(), load.linear.rate.tolist(),
                strict=True,
            )
        ],
    )  # fmt: skip


def commissioning_table(system: FieldSystem) -> Table:
    """What should be read when each zone is started up, with room for what is."""
    columns = ("zone", "state", "what", "where", "expected", "least", "most", "unit", "read")
    if system.simulation is None:
        return table_of(columns, [])
    return table_of(
        columns,
        [
            (
                one.zone, one.state, one.what, one.where, shown(one.value, 2), shown(one.least, 2),
                shown(one.most, 2), one.unit, "",
            )
            for one in expected_readings(system.simulation)
        ],
    )  # fmt: skip


def fault_readings(system: FieldSystem) -> list[FaultReading]:
    """What would be read with the usual faults, in every state that is solved."""
    if system.simulation is None or system.figures is None:
        return []
    return [
        reading
        for state in system.simulation.solved
        for reading in find_faults(state, system.figures)
    ]


def faults_table(system: FieldSystem) -> Table:
    """What would be read when something is wrong."""
    columns = (
        "zone", "state", "fault", "flow", "change", "head", "pressure_in", "pressure_out", "note",
        "flow_unit", "head_unit", "pressure_unit",
    )  # fmt: skip
    q = quantities_of(system)
    return table_of(
        columns,
        [
            (
                one.zone, one.state, one.fault, shown(one.flow, 2), shown(one.change, 4),
                shown(one.head, 2), shown(one.pressure_in, 2), shown(one.pressure_out, 2), one.note,
                q.flow, q.head, q.pressure,
            )
            for one in fault_readings(system)
        ],
    )  # fmt: skip
