"""Rod readings: height of instrument, the reading to look for, and where the laser must move.

Differential levelling as any surveying text gives it: the elevation of a mark plus the backsight
read on it is the height of instrument; the height of instrument less the elevation wanted is the
reading to look for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.core.errors import input_error
from dripfield.core.limits import most
from dripfield.core.units import Unit


def height_of_instrument(mark: float, backsight: float) -> float:
    """Elevation of the laser's beam: the mark's elevation plus the reading on it [one unit]."""
    return mark + backsight


def rod_reading(height: float, elevation: Floats | float) -> Floats:
    """Reading to look for so that the rod's foot stands at an elevation.

    Parameters
    ----------
    height : float
        Height of instrument [site unit].
    elevation : float or (n,) float array
        Wanted elevations [site unit].

    Returns
    -------
    (n,) float array
        Negative where the wanted elevation lies above the beam: it cannot be read.
    """
    return np.asarray(height - np.asarray(elevation, dtype=np.float64))


def on_rod(height: float, elevation: Floats, rod_length: float) -> Bools:
    """Whether each elevation (n,) can be read: from the rod's foot, zero, to its top.

    Parameters
    ----------
    height : float
        Of the instrument [site unit].
    elevation : (n,) float array
        [site unit]
    rod_length : float
        [site unit]

    Returns
    -------
    (n,) bool array
    """
    reading = rod_reading(height, elevation)
    slack = 1e-9 * max(1.0, rod_length)
    return np.asarray((reading >= -slack) & (reading <= rod_length + slack))


@dataclass(frozen=True)
class Setup:
    """One place of the laser.

    Attributes
    ----------
    number : int
        From 1, in the order of work.
    mark : str
        What the backsight is read on: the benchmark, or turning point ``TP1`` ….
    mark_elevation, backsight, height : float
        The mark's elevation, the reading on it, and their sum: height of instrument [site unit].
    before : int or None
        The set-up that the turning point was shot from; None for the benchmark.
    foresight : float or None
        Reading on the turning point from that set-up [site unit].
    reach : (low, high)
        Heights of instrument from which every target of this set-up, its mark and the marks
        turned to from it stay on the rod [site unit]: where the beam may stand.
    targets : (k,) int array
        The elevations read from here, as numbers of the list given.
    """

    number: int
    mark: str
    mark_elevation: float
    backsight: float
    height: float
    before: int | None
    foresight: float | None
    reach: tuple[float, float]
    targets: Ints


def plan_setups(
    elevations: Floats,
    benchmark: float,
    rod_length: float,
    *,
    name: str = "benchmark",
    backsight: float | None = None,
    margin: float = 0.0,
    unit: Unit = Unit.FOOT,
) -> tuple[Setup, ...]:
    """Group elevations into set-ups of the laser, from the top down, with the fewest set-ups.

    Each set-up takes what lies within one rod length of height. Among groupings with the fewest
    set-ups the one whose largest group spans the least height is taken, which leaves most room
    for where the tripod happens to stand. Work begins where the benchmark can be read and goes
    down from there, then up; a set-up that reads no target is added where the rod cannot bridge
    two neighbours, or the benchmark and the bed.

    Parameters
    ----------
    elevations : (n,) float array
        What is to be read [site unit].
    benchmark : float
        Elevation of the benchmark [site unit].
    rod_length : float
        Greatest reading of the rod [site unit].
    name : str
        The benchmark's name, for the sheet.
    backsight : float, optional
        Reading on the benchmark from the first set-up; left out, set-ups are planned so that the
        readings lie about the middle of the rod.
    margin : float
        Planned readings stay this far from the rod's ends, so that their allowed band is on the
        rod too [site unit]. The set-up of a given backsight takes every target it can read.
    unit : Unit
        For the message.

    Returns
    -------
    tuple of Setup
        Every elevation is a target of exactly one set-up.

    Raises
    ------
    InputError
        The backsight puts every target off the rod, or the rod would have to be set more often
        than anybody would.
    """
    elevations = np.asarray(elevations, dtype=np.float64)
    margin = min(margin, 0.25 * rod_length)
    usable = rod_length - 2.0 * margin
    _check_climb(elevations, benchmark, rod_length, name, unit)
    if backsight is None:
        groups = _groups(np.append(elevations, benchmark), usable)
        home = next(i for i, group in enumerate(groups) if len(elevations) in group)
        groups = [group[group != len(elevations)] for group in groups]
        upper, first, lower = groups[:home][::-1], groups[home], groups[home + 1 :]
        own = np.append(elevations[first], benchmark)
        low, high = float(own.max()) + margin, float(own.min()) + rod_length - margin
        if not len(first) and lower:  # only the benchmark is read: stand well down towards the bed
            high = low
        elif not len(first) and upper:
            low = high
        height = benchmark + _tidy(low - benchmark, high - benchmark, unit)
    else:
        height = height_of_instrument(benchmark, backsight)
        readable = on_rod(height, elevations, rod_length)
        if not readable.any():
            raise _all_off(elevations, benchmark, rod_length, backsight, unit)
        first = np.flatnonzero(readable)
        above = np.flatnonzero(~readable & (elevations > height))
        below = np.flatnonzero(~readable & (elevations < height))
        upper = [above[g] for g in _groups(elevations[above], usable)][::-1]
        lower = [below[g] for g in _groups(elevations[below], usable)]
    start = Setup(1, name, benchmark, height - benchmark, height, None, None, (0.0, 0.0), first)
    setups = [start]
    for chain in (lower, upper):
        _extend(setups, start, chain, elevations, rod_length, margin, unit)
    return tuple(_with_reach(setups, elevations, rod_length))


def _check_climb(
    elevations: Floats, benchmark: float, rod_length: float, name: str, unit: Unit
) -> None:
    """Refuse a height that no crew carries levels over: a slip in the benchmark or the rod."""
    if not len(elevations):
        return

    def say(value: float) -> str:
        return f"{value:,.{unit.places}f} {unit.short}"

    low, high = float(elevations.min()), float(elevations.max())
    climb = max(high, benchmark) - min(low, benchmark)
    if climb <= most("set-ups") * rod_length:
        return
    far = high - low < 0.5 * climb  # it is the benchmark that lies off, not the bed that is tall
    subject = f"the benchmark {name} at {say(benchmark)} lies" if far else "the bed's heights lie"
    raise input_error(
        f"{subject} {say(climb)} from what is to be read ({say(low)} to {say(high)})"
        if far
        else f"{subject} between {say(low)} and {say(high)}",
        f"correct the elevation of {name} under [benchmark] or rod_length ({say(rod_length)}) "
        f"under [crew]: at most {most('set-ups')} set-ups of the laser are planned",
        file="site.toml",
        field="[benchmark]" if far else "[crew] rod_length",
    )


def _groups(elevations: Floats, rod_length: float) -> list[Ints]:
    """Fewest groups spanning at most a rod length, highest first, the largest span least."""
    if not len(elevations):
        return []
    order = np.argsort(-elevations, kind="stable")
    sorted_down = elevations[order]
    rod = rod_length * (1.0 + 1e-12)
    fewest = len(_cuts(sorted_down, rod))
    # the least span that still gives the fewest groups is a difference of two elevations
    spans = sorted_down[:, None] - sorted_down[None, :]
    candidates = np.unique(spans[(spans >= 0.0) & (spans <= rod)])
    low, high = 0, len(candidates) - 1
    while low < high:
        middle = (low + high) // 2
        if len(_cuts(sorted_down, float(candidates[middle]))) <= fewest:
            high = middle
        else:
            low = middle + 1
    cuts = _cuts(sorted_down, float(candidates[low]))
    return [np.sort(part) for part in np.split(order, cuts[1:])]


def _cuts(sorted_down: Floats, span: float) -> list[int]:
    """Where each group starts when every group takes as much as ``span`` allows."""
    cuts, i = [], 0
    while i < len(sorted_down):
        cuts.append(i)
        i += int(np.searchsorted(-sorted_down[i:], -(sorted_down[i] - span), side="right"))
    return cuts


def _extend(
    setups: list[Setup],
    start: Setup,
    chain: list[Ints],
    elevations: Floats,
    rod: float,
    margin: float,
    unit: Unit,
) -> None:
    """Add the set-ups of one direction, each turned to from the one before."""
    last = start
    for group in chain:
        own = elevations[group]
        low, high = float(own.max()) + margin, float(own.min()) + rod - margin
        while not last.height - rod <= high or not low <= last.height + rod:
            step = -rod if high < last.height else rod
            none = np.array([], dtype=np.int64)
            last = _turn(setups, last, last.height + 0.9 * step, rod, none, unit)
        height = min(max(0.5 * (low + high), last.height - rod), last.height + rod)
        reach = max(low, last.height - rod), min(high, last.height + rod)
        last = _turn(setups, last, _tidy(*reach, unit, height), rod, group, unit)


def _tidy(low: float, high: float, unit: Unit, wanted: float | None = None) -> float:
    """A planned value, the middle unless given, as the crew reads it where that stays inside."""
    wanted = 0.5 * (low + high) if wanted is None else wanted
    rounded = round(wanted, unit.places)
    return rounded if low <= rounded <= high else wanted


def _turn(
    setups: list[Setup], last: Setup, height: float, rod: float, group: Ints, unit: Unit
) -> Setup:
    """Move the laser over a turning point half way between what both set-ups can read."""
    point = _tidy(max(last.height, height) - rod, min(last.height, height), unit)
    turned = Setup(
        number=len(setups) + 1,
        mark=f"TP{len(setups)}",
        mark_elevation=point,
        backsight=height - point,
        height=height,
        before=last.number,
        foresight=last.height - point,
        reach=(0.0, 0.0),
        targets=group,
    )
    setups.append(turned)
    return turned


def _with_reach(setups: list[Setup], elevations: Floats, rod: float) -> list[Setup]:
    """Fill in the heights at which each set-up does its work."""
    result = []
    for setup in setups:
        marks = [setup.mark_elevation]
        marks += [s.mark_elevation for s in setups if s.before == setup.number]
        read = np.append(elevations[setup.targets], marks)
        result.append(replace(setup, reach=(float(read.max()), float(read.min()) + rod)))
    return result


def _all_off(
    elevations: Floats, benchmark: float, rod: float, backsight: float, unit: Unit
) -> Exception:
    def say(value: float) -> str:
        return f"{value:.{unit.places}f}"

    height = height_of_instrument(benchmark, backsight)
    readings = rod_reading(height, elevations)
    low = max(float(elevations.min()) - benchmark, 0.0)
    high = min(float(elevations.max()) + rod - benchmark, rod)
    remedy = "leave the backsight out and the moves of the laser are planned"
    if low <= high:
        places = 10.0**unit.places
        remedy = (
            f"give a backsight of {say(math.ceil(low * places) / places)} to"
            f" {say(math.floor(high * places) / places)} {unit.short}, or {remedy}"
        )
    return input_error(
        f"a backsight of {say(backsight)} {unit.short} puts the laser at {say(height)}"
        f" {unit.short} and every target off the rod: readings of {say(float(readings.min()))} to"
        f" {say(float(readings.max()))} {unit.short} on a rod of 0 to {say(rod)} {unit.short}",
        remedy,
    )
