"""Constrained Delaunay triangulation of plan points (the ``pythoncdt`` library does the work)."""

from __future__ import annotations

from typing import Any

import numpy as np

from dripfield.arrays import Bools, Floats, Ints

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
    triangles = np.array(mesh.triangles_array()["vertices"], dtype=np.int64).reshape(-1, 3)
    return _without_rim_slivers(xy, triangles)


def twice_area(xy: Floats, triangles: Ints) -> Floats:
    """Twice the signed area of each triangle (t,): positive when counter-clockwise."""
    p, q, r = (xy[triangles[:, k]] for k in range(3))
    u, v = q - p, r - p
    return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])


def _without_rim_slivers(xy: Floats, triangles: Ints) -> Ints:
    """Peel triangles of no height off the rim, again and again until none is left."""
    least = _SLIVER * float(np.ptp(xy, axis=0).max()) if len(xy) else 0.0
    while len(triangles):
        area = np.abs(twice_area(xy, triangles))
        # no side is longer than twice the extent: only these few can be as thin as that
        maybe = np.flatnonzero(area < least * least / _SLIVER * 2.0)
        p, q, r = (xy[triangles[maybe, k]] for k in range(3))
        sides = [((one - two) ** 2).sum(axis=1) for one, two in ((p, q), (q, r), (r, p))]
        thin = maybe[area[maybe] < least * np.sqrt(np.maximum.reduce(sides))]
        if not len(thin):
            break
        thin = thin[_on_rim(triangles)[thin]]
        if not len(thin):
            break
        triangles = np.delete(triangles, thin, axis=0)
    return triangles


def _on_rim(triangles: Ints) -> Bools:
    """Which triangles have an edge that no other triangle shares, (t,)."""
    sides = np.sort(triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    key = sides[:, 0] * (int(triangles.max()) + 1) + sides[:, 1]
    _, place, count = np.unique(key, return_inverse=True, return_counts=True)
    return np.asarray((count[place] == 1).reshape(-1, 3).any(axis=1))
