"""Tables of a day: doses and times, levels of the dosing tank, what drains after a dose."""

from __future__ import annotations

from dripfield.core.table import Table
from dripfield.distribution.rows import quantities_of, shown, table_of
from dripfield.distribution.system import FieldSystem
from dripfield.hydraulics.tank_shape import water, water_unit


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
    return table_of(columns, rows)


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
        return table_of(columns, [])
    said = {True: "yes", False: "no", None: "not proven"}

    def below(height: float | None) -> str:
        return "" if height is None else shown(water(tank.shape.volume(height), unit), 1)

    return table_of(
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
    return table_of(
        ("zone", "joined", "received_over_mean"),
        [
            (day.zone, name, shown(value, 4))
            for day in system.days
            for name, value in day.of_joined.items()
        ],
    )


def remedies_table(system: FieldSystem) -> Table:
    """What changes of the field would make of the drainage."""
    return table_of(
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
