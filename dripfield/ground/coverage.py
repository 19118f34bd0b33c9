"""Where the survey says nothing of the bed: beyond its outline, or too far from any shot.

The survey's own spacing is the median side of its triangles: the grid's spacing on a grid, hardly
touched by a few shots taken in pairs or a few far out. Ground farther from every shot and breakline
than a stated multiple of it is sparse: triangles span it, but nobody stood there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats
from dripfield.ground.triangles.tin import Surface
from dripfield.ground.triangles.triangulate import twice_area

_NARROW = 0.01  # of the spacing: a gap no wider is rounding, not ground


@dataclass(frozen=True)
class Coverage:
    """What of a bed is not covered by its survey.

    Attributes
    ----------
    spacing : float
        The survey's spacing: median side of its triangles [site unit].
    reach : float
        Distance from a shot beyond which ground is sparse [site unit].
    bed_area : float
        [square site unit]
    outside, sparse : tuple of Polygon
        Gaps beyond the outline (or in a void), and gaps too far from any shot; they do not overlap.
    """

    spacing: float
    reach: float
    bed_area: float
    outside: tuple[Polygon, ...]
    sparse: tuple[Polygon, ...]

    @property
    def outside_area(self) -> float:
        """[square site unit]"""
        return float(sum(gap.area for gap in self.outside))

    @property
    def sparse_area(self) -> float:
        """[square site unit]"""
        return float(sum(gap.area for gap in self.sparse))

    @property
    def complete(self) -> bool:
        """True when the survey covers the whole bed."""
        return not self.outside and not self.sparse


def coverage(surface: Surface, bed: Polygon | MultiPolygon, multiple: float) -> Coverage:
    """Find the parts of a bed that a surface does not cover.

    Parameters
    ----------
    surface : Surface
    bed : Polygon or MultiPolygon
        In the surface's coordinates.
    multiple : float
        How many times the survey's spacing ground may lie from the nearest shot or breakline.

    Returns
    -------
    Coverage
        Gaps narrower than 1 % of the spacing are left out.
    """
    sides = _sides(surface)
    spacing = float(np.median(sides))
    reach = multiple * spacing
    outside = shapely.difference(bed, surface.outline)
    return Coverage(
        spacing=spacing,
        reach=reach,
        bed_area=float(bed.area),
        outside=_gaps(outside, _NARROW * spacing),
        sparse=_gaps(_sparse(surface, bed, sides, reach), _NARROW * spacing),
    )


def _sides(surface: Surface) -> Floats:
    """Lengths of the sides of each triangle, (t, 3)."""
    corners = surface.vertices[surface.triangles][:, :, :2]
    side = corners - np.roll(corners, 1, axis=1)
    return np.asarray(np.hypot(side[:, :, 0], side[:, :, 1]))


def _sparse(
    surface: Surface, bed: Polygon | MultiPolygon, sides: Floats, reach: float
) -> Polygon | MultiPolygon:
    """The covered part of the bed that lies beyond reach of every shot and break.

    No point of a triangle is farther from its corners than the circumradius, so only triangles with
    a greater one can hold such ground.
    """
    corners = surface.vertices[surface.triangles][:, :, :2]
    area = np.abs(
        twice_area(surface.vertices[:, :2] - corners.mean(axis=(0, 1)), surface.triangles)
    )
    wide = sides.prod(axis=1) > 2.0 * area * reach  # circumradius abc / 4A beyond reach
    triangles = shapely.polygons(corners[wide])
    triangles = triangles[shapely.intersects(bed, triangles)]
    if not len(triangles):
        return Polygon()
    doubtful = shapely.intersection(bed, shapely.union_all(triangles))
    shots = shapely.points(surface.vertices[:, :2])
    breaks = shapely.linestrings(surface.vertices[surface.breaks][:, :, :2])
    known = np.concatenate((shots, breaks))
    near = known[shapely.dwithin(doubtful, known, reach)]
    return shapely.difference(
        doubtful, shapely.union_all(shapely.buffer(near, reach, quad_segs=32))
    )


def _gaps(area: Polygon | MultiPolygon, narrow: float) -> tuple[Polygon, ...]:
    """The polygons of an area that are wider than rounding."""
    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    return tuple(part for part in parts if not part.buffer(-narrow / 2.0).is_empty)
