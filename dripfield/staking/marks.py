"""Which places of a line are marked: close where it bends, far apart where it is straight.

The fewest marks, or the cheapest to set, such that the tube bent through them keeps to the line.
Between two marks the tube is all but the cubic that has the line's own directions there, so a
shortest path over such cubics finds the marks; then the tube itself is held to the line, places
where it strays are marked closer, and marks that it does not need are taken out again.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.staking.tube import Tube, second_derivatives

_FLAT = 1e-5  # of its length: a line is drawn so much simpler to measure a distance from it
_LOOKS = (np.arange(7) + 0.5) / 7.0  # where between two marks the tube is compared with the line
_NEVER = 0.4  # of the least distance wanted: marks stand closer only where the tube is far off
_GRAVE = 1.8  # tolerances: a tube so far off is held by marks however close
_BENT = 0.5  # of the longest step: longest on a line that bends anywhere but at its ends
_ROUNDS = 8
_TIGHTER = 0.6
_UNEVEN = 0.05  # of a mark: most that an even run of marks is worth
_CLOSE = 0.5  # of a mark: what it costs that marks stand at half the least distance wanted


@dataclass(frozen=True)
class DesignLine:
    """A designed line with distances along it.

    Attributes
    ----------
    xy : (k, 2) float array
        Vertices, no two neighbours at one place [site unit].
    along : (k,) float array
        Distance of the vertices from the start [site unit].
    """

    xy: Floats
    along: Floats

    @classmethod
    def of(cls, xy: Floats) -> DesignLine:
        """The line through vertices (k, 2), repeated ones left out."""
        size = np.hypot(*np.diff(xy, axis=0).T)
        kept = np.concatenate(([True], size > 1e-9))
        return cls(xy[kept], np.concatenate(([0.0], np.cumsum(size[kept[1:]]))))

    @cached_property
    def length(self) -> float:
        """[site unit]"""
        return float(self.along[-1])

    @cached_property
    def _chord(self) -> Floats:
        return np.diff(self.xy, axis=0)

    @cached_property
    def _size(self) -> Floats:
        return np.diff(self.along)

    def at(self, station: Floats) -> Floats:
        """Places (k, 2) at distances (k,) along it."""
        after = np.searchsorted(self.along[1:-1], station, side="right")
        part = (np.clip(station, 0.0, self.length) - self.along[after]) / self._size[after]
        return np.asarray(self.xy[after] + part[..., None] * self._chord[after])

    def tangent(self, station: Floats, reach: float) -> Floats:
        """Unit directions (k, 2) over ``reach`` either way."""
        way = self.at(station + reach) - self.at(station - reach)
        return np.asarray(way / np.hypot(*way.T)[:, None])

    def divided(self, step: float) -> Floats:
        """Even distances (k,) along it, at most ``step`` apart, both ends included; at least 3."""
        return np.linspace(0.0, self.length, max(3, int(np.ceil(self.length / step)) + 1))


def choose_marks(
    line: DesignLine,
    station: Floats,
    cost: Floats,
    tolerance: float,
    longest: float,
    least: float = 0.0,
) -> Ints:
    """Choose the cheapest marks of one line.

    Parameters
    ----------
    line : DesignLine
    station : (m,) float array
        Places that may be marked, rising; the first and the last are the line's ends [site unit].
    cost : (m,) float array
        What a mark costs there; 1 is usual.
    tolerance : float
        Greatest distance between the line and the tube bent through the marks [site unit].
    longest : float
        Greatest distance along the line between marks [site unit].
    least : float
        Distance under which marks stand too close: what is off at one of them turns the tube the
        more, the nearer the next [site unit]. Closer marks are dear, not forbidden.

    Returns
    -------
    (n,) int array
        Numbers of the places chosen, rising, both ends among them.
    """
    places = line.at(station)
    m = len(station)
    local = np.full(m, tolerance)
    error, pairs = _cubic_errors(line, station, places, longest)
    longest = _even_step(error, pairs, station, tolerance, longest)
    keep = station[pairs[1]] - station[pairs[0]] <= longest * (1.0 + 1e-9)
    keep |= pairs[1] == pairs[0] + 1
    error, pairs = error[keep], (pairs[0][keep], pairs[1][keep])
    step = station[pairs[1]] - station[pairs[0]]
    close = step < min(_NEVER * least, 0.5 * line.length)
    # one of these leads on from every place, however the line bends
    short = ~close & (step <= 2.0 * _NEVER * least + 2.0 * line.length / m) | (least == 0.0) & (
        pairs[1] == pairs[0] + 1
    )
    chosen = np.array([0, m - 1], dtype=np.int64)
    for _ in range(_ROUNDS):
        i, j = pairs
        allowed = (error <= np.minimum(local[i], local[j])) & ~close | short
        chosen = _cheapest(pairs, allowed, station, cost, longest, least)
        stray = tube_errors(line, station[chosen], places[chosen]) > tolerance
        if not stray.any():
            break
        for low, high in zip(chosen[:-1][stray], chosen[1:][stray], strict=True):
            local[low : high + 1] *= _TIGHTER
    else:
        chosen = _closer(line, station, places, chosen, _GRAVE * tolerance)
    return _pruned(line, station, places, cost, chosen, tolerance, longest)


def fitted(line: DesignLine, station: Floats) -> Floats:
    """Marks moved a little off the line so that the tube through them follows it best.

    Parameters
    ----------
    line : DesignLine
    station : (n,) float array
        Where the marks stand along it [site unit].

    Returns
    -------
    (n, 2) float array
        The marks moved square to the line such that the tube's distances from it have the least
        sum of squares; the lengths of the chords are taken as they are.
    """
    marks = line.at(station)
    near = marks - marks[0]
    chord = np.hypot(*np.diff(near, axis=0).T)
    each = (np.eye(len(station)), near)
    values = np.concatenate(each, axis=1)
    bend = second_derivatives(values, chord)
    b = np.append(_LOOKS, 1.0)[None, :, None]
    a = 1.0 - b
    size = (chord**2 / 6.0)[:, None, None]
    tube = (
        a * values[:-1, None]
        + b * values[1:, None]
        + size * ((a**3 - a) * bend[:-1, None] + (b**3 - b) * bend[1:, None])
    ).reshape(-1, values.shape[1])
    tube = np.vstack((values[:1], tube))
    looked = (station[:-1, None] + np.diff(station)[:, None] * b[0, :, 0]).ravel()
    looked = np.append(station[0], looked)
    along = line.tangent(looked, 1e-3 * line.length)
    square = np.column_stack((-along[:, 1], along[:, 0]))
    off = ((tube[:, -2:] + marks[0] - line.at(looked)) * square).sum(axis=1)
    own = line.tangent(station, 1e-3 * line.length)
    own = np.column_stack((-own[:, 1], own[:, 0]))
    moved = tube[:, :-2] * (square @ own.T)
    step, *_ = np.linalg.lstsq(moved, -off, rcond=None)
    return np.asarray(marks + step[:, None] * own)


def tube_errors(line: DesignLine, station: Floats, marks: Floats) -> Floats:
    """How far the tube strays from the line between each two marks, (n - 1,) [site unit].

    Parameters
    ----------
    line : DesignLine
    station : (n,) float array
        Of the marks, along the line [site unit].
    marks : (n, 2) float array
        Where they stand.

    Returns
    -------
    (n - 1,) float array
    """
    near = marks - marks[0]
    chord = np.hypot(*np.diff(near, axis=0).T)
    bend = second_derivatives(near, chord)
    b = _LOOKS[None, :, None]
    a = 1.0 - b
    size = (chord**2 / 6.0)[:, None, None]
    tube = (
        a * near[:-1, None]
        + b * near[1:, None]
        + size * ((a**3 - a) * bend[:-1, None] + (b**3 - b) * bend[1:, None])
    )
    looked = station[:-1, None] + np.diff(station)[:, None] * _LOOKS
    return np.asarray(_aside(line, looked, tube + marks[0]).max(axis=1))


def tube_distance(line: DesignLine, tube: Tube) -> float:
    """Greatest distance between the line and the tube, looked for from both [site unit]."""
    near = line.xy - line.xy[0]
    drawn = shapely.simplify(shapely.linestrings(near), _FLAT * line.length)
    step = max(line.length / 400.0, tube.length / (16.0 * (len(tube.marks) - 1)))
    bent = shapely.linestrings(tube.line(step) - line.xy[0])
    return float(
        max(
            shapely.distance(shapely.points(shapely.get_coordinates(one)), other).max()
            for one, other in ((drawn, bent), (bent, drawn))
        )
    )


def _aside(line: DesignLine, station: Floats, places: Floats) -> Floats:
    """Distances (…,) of places (…, 2) from the line's points at ``station`` (…,), square to it."""
    flat = station.ravel()
    own = line.at(flat)
    along = line.tangent(flat, 1e-3 * line.length)
    away = places.reshape(-1, 2) - own
    return np.abs(along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]).reshape(station.shape)


