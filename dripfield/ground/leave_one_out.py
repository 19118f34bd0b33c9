"""How far each shot stands from the surface that the other shots make.

Taking a vertex out of a Delaunay triangulation changes only the triangles around it: the hole is
filled with triangles of the vertices on its rim. So each shot costs a handful of its neighbours,
not a triangulation.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.ground.triangles.tin import Surface
from dripfield.ground.triangles.triangulate import delaunay

_FEW = 12  # neighbours up to which every triangle of them is tried at once
_CHUNK = 20_000  # shots tried together
_ON_EDGE = 1e-12  # of the area of a triangle: a place so near its edge lies on it
_STRAIGHT = 1e-10  # sine of the bend in the rim that is rounding


def leave_one_out(surface: Surface) -> Floats:
    """Elevation of each shot less that of the surface without it.

    Parameters
    ----------
    surface : Surface
        A (constrained) Delaunay triangulation, or any triangles: the hole that a shot leaves is
        filled by the Delaunay rule.

    Returns
    -------
    (n,) float array
        For every vertex [site unit]; NaN where the surface without it does not reach (corners of
        its rim) and for vertices of breaks, which stand for their line.
    """
    n = len(surface.vertices)
    left_out, on_rim = _along_rim(surface)
    asked = _used(surface) & ~on_rim
    asked[surface.breaks] = False
    vertex, neighbour = _neighbours(surface.triangles, n)
    count = np.bincount(vertex, minlength=n)
    first = np.concatenate(([0], np.cumsum(count)))
    easy = asked & (count <= _FEW) & (len(surface.breaks) == 0)
    for k in np.unique(count[easy]):
        alike = np.flatnonzero(easy & (count == k))
        for chunk in np.split(alike, range(_CHUNK, len(alike), _CHUNK)):
            around = neighbour[first[chunk][:, None] + np.arange(k)]
            left_out[chunk] = _by_trying(surface.vertices, chunk, around)
    around_corner = np.argsort(surface.triangles.ravel(), kind="stable") // 3
    start = np.concatenate(([0], np.cumsum(np.bincount(surface.triangles.ravel(), minlength=n))))
    for v in np.flatnonzero(asked & ~easy).tolist():
        hole = surface.triangles[around_corner[start[v] : start[v + 1]]]
        left_out[v] = _by_filling(surface.vertices, v, hole)
    return np.asarray(surface.vertices[:, 2] - left_out)


def _used(surface: Surface) -> Bools:
    """Vertices that are corners of triangles."""
    used = np.zeros(len(surface.vertices), dtype=bool)
    used[surface.triangles] = True
    return used


def _along_rim(surface: Surface) -> tuple[Floats, Bools]:
    """Elevations (n,) at rim vertices without them, and which vertices are on the rim.

    Only where the rim runs straight through a vertex does the surface still reach it.
    """
    n = len(surface.vertices)
    found = np.full(n, np.nan)
    rim = _rim(surface.triangles, n)
    on_rim = np.zeros(n, dtype=bool)
    on_rim[rim] = True
    incoming = np.full(n, -1, dtype=np.int64)
    outgoing = np.full(n, -1, dtype=np.int64)
    outgoing[rim[:, 0]], incoming[rim[:, 1]] = rim[:, 1], rim[:, 0]
    v = np.flatnonzero((incoming >= 0) & (outgoing >= 0))
    p, q = surface.vertices[incoming[v]], surface.vertices[outgoing[v]]
    back, ahead = (side[:, :2] - surface.vertices[v, :2] for side in (p, q))
    length = np.hypot(back[:, 0], back[:, 1]), np.hypot(ahead[:, 0], ahead[:, 1])
    straight = np.abs(_cross(back, ahead)) <= _STRAIGHT * length[0] * length[1]
    straight &= np.einsum("ij,ij->i", back, ahead) < 0.0
    share = length[0] / (length[0] + length[1])
    between = p[:, 2] + share * (q[:, 2] - p[:, 2])
    found[v] = np.where(straight, between, np.nan)
    found[surface.breaks] = np.nan
    return found, on_rim


def _rim(triangles: Ints, n: int) -> Ints:
    """Sides (m, 2) that belong to one triangle only, counter-clockwise about the surface."""
    sides = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    key = np.sort(sides, axis=1) @ np.array([n, 1])
    _, place, times = np.unique(key, return_inverse=True, return_counts=True)
    return np.asarray(sides[times[place.reshape(-1)] == 1])


def _neighbours(triangles: Ints, n: int) -> tuple[Ints, Ints]:
    """Vertices and the vertices they share an edge with, ordered by the first."""
    sides = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    both = np.vstack((sides, sides[:, ::-1]))
    key = np.unique(both[:, 0] * n + both[:, 1])
    return key // n, key % n


def _by_trying(vertices: Floats, chunk: Ints, around: Ints) -> Floats:
    """Elevations (m,) at vertices without them, from their neighbours (m, k).

    Delaunay triangles are the lower hull of the points lifted to the paraboloid, so of all
    triangles of the neighbours that hold the place, the one of least lift is the one.
    """
    offset = vertices[around, :2] - vertices[chunk, None, :2]
    corners = np.array(list(combinations(range(around.shape[1]), 3)))
    a, b, c = (offset[:, corners[:, k]] for k in range(3))
    weights = np.stack((_cross(b, c), _cross(c, a), _cross(a, b)), axis=-1)
    total = weights.sum(axis=-1)
    weights = weights / np.where(total == 0.0, np.nan, total)[..., None]
    lift, z = (offset**2).sum(axis=-1), vertices[around, 2]
    height = np.einsum("mtc,mtc->mt", weights, lift[:, corners])
    holds = weights.min(axis=-1) >= -_ON_EDGE
    best = np.where(holds, height, np.inf).argmin(axis=1)
    rows = np.arange(len(chunk))
    found = np.einsum("mc,mc->m", weights[rows, best], z[rows[:, None], corners[best]])
    return np.where(holds.any(axis=1), found, np.nan)


def _cross(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _by_filling(vertices: Floats, vertex: int, hole: Ints) -> float:
    """Elevation at a vertex after filling the hole of its triangles (k, 3)."""
    turn = (hole == vertex).argmax(axis=1)
    rows = np.arange(len(hole))
    rim = np.column_stack((hole[rows, (turn + 1) % 3], hole[rows, (turn + 2) % 3]))
    corners, rim = np.unique(rim, return_inverse=True)
    xy = vertices[corners, :2] - vertices[vertex, :2]
    triangles = delaunay(xy, rim.reshape(-1, 2))
    a, b, c = (xy[triangles[:, k]] for k in range(3))
    part = np.stack((_cross(b, c), _cross(c, a), _cross(a, b)), axis=1)
    weights = part / part.sum(axis=1, keepdims=True)
    best = int(weights.min(axis=1).argmax())
    return float(weights[best] @ vertices[corners[triangles[best]], 2])
