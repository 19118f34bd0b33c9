"""A design: a site laid out, with the ground it lies on and how good it is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from dripfield.ground.ground import Ground
from dripfield.ground.laying import LayingSurface
from dripfield.layout.model import Lateral, Layout
from dripfield.measures.field import Measured, measure_layout
from dripfield.measures.laterals import LateralMeasure
from dripfield.site.model import Site


@dataclass(frozen=True)
class Design:
    """A site laid out: all that sheets, files, reviews and zones are made from.

    Attributes
    ----------
    ground : Ground
        The existing ground as surveyed, and the site that it is part of.
    surface : LayingSurface
        What the laterals lie on: the ground, or the top of a built bed.
    layout : Layout
    measured : Measured
        The layout's own measures.
    """

    ground: Ground
    surface: LayingSurface
    layout: Layout
    measured: Measured

    @property
    def site(self) -> Site:
        """The site laid out."""
        return self.ground.site

    @cached_property
    def laterals(self) -> dict[str, tuple[Lateral, LateralMeasure]]:
        """Each lateral with its measures, by name, in the layout's order."""
        measures = {one.name: one for one in self.measured.laterals}
        return {one.name: (one, measures[one.name]) for one in self.layout.laterals}

    @property
    def missed(self) -> bool:
        """True when a lateral misses a tolerance somewhere."""
        return bool(self.measured.missed_level or self.measured.missed_spacing)


def design_of(ground: Ground, surface: LayingSurface, layout: Layout) -> Design:
    """A design from a layout that is already there, measured.

    Parameters
    ----------
    ground : Ground
    surface : LayingSurface
        What the layout lies on.
    layout : Layout

    Returns
    -------
    Design
    """
    site = ground.site
    measured = measure_layout(layout, surface, site.settings, site.bed, smoothed=surface.smoothed)
    return Design(ground, surface, layout, measured)
