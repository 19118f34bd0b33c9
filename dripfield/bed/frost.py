"""Cover over the tubing against the depth of frost that the site enters."""

from __future__ import annotations

from dataclasses import dataclass

from dripfield.core.units import Unit
from dripfield.site.schema.bed_section import BedSection


@dataclass(frozen=True)
class FrostCover:
    """What lies over the tubing and how deep frost goes, all [site unit].

    Attributes
    ----------
    placed : float
        Depth of cover as placed.
    settled : float
        What of it remains once it has settled.
    insulation : float
        Depth of soil that the insulating layer is worth.
    frost : float
        Depth of frost.
    """

    placed: float
    settled: float
    insulation: float
    frost: float

    @property
    def against(self) -> float:
        """Settled cover and insulation together."""
        return self.settled + self.insulation

    @property
    def ok(self) -> bool:
        """Whether they reach down to the depth of frost."""
        return self.against >= self.frost - 1e-9

    def words(self, unit: Unit) -> str:
        """As a sheet says it."""
        short, places = unit.short, unit.places
        parts = [f"{self.placed:.{places}f} {short} of cover over the tubing"]
        if self.settled < self.placed:
            parts.append(f"{self.settled:.{places}f} once settled")
        if self.insulation:
            parts.append(f"insulation worth {self.insulation:.{places}f}")
        end = "reaches it" if self.ok else f"{self.frost - self.against:.{places}f} {short} short"
        return f"frost to {self.frost:.{places}f} {short}: {', '.join(parts)}: {end}"


def frost_cover(section: BedSection) -> FrostCover | None:
    """Cover against frost; None where no depth of frost is entered.

    Settling takes a share of every layer over the tubing alike. What the insulating layer is worth
    is the site's own figure.
    """
    if section.frost_depth is None:
        return None
    placed = section.cover_depth
    worth = 0.0 if section.insulation is None else section.insulation.worth
    return FrostCover(placed, placed * (1.0 - section.settlement), worth, section.frost_depth)
