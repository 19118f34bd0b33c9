"""Length units of a site: international foot, US survey foot, metre.

Sources: international foot 0.3048 m exactly and the US survey foot's retirement, Federal Register
85 FR 62698 (2020); US survey foot 1200/3937 m, Federal Register 24 FR 5348 (1959), value from
memory.
DXF codes: the ``$INSUNITS`` table of the published DXF reference (2 foot, 6 metre, 21 US survey
foot).
"""

from __future__ import annotations

from enum import Enum


class Unit(Enum):
    """The unit of every length and coordinate of a site."""

    FOOT = "ft"
    SURVEY_FOOT = "ftUS"
    METRE = "m"

    @property
    def metres(self) -> float:
        """Metres in one unit."""
        return _METRES[self]

    @property
    def label(self) -> str:
        """Full name for a sheet: ``ft (international)``, ``US survey ft`` or ``m``."""
        return _LABELS[self]

    @property
    def short(self) -> str:
        """Short name for a table cell: ``ft`` or ``m``."""
        return "m" if self is Unit.METRE else "ft"

    @property
    def insunits(self) -> int:
        """The DXF ``$INSUNITS`` code."""
        return _INSUNITS[self]

    @property
    def is_metric(self) -> bool:
        """True for metres."""
        return self is Unit.METRE

    @property
    def places(self) -> int:
        """Decimals that a crew reads lengths and elevations with: 2 in feet, 3 in metres."""
        return 3 if self is Unit.METRE else 2

    def from_feet(self, feet: float) -> float:
        """Convert a length in international feet to this unit [ft -> unit]."""
        return feet * Unit.FOOT.metres / self.metres

    def to_feet(self, length: float) -> float:
        """Convert a length in this unit to international feet [unit -> ft]."""
        return length * self.metres / Unit.FOOT.metres

    def to_small(self, length: float) -> float:
        """A length as inches, or millimetres on a site in metres [unit -> in or mm]."""
        return length * 1000.0 if self is Unit.METRE else self.to_feet(length) * 12.0

    def from_small(self, length: float) -> float:
        """Inches, or millimetres on a site in metres, as a length [in or mm -> unit]."""
        return length / 1000.0 if self is Unit.METRE else self.from_feet(length / 12.0)

    @property
    def small(self) -> str:
        """Unit of what is measured with a rule: ``in`` or ``mm``."""
        return "mm" if self is Unit.METRE else "in"

    def default(self, feet: float, metres: float) -> float:
        """A round default: ``feet`` for either foot, ``metres`` for metres (no conversion)."""
        return metres if self is Unit.METRE else feet


_METRES = {Unit.FOOT: 0.3048, Unit.SURVEY_FOOT: 1200.0 / 3937.0, Unit.METRE: 1.0}
_LABELS = {
    Unit.FOOT: "ft (international)",
    Unit.SURVEY_FOOT: "US survey ft",
    Unit.METRE: "m",
}
_INSUNITS = {Unit.FOOT: 2, Unit.SURVEY_FOOT: 21, Unit.METRE: 6}
