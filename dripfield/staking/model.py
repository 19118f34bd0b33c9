"""The field method as data: findable points, marks in the order of work, ties and checks.

What simulates a crew reads this module and nothing else of the package.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from dripfield.core.arrays import Floats

Method = Literal["instrument", "tape", "gauge"]
Tool = Literal["instrument", "tape"]
Side = Literal["downhill", "uphill"]
PointKind = Literal["benchmark", "permanent", "bed corner", "keepout corner", "base line"]


@dataclass(frozen=True)
class FindablePoint:
    """A point that a crew can find on the ground and measure from.

    ``elevation`` is NaN where it is not known [site unit].
    """

    name: str
    easting: float
    northing: float
    elevation: float
    kind: PointKind
    description: str

    @property
    def xy(self) -> Floats:
        """(2,) easting, northing."""
        return np.array((self.easting, self.northing))


@dataclass(frozen=True)
class TwoTapeTie:
    """A place as the crossing of two tapes.

    Attributes
    ----------
    point : str
        What is tied.
    point_1, point_2 : str
        The findable points that the tapes are held on.
    distance_1, distance_2 : float
        Horizontal distances [site unit].
    angle : float
        Between the two tapes at the place, 0 to 180 [degrees]; the crossing is best at 90.
    """

    point: str
    point_1: str
    point_2: str
    distance_1: float
    distance_2: float
    angle: float


@dataclass(frozen=True)
class CheckLength:
    """A distance between two findable points that must agree before work begins [site unit]."""

    point_1: str
    point_2: str
    distance: float


@dataclass(frozen=True)
class FieldMark:
    """One mark and how the crew sets it: a row of ``field.csv``; lengths in the site's unit.

    Attributes
    ----------
    order : int
        Place in the order of work, from 1.
    mark : int
        Its number, the stake's number too.
    lateral, panel : str
        The lateral that it stands on, and that lateral's panel.
    method : "instrument", "tape" or "gauge"
        Set out by coordinates, by two distances from two findable points, or by a level stick.
    easting, northing : float
        Where it stands. For a gauged or a taped mark this is what the printed figures give.
    elevation : float
        Of the mark's own ground; NaN where the ground is not known.
    set_elevation : float
        That its lateral is set to.
    station : float
        Along its own lateral as designed, from the lateral's start.
    above : str
        Gauged: the lateral that the stick is held from, whose marks are all set before. Else empty.
    above_station, gap : float
        Gauged: distance along the tube through that lateral's marks from its first mark, and the
        level distance square to it. Else NaN.
    side : "downhill", "uphill" or ""
        Gauged: which side of that lateral the mark lies.
    point_1, distance_1, point_2, distance_2 : str and float
        Taped: the two points and the horizontal distances. Else empty and NaN.
    rod : float
        Reading that checks the mark; NaN without a benchmark.
    setup : int
        Set-up of the laser that the reading is for; 0 without a benchmark.
    """

    order: int
    mark: int
    lateral: str
    panel: str
    method: Method
    easting: float
    northing: float
    elevation: float
    set_elevation: float
    station: float
    above: str = ""
    above_station: float = float("nan")
    gap: float = float("nan")
    side: Side | Literal[""] = ""
    point_1: str = ""
    distance_1: float = float("nan")
    point_2: str = ""
    distance_2: float = float("nan")
    rod: float = float("nan")
    setup: int = 0

    @property
    def description(self) -> str:
        """Of the stake: the lateral's name, a space, and how the mark is set."""
        return f"{self.lateral} {self.method}"


@dataclass(frozen=True)
class FieldPlan:
    """How a crew marks a whole layout.

    Attributes
    ----------
    tool : "instrument" or "tape"
        What sets the guide lines and the marks that no stick reaches.
    gauged : bool
        Whether a stick sets the other marks; False: the tool sets every one.
    rows : tuple of FieldMark
        In the order of work; the marks of a lateral follow each other along it.
    guides : tuple of str
        The lateral of each panel that is set first, by the tool.
    points : tuple of FindablePoint
        Everything that may be measured from.
    ties : tuple of TwoTapeTie
        Corners, keepouts and base-line ends from the two permanent points.
    checks : tuple of CheckLength
        Diagonals and sides that must agree.
    base_line : two names or None
        The points at the ends of the base line.
    tolerance : float
        Greatest distance between a lateral and the tube bent through its marks [site unit].
    notes : tuple of str
        What a person should know of it.
    """

    tool: Tool
    gauged: bool
    rows: tuple[FieldMark, ...]
    guides: tuple[str, ...]
    points: tuple[FindablePoint, ...]
    ties: tuple[TwoTapeTie, ...] = ()
    checks: tuple[CheckLength, ...] = ()
    base_line: tuple[str, str] | None = None
    tolerance: float = 0.0
    notes: tuple[str, ...] = field(default=())

    @property
    def way(self) -> str:
        """The way of working in words: ``instrument and gauge``, ``tape`` …."""
        return f"{self.tool} and gauge" if self.gauged else self.tool

    @property
    def by_hand(self) -> float:
        """Share of the marks set by instrument or tape and not by the stick."""
        return 1.0 - self.count("gauge") / max(1, len(self.rows))

    def count(self, method: Method) -> int:
        """How many marks are set in one way."""
        return sum(row.method == method for row in self.rows)

    @property
    def stakes(self) -> tuple[FieldMark, ...]:
        """The marks by number: lateral by lateral in the layout's order, each along its own."""
        return tuple(sorted(self.rows, key=lambda row: row.mark))

    def of_lateral(self) -> dict[str, tuple[FieldMark, ...]]:
        """The marks of each lateral, in order along it; laterals in the order of work."""
        found: dict[str, list[FieldMark]] = {}
        for row in self.rows:
            found.setdefault(row.lateral, []).append(row)
        return {name: tuple(rows) for name, rows in found.items()}
