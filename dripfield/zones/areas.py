"""The area that each emitter serves: all ground of the bed that is nearer to it than to another."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPoint, MultiPolygon, Polygon

from dripfield.arrays import Floats
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
    origin = points.mean(axis=0)
    near = shapely.transform(bed, lambda xy: xy - origin)
    cells = shapely.get_parts(
        shapely.voronoi_polygons(
            MultiPoint(points - origin), extend_to=near.buffer(1.0), ordered=True
        )
    )
    clipped = shapely.intersection(cells, near)
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
