"""What the tubing lies on: the existing ground, or the top of a built bed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.ground.smoothing.smooth import smooth_ground
from dripfield.ground.triangles.tin import Surface


@dataclass(frozen=True)
class LayingSurface:
    """The surface that laterals are laid on.

    Attributes
    ----------
    surface : Surface
        Its triangles [site unit].
    smoothing : float
        How far smoothing may move a vertex [site unit]; 0 for none.
    built : bool
        True for the top of sand of a built bed, False for the ground as it is.
    """

    surface: Surface
    smoothing: float = 0.0
    built: bool = False

    def elevation(self, xy: Floats) -> Floats:
        """Elevation (k,) at plan points (k, 2) [site unit]; NaN off the surface."""
        return self.surface.elevation(xy)

    def gradient(self, xy: Floats) -> Floats:
        """Rise per unit of easting and of northing, (k, 2), at plan points (k, 2)."""
        return self.surface.gradient(xy)

    @property
    def outline(self) -> Polygon | MultiPolygon:
        """The area that it covers."""
        return self.surface.outline

    @cached_property
    def smoothed(self) -> HeightField | None:
        """The smoothed surface that lines follow; None where nothing is smoothed."""
        return smooth_ground(self.surface, self.smoothing) if self.smoothing else None
