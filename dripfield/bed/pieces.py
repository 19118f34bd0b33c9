"""Plan triangles on which several levels are linear, and the exact cutting of them.

Every surface of a bed is flat within triangles, so two of them are both flat within the overlay of
their triangles, and a third within the overlay of all three. Cutting the overlay once more along
the line where two levels meet leaves pieces on which one lies wholly above the other: lower and
upper of two levels, and the volume between them, are then exact, with no grid.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.ground.triangles.tin import Surface
from dripfield.ground.triangles.triangulate import delaunay

LEVEL = 1e-9  # levels this close are one [site unit]
_SLIVER = 1e-8  # pieces smaller than this are dropped [square site unit]
_SLIT = 1e-4  # gaps narrower than twice this are none [site unit]
_PAIRS_AT_ONCE = 200_000


@dataclass(frozen=True)
class Pieces:
    """Triangles in plan with levels at their corners.

    Attributes
    ----------
    xy : (t, 3, 2) float array
        Corners, counter-clockwise [site unit]. Pieces need not share corners.
    levels : mapping of str to (t, 3) float array
        Elevation of each level at each corner [site unit].
    """

    xy: Floats
    levels: Mapping[str, Floats]

    def __len__(self) -> int:
        return len(self.xy)

    @property
    def areas(self) -> Floats:
        """Plan area of each piece, (t,) [square site unit]."""
        return np.asarray(0.5 * _twice_area(self.xy))

    @property
    def centres(self) -> Floats:
        """Centroid of each piece, (t, 2)."""
        return np.asarray(self.xy.mean(axis=1))

    def where(self, keep: Bools) -> Pieces:
        """Only the pieces marked in ``keep`` (t,)."""
        return Pieces(self.xy[keep], {name: z[keep] for name, z in self.levels.items()})

    def with_level(self, name: str, z: Floats) -> Pieces:
        """The same pieces with one more level (t, 3), or that level replaced."""
        return Pieces(self.xy, {**self.levels, name: z})

    def only(self, *names: str) -> Pieces:
        """The same pieces with these levels only."""
        return Pieces(self.xy, {name: self.levels[name] for name in names})

    def joined(self, other: Pieces) -> Pieces:
        """These pieces and another's, with the levels that both have."""
        names = [name for name in self.levels if name in other.levels]
        return Pieces(
            np.concatenate((self.xy, other.xy)),
            {name: np.concatenate((self.levels[name], other.levels[name])) for name in names},
        )

    def outline(self) -> Polygon | MultiPolygon:
        """The area that the pieces cover, to about a ten-thousandth of the unit."""
        whole = shapely.union_all(shapely.polygons(np.round(self.xy, 6)))
        # close the slits that dropped slivers leave
        return whole.buffer(_SLIT, join_style="mitre").buffer(-_SLIT, join_style="mitre")

    def surface(self, name: str) -> Surface:
        """One level as a surface; corners within a millionth of the unit become one."""
        points = self.xy.reshape(-1, 2)
        low = points.min(axis=0)
        key = np.round((points - low) * 1e6).astype(np.int64)
        _, first, number = np.unique(key, axis=0, return_index=True, return_inverse=True)
        vertices = np.column_stack((points[first], self.levels[name].reshape(-1)[first]))
        triangles = number.reshape(-1, 3).astype(np.int64)
        whole = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
        return Surface(vertices, triangles[whole])


def pieces_of(surface: Surface, name: str) -> Pieces:
    """A surface's own triangles, with its elevations as the level ``name``."""
    corners = surface.vertices[surface.triangles]
    return Pieces(*_counter_clockwise(corners[:, :, :2], {name: corners[:, :, 2]}))


def pieces_of_area(area: Polygon | MultiPolygon) -> Pieces:
    """An area cut into triangles, with no level yet."""
    parts = [_triangles_of(polygon) for polygon in shapely.get_parts(area) if polygon.area > 0]
    return Pieces(np.concatenate(parts) if parts else np.empty((0, 3, 2)), {})


