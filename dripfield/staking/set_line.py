"""A line whose marks are set, and the line as it is followed by the next one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Bools, Floats
from dripfield.layout.model import Lateral
from dripfield.staking.gauge import Gauging, gauge_from
from dripfield.staking.marks import DesignLine
from dripfield.staking.model import FieldMark
from dripfield.staking.spread import Copies
from dripfield.staking.tube import Tube

ABREAST = 1.0
"""Cost of a mark abreast of a mark of the line beside it."""

GAUGED = 1.25
"""Cost of a mark gauged between two of that line's marks."""

BY_TOOL = 1.8
"""Cost of a mark beyond the stick."""

_STEP = 0.5  # spacings between the places that may be marked
_MERGE = 0.15  # spacings: a place nearer than this to one abreast of a mark is left out
_SAME = 0.02  # spacings: two places so near are one
_FOLLOWED = 0.8  # of what the tube beside strays
_MOST_FOLLOWED = 0.015  # spacings: most that a line is moved for it
_DIRECTION = 0.25  # spacings either way that a line's direction is taken over


@dataclass(frozen=True)
class SetLine:
    """A line whose marks are set.

    Attributes
    ----------
    lateral : Lateral
    tube : Tube
        Through the printed marks.
    drawn : Tube
        The line as designed.
    rows : tuple of FieldMark
    copies : tuple of Tube
        The line as set with likely errors.
    """

    lateral: Lateral
    tube: Tube
    drawn: Tube
    rows: tuple[FieldMark, ...]
    copies: Copies


def gauging(line: DesignLine, station: Floats, tube: Tube, spacing: float) -> Gauging:
    """How places of a line are gauged from a tube, keepouts apart.

    Parameters
    ----------
    line : DesignLine
    station : (k,) float array
        Along the line [site unit].
    tube : Tube
    spacing : float
        On-centre distance [site unit].

    Returns
    -------
    Gauging
    """
    return gauge_from(tube, line.at(station), line.tangent(station, _DIRECTION * spacing), spacing)


def useful(line: DesignLine, near: Sequence[SetLine], spacing: float) -> list[SetLine]:
    """Set lines that some of a line can be gauged from, those of most of it first.

    Parameters
    ----------
    line : DesignLine
    near : sequence of SetLine
    spacing : float
        On-centre distance [site unit].

    Returns
    -------
    list of SetLine
    """
    grid = line.divided(spacing)
    reached = [int(gauging(line, grid, other.tube, spacing).ok.sum()) for other in near]
    rank = sorted((-count, k) for k, count in enumerate(reached) if count)
    return [near[k] for _, k in rank]


def followed(line: DesignLine, near: Sequence[SetLine], spacing: float) -> DesignLine:
    """The line moved most of the way that the tubes beside it stray from their own lines.

    The distance between two lines counts for more than where both lie.

    Parameters
    ----------
    line : DesignLine
    near : sequence of SetLine
        What it is gauged from, in order of preference.
    spacing : float
        On-centre distance [site unit].

    Returns
    -------
    DesignLine
    """
    if not near:
        return line
    station = line.divided(_DIRECTION * spacing)
    places, along = line.at(station), line.tangent(station, _DIRECTION * spacing)
    shift = np.full(len(station), np.nan)
    for other in near:
        bent = gauge_from(other.tube, places, along, spacing)
        drawn = gauge_from(other.drawn, places, along, spacing)
        way = np.sign((other.tube.tangent(bent.station) * along).sum(axis=1))
        own = np.isnan(shift) & bent.ok & drawn.ok
        shift[own] = (way * (drawn.offset - bent.offset))[own]
    known = np.isfinite(shift)
    if not known.any():
        return line
    most = _MOST_FOLLOWED * spacing
    moved = np.interp(station, station[known], np.clip(_FOLLOWED * shift[known], -most, most))
    normal = np.column_stack((-along[:, 1], along[:, 0]))
    return DesignLine.of(places + moved[:, None] * normal)


def places_to_mark(
    line: DesignLine, near: Sequence[SetLine], gauged: Sequence[Bools], spacing: float
) -> tuple[Floats, Floats]:
    """Where marks may stand along a line, and what a mark costs there.

    Parameters
    ----------
    line : DesignLine
    near : sequence of SetLine
        What it is gauged from, in order of preference.
    gauged : sequence of (k,) bool arrays
        For each of them, at which of :func:`grid_of` the stick reaches.
    spacing : float
        On-centre distance [site unit].

    Returns
    -------
    station, cost : (m,) float arrays
        Rising, both ends among them.
    """
    grid = grid_of(line, spacing)
    cost = np.full(len(grid), BY_TOOL if near else 1.0)
    open_ = np.ones(len(grid), dtype=np.bool_)
    parts = [np.array([])]
    for other, ok in zip(near, gauged, strict=True):
        taken = ok & open_
        if taken.any():
            parts.append(_abreast(grid, gauging(line, grid, other.tube, spacing), taken, other))
        cost[taken] = GAUGED
        open_ &= ~ok
    abreast = np.concatenate(parts)
    abreast = abreast[(abreast > _SAME * spacing) & (abreast < line.length - _SAME * spacing)]
    far = np.ones(len(grid), dtype=np.bool_)
    if len(abreast):
        far = np.abs(grid[:, None] - abreast).min(axis=1) > _MERGE * spacing
    far[[0, -1]] = True
    station = np.concatenate((grid[far], abreast))
    price = np.concatenate((cost[far], np.full(len(abreast), ABREAST)))
    rank = np.argsort(station, kind="stable")
    station, price = station[rank], price[rank]
    apart = np.diff(station, prepend=-np.inf) > _SAME * spacing
    apart[-1] = True
    return station[apart], price[apart]


def grid_of(line: DesignLine, spacing: float) -> Floats:
    """Even places along a line that may be marked, (k,) [site unit]."""
    return line.divided(_STEP * spacing)


def _abreast(grid: Floats, found: Gauging, taken: Bools, other: SetLine) -> Floats:
    """Distances along a line that lie abreast of another line's marks, where it is gauged from it.

    Each run of gauged places is taken by itself; within one the foot moves along steadily.
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([0], taken.astype(np.int8), [0]))))
    places = [np.array([])]
    for low, high in edges.reshape(-1, 2):
        foot, own = found.station[low:high], grid[low:high]
        if len(foot) > 1 and foot[0] > foot[-1]:
            foot, own = foot[::-1], own[::-1]
        marks = other.tube.mark_stations
        marks = marks[(marks >= foot[0]) & (marks <= foot[-1])]
        places.append(np.interp(marks, foot, own))
    return np.concatenate(places)