def _cubic_errors(
    line: DesignLine, station: Floats, places: Floats, longest: float
) -> tuple[Floats, tuple[Ints, Ints]]:
    """For every two places near enough, how far the cubic between them strays from the line."""
    m = len(station)
    reach = np.searchsorted(station, station + longest * (1.0 + 1e-9), side="right") - 1
    reach = np.maximum(reach, np.minimum(np.arange(m) + 1, m - 1))
    count = reach - np.arange(m)
    i = np.repeat(np.arange(m), count)
    j = i + 1 + np.arange(len(i)) - np.repeat(np.cumsum(count) - count, count)
    step = places[j] - places[i]
    h = np.hypot(*step.T)[:, None]
    along = line.tangent(station, 0.5 * line.length / (m - 1))
    stretch = (station[j] - station[i])[:, None] / h
    begin, end = along[i] * stretch, along[j] * stretch
    free = (1.5 * step / h, 0.5)  # the direction at a free end follows from the other end's
    at_start, at_end = (i == 0)[:, None], (j == m - 1)[:, None]
    begin = np.where(at_start & at_end, step / h, np.where(at_start, free[0] - 0.5 * end, begin))
    end = np.where(at_start & at_end, step / h, np.where(at_end, free[0] - 0.5 * begin, end))
    t = _LOOKS[None, :, None]
    cubic = (
        places[i][:, None]
        + (3.0 * t**2 - 2.0 * t**3) * step[:, None]
        + (t**3 - 2.0 * t**2 + t) * (h * begin)[:, None]
        + (t**3 - t**2) * (h * end)[:, None]
    )
    looked = station[i][:, None] + (station[j] - station[i])[:, None] * _LOOKS
    return _aside(line, looked, cubic).max(axis=1), (i, j)


