"""What of a very big survey bears on a bed: the part within a stated reach of it.

A survey of up to :data:`MANY` shots is looked at as a whole. Of a bigger one, which is flown or
scanned far beyond the bed, doubts, coverage, smoothing and drawings take what lies in the box about
the bed widened by :func:`reach`.
"""

from __future__ import annotations

import numpy as np
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Bools, Floats
from dripfield.core.units import Unit
from dripfield.ground.triangles.tin import Surface

MANY = 20_000
"""Shots up to which a survey is looked at as a whole."""


def reach(unit: Unit) -> float:
    """How far beyond the bed a very big survey is looked at [unit]: 100 ft or 30 m."""
    return unit.default(100.0, 30.0)


def within_reach(xy: Floats, bed: BaseGeometry, unit: Unit) -> Bools:
    """Which of very many shots (n, 2) bear on a bed; all, where there are not very many.

    Parameters
    ----------
    xy : (n, 2) float array
        Easting, northing [unit].
    bed : shapely geometry
        Not empty.
    unit : Unit

    Returns
    -------
    (n,) bool array
    """
    if len(xy) <= MANY:
        return np.ones(len(xy), dtype=bool)
    low, high = _box(bed, unit)
    inside = (xy[:, 0] >= low[0]) & (xy[:, 0] <= high[0])
    return np.asarray(inside & (xy[:, 1] >= low[1]) & (xy[:, 1] <= high[1]))


def surface_within_reach(surface: Surface, bed: BaseGeometry, unit: Unit) -> Surface:
    """The part of a surface over very many shots that bears on a bed; else the surface itself.

    Parameters
    ----------
    surface : Surface
    bed : shapely geometry
        Not empty.
    unit : Unit

    Returns
    -------
    Surface
        Its triangles are the whole surface's own, with other numbers.
    """
    if len(surface.vertices) <= MANY:
        return surface
    return surface.within(*_box(bed, unit))


def _box(bed: BaseGeometry, unit: Unit) -> tuple[Floats, Floats]:
    left, low, right, high = bed.bounds
    out = reach(unit)
    return np.array((left - out, low - out)), np.array((right + out, high + out))
