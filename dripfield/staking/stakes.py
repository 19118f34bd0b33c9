"""Where the crew sets a stake: both ends of each lateral, its bends, and long runs in between.

The stakes of a lateral stand on the drawn line, at its vertices or, on long straight parts, at even
divisions of them. Of all such choices that keep the chord within its tolerance and the interval
within its limit, the one with the fewest stakes is taken, and among those the most evenly spaced.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.core.limits import check_count
from dripfield.core.lines import leg_lengths, stations_along
from dripfield.layout.model import Lateral, Layout
from dripfield.site.model import LayoutSettings
from dripfield.survey.shots import Survey

Kind = Literal["start", "bend", "run", "end"]

_WRITTEN = 1e-4  # stakes are written to 4 decimals: the chord keeps this much in hand
_DIVISIONS = 4  # places offered for a stake in each interval of a straight part


@dataclass(frozen=True)
class Stake:
    """One stake.

    Attributes
    ----------
    point : int
        Its number, unique in the layout and rising along each lateral.
    easting, northing : float
        [site unit]
    elevation : float
        The elevation that the lateral is set to, not the ground's [site unit].
    lateral : str
        The lateral's name.
    station : float
        Distance along the lateral from its start [site unit].
    description : str
        The lateral's name, a space, and what the stake marks.
    kind : str
        ``start``, ``bend`` (the line turns here), ``run`` (a long run is divided), ``end``.
    """

    point: int
    easting: float
    northing: float
    elevation: float
    lateral: str
    station: float
    description: str
    kind: Kind


def stakes(layout: Layout, settings: LayoutSettings, *, first: int = 1001) -> list[Stake]:
    """Every stake of a layout, lateral by lateral, in order along each.

    Parameters
    ----------
    layout : Layout
    settings : LayoutSettings
        ``chord_tolerance`` and ``stake_interval`` [site unit] are used.
    first : int
        Number of the first stake; :func:`first_point_number` keeps clear of the survey's.

    Returns
    -------
    list of Stake
        The polyline through the stakes of a lateral and its drawn line lie within
        ``chord_tolerance`` of each other everywhere, and neighbours are at most ``stake_interval``
        apart along the line.

    Raises
    ------
    InputError
        The interval asks for more stakes than anybody would set.
    """
    result: list[Stake] = []
    for lateral in layout.laterals:
        length = float(leg_lengths(lateral.xy).sum())
        expected = len(result) + length / settings.stake_interval
        check_count(
            "stakes",
            expected,
            "site.toml",
            "give a longer interval",
            field="[layout] stake_interval",
            subject="the layout",
        )
        result.extend(_lateral_stakes(lateral, settings, first + len(result)))
    return result


def first_point_number(survey: Survey) -> int:
    """The first round thousand, plus one, above every numbered shot of the survey."""
    numbers = [int(name) for name in survey.names if name.isascii() and name.isdigit()]
    return max(numbers, default=0) // 1000 * 1000 + 1001


def _lateral_stakes(lateral: Lateral, settings: LayoutSettings, first: int) -> list[Stake]:
    xy, station = stake_places(lateral.xy, settings.chord_tolerance, settings.stake_interval)
    kinds = _kinds(lateral.xy, station, settings.chord_tolerance)
    return [
        Stake(
            point=first + i,
            easting=float(xy[i, 0]),
            northing=float(xy[i, 1]),
            elevation=lateral.elevation,
            lateral=lateral.name,
            station=float(station[i]),
            description=f"{lateral.name} {kind}",
            kind=kind,
        )
        for i, kind in enumerate(kinds)
    ]


def stake_places(xy: Floats, chord_tolerance: float, interval: float) -> tuple[Floats, Floats]:
    """Choose the stakes of one line.

    Parameters
    ----------
    xy : (k, 2) float array
        Vertices of the drawn line [site unit], at least two distinct ones.
    chord_tolerance : float
        Greatest distance between the line and the polyline through the stakes, either way
        [site unit].
    interval : float
        Greatest distance along the line between neighbouring stakes [site unit].

    Returns
    -------
    places : (s, 2) float array
        Stakes on the line, both ends included.
    station : (s,) float array
        Their distance along the line from its start.

    Notes
    -----
    A shortest path over all chords between candidate places, after Imai and Iri (1988),
    *Polygonal approximations of a curve* (from memory). A chord is allowed when every vertex that
    it skips is within the tolerance of it: distance to a segment is convex, so the whole line
    between is too; and since that line joins the chord's ends without a gap, its projection covers
    the chord, so no point of the chord is farther from the line either.
    """
    shift = xy[0]
    near, station = _candidates(xy - shift, interval)
    tolerance = max(chord_tolerance - _WRITTEN, 0.25 * chord_tolerance)
    allowed = _allowed_chords(near, station, tolerance, interval)
    chosen = _fewest(allowed, station)
    return near[chosen] + shift, station[chosen]


def _candidates(near: Floats, interval: float) -> tuple[Floats, Floats]:
    """Vertices and even divisions of long segments, (m, 2), with their stations (m,)."""
    length = leg_lengths(near)
    kept = np.concatenate(([True], length > 0.0))
    near, length = near[kept], length[length > 0.0]
    intervals = np.ceil(length / interval * (1.0 - 1e-12))
    parts = np.where(
        length > interval / _DIVISIONS, np.maximum(intervals, 1) * _DIVISIONS, 1
    ).astype(np.int64)
    owner = np.repeat(np.arange(len(length)), parts)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(parts) - parts, parts)
    share = (step / parts[owner])[:, None]
    places = near[owner] * (1.0 - share) + near[owner + 1] * share
    places = np.vstack((places, near[-1]))
    station = stations_along(places)
    return places, station


def _allowed_chords(places: Floats, station: Floats, tolerance: float, interval: float) -> Bools:
    """Whether a chord from place i to place i + 1 + w may stand, (m, widest).

    From each place the directions that pass within the tolerance of a skipped place form a cone;
    the cones of all skipped places are intersected as the reach grows. A chord must also be the
    longest reach so far, so that nothing skipped lies beyond its end. The next place is always
    allowed: it skips nothing.
    """
    m = len(places)
    reach = np.searchsorted(station, station + interval * (1.0 + 1e-9), side="right") - 1
    reach = np.maximum(reach, np.minimum(np.arange(m) + 1, m - 1))
    width = max(int((reach - np.arange(m)).max()), 1)
    target: Ints = np.arange(m)[:, None] + 1 + np.arange(width)
    inside = target <= reach[:, None]
    target = np.minimum(target, m - 1)
    offset = places[target] - places[:, None, :]
    distance = np.hypot(offset[..., 0], offset[..., 1])
    first = np.arctan2(offset[:, :1, 1], offset[:, :1, 0])
    turn = np.arctan2(offset[..., 1], offset[..., 0]) - first
    turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
    ratio = np.where(distance > tolerance, tolerance / np.maximum(distance, 1e-300), 1.0)
    half = np.where(distance > tolerance, np.arcsin(np.minimum(ratio, 1.0)), np.inf)
    left = _before(np.minimum.accumulate(turn + half, axis=1), np.inf)
    right = _before(np.maximum.accumulate(turn - half, axis=1), -np.inf)
    farthest = _before(np.maximum.accumulate(distance, axis=1), 0.0)
    allowed = inside & (turn <= left) & (turn >= right) & (distance >= farthest)
    allowed[:, 0] = inside[:, 0]
    return np.asarray(allowed, dtype=np.bool_)


def _before(running: Floats, start: float) -> Floats:
    """A running extreme along each row as it stood before each column."""
    return np.hstack((np.full((len(running), 1), start), running[:, :-1]))


def _fewest(allowed: Bools, station: Floats) -> list[int]:
    """The path of fewest chords from first to last place; among those the most even one."""
    m = len(station)
    stake_cost = station[-1] ** 2 + 1.0  # one stake outweighs any gain in evenness
    cost = np.full(m, np.inf)
    cost[-1] = 0.0
    follow = np.full(m, m - 1)
    for i in range(m - 2, -1, -1):
        j = i + 1 + np.flatnonzero(allowed[i])
        total = cost[j] + (station[j] - station[i]) ** 2 + stake_cost
        best = int(np.argmin(total))
        cost[i], follow[i] = total[best], j[best]
    chosen = [0]
    while chosen[-1] != m - 1:
        chosen.append(int(follow[chosen[-1]]))
    return chosen


def _kinds(xy: Floats, station: Floats, tolerance: float) -> list[Kind]:
    """What each stake marks: an inner one is a bend when the chord past it would leave the line."""
    near = xy - xy[0]
    along = stations_along(near)
    kinds: list[Kind] = ["start"]
    for before, after in zip(station[:-2], station[2:], strict=True):
        skipped = near[(along > before) & (along < after)]
        middle = station[(station > before) & (station < after)]
        ends, own = (
            np.column_stack([np.interp(at, along, near[:, axis]) for axis in (0, 1)])
            for at in ((before, after), middle)
        )
        points = np.vstack((skipped, own))
        chord = ends[1] - ends[0]
        across = (points - ends[0]) @ np.array((-chord[1], chord[0])) / np.hypot(*chord)
        kinds.append("bend" if np.abs(across).max() > tolerance else "run")
    return [*kinds, "end"]