def overlay(first: Pieces, second: Pieces) -> Pieces:
    """Cut two sets of pieces by each other.

    Parameters
    ----------
    first, second : Pieces
        Neither may overlap itself. Where both have a level of the same name the second's stands.

    Returns
    -------
    Pieces
        What lies in both, with the levels of both.

    Notes
    -----
    Candidate pairs come from an STR tree; each pair of triangles is then clipped, one against the
    three sides of the other, by the method of I. E. Sutherland and G. W. Hodgman, "Reentrant
    polygon clipping", Communications of the ACM 17 (1974), for all pairs at once.
    """
    origin = np.round(first.xy[0, 0]) if len(first) else np.zeros(2)
    a, b = first.xy - origin, second.xy - origin
    left, right = shapely.STRtree(shapely.polygons(b)).query(shapely.polygons(a))
    if not len(left):
        empty = {name: np.empty((0, 3)) for name in (*first.levels, *second.levels)}
        return Pieces(np.empty((0, 3, 2)), empty)
    parts: list[tuple[Floats, Ints, Ints]] = []
    for start in range(0, len(left), _PAIRS_AT_ONCE):
        i, j = left[start : start + _PAIRS_AT_ONCE], right[start : start + _PAIRS_AT_ONCE]
        triangles, pair = _fan(*_clip(a[i], b[j]))
        # at the site's own coordinates, whose last digits a sliver may not outlive
        keep = 0.5 * _twice_area(triangles + origin) > _SLIVER
        parts.append((triangles[keep], i[pair[keep]], j[pair[keep]]))
    xy = np.concatenate([part[0] for part in parts])
    i = np.concatenate([part[1] for part in parts])
    j = np.concatenate([part[2] for part in parts])
    levels = {name: _planes_at(a[i], z[i], xy) for name, z in first.levels.items()}
    levels |= {name: _planes_at(b[j], z[j], xy) for name, z in second.levels.items()}
    return Pieces(xy + origin, levels)


def split(pieces: Pieces, one: str, other: str, gap: float = 0.0) -> Pieces:
    """Cut pieces along the line where one level lies ``gap`` above another.

    Parameters
    ----------
    pieces : Pieces
    one, other : str
        Names of levels.
    gap : float
        Height of ``one`` over ``other`` along the cut [site unit].

    Returns
    -------
    Pieces
        In each, ``one`` minus ``other`` is nowhere on both sides of ``gap``.
    """
    height = pieces.levels[one] - pieces.levels[other] - gap
    sign = np.where(np.abs(height) <= LEVEL, 0, np.sign(height)).astype(np.int64)
    mixed = (sign.min(axis=1) < 0) & (sign.max(axis=1) > 0)
    if not mixed.any():
        return pieces
    whole, cut = pieces.where(~mixed), pieces.where(mixed)
    height, sign = height[mixed], sign[mixed]
    # turn each triangle so that the corner alone on its side comes first
    alone = np.where((sign == 0).any(axis=1), np.argmax(sign != 0, axis=1), 0)
    for corner in range(3):
        others = sign[:, [(corner + 1) % 3, (corner + 2) % 3]]
        lonely = (sign[:, [corner]] * others < 0).all(axis=1)
        alone = np.where(lonely, corner, alone)
    turn = (alone[:, None] + np.arange(3)) % 3
    row = np.arange(len(turn))[:, None]
    height = np.where(sign == 0, 0.0, height)[row, turn]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = height[:, :1] / (height[:, :1] - height[:, 1:])
    share = np.where(height[:, :1] * height[:, 1:] < 0, share, 1.0)

    def turned(values: Floats) -> Floats:
        a, b, c = (values[row, turn][:, k] for k in range(3))
        weight = share if values.ndim == 2 else share[:, :, None]
        p = a + weight[:, 0] * (b - a)
        q = a + weight[:, 1] * (c - a)
        return np.concatenate(
            (np.stack((a, p, q), 1), np.stack((p, b, c), 1), np.stack((p, c, q), 1))
        )

    xy = turned(cut.xy)
    parts = Pieces(xy, {name: turned(z) for name, z in cut.levels.items()})
    return whole.joined(parts.where(parts.areas > _SLIVER))


def lower_of(pieces: Pieces, one: str, other: str, name: str) -> Pieces:
    """Cut along the line where two levels meet and add the lower of them as level ``name``.

    Parameters
    ----------
    pieces : Pieces
    one, other : str
        Names of two of its levels.
    name : str
        Of the new level.

    Returns
    -------
    Pieces
    """
    pieces = split(pieces, one, other)
    return pieces.with_level(name, np.minimum(pieces.levels[one], pieces.levels[other]))


def upper_of(pieces: Pieces, one: str, other: str, name: str) -> Pieces:
    """Cut along the line where two levels meet and add the upper of them as level ``name``.

    Parameters
    ----------
    pieces : Pieces
    one, other : str
        Names of two of its levels.
    name : str
        Of the new level.

    Returns
    -------
    Pieces
    """
    pieces = split(pieces, one, other)
    return pieces.with_level(name, np.maximum(pieces.levels[one], pieces.levels[other]))


