"""Riser, lid and finished grade over a tank; water to start with; switch levels; flush room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.hydraulics.tank_shape import tank_shape, water, water_unit
from dripfield.preparation.enclosure import stack_of, tallest, tolerance
from dripfield.preparation.stock import Need
from dripfield.site.schema.preparation import TankTable

Verdict = Literal["pass", "fail", "not proven"]
LEVELS = ("pump cover", "off", "on", "override", "alarm")


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at: what, the figure, and what it says."""

    what: str
    verdict: Verdict
    text: str


@dataclass(frozen=True)
class TankHeights:
    """What a tank needs to end at grade and to start up.

    Attributes
    ----------
    name : str
    riser_to_add : float or None
        [in or mm]; None: not known.
    start_water, fill_minutes : float or None
        [gal or L], [min].
    volumes : tuple of (str, float, float)
        Switch levels from the floor up with height [site unit] and water below [gal or L]; the
        inlet last.
    findings : tuple of Finding
    needs : tuple of Need
        Riser sections and water for the take-off.
    notes : tuple of str
        What is left out.
    """

    name: str
    riser_to_add: float | None
    start_water: float | None
    fill_minutes: float | None
    volumes: tuple[tuple[str, float, float], ...]
    findings: tuple[Finding, ...]
    needs: tuple[Need, ...]
    notes: tuple[str, ...]


def tank_heights(
    table: TankTable,
    unit: Unit,
    *,
    dose: float | None = None,
    drained_back: float | None = None,
    flushed_back: float | None = None,
    daily_flow: float | None = None,
) -> TankHeights:
    """Heights, water and levels of one tank.

    Parameters
    ----------
    table : TankTable
    unit : Unit
        The site's.
    dose, drained_back, flushed_back, daily_flow : float, optional
        Volumes of a dose, of what runs back after it, of what a flush brings back, and of a day
        [gal or L]; None: not compared.

    Returns
    -------
    TankHeights

    Raises
    ------
    InputError
        A riser that ends below the tank's top, a grade more than 20 ft or 6 m away, levels out of
        order or over the tank's top, or a start deeper than the tank.
    """
    shape = tank_shape(table)
    findings: list[Finding] = []
    needs: list[Need] = []
    notes: list[str] = []
    riser = _riser(table, unit, findings, needs, notes)
    start = minutes = None
    if table.start_depth is None:
        notes.append(f"{table.name}: start_depth is not given: water to start with is left out")
    else:
        _within(table, shape.height, "start_depth", table.start_depth, unit)
        start = water(shape.volume(table.start_depth), unit)
        how = f"{table.shape} {table.name} filled {table.start_depth:g} {unit.short} deep"
        needs.append(Need("water to start up", start, water_unit(unit), how, "site"))
        if table.hose_flow is None:
            notes.append(f"{table.name}: hose_flow is not given: the time to fill is left out")
        else:
            minutes = start / table.hose_flow
    volumes = _levels(table, unit, shape.height)
    words = water_unit(unit)
    if dose is not None:
        findings.append(_working(table, volumes, dose, drained_back or 0.0, words))
    if flushed_back is not None:
        findings.append(_flush_room(table, volumes, flushed_back, words))
    if daily_flow is not None:
        findings.append(_reserve(table, volumes, daily_flow, words))
    return TankHeights(
        table.name, riser, start, minutes, volumes, tuple(findings), tuple(needs), tuple(notes)
    )


def _riser(
    table: TankTable, unit: Unit, findings: list[Finding], needs: list[Need], notes: list[str]
) -> float | None:
    """Whether the riser's lid ends at finished grade, and what is to be added."""
    top, lid, grade = table.top, table.riser_top, table.grade
    places, short = unit.places, unit.short
    if top is not None and lid is not None and lid < top:
        raise input_error(
            f"the riser of {table.name} ends at {lid:.{places}f} {short}, below the tank's top at"
            f" {top:.{places}f} {short}",
            "correct riser_top or top",
            file="site.toml",
            field="[[tank]] riser_top",
        )
    if top is not None and grade is not None and grade < top:
        findings.append(
            Finding(
                "tank under grade",
                "fail",
                f"{table.name}: its top stands {top - grade:.{places}f} {short} over finished"
                " grade",
            )
        )
    if grade is None or (lid is None and top is None):
        notes.append(f"{table.name}: top, riser_top and grade are not given: its riser is left out")
        return None
    word = unit.small
    end = top if lid is None else lid
    assert end is not None  # one of the two is given
    add = unit.to_small(grade - end)
    if abs(add) > tallest(unit):
        raise input_error(
            f"{table.name} ends {abs(add):,.0f} {word} from finished grade",
            "correct its elevations: top, riser_top and grade",
            file="site.toml",
            field="[[tank]] grade",
        )
    close = tolerance(unit)
    within = abs(add) <= close + 1e-6
    where = f"{abs(add):.1f} {word} {'below' if add > 0 else 'over'} finished grade"
    remedy = "" if within else f": add {add:.1f} {word} of riser"
    if add < -close:
        remedy = ": cut the riser or raise the grade around it, sloped away"
    findings.append(
        Finding(
            "lid at finished grade",
            "pass" if within else "fail",
            f"{table.name}: {'the tank' if lid is None else 'the lid'} ends {where}{remedy}",
        )
    )
    if add <= close:
        return 0.0
    if table.riser_sections:
        stack = stack_of(add, table.riser_sections, close)
        over = sum(size * count for size, count in stack) - add
        how = f"{add:.1f} {word} to add over {table.name}, the sections end {over:+.1f} {word} off"
        for size, count in stack:
            needs.append(Need(f"riser section, {size:g} {word}", count, "each", how, "site"))
    else:
        how = f"{add:.1f} {word} to add over {table.name}"
        length = unit.from_small(add)
        needs.append(Need(f"riser over {table.name}", length, unit.short, how, "site"))
    return add


