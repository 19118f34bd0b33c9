"""A layout as the rules see it, and how figures are written in findings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.core.units import Unit
from dripfield.design.model import Design
from dripfield.measures.field import Measured
from dripfield.site.model import Site


@dataclass(frozen=True)
class Facts:
    """A layout as the rules see it."""

    design: Design

    @property
    def site(self) -> Site:
        """The site."""
        return self.design.site

    @property
    def measured(self) -> Measured:
        """Its measures."""
        return self.design.measured

    @property
    def surface(self) -> HeightField:
        """Whose slope decides what is steep: what the laterals lie on."""
        return self.design.surface

    @property
    def unit(self) -> Unit:
        """The site's."""
        return self.site.unit

    @cached_property
    def slope(self) -> list[Floats]:
        """Ground slope at the samples of each lateral, as a fraction; NaN where not known."""
        laterals = self.measured.laterals
        if not laterals:
            return []
        xy = np.concatenate([one.xy for one in laterals])
        ends = np.cumsum([len(one.xy) for one in laterals])[:-1]
        return list(np.split(np.hypot(*self.surface.gradient(xy).T), ends))

    def steep_length(self, limit: float) -> float:
        """Length of tubing on ground steeper than ``limit`` (a fraction)."""
        pairs = zip(self.measured.laterals, self.slope, strict=True)
        return float(sum(one.share[slope > limit + 1e-9].sum() for one, slope in pairs))

    @property
    def steepest(self) -> float:
        """Greatest slope under any lateral, as a fraction; NaN when none is known."""
        return float(np.fmax.reduce(np.concatenate([*self.slope, [np.nan]])))

    def inches(self, value: float) -> float:
        """A rule's inches in the site's unit."""
        return self.unit.from_feet(value / 12.0)

    def show(self, length: float) -> str:
        """A length of the site to the places that a crew reads."""
        return f"{length:.{self.unit.places}f} {self.unit.short}"

    def show_inches(self, value: float) -> str:
        """A rule's inches, with the site's unit: ``24 in (2.00 ft)``."""
        return f"{value:g} in ({self.show(self.inches(value))})"

    def show_feet(self, value: float) -> str:
        """A rule's feet, with the site's unit where that is not feet: ``8 ft``."""
        if not self.unit.is_metric:
            return f"{value:g} ft"
        return f"{value:g} ft ({self.show(self.unit.from_feet(value))})"
