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
    site : Site
    ground : Ground
        The existing ground as surveyed.
    surface : LayingSurface
        What the laterals lie on: the ground, or the top of a built bed.
    layout : Layout
    measured : Measured
        The layout's own measures.
    """

    site: Site
    ground: Ground
    surface: LayingSurface
    layout: Layout
    measured: Measured

    @cached_property
    def laterals(self) -> dict[str, tuple[Lateral, LateralMeasure]]:
        """Each lateral with its measures, by name, in the layout's order."""
        measures = {one.name: one for one in self.measured.laterals}
        return {one.name: (one, measures[one.name]) for one in self.layout.laterals}

    @property
    def missed(self) -> bool:
        """True when a lateral misses a tolerance somewhere."""
        return bool(self.measured.missed_level or self.measured.missed_spacing)


def design_of(site: Site, ground: Ground, surface: LayingSurface, layout: Layout) -> Design:
    """A design from a layout that is already there, measured.

    Parameters
    ----------
    site : Site
    ground : Ground
    surface : LayingSurface
        What the layout lies on.
    layout : Layout

    Returns
    -------
    Design
    """
    measured = measure_layout(layout, surface, site.rules, site.bed, smoothed=surface.smoothed)
    return Design(site, ground, surface, layout, measured)
