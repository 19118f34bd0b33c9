"""Level lines traced on a surface's triangles.

A vertex exactly at a level counts as just above it, everywhere alike: so a line never stops at a
vertex, a flat triangle at the level is passed on its lower side, a saddle is opened one way only,
and each crossing joins exactly two triangles.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.ground.triangles.tin import Surface


@dataclass(frozen=True)
class LevelLine:
    """One piece of a level line.

    Attributes
    ----------
    elevation : float
        [site unit]
    xy : (k, 2) float array
        Easting, northing; the first point is repeated at the end of a closed line. Higher ground
        lies on the left.
    closed : bool
    major : bool
        Drawn heavier and labelled.
    """

    elevation: float
    xy: Floats
    closed: bool
    major: bool = False


def level_lines(
    surface: Surface, levels: Sequence[float] | Floats, major: Sequence[bool] | Bools | None = None
) -> list[LevelLine]:
    """Trace level lines.

    Parameters
    ----------
    surface : Surface
    levels : (k,) floats
        Elevations [site unit].
    major : (k,) bools, optional
        Which of them are major; none by default.

    Returns
    -------
    list of LevelLine
        In the order of the levels. Lines end only on the surface's rim.
    """
    mesh = _Mesh(surface)
    flags = [False] * len(levels) if major is None else [bool(flag) for flag in major]
    return [
        LevelLine(float(level), xy, closed, flag)
        for level, flag in zip(levels, flags, strict=True)
        for xy, closed in mesh.trace(float(level))
    ]


def clip_lines(lines: Iterable[LevelLine], area: Polygon | MultiPolygon) -> list[LevelLine]:
    """The parts of level lines inside an area; a line that it cuts is no longer closed."""
    lines = list(lines)
    shapely.prepare(area)
    shapes = [shapely.linestrings(line.xy) for line in lines]
    inside = shapely.covers(area, shapes)
    kept = []
    for line, shape, whole in zip(lines, shapes, inside, strict=True):
        if whole:
            kept.append(line)
            continue
        cut = shapely.intersection(shape, area)
        merged = shapely.line_merge(cut, directed=True) if cut.geom_type != "LineString" else cut
        for part in shapely.get_parts(merged):
            if part.geom_type == "LineString" and part.length > 0.0:
                xy = shapely.get_coordinates(part)
                kept.append(LevelLine(line.elevation, xy, False, line.major))
    return kept


class _Mesh:
    """Triangles as edges: what the tracing needs of a surface, made once for all levels."""

    def __init__(self, surface: Surface) -> None:
        self._vertices = surface.vertices
        triangles = surface.triangles
        sides = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
        ends = np.sort(sides, axis=1)
        key = ends[:, 0] * max(len(self._vertices), 1) + ends[:, 1]
        _, first, edge = np.unique(key, return_index=True, return_inverse=True)
        self._ends = ends[first]
        self._edge = edge.reshape(-1, 3)
        z = self._vertices[triangles, 2]
        self._corner_z, self._low, self._high = z, z.min(axis=1), z.max(axis=1)
        self._next = np.full(len(first), -1, dtype=np.int64)

    def trace(self, level: float) -> list[tuple[Floats, bool]]:
        """The lines of one level: (points, closed)."""
        leave, enter = self._steps(level)
        self._next[leave] = enter
        starts = np.setdiff1d(leave, enter)
        chains = [self._follow(int(start)) for start in starts]
        for start in leave.tolist():
            if self._next[start] >= 0:
                chains.append(self._follow(start))
        crossed = np.unique(np.concatenate((leave, enter)))
        points = self._crossings(crossed, level)
        lines = []
        for chain in chains:
            xy = points[np.searchsorted(crossed, chain)]
            moved = np.append(True, (np.diff(xy, axis=0) != 0.0).any(axis=1))
            xy = xy[moved]
            if len(xy) > 1:
                lines.append((xy, chain[0] == chain[-1]))
        return lines

    def _steps(self, level: float) -> tuple[Ints, Ints]:
        """For every triangle on the level: the edge where the line comes in and where it goes out,
        higher ground on the left."""
        on = np.flatnonzero((self._low < level) & (self._high >= level))
        above = self._corner_z[on] >= level
        following = above[:, [1, 2, 0]]
        # side i runs counter-clockwise from corner i to the next: where it climbs through the
        # level the line leaves the triangle, where it falls the line comes in
        climbs, falls = ~above & following, above & ~following
        rows = np.arange(len(on))
        edge = self._edge[on]
        return edge[rows, falls.argmax(axis=1)], edge[rows, climbs.argmax(axis=1)]

    def _follow(self, start: int) -> list[int]:
        """The chain of edges from one, used up as it is followed."""
        following = self._next
        chain = [start]
        at = int(following[start])
        following[start] = -1
        while at >= 0:
            chain.append(at)
            step = int(following[at])
            following[at] = -1
            at = step
        return chain

    def _crossings(self, edges: Ints, level: float) -> Floats:
        """Where the level crosses edges, (k, 2): the same point from either triangle."""
        a, b = (self._vertices[self._ends[edges, k]] for k in range(2))
        t = (level - a[:, 2]) / (b[:, 2] - a[:, 2])
        return np.asarray(a[:, :2] + t[:, None] * (b[:, :2] - a[:, :2]))
