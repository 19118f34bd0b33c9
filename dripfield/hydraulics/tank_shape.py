"""Water in a tank by its shape and depth, and the volume that it displaces.

Closed forms: a rectangle and a standing cylinder are area times depth; the water in a lying
cylinder is its length times the segment r^2 acos((r - h)/r) - (r - h) sqrt(2 r h - h^2).
A US gallon is 231 cubic inches, a cubic foot 1728 (NIST Handbook 44, appendix C).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.site.schema.preparation import TankTable

GALLONS_PER_FT3 = 1728.0 / 231.0
LITRES_PER_M3 = 1000.0

_KEYS = {
    "rectangle": ("length", "width", "height"),
    "horizontal cylinder": ("diameter", "length"),
    "vertical cylinder": ("diameter", "height"),
}


@dataclass(frozen=True)
class TankShape:
    """Inside of a tank, or its outside.

    Attributes
    ----------
    shape : str
    height : float
        Greatest depth [site unit].
    length, width : float
        Of a rectangle; ``length`` also of a lying cylinder, ``width`` its diameter and that of a
        standing one [site unit].
    """

    shape: str
    height: float
    length: float
    width: float

    def volume(self, depth: float) -> float:
        """Volume up to a depth, from empty to full [cubic site unit]."""
        h = min(max(depth, 0.0), self.height)
        if self.shape == "rectangle":
            return self.length * self.width * h
        if self.shape == "vertical cylinder":
            return math.pi / 4.0 * self.width**2 * h
        return self.length * segment(self.width / 2.0, h)

    def depth_of(self, volume: float) -> float:
        """Depth at which a volume stands; the tank's height where it holds no more [site unit]."""
        full = self.volume(self.height)
        if volume <= 0.0:
            return 0.0
        if volume >= full:
            return self.height
        if self.shape != "horizontal cylinder":
            return self.height * volume / full
        low, high = 0.0, self.height
        for _ in range(100):
            middle = (low + high) / 2.0
            low, high = (middle, high) if self.volume(middle) < volume else (low, middle)
        return (low + high) / 2.0

    @property
    def footprint(self) -> float:
        """Plan area [square site unit]."""
        if self.shape == "vertical cylinder":
            return math.pi / 4.0 * self.width**2
        return self.length * self.width

    def grown(self, wall: float) -> TankShape:
        """The outside of a tank with walls, floor and top of one thickness [site unit]."""
        return TankShape(
            self.shape, self.height + 2 * wall, self.length + 2 * wall, self.width + 2 * wall
        )


def segment(radius: float, height: float) -> float:
    """Area of a circle up to a height over its lowest point."""
    away = radius - height
    return radius**2 * math.acos(min(1.0, max(-1.0, away / radius))) - away * math.sqrt(
        max(0.0, 2.0 * radius * height - height**2)
    )


def tank_shape(table: TankTable) -> TankShape:
    """The inside of a tank.

    Raises
    ------
    InputError
        A dimension that its shape needs is missing, or one that it does not have is given.
    """
    needed = _KEYS[table.shape]
    for key in ("length", "width", "height", "diameter"):
        given = getattr(table, key) is not None
        if given and key not in needed:
            raise input_error(
                f"the {table.shape} {table.name} has no {key}",
                f"its dimensions are {', '.join(needed)}",
                file="site.toml",
                field=f"[[tank]] {key}",
            )
        if not given and key in needed:
            raise input_error(
                f"the {key} of {table.name} is missing",
                f"a {table.shape} needs {', '.join(needed)}",
                file="site.toml",
                field=f"[[tank]] {key}",
            )
    diameter = table.diameter or 0.0
    if table.shape == "rectangle":
        return TankShape(table.shape, table.height or 0.0, table.length or 0.0, table.width or 0.0)
    height = diameter if table.shape == "horizontal cylinder" else table.height or 0.0
    return TankShape(table.shape, height, table.length or diameter, diameter)


def tank_outside(table: TankTable, unit: Unit) -> TankShape | None:
    """The outside of a tank; None where the thickness of its walls is not given."""
    return None if table.wall is None else tank_shape(table).grown(unit.from_small(table.wall))


def water(volume: float, unit: Unit) -> float:
    """Cubic site units as US gallons, or litres on a site in metres."""
    if unit.is_metric:
        return volume * LITRES_PER_M3
    return volume * unit.to_feet(1.0) ** 3 * GALLONS_PER_FT3


def water_unit(unit: Unit) -> str:
    """``gal`` or ``L``."""
    return "L" if unit.is_metric else "gal"
