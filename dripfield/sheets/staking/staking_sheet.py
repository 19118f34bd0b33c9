"""Sizes and reach that all parts of one staking drawing share."""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.core.words import number
from dripfield.design.model import Design
from dripfield.ground.ground import Ground
from dripfield.sheets.kit.style import POINTS_PER_INCH, Paper
from dripfield.sheets.plan.arrange import arrange
from dripfield.site.model import Site

TEXT, NAME = 0.10, 0.08  # heights of text on the plotted sheet [in]


class StakingSheet:
    """How a design is plotted, and what that means in model space.

    Parameters
    ----------
    design : Design
    paper : Paper, optional
    scale : float, optional
        Feet to the inch, or N of 1:N. Both as the plan takes them.
    """

    def __init__(
        self, design: Design, paper: Paper | None = None, scale: float | None = None
    ) -> None:
        self.design = design
        self.site: Site = design.site
        self.ground: Ground = design.ground
        self.unit = design.site.unit
        self.arrangement = arrange(design, paper, scale)
        self.paper, frame = self.arrangement.frames[0]
        self.scale = frame.scale
        self.units_per_inch = self.scale.per_point * POINTS_PER_INCH
        self.text = TEXT * self.units_per_inch
        self.small = NAME * self.units_per_inch
        self.upright = -frame.turn  # angle at which text stands upright on the sheet [degrees]

    @cached_property
    def reach(self) -> Polygon:
        """Ground that the drawing shows: what its sheets do, and half as much again round the bed.

        What of a large survey lies beyond it is left to the survey's own file.
        """
        left, low, right, high = self.site.bed.boundary.bounds
        half = 0.5 * math.hypot(right - left, high - low)
        round_bed = shapely.box(left - half, low - half, right + half, high + half)
        frames = [frame.ground for _, frame in self.arrangement.frames]
        return shapely.box(*shapely.union_all([round_bed, *frames]).bounds)

    @cached_property
    def shots(self) -> Floats:
        """Survey points within reach (k, 3)."""
        xyz = self.ground.read.xyz
        left, low, right, high = self.reach.bounds
        inside = (xyz[:, 0] >= left) & (xyz[:, 0] <= right)
        inside &= (xyz[:, 1] >= low) & (xyz[:, 1] <= high)
        return np.asarray(xyz[inside])

    def elevation(self, value: float) -> str:
        """An elevation with the unit's own decimals."""
        return number(value, self.unit.places)

    def readable(self, angle: float) -> float:
        """An angle, or the opposite one where text would stand on its head on the sheet."""
        seen = (angle - self.upright + 180.0) % 360.0 - 180.0
        return angle if -90.0 < seen <= 90.0 else angle + 180.0
