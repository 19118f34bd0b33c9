"""What joins and manifolds are routed through: the bed, its lines, and what is in the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.layout.model import Lateral


@dataclass(frozen=True)
class Field:
    """The laterals with the ground about them.

    An end is numbered twice its lateral's number, plus one for the last vertex: 0 is the left end
    of the first lateral as seen looking down the slope, 1 its right end.

    Attributes
    ----------
    laterals : tuple of Lateral
        From the highest down; of equal ones in the order of their names.
    bed : Polygon
    keepouts : tuple of Polygon
    kept_clear : Polygon or MultiPolygon
        Ground within a setback, where manifolds should not lie; may be empty.
    spacing, clearance : float
        [site unit]
    """

    laterals: tuple[Lateral, ...]
    bed: Polygon
    keepouts: tuple[Polygon, ...]
    kept_clear: Polygon | MultiPolygon
    spacing: float
    clearance: float
    lines: tuple[shapely.LineString, ...] = field(init=False)
    tree: STRtree = field(init=False)

    def __post_init__(self) -> None:
        """Make the lines and the tree that finds them."""
        lines = [shapely.LineString(lateral.xy) for lateral in self.laterals]
        plain = shapely.simplify(np.array(lines, dtype=object), 1e-3 * self.spacing)
        object.__setattr__(self, "lines", tuple(plain))
        object.__setattr__(self, "tree", STRtree(plain))

    @property
    def lengths(self) -> Floats:
        """Length of each lateral, (n,) [site unit]."""
        steps = [np.hypot(*np.diff(lateral.xy, axis=0).T).sum() for lateral in self.laterals]
        return np.array(steps)

    @property
    def elevations(self) -> Floats:
        """Set elevation of each lateral, (n,) [site unit]."""
        return np.array([lateral.elevation for lateral in self.laterals], dtype=float)

    @property
    def ends(self) -> Floats:
        """Places of the ends, (2 n, 2) [site unit]."""
        return np.array([xy for lateral in self.laterals for xy in lateral.xy[[0, -1]]])

    @property
    def outward(self) -> Floats:
        """Unit vectors in which the laterals leave their ends, (2 n, 2)."""
        found = []
        for lateral in self.laterals:
            step = np.hypot(*np.diff(lateral.xy, axis=0).T)
            along = np.concatenate(([0.0], np.cumsum(step)))
            back = min(0.5 * self.spacing, 0.5 * along[-1])
            for end, station in ((lateral.xy[0], back), (lateral.xy[-1], along[-1] - back)):
                inner = [np.interp(station, along, lateral.xy[:, axis]) for axis in (0, 1)]
                away = end - np.array(inner)
                found.append(away / np.hypot(*away))
        return np.array(found)

    @property
    def free(self) -> BaseGeometry:
        """The bed less the keepouts."""
        return self.bed.difference(shapely.union_all(list(self.keepouts)))

    def crossed(self, segments: Floats, ends: Ints, room: float) -> Bools:
        """Which segments cross a lateral, or come nearer to one than they need.

        Parameters
        ----------
        segments : (k, 2, 2) float array
            First and last points [site unit].
        ends : (k, 2) int array
            The end that each point is, -1 where it is none.
        room : float
            Distance to keep from laterals that a segment does not start or end at [site unit].

        Returns
        -------
        (k,) bool array
        """
        if len(segments) == 0:
            return np.zeros(0, dtype=bool)
        step = segments[:, 1] - segments[:, 0]
        size = np.maximum(np.hypot(*step.T), 1e-12)[:, None]
        trim = np.minimum(0.02 * self.spacing, 0.25 * size) / size
        inner = segments.astype(float).copy()
        inner[:, 0] += np.where(ends[:, :1] >= 0, trim * step, 0.0)
        inner[:, 1] -= np.where(ends[:, 1:] >= 0, trim * step, 0.0)
        wires = shapely.linestrings(inner)
        bad = np.zeros(len(segments), dtype=bool)
        bad[self.tree.query(wires, predicate="intersects")[0]] = True
        if room > 0.0:
            which, line = self.tree.query(wires, predicate="dwithin", distance=room)
            other = (line != ends[which, 0] // 2) & (line != ends[which, 1] // 2)
            bad[which[other]] = True
        return bad


def make_field(
    laterals: Sequence[Lateral],
    bed: Polygon,
    *,
    keepouts: Sequence[Polygon] = (),
    kept_clear: Polygon | MultiPolygon | None = None,
    spacing: float,
    clearance: float,
) -> Field:
    """Put the laterals in the order of their elevations, with the ground about them.

    Parameters
    ----------
    laterals : sequence of Lateral
    bed : Polygon
    keepouts : sequence of Polygon
    kept_clear : Polygon, MultiPolygon or None
        Ground within setbacks.
    spacing, clearance : float
        [site unit]

    Returns
    -------
    Field
    """
    order = sorted(laterals, key=lambda one: (-one.elevation, one.panel, one.name))
    clear = Polygon() if kept_clear is None else kept_clear
    return Field(tuple(order), bed, tuple(keepouts), clear, spacing, clearance)