def _even_step(
    error: Floats, pairs: tuple[Ints, Ints], station: Floats, tolerance: float, longest: float
) -> float:
    """The longest step on a line: half of what is allowed unless the line is straight.

    A tube that is held far apart between stretches where it is held close copies little of what
    the line beside it does there, and the distance between the two suffers.
    """
    i, j = pairs
    held = error <= tolerance
    reach = np.zeros(len(station))
    np.maximum.at(reach, i[held], (station[j] - station[i])[held])
    inner = reach[: np.searchsorted(station, station[-1] - longest)]
    step = (station[-1] - station[0]) / (len(station) - 1)
    straight = not len(inner) or bool((inner >= longest - 2.0 * step).mean() > 0.95)
    return longest if straight else _BENT * longest


def _cheapest(
    pairs: tuple[Ints, Ints],
    allowed: Bools,
    station: Floats,
    cost: Floats,
    longest: float,
    least: float,
) -> Ints:
    """The cheapest path from first to last place; among equals the more even one."""
    m = len(station)
    i, j = pairs[0][allowed], pairs[1][allowed]
    step = station[j] - station[i]
    price = cost[j] + _UNEVEN * (step / longest) ** 2
    price += _CLOSE * np.maximum(least / np.maximum(step, 1e-9) - 1.0, 0.0)
    first = np.searchsorted(i, np.arange(m + 1))
    best = np.full(m, np.inf)
    best[-1] = 0.0
    follow = np.full(m, m - 1)
    for k in range(m - 2, -1, -1):
        part = slice(first[k], first[k + 1])
        if part.start == part.stop:
            continue
        total = best[j[part]] + price[part]
        least = int(np.argmin(total))
        best[k], follow[k] = total[least], j[part][least]
    chosen = [0]
    while chosen[-1] != m - 1:
        chosen.append(int(follow[chosen[-1]]))
    return np.array(chosen, dtype=np.int64)


def _closer(
    line: DesignLine, station: Floats, places: Floats, chosen: Ints, tolerance: float
) -> Ints:
    """Marks added half way wherever the tube strays, as long as there are places for them."""
    while True:
        stray = tube_errors(line, station[chosen], places[chosen]) > tolerance
        middle = (chosen[:-1] + chosen[1:])[stray] // 2
        more = np.union1d(chosen, middle)
        if len(more) == len(chosen):
            return chosen
        chosen = more


def _pruned(
    line: DesignLine,
    station: Floats,
    places: Floats,
    cost: Floats,
    chosen: Ints,
    tolerance: float,
    longest: float,
) -> Ints:
    """The marks without those that the tube keeps to the line without, dearest first."""
    strayed = bool((tube_errors(line, station[chosen], places[chosen]) > tolerance).any())
    if strayed or len(chosen) < 3:
        return chosen
    room = station[chosen[2:]] - station[chosen[:-2]]
    order = chosen[1:-1][np.lexsort((room, -cost[chosen[1:-1]]))]
    for mark in order[np.isin(order, chosen[1:-1][room <= longest])]:
        fewer = chosen[chosen != mark]
        if np.diff(station[fewer]).max() > longest * (1.0 + 1e-9):
            continue
        if tube_errors(line, station[fewer], places[fewer]).max() <= tolerance:
            chosen = fewer
    return chosen
