"""Cut areas out of a surface without changing it elsewhere."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import DripfieldError
from dripfield.ground.triangles.edges import Segments, split_segments
from dripfield.ground.triangles.tin import Surface
from dripfield.ground.triangles.triangulate import delaunay
from dripfield.survey.doubt.clean import same_place

_SAME = 1e-7  # plan distance below which made vertices are one, in any unit a survey comes in


def cut_voids(surface: Surface, rings: tuple[Floats, ...]) -> Surface:
    """Remove the inside of rings from a surface; its rim then follows them exactly.

    Parameters
    ----------
    surface : Surface
    rings : tuple of (k, 2) float arrays
        Easting, northing, closed or not [site unit].

    Returns
    -------
    Surface
        Triangles that a ring crosses are split along it, at the surface's own elevations, so that
        every elevation outside the rings is what it was.
    """
    if not rings:
        return surface
    void = shapely.union_all([shapely.make_valid(Polygon(ring)) for ring in rings])
    corners = shapely.polygons(surface.vertices[surface.triangles][:, :, :2])
    shapely.prepare(void)
    touched = shapely.intersects(void, corners)
    inside = touched & shapely.covers(void, corners)
    cut = touched & ~inside
    whole = Surface(surface.vertices, surface.triangles[~touched], surface.breaks)
    if not cut.any():
        return whole
    pieces = _split_along(Surface(surface.vertices, surface.triangles[cut]), void)
    return _joined(whole, pieces)


def _split_along(surface: Surface, void: Polygon | MultiPolygon) -> Surface:
    """Triangles of the surface split along the void's edge; those inside it left out."""
    area = surface.outline
    rim = shapely.get_parts(shapely.intersection(shapely.boundary(void), area))
    rim = rim[shapely.get_type_id(rim) == 1]
    used, triangles = np.unique(surface.triangles, return_inverse=True)
    triangles = triangles.reshape(-1, 3)
    ring_xy, ring_line = shapely.get_coordinates(rim, return_index=True)
    ring_z = surface.elevation(ring_xy)
    known = np.isfinite(ring_z)  # rounding may leave a point on the rim a hair outside
    ring = np.column_stack((ring_xy, ring_z))[known]
    ring_line = ring_line[known]
    points = np.vstack((surface.vertices[used], ring))
    shift = np.append(np.round(points[:, :2].mean(axis=0)), 0.0)
    group = same_place(points[:, :2], _SAME)
    first = np.unique(group, return_index=True)[1]
    ring_group = group[len(used) :]
    sides = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    follows = ring_line[:-1] == ring_line[1:]
    ends = np.vstack((sides, np.column_stack((ring_group[:-1], ring_group[1:]))[follows]))
    made = split_segments(
        Segments(points[first] - shift, ends, np.zeros(len(ends), dtype=np.int64)),
        _SAME,
        np.inf,
        lambda *_: DripfieldError("unreachable: any elevation is accepted here"),
    )
    vertices = made.vertices + shift
    vertices[: len(used)] = surface.vertices[used]
    on_surface = surface.elevation(vertices[:, :2])
    crossing = np.isfinite(on_surface) & (np.arange(len(vertices)) >= len(first))
    vertices[crossing, 2] = on_surface[crossing]
    found = delaunay(made.vertices[:, :2], made.ends)
    centre = vertices[found].mean(axis=1)[:, :2]
    keep = shapely.contains_xy(area, centre) & ~shapely.contains_xy(void, centre)
    return Surface(vertices, found[keep])


def _joined(one: Surface, two: Surface) -> Surface:
    """Both sets of triangles over one set of vertices; the first surface's vertices keep their
    numbers and equal vertices become one."""
    vertices = np.vstack((one.vertices, two.vertices))
    _, first, place = np.unique(vertices, axis=0, return_index=True, return_inverse=True)
    number: Ints = first[place.reshape(-1)]
    triangles = np.vstack((one.triangles, number[two.triangles + len(one.vertices)]))
    spare = np.unique(np.concatenate((np.arange(len(one.vertices)), triangles.reshape(-1))))
    return Surface(vertices[spare], np.searchsorted(spare, triangles), one.breaks)
