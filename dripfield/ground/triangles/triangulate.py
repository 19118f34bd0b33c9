"""Constrained Delaunay triangulation of plan points (the ``pythoncdt`` library does the work)."""

from __future__ import annotations

from typing import Any

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints

_SLIVER = 1e-10  # height of a triangle on the rim, as a part of the extent, that is no area


def delaunay(xy: Floats, edges: Ints | None = None) -> Ints:
    """Triangulate distinct plan points, honouring edges.

    Parameters
    ----------
    xy : (n, 2) float array
        Distinct points, best given near the origin [any unit].
    edges : (m, 2) int array, optional
        Pairs of point numbers that must be triangle edges; they may not cross.

    Returns
    -------
    (t, 3) int array
        Vertex numbers of each triangle, counter-clockwise, covering the convex hull. Along a row
        of points that only rounding takes off a straight rim no slivers are made. None when all
        points lie on one line.
    """
    import pythoncdt as cdt

    points: Any = np.ascontiguousarray(xy, dtype=np.float64)
    mesh = cdt.Triangulation(
        cdt.VertexInsertionOrder.AUTO,
        cdt.IntersectingConstraintEdges.NOT_ALLOWED,
        0.0,
    )
    mesh.insert_vertices(points)
    if edges is not None and len(edges):
        pairs: Any = np.ascontiguousarray(edges, dtype=np.uint32)
        mesh.insert_edges(pairs)
    mesh.erase_super_triangle()
    found = mesh.triangles_array(copy=False)
    triangles = np.asarray(found["vertices"], dtype=np.int64).reshape(-1, 3)
    return triangles[_not_slivers(xy, triangles, found["neighbors"], cdt.NO_NEIGHBOR)]


def twice_area(xy: Floats, triangles: Ints) -> Floats:
    """Twice the signed area of each triangle (t,): positive when counter-clockwise."""
    p, q, r = (xy[triangles[:, k]] for k in range(3))
    u, v = q - p, r - p
    return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])


def _not_slivers(xy: Floats, triangles: Ints, neighbours: Any, none: int) -> Bools:
    """Which triangles (t,) are left when those of no height are peeled off the rim.

    Only triangles on the rim are looked at, then those that peeling brings to it. ``neighbours``
    (t, 3) are the triangles across the three sides, ``none`` where there is none.
    """
    kept = np.ones(len(triangles), dtype=bool)
    least = _SLIVER * float(np.ptp(xy, axis=0).max()) if len(xy) else 0.0
    rim = np.flatnonzero((neighbours == none).any(axis=1))
    while len(rim):
        corners = triangles[rim]
        p, q, r = (xy[corners[:, k]] for k in range(3))
        sides = [((one - two) ** 2).sum(axis=1) for one, two in ((p, q), (q, r), (r, p))]
        longest = np.sqrt(np.maximum.reduce(sides))
        thin = rim[np.abs(twice_area(xy, corners)) < least * longest]
        kept[thin] = False
        behind = np.unique(neighbours[thin])
        rim = behind[behind != none].astype(np.int64)
        rim = rim[kept[rim]]
    return kept
