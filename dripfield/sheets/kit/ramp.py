"""The colour of a lateral by its elevation: one hue, dark where it is low.

Browns that are at least as dark on a grey print as on the screen. None of the colours by which the
uniform colour code tells utilities apart is near them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.design.model import Design

_LOW, _HIGH = np.array((26.0, 18.0, 12.0)), np.array((150.0, 112.0, 78.0))  # of 255
_STEPS = 16  # colours told apart at most


@dataclass(frozen=True)
class Ramp:
    """Elevations from the lowest lateral's to the highest's [site unit]."""

    low: float
    high: float

    def colour(self, elevation: float) -> str:
        """The colour of an elevation, as a web colour."""
        span = self.high - self.low
        share = (elevation - self.low) / span if span > 0.0 else 0.0
        share = round(min(max(share, 0.0), 1.0) * _STEPS) / _STEPS
        red, green, blue = (round(float(v)) for v in _LOW + share * (_HIGH - _LOW))
        return f"#{red:02x}{green:02x}{blue:02x}"


def elevation_ramp(design: Design) -> Ramp:
    """The ramp over all laterals of a design."""
    heights = [lateral.elevation for lateral in design.layout.laterals] or [0.0]
    return Ramp(min(heights), max(heights))
