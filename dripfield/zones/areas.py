"""The area that each emitter serves: all ground of the bed that is nearer to it than to another."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats
from dripfield.zones.emitters import points_along
from dripfield.zones.model import JoinedLateral


def emitter_points(joined: JoinedLateral) -> Floats:
    """Easting and northing (m, 2) of the emitters of a joined lateral, in the order of flow."""
    found = [points_along(piece.xyz[:, :2], piece.emitters) for piece in joined.pieces]
    return np.concatenate(found) if found else np.empty((0, 2))


def serving_cells(points: Floats, bed: Polygon | MultiPolygon) -> list[Polygon | MultiPolygon]:
    """The Voronoi cell of each emitter, clipped to the bed.

    Parameters
    ----------
    points : (m, 2) float array
        Emitters, no two at one place [site unit].
    bed : Polygon or MultiPolygon

    Returns
    -------
    list of Polygon or MultiPolygon
        In the order of ``points``; together they are the bed.
    """
    if len(points) == 0:
        return []
    if len(points) == 1:
        return [bed]
    from scipy.spatial import Voronoi

    origin = points.mean(axis=0)
    near = shapely.transform(bed, lambda xy: xy - origin)
    local = points - origin
    reach = 10.0 * max(np.abs(local).max(), np.abs(shapely.bounds(near)).max())
    far = reach * np.array([[-1, -1], [-1, 1], [1, 1], [1, -1], [0, -2], [-2, 0], [0, 2], [2, 0]])
    found = Voronoi(np.concatenate((local, far)))  # far points close every cell of an emitter
    regions = [found.regions[region] for region in found.point_region[: len(points)]]
    corners = np.concatenate([found.vertices[region] for region in regions])
    which = np.repeat(np.arange(len(points)), [len(region) for region in regions])
    cells = shapely.convex_hull(shapely.multipoints(corners, indices=which))
    shapely.prepare(near)
    clipped = cells.copy()
    cut = ~shapely.covers(near, cells)
    clipped[cut] = shapely.intersection(cells[cut], near)
    return [shapely.transform(cell, lambda xy: xy + origin) for cell in clipped]


def served_areas(points: Floats, bed: Polygon | MultiPolygon) -> Floats:
    """Area that each emitter serves.

    Parameters
    ----------
    points : (m, 2) float array
        Emitters [site unit].
    bed : Polygon or MultiPolygon

    Returns
    -------
    (m,) float array
        [site unit squared]
    """
    return np.asarray(shapely.area(serving_cells(points, bed)), dtype=float)
