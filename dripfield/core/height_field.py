"""What the layout needs to know of the ground, whatever stands behind it."""

from __future__ import annotations

from typing import Protocol

from dripfield.core.arrays import Floats


class HeightField(Protocol):
    """A height for every plan point; the usual one is a triangulated surface."""

    def elevation(self, xy: Floats) -> Floats:
        """Elevations (k,) at plan points (k, 2); NaN where the ground is not known."""
        ...

    def gradient(self, xy: Floats) -> Floats:
        """Rise per unit of easting and of northing, (k, 2); NaN where not known."""
        ...
