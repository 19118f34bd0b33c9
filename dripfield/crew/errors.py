"""How far off a crew's tools and hands are."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from dripfield.core.units import Unit
from dripfield.site.schema.key import setting

if TYPE_CHECKING:
    from dripfield.site.model import Site


@dataclass(frozen=True)
class CrewErrors:
    """Standard errors of one act each; lengths in the site's unit.

    All are assumptions: common practice for careful work on open ground, no source.

    Attributes
    ----------
    instrument : float
        Of each coordinate of a mark set by instrument.
    tape : float
        Of a distance taped between two points.
    gauge : float
        Of the length of the stick as held.
    station : float
        Of a distance taped along a line.
    square : float
        Of the right angle between the line and the stick [degrees].
    rod : float
        Of a rod reading.
    rod_check : float
        A mark whose reading is off by more than this is measured again, once.
    """

    instrument: float = 0.03
    tape: float = 0.05
    gauge: float = 0.02
    station: float = 0.10
    square: float = 3.0
    rod: float = 0.02
    rod_check: float = 0.08

    @classmethod
    def of(cls, unit: Unit) -> CrewErrors:
        """The defaults for a unit: round values, not conversions of each other."""
        if not unit.is_metric:
            return cls()
        return cls(0.010, 0.015, 0.006, 0.030, 3.0, 0.006, 0.025)

    @classmethod
    def of_site(cls, site: Site) -> CrewErrors:
        """What ``[crew]`` says of the crew, and the defaults for what it leaves out."""
        table, unit = site.file.crew, site.unit
        return replace(
            cls.of(unit),
            instrument=setting(table, "instrument_error", unit),
            tape=setting(table, "tape_error", unit),
            gauge=setting(table, "gauge_error", unit),
            station=setting(table, "station_error", unit),
            rod=setting(table, "rod_error", unit),
            square=table.square_error,
        )
