"""Constrained Delaunay triangulation of plan points (the ``pythoncdt`` library does the work)."""

from __future__ import annotations

import numpy as np

from dripfield.arrays import Floats, Ints


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
        Vertex numbers of each triangle, counter-clockwise, covering the convex hull.
    """
    import pythoncdt as cdt

    mesh = cdt.Triangulation(
        cdt.VertexInsertionOrder.AUTO,
        cdt.IntersectingConstraintEdges.NOT_ALLOWED,
        0.0,
    )
    mesh.insert_vertices(np.ascontiguousarray(xy, dtype=np.float64))
    if edges is not None and len(edges):
        mesh.insert_edges(np.ascontiguousarray(edges, dtype=np.uint32))
    mesh.erase_super_triangle()
    return np.array(mesh.triangles_array()["vertices"], dtype=np.int64).reshape(-1, 3)