def _within(table: TankTable, height: float, key: str, depth: float, unit: Unit) -> None:
    if depth > height * (1.0 + 1e-9):
        raise input_error(
            f"{key} of {table.name} is {depth:g} {unit.short} and the tank is {height:g}"
            f" {unit.short} deep inside",
            "correct one of the two",
            file="site.toml",
            field=f"[[tank]] {key}",
        )


def _levels(table: TankTable, unit: Unit, height: float) -> tuple[tuple[str, float, float], ...]:
    """Water below each switch; refuses levels that do not rise."""
    shape = tank_shape(table)
    for name in table.levels:
        if name not in LEVELS:
            raise input_error(
                f"{table.name} has a level {name!r}",
                f"the levels are {', '.join(LEVELS)}",
                file="site.toml",
                field="[[tank]] levels",
            )
    rows = [(name, table.levels[name]) for name in LEVELS if name in table.levels]
    if table.inlet is not None:
        rows.append(("inlet", table.inlet))
    for (low, a), (high, b) in pairwise(rows):
        if b <= a:
            raise input_error(
                f"in {table.name} the level {high!r} at {b:g} {unit.short} is not over {low!r} at"
                f" {a:g} {unit.short}",
                f"from the floor up they are {', '.join(LEVELS)}, inlet",
                file="site.toml",
                field="[[tank]] levels",
            )
    for name, level in rows:
        _within(table, height, name, level, unit)
    return tuple((name, level, water(shape.volume(level), unit)) for name, level in rows)


def _between(
    volumes: Sequence[tuple[str, float, float]], low: Sequence[str], high: str
) -> tuple[float, str] | None:
    """Water between the first known of some levels and a higher one."""
    known = {name: volume for name, _, volume in volumes}
    first = next((name for name in low if name in known), None)
    if first is None or high not in known:
        return None
    return known[high] - known[first], first


def _working(
    table: TankTable,
    volumes: Sequence[tuple[str, float, float]],
    dose: float,
    drained: float,
    words: str,
) -> Finding:
    what = "working volume"
    room = _between(volumes, ("off",), "on")
    if room is None:
        text = f"{table.name}: give its levels off and on to compare them with a dose"
        return Finding(what, "not proven", text)
    need = dose + drained
    text = (
        f"{table.name}: {room[0]:,.0f} {words} between off and on; a dose of {dose:,.0f} and"
        f" {drained:,.0f} {words} that runs back need {need:,.0f}"
    )
    return Finding(what, "pass" if room[0] >= need - 1e-6 else "fail", text)


def _flush_room(
    table: TankTable, volumes: Sequence[tuple[str, float, float]], flushed: float, words: str
) -> Finding:
    what = "room for what is flushed back"
    room = _between(volumes, ("alarm", "override", "on"), "inlet")
    if room is None:
        text = f"{table.name}: give its inlet and levels to compare them with a flush"
        return Finding(what, "not proven", text)
    text = (
        f"{table.name}: {room[0]:,.0f} {words} between {room[1]} and inlet; a flush brings back"
        f" {flushed:,.0f} {words}"
    )
    return Finding(what, "pass" if room[0] >= flushed - 1e-6 else "fail", text)


def _reserve(
    table: TankTable, volumes: Sequence[tuple[str, float, float]], daily: float, words: str
) -> Finding:
    what = "reserve over the alarm"
    room = _between(volumes, ("alarm",), "inlet")
    if room is None:
        text = f"{table.name}: give its inlet and the level alarm to state the reserve"
        return Finding(what, "not proven", text)
    text = (
        f"{table.name}: {room[0]:,.0f} {words} between alarm and inlet, {room[0] / daily:.2f} of a"
        f" day's {daily:,.0f} {words}; what is enough is for the permit to say"
    )
    return Finding(what, "not proven", text)
