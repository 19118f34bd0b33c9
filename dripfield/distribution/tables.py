"""The tables of a field's water, by the files that they are written as."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dripfield.core.table import Cell, Column, Figure, Table
from dripfield.distribution.system import FieldSystem
from dripfield.hydraulics.commissioning import expected_readings
from dripfield.hydraulics.faults import FaultReading, find_faults
from dripfield.hydraulics.quantities import Quantities, quantities
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
from dripfield.hydraulics.tank_shape import water, water_unit
from dripfield.zones.settings import flow_to

Row = tuple[str, ...]


_TEXTS = frozenset(
    ("zone", "joined", "laterals", "lateral", "state", "requirement", "source", "value", "limit",
     "verdict", "where", "pipe", "role", "size", "chosen", "number", "line", "protects", "what",
     "caution", "fault", "note", "read", "tank", "level", "enough", "why")
)  # fmt: skip


def _table(columns: Sequence[str], rows: Sequence[Row], numbers: Sequence[str] = ()) -> Table:
    """Rows of text as a table; a number keeps the decimals that it is written with."""
    texts = [key not in numbers and (key in _TEXTS or key.endswith("unit")) for key in columns]

    def cell(text: str, *, is_text: bool) -> Cell:
        if is_text:
            return text
        whole, _, decimals = text.partition(".")
        if not decimals:
            return int(whole) if whole else None
        return Figure(float(text), len(decimals))

    return Table(
        [
            Column(key, kind="text" if is_text else "number")
            for key, is_text in zip(columns, texts, strict=True)
        ],
        [
            [cell(text, is_text=is_text) for text, is_text in zip(row, texts, strict=True)]
            for row in rows
        ],
    )


def shown(value: float | None, places: int) -> str:
    """A number with some decimals, no minus before nothing; empty for none or NaN."""
    if value is None or not np.isfinite(value):
        return ""
    text = f"{value:.{places}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def quantities_of(system: FieldSystem) -> Quantities:
    """The hydraulic units of the field's site."""
    return quantities(system.design.site.unit)


def hydraulics_table(system: FieldSystem) -> Table:
    """Every joined lateral in both states, as ``hydraulics.csv`` has it; no rows where unsolved."""
    simulation = system.simulation
    return _table(HYDRAULICS, hydraulics_rows(simulation) if simulation else ())


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
        "duty.csv": _table(DUTY, duty_rows(simulation) if simulation else none),
        "checks.csv": _table(CHECKS, check_rows(list(system.checks))),
        "pipes.csv": _table(PIPES, pipe_rows(simulation) if simulation else none),
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
    return _table(columns, rows)


def zones_table(system: FieldSystem) -> Table:
    """A row for each zone; flows and contents are empty where a figure is missing."""
    columns = (*ZONES, "share")
    if system.simulation is not None:
        rows = zone_rows(system.simulation)
    else:
        rows = [_bare_zone(system, number) for number in range(len(system.plan.zones))]
    return _table(
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
    return _table(columns, rows, ("joined",))


def air_table(system: FieldSystem) -> Table:
    """Where air is let in and out, and what that protects."""
    columns = ("number", "zone", "line", "northing", "easting", "elevation", "protects", "unit")
    unit = system.design.site.unit
    return _table(
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


def doses_table(system: FieldSystem) -> Table:
    """A day of each zone."""
    columns = (
        "zone", "share", "daily", "doses", "dose", "pumped", "drain_back", "multiple", "fill",
        "run", "rest", "pressurised", "flush_time", "flush_returned", "volume_unit", "time_unit",
        "draw_down", "small_unit",
    )  # fmt: skip
    q = quantities_of(system)
    draws = system.tank.draws if system.tank is not None else {}
    rows = []
    for day in system.days:
        one = day.dosing
        flush = (None, None) if day.transit is None else day.transit.flush()
        rows.append(
            (
                day.zone, shown(day.share, 5), shown(one.daily, 2), str(one.doses),
                shown(one.dose, 2), shown(one.pumped, 2), shown(day.drain_back, 2),
                shown(one.multiple, 2), shown(one.fill, 2), shown(one.run, 2), shown(one.rest, 1),
                shown(one.pressurised, 4), shown(flush[0], 2), shown(flush[1], 2), q.volume, "min",
                _small(system, draws.get(day.zone)), system.design.site.unit.small,
            )
        )  # fmt: skip
    return _table(columns, rows)


def _small(system: FieldSystem, length: float | None) -> str:
    """A length as it is read off a rule: a tenth of an inch, or a millimetre."""
    unit = system.design.site.unit
    return "" if length is None else shown(unit.to_small(length), 0 if unit.is_metric else 1)


def tank_table(system: FieldSystem) -> Table:
    """Levels of the dosing tank: as entered, as low as the doses let them be, the water below."""
    unit, tank = system.design.site.unit, system.tank
    columns = (
        "tank", "level", "entered", "least", "small_unit", "volume", "volume_unit", "enough", "why",
    )  # fmt: skip
    if tank is None:
        return _table(columns, [])
    said = {True: "yes", False: "no", None: "not proven"}

    def below(height: float | None) -> str:
        return "" if height is None else shown(water(tank.shape.volume(height), unit), 1)

    return _table(
        columns,
        [
            (
                tank.name, one.name, _small(system, one.entered), _small(system, one.least),
                unit.small,
                below(one.height),
                water_unit(unit), "" if one.name == "pump cover" else said[one.holds], one.why,
            )
            for one in tank.levels
        ],
    )  # fmt: skip


def drainage_table(system: FieldSystem) -> Table:
    """What each joined lateral gets of a dose and of what drains after it, over the mean."""
    return _table(
        ("zone", "joined", "received_over_mean"),
        [
            (day.zone, name, shown(value, 4))
            for day in system.days
            for name, value in day.of_joined.items()
        ],
    )


def remedies_table(system: FieldSystem) -> Table:
    """What changes of the field would make of the drainage."""
    return _table(
        (
            "zone", "what", "lowest_over_mean", "greatest_over_mean", "lowest_by_head",
            "greatest_by_head", "caution",
        ),
        [
            (
                day.zone, one.what, shown(one.lowest_over_mean, 4),
                shown(one.greatest_over_mean, 4), shown(one.lowest_by_head, 4),
                shown(one.greatest_by_head, 4), one.caution,
            )
            for day in system.days
            for one in day.remedies
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
        return _table(columns, [])
    unit = system.design.site.unit
    places = unit.places
    return _table(
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
        return _table(columns, [])
    unit = system.design.site.unit
    places = unit.places
    return _table(
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
        return _table(columns, [])
    return _table(
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
    return _table(
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