def _twice_area(xy: Floats) -> Floats:
    u, v = xy[:, 1] - xy[:, 0], xy[:, 2] - xy[:, 0]
    return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])


def _counter_clockwise(
    xy: Floats, levels: Mapping[str, Floats]
) -> tuple[Floats, dict[str, Floats]]:
    """Triangles turned counter-clockwise, without the flat ones."""
    twice = _twice_area(xy)
    order = np.where((twice < 0)[:, None], (0, 2, 1), (0, 1, 2))
    row = np.arange(len(xy))[:, None]
    keep = np.abs(twice) > 2 * _SLIVER
    return xy[row, order][keep], {name: z[row, order][keep] for name, z in levels.items()}


def _triangles_of(polygon: Polygon) -> Floats:
    """A polygon's constrained triangulation, (t, 3, 2)."""
    origin = np.round(shapely.get_coordinates(polygon)[0])
    points: list[Floats] = []
    edges: list[Ints] = []
    for ring in (polygon.exterior, *polygon.interiors):
        corners = shapely.get_coordinates(ring)[:-1] - origin
        number = np.arange(len(corners)) + sum(len(part) for part in points)
        points.append(corners)
        edges.append(np.column_stack((number, np.roll(number, -1))))
    xy = np.concatenate(points)
    xy, number = np.unique(xy, axis=0, return_inverse=True)
    pairs = number[np.concatenate(edges)]
    triangles = xy[delaunay(xy, pairs[pairs[:, 0] != pairs[:, 1]])]
    near = shapely.transform(polygon, lambda p: p - origin)
    shapely.prepare(near)
    inside = shapely.contains_xy(near, triangles.mean(axis=1))
    return np.asarray(triangles[inside] + origin)


def _clip(subject: Floats, window: Floats) -> tuple[Floats, Ints]:
    """Clip triangles (m, 3, 2) by counter-clockwise triangles (m, 3, 2), pair by pair.

    Returns corners (m, 6, 2), padded, and how many of them count (m,).
    """
    corners, count = subject, np.full(len(subject), 3)
    for side in range(3):
        start, end = window[:, side], window[:, (side + 1) % 3]
        along = (end - start)[:, None, :]
        offset = corners - start[:, None, :]
        height = along[..., 0] * offset[..., 1] - along[..., 1] * offset[..., 0]
        slots = np.arange(corners.shape[1])[None, :]
        used = slots < count[:, None]
        following = np.where(slots + 1 < count[:, None], slots + 1, 0)
        row = np.arange(len(corners))[:, None]
        next_height, next_corner = height[row, following], corners[row, following]
        inside = used & (height >= 0.0)
        crosses = used & ((height >= 0.0) != (next_height >= 0.0))
        drop = np.where(crosses, height - next_height, 1.0)
        crossing = corners + (height / drop)[..., None] * (next_corner - corners)
        # each corner gives itself, then the point where its side leaves or enters
        given = np.stack((inside, crosses), axis=2).reshape(len(corners), -1)
        made = np.stack((corners, crossing), axis=2).reshape(len(corners), -1, 2)
        place = np.cumsum(given, axis=1) - 1
        count = given.sum(axis=1)
        corners = np.zeros((len(made), 4 + side, 2))
        owner, slot = np.nonzero(given)
        corners[owner, place[owner, slot]] = made[owner, slot]
    return corners, count


def _fan(corners: Floats, count: Ints) -> tuple[Floats, Ints]:
    """Cut padded convex polygons into triangles: (k, 3, 2) and the polygon of each."""
    steps = np.arange(1, corners.shape[1] - 1)
    owner, step = np.nonzero(steps[None, :] + 1 < count[:, None])
    step = step + 1
    first, second, third = corners[owner, 0], corners[owner, step], corners[owner, step + 1]
    return np.stack((first, second, third), axis=1), owner


def _planes_at(corners: Floats, z: Floats, xy: Floats) -> Floats:
    """Elevations at points (k, 3, 2) on the planes through corners (k, 3, 2) with z (k, 3)."""
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    det = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    du, dv = z[:, 1] - z[:, 0], z[:, 2] - z[:, 0]
    offset = xy - corners[:, None, 0]
    b = (offset[..., 0] * v[:, 1, None] - offset[..., 1] * v[:, 0, None]) / det[:, None]
    c = (u[:, 0, None] * offset[..., 1] - u[:, 1, None] * offset[..., 0]) / det[:, None]
    return np.asarray(z[:, :1] + b * du[:, None] + c * dv[:, None])
