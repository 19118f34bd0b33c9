"""What a candidate is worth: its merit, less what its panels and connections must gain."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from dripfield.core.lines import line_length
from dripfield.layout.model import Layout, PanelOption
from dripfield.measures.field import Merit
from dripfield.site.model import LayoutSettings


@dataclass(frozen=True)
class Judged:
    """A candidate with its merit, weighed by the settings.

    Attributes
    ----------
    layout : Layout
    measured : Merit
    settings : LayoutSettings
        ``panel_gain`` of merit is asked of each panel beyond the first, and of each connection the
        merit of ``connection_worth`` of tubing; divisions whose laterals have a mean length under
        ``least_mean_length`` are worth less than any that keep it.
    """

    layout: Layout
    measured: Merit
    settings: LayoutSettings

    @property
    def panels(self) -> int:
        """How many panels hold a lateral, at least one."""
        return max(self.measured.panels, 1)

    @property
    def connections(self) -> int:
        """One for every lateral: supply and return ends together."""
        return len(self.layout.laterals)

    @property
    def mean_length(self) -> float:
        """Mean length of the laterals [site unit]."""
        return self.measured.tubing / self.connections if self.connections else 0.0

    @property
    def too_short(self) -> bool:
        """A division into panels whose laterals are shorter on average than is asked."""
        return self.panels > 1 and self.mean_length < self.settings.least_mean_length

    @property
    def worth(self) -> float:
        """Merit less what panels and connections must gain."""
        settings = self.settings
        area = self.measured.served_area
        price = settings.connection_worth * settings.spacing / area if area > 0.0 else 0.0
        asked = settings.panel_gain * (self.panels - 1) + price * self.connections
        return self.measured.merit - asked - float(self.too_short)

    @property
    def to_gain(self) -> float:
        """Merit of all that is out of tolerance or bare: the most that a further panel can add."""
        share = max(self.measured.share_both, 1e-9)
        return self.measured.merit * (1.0 - share) / share + self.measured.bare

    def option(self, chosen: bool) -> PanelOption:
        """The candidate as a row of the person's choice."""
        lengths = [line_length(one.xy) for one in self.layout.laterals]
        most = self.measured.served_area / self.settings.spacing
        return PanelOption(
            panels=self.panels,
            laterals=self.connections,
            tubing=self.measured.tubing,
            merit=self.measured.merit,
            chosen=chosen,
            shortest=min(lengths, default=0.0),
            mean=self.mean_length,
            short=max(most * (1.0 - self.measured.merit), 0.0),
            layout=self.layout,
        )


def frontier(options: Iterable[PanelOption]) -> list[bool]:
    """Which options no other beats in both merit and connections.

    Parameters
    ----------
    options : iterable of PanelOption

    Returns
    -------
    list of bool
        In the options' order.
    """
    rows = list(options)
    merit = np.array([one.merit for one in rows])
    count = np.array([one.laterals for one in rows])
    on = []
    for k in range(len(rows)):
        better = (merit >= merit[k]) & (count <= count[k])
        better &= (merit > merit[k]) | (count < count[k])
        on.append(not better.any())
    return on
