"""Cutting lines that are longer than a lateral may be, where connections want to be.

A line is cut into as few equal parts as the longest allows. Where the lines of a panel are cut into
the same number of parts their cuts are then moved onto one straight line down the slope, as far as
no part grows too long or too short: there one manifold serves them all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.lines import line_length, stations_along


def cut_to_length(line: Floats, longest: float, gap: float) -> list[Floats]:
    """Cut a line into equal parts no longer than allowed, ends a gap apart (0: no limit).

    Parameters
    ----------
    line : (k, 2) float array
        [site unit]
    longest : float
        Longest part allowed [site unit]; 0 is no limit.
    gap : float
        Between ends [site unit].

    Returns
    -------
    list of (m, 2) float arrays
    """
    total = line_length(line)
    if longest <= 0.0 or total <= longest:
        return [line]
    count = parts_of(total, longest, gap)
    return cut_at(line, _even_cuts(total, count, gap), gap)


def cut_together(
    lines: Sequence[Floats], longest: float, gap: float, least: float
) -> list[list[Floats]]:
    """Cut the lines of one panel, cuts in line with each other where they can be.

    Parameters
    ----------
    lines : sequence of (k, 2) float arrays
        Local coordinates, u along the strike.
    longest : float
        Longest part allowed; 0: no limit.
    gap : float
        Between the ends of two parts.
    least : float
        No part is made shorter than this for the sake of the others.

    Returns
    -------
    list of lists of (k, 2) float arrays
        The parts of each line.
    """
    totals = [line_length(line) for line in lines]
    counts = [parts_of(total, longest, gap) for total in totals]
    shared: dict[int, Floats] = {}
    for count in set(counts) - {1}:
        alike = [k for k, other in enumerate(counts) if other == count]
        at = [np.sort(_u_at(lines[k], _even_cuts(totals[k], count, gap))) for k in alike]
        shared[count] = np.median(at, axis=0)
    parts = []
    for line, total, count in zip(lines, totals, counts, strict=True):
        cuts = _even_cuts(total, count, gap)
        if count > 1:
            moved = _stations_at(line, shared[count])
            if moved is not None and _fit(moved, total, gap, least, longest):
                cuts = moved
        parts.append(cut_at(line, cuts, gap))
    return parts


def parts_of(total: float, longest: float, gap: float) -> int:
    """The fewest parts that a line of such a length is cut into.

    Parameters
    ----------
    total : float
        Length of the line [site unit].
    longest : float
        Longest part allowed [site unit]; 0 is no limit.
    gap : float
        Between ends [site unit].

    Returns
    -------
    int
    """
    if longest <= 0.0 or total <= longest:
        return 1
    return int(np.ceil((total + gap) / (longest + gap)))


def cut_at(line: Floats, cuts: Floats, gap: float) -> list[Floats]:
    """Cut a line (k, 2) at stations along it, half a gap of it lost on either side of each.

    Parameters
    ----------
    line : (k, 2) float array
        [site unit]
    cuts : (n,) float array
        Stations of the middles of the gaps, rising [site unit].
    gap : float
        Between ends [site unit].

    Returns
    -------
    list of (m, 2) float arrays
        One more than there are cuts.
    """
    station = stations_along(line)
    total = station[-1]
    starts = np.concatenate(([0.0], np.asarray(cuts) + gap / 2.0))
    stops = np.concatenate((np.asarray(cuts) - gap / 2.0, [total]))
    pieces = []
    for start, stop in zip(starts, stops, strict=True):
        inner = station[(station > start) & (station < stop)]
        at = np.concatenate(([start], inner, [stop]))
        pieces.append(np.column_stack([np.interp(at, station, line[:, axis]) for axis in (0, 1)]))
    return pieces


def _even_cuts(total: float, count: int, gap: float) -> Floats:
    """Stations of the middles of the gaps between equal parts."""
    part = (total - (count - 1) * gap) / count
    return np.asarray(np.arange(1, count) * (part + gap) - gap / 2.0, dtype=np.float64)


def _fit(cuts: Floats, total: float, gap: float, least: float, longest: float) -> bool:
    """Whether parts between cuts are neither too short nor too long."""
    ends = np.concatenate(([-gap / 2.0], cuts, [total + gap / 2.0]))
    sizes = np.diff(ends) - gap
    return bool((sizes >= least).all() and (sizes <= longest).all())


def _stations_at(line: Floats, u: Floats) -> Floats | None:
    """Stations at which a line has such values of u; None where it doubles back or ends before."""
    along = line if line[-1, 0] >= line[0, 0] else line[::-1]
    if (np.diff(along[:, 0]) <= 0.0).any() or u.min() <= along[0, 0] or u.max() >= along[-1, 0]:
        return None
    at = np.interp(u, along[:, 0], stations_along(along))
    return at if along is line else np.sort(line_length(line) - at)


def _u_at(line: Floats, station: Floats) -> Floats:
    return np.interp(station, stations_along(line), line[:, 0])
