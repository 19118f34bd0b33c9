"""Which triangle is a point in: a grid of buckets over any triangulation, all in numpy.

Each triangle is entered in the grid cells it touches, row band by row band, so a long sliver costs
its length and not its bounding box. A query tests the few triangles of its cell by their
barycentric coordinates. Nothing is assumed of the triangulation: it may have holes and need not be
Delaunay.
"""

from __future__ import annotations

import numpy as np

from dripfield.core.arrays import Floats, Ints

_EDGE_SLACK = 1e-9  # barycentric; keeps points on a shared edge or on the hull inside


class TriangleGrid:
    """Point location over the triangles of one surface."""

    def __init__(self, xy: Floats, triangles: Ints) -> None:
        corners = xy[triangles]
        self._low = xy.min(axis=0) if len(xy) else np.zeros(2)
        extent = np.maximum(np.ptp(xy, axis=0), 1e-12) if len(xy) else np.ones(2)
        cells = max(1.0, float(len(triangles)))
        self._cell = float(max(np.sqrt(extent[0] * extent[1] / cells), extent.max() / 4096.0))
        self._shape = (np.floor(extent / self._cell).astype(np.int64) + 1)[::-1]  # rows, columns
        origin = corners[:, 0]
        u, v = corners[:, 1] - origin, corners[:, 2] - origin
        det = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        flat = det == 0.0
        safe = np.where(flat, 1.0, det)
        # origin, then the rows of the inverse: barycentric (b, c) = M (p - origin)
        self._map = np.column_stack(
            (origin, v[:, 1] / safe, -v[:, 0] / safe, -u[:, 1] / safe, u[:, 0] / safe)
        )
        self._map[flat] = np.nan
        self._start, self._members = self._fill(corners)

    def _fill(self, corners: Floats) -> tuple[Ints, Ints]:
        """Bucket the triangles: (first member of each cell, members)."""
        n = len(corners)
        rows, columns = self._shape
        y = (corners[:, :, 1] - self._low[1]) / self._cell
        x = (corners[:, :, 0] - self._low[0]) / self._cell
        first = np.floor(y.min(axis=1) - 1e-9).clip(0, rows - 1).astype(np.int64)
        last = np.floor(y.max(axis=1) + 1e-9).clip(0, rows - 1).astype(np.int64)
        triangle, row = _expand(first, last, np.arange(n))
        left = np.full(len(triangle), np.inf)
        right = np.full(len(triangle), -np.inf)
        band_low, band_high = row.astype(float) - 1e-9, row + 1.0 + 1e-9
        for i in range(3):  # x-range of each edge inside the row band
            j = (i + 1) % 3
            x0, y0, x1, y1 = x[triangle, i], y[triangle, i], x[triangle, j], y[triangle, j]
            rise = y1 - y0
            level = np.abs(rise) < 1e-12
            rise = np.where(level, 1.0, rise)
            t0 = np.where(level, 0.0, np.clip((band_low - y0) / rise, 0.0, 1.0))
            t1 = np.where(level, 1.0, np.clip((band_high - y0) / rise, 0.0, 1.0))
            touches = (np.minimum(y0, y1) <= band_high) & (np.maximum(y0, y1) >= band_low)
            for t in (t0, t1):
                at = x0 + t * (x1 - x0)
                left = np.where(touches, np.minimum(left, at), left)
                right = np.where(touches, np.maximum(right, at), right)
        low = np.floor(left - 1e-9).clip(0, columns - 1).astype(np.int64)
        high = np.floor(right + 1e-9).clip(0, columns - 1).astype(np.int64)
        entry, column = _expand(low, high, np.arange(len(triangle)))
        cell = row[entry] * columns + column
        order = np.argsort(cell, kind="stable")
        counts = np.bincount(cell, minlength=rows * columns)
        start = np.concatenate(([0], np.cumsum(counts)))
        return start.astype(np.int64), triangle[entry][order]

    def find(self, xy: Floats) -> tuple[Ints, Floats]:
        """Locate points.

        Parameters
        ----------
        xy : (k, 2) float array
            In the coordinates given at construction.

        Returns
        -------
        triangle : (k,) int array
            Number of a triangle holding the point, -1 where none does.
        weights : (k, 3) float array
            Barycentric weights of its corners; NaN where there is none.
        """
        rows, columns = self._shape
        k = len(xy)
        place = np.floor((xy - self._low) / self._cell)
        inside = np.asarray(np.isfinite(place).all(axis=1))
        place = np.where(inside[:, None], place, -9.0)
        # a point on the upper or right border belongs to the last cell
        inside &= (place >= -1).all(axis=1) & (place <= np.array((columns, rows))).all(axis=1)
        column = place[:, 0].clip(0, columns - 1).astype(np.int64)
        row = place[:, 1].clip(0, rows - 1).astype(np.int64)
        cell = row * columns + column
        first, stop = self._start[cell], self._start[cell + 1]
        found = np.full(k, -1, dtype=np.int64)
        weights = np.full((k, 3), np.nan)
        asked = np.flatnonzero(inside & (stop > first))  # points still without a triangle
        point, at, stop = xy[asked], first[asked], stop[asked]
        while len(asked):
            candidate = self._members[at]
            m = self._map[candidate]
            east, north = point[:, 0] - m[:, 0], point[:, 1] - m[:, 1]
            b = m[:, 2] * east + m[:, 3] * north
            c = m[:, 4] * east + m[:, 5] * north
            a = 1.0 - b - c
            hit = np.minimum(np.minimum(a, b), c) >= -_EDGE_SLACK
            done = asked[hit]
            found[done] = candidate[hit]
            weights[done, 0], weights[done, 1], weights[done, 2] = a[hit], b[hit], c[hit]
            at = at + 1
            more = ~hit & (at < stop)
            asked, point, at, stop = asked[more], point[more], at[more], stop[more]
        return found, weights


def _expand(first: Ints, last: Ints, owner: Ints) -> tuple[Ints, Ints]:
    """Every whole number from first to last of each owner, as (owner repeated, number)."""
    count = np.maximum(last - first + 1, 0)
    repeated = np.repeat(owner, count)
    ends = np.cumsum(count)
    number = np.arange(ends[-1] if len(ends) else 0) - np.repeat(ends - count, count)
    return repeated, number + np.repeat(first, count)
