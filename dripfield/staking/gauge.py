"""From which line beside it a mark can be gauged with a level stick, and with what figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.staking.tube import Tube

REACH = 1.75
"""Longest stick in spacings: a line farther off is not the line beside."""

_NEAREST = 0.2  # spacings: closer than this a stick says nothing of the side
_PAST = 0.02  # spacings: a mark so little past the line's end is drawn in to it
_SLANT = np.cos(np.radians(20.0))  # lines more aslant than this take an error of station for a gap


@dataclass(frozen=True)
class Gauging:
    """Figures for places (k,) from one line beside them; lengths in the site's unit.

    ``offset`` is positive to the left of that line; ``ok`` where the stick can be used.
    """

    station: Floats
    offset: Floats
    ok: Bools


def gauge_from(
    tube: Tube,
    places: Floats,
    tangents: Floats,
    spacing: float,
    keepouts: Sequence[shapely.Polygon] = (),
) -> Gauging:
    """How places are gauged from one tube.

    Parameters
    ----------
    tube : Tube
        Through the printed marks of the line beside.
    places : (k, 2) float array
        Where marks are wanted [site unit].
    tangents : (k, 2) float array
        Unit directions of their own line there.
    spacing : float
        On-centre distance [site unit].
    keepouts : sequence of Polygon
        What no stick is held across.

    Returns
    -------
    Gauging
        A stick can be used where it meets the tube square between its first and last mark, or
        would but for a fiftieth of the spacing, is no longer than ``REACH`` spacings, and the two
        lines run within 20 degrees of each other.
    """
    feet = tube.feet(places)
    size = np.abs(feet.offset)
    ok = (feet.beyond <= _PAST * spacing) & (size >= _NEAREST * spacing) & (size <= REACH * spacing)
    ok &= np.abs((feet.tangent * tangents).sum(axis=1)) >= _SLANT
    if len(keepouts) and ok.any():
        held = np.flatnonzero(ok)
        sticks = shapely.linestrings(np.stack((tube.at(feet.station[held]), places[held]), axis=1))
        for keepout in keepouts:
            ok[held[shapely.intersects(sticks, keepout)]] = False
    return Gauging(feet.station, feet.offset, ok)


def neighbours_within(lines: Sequence[Floats], distance: float) -> list[Ints]:
    """For every line (k, 2), the numbers of the others that come within a distance of it."""
    if not len(lines):
        return []
    origin = np.round(lines[0][0])
    drawn = [shapely.linestrings(line - origin) for line in lines]
    one, other = shapely.STRtree(drawn).query(drawn, predicate="dwithin", distance=distance)
    return [np.sort(other[(one == i) & (other != i)]) for i in range(len(lines))]
