"""What the rules see of a site and its design, and how figures are written in findings."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.core.units import Unit
from dripfield.design.model import Design
from dripfield.measures.field import Measured
from dripfield.site.model import Site

LITRES_PER_GALLON = 3.785411784  # US gallon, NIST Handbook 44, appendix C


class Missing(Exception):
    """A fact that a rule needs and nobody gave; the message says what to give."""


@dataclass(frozen=True, kw_only=True)
class SystemFacts:
    """Plain values that zones, hydraulics and preparation know; None where nobody says.

    Attributes
    ----------
    zones : int
        Number of zones.
    spare_zones : int
        Zones that may stand still while the others take the daily flow.
    zone_heights : tuple of float
        Of each zone, between its lowest and its highest tubing [site unit].
    emitter_flows : (least, greatest)
        Of any emitters of the field while dosing [gal/h, L/h on a site in metres].
    compensating : bool
        Whether the emitters are pressure-compensating.
    daily_flow, pump_chamber, dose, pipe_volume : float
        Design flow of a day; volumes of the pump chamber, of a dose and of the pipes it fills
        [US gal, L on a site in metres].
    loading, table_loading : float
        Loading rate of the design and of the code's table for its soil [any unit, both alike].
    absorption_ratio : float
        Of a mound, as Minn. R. 7080 defines it.
    chamber_access_round, chamber_access_square, chamber_vent : float
        Diameter of a round access, side of a square one, diameter of the vent [site unit].
    stated : dict of str to bool
        Plain statements, by the names in ``of`` of the rules whose check is ``stated``.
    """

    zones: int | None = None
    spare_zones: int | None = None
    zone_heights: tuple[float, ...] | None = None
    emitter_flows: tuple[float, float] | None = None
    compensating: bool | None = None
    daily_flow: float | None = None
    pump_chamber: float | None = None
    dose: float | None = None
    pipe_volume: float | None = None
    loading: float | None = None
    table_loading: float | None = None
    absorption_ratio: float | None = None
    chamber_access_round: float | None = None
    chamber_access_square: float | None = None
    chamber_vent: float | None = None
    stated: dict[str, bool] = field(default_factory=dict)


def facts_of(site: Site, design: Design | None = None, system: SystemFacts | None = None) -> Facts:
    """What the rules may look at; all but the site may be left out.

    Parameters
    ----------
    site : Site
        Whose ``[rules]`` name what is checked.
    design : Design, optional
        The site laid out.
    system : SystemFacts, optional
        What zones, hydraulics and preparation know.

    Returns
    -------
    Facts
    """
    return Facts(site, design, system or SystemFacts())


@dataclass(frozen=True)
class Facts:
    """What the rules see; made by :func:`facts_of`.

    A check asks for what it needs, and what nobody gave raises :class:`Missing`.
    """

    site: Site
    given: Design | None
    system: SystemFacts

    @property
    def design(self) -> Design:
        """The site laid out."""
        if self.given is None:
            raise Missing("needs a layout: run dripfield layout")
        return self.given

    @property
    def surface(self) -> HeightField:
        """What the laterals lie on, whose slope decides what is steep."""
        return self.design.surface

    @property
    def measured(self) -> Measured:
        """The layout as measured."""
        return self.design.measured

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
