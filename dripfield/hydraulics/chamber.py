"""Levels in a pump chamber of a given shape."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from dripfield.core.errors import input_error

_HALVINGS = 60


@dataclass(frozen=True)
class Chamber:
    """A pump chamber.

    Attributes
    ----------
    shape : {"box", "upright", "lying"}
        A box, or a cylinder that stands or lies.
    width : float
        Of a box, or the diameter, inside [length].
    length : float
        Of a box or of a lying cylinder, inside [length]; ignored for one that stands.
    height : float
        Depth to its roof, or to the inlet [length]; of a lying cylinder at most its diameter.
    """

    shape: Literal["box", "upright", "lying"]
    width: float
    length: float
    height: float

    def __post_init__(self) -> None:
        """Refuse measures that make no chamber."""
        if min(self.width, self.length, self.height) <= 0.0:
            raise input_error("a measure of the chamber is not above zero", "give inside measures")
        if self.shape == "lying" and self.height > self.width:
            raise input_error(
                f"a lying cylinder {self.width:g} across is {self.height:g} high",
                "give a height of its diameter or less",
            )

    def content(self, depth: float) -> float:
        """Volume of water at a depth [length -> length unit cubed]."""
        depth = min(max(depth, 0.0), self.height)
        if self.shape == "box":
            return self.width * self.length * depth
        radius = self.width / 2.0
        if self.shape == "upright":
            return math.pi * radius**2 * depth
        angle = math.acos((radius - depth) / radius)
        return self.length * (radius**2 * angle - (radius - depth) * radius * math.sin(angle))

    def depth(self, content: float) -> float | None:
        """Depth at a volume of water; None where the chamber does not hold it."""
        if content > self.content(self.height) * (1.0 + 1e-12):
            return None
        low, high = 0.0, self.height
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            if self.content(middle) < content:
                low = middle
            else:
                high = middle
        return high


@dataclass(frozen=True)
class Levels:
    """Depths of water above the chamber's floor [length]; None where it does not hold as much.

    Attributes
    ----------
    off, on, override, alarm : float or None
        Pump off; dose enabled; runs out of turn; alarm.
    """

    off: float
    on: float | None
    override: float | None
    alarm: float | None


def levels(
    chamber: Chamber, off: float, dose: float, override: float, alarm: float, per_cubic: float
) -> Levels:
    """Set the floats of a chamber.

    Parameters
    ----------
    chamber : Chamber
    off : float
        Depth at which the pump stops, above its own cover [length].
    dose : float
        Pumped by one dose, with what drains back [gal or L].
    override, alarm : float
        What is held above the level before each of the two [gal or L].
    per_cubic : float
        Volume units in a cubic unit of length.

    Returns
    -------
    Levels
    """
    held = chamber.content(off)
    found = []
    for more in (dose, override, alarm):
        held += more / per_cubic
        found.append(chamber.depth(held))
    return Levels(off, *found)
