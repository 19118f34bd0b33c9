"""How high the switches of a dosing tank must stand for the doses that it gives.

The water between two levels of a tank is that of its shape, so the least height of a switch
follows from what must be held below it: one dose, with what drains back, between ``off`` and
``on``, and one more that waits its turn below ``override`` (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dripfield.hydraulics.tank_shape import TankShape


@dataclass(frozen=True)
class SwitchLevel:
    """One level over the inside of a tank's floor.

    Attributes
    ----------
    name : str
    entered : float or None
        As the site gives it [length].
    least : float or None
        As low as it may be; None where what is below it is not known, or where the tank does not
        hold as much [length].
    why : str
    """

    name: str
    entered: float | None
    least: float | None
    why: str

    @property
    def holds(self) -> bool | None:
        """Whether the level entered is high enough; None where one of the two is not known."""
        if self.entered is None or self.least is None:
            return None
        return self.entered >= self.least - 1e-6

    @property
    def height(self) -> float | None:
        """As entered, or else as low as it may be [length]."""
        return self.least if self.entered is None else self.entered


def switch_levels(
    shape: TankShape, entered: Mapping[str, float], inlet: float | None, dose: float
) -> tuple[SwitchLevel, ...]:
    """Levels from the floor up for the greatest dose that a tank gives.

    Parameters
    ----------
    shape : TankShape
        Inside of the tank.
    entered : mapping of str to float
        Heights over the floor of ``pump cover``, ``off``, ``on``, ``override`` and ``alarm``, as
        far as they are known [length].
    inlet : float or None
        Height of the inlet's invert [length].
    dose : float
        Pumped by the greatest dose, with what drains back [length unit cubed].

    Returns
    -------
    tuple of SwitchLevel
        ``pump cover`` and ``inlet`` only where they are entered.
    """
    found: list[SwitchLevel] = []

    def add(name: str, least: float | None, why: str) -> float | None:
        found.append(SwitchLevel(name, entered.get(name), least, why))
        return found[-1].height

    def over(below: float | None) -> float | None:
        """The height at which a dose stands over a level; None where the tank is full before."""
        if below is None:
            return None
        volume = shape.volume(below) + dose
        return None if volume > shape.volume(shape.height) else shape.depth_of(volume)

    cover = entered.get("pump cover")
    if cover is not None:
        add("pump cover", None, "as the pump's own sheet says")
    off = add("off", cover, "the pump stays covered" if cover is not None else "")
    on = add("on", over(off), "a dose, with what drains back, over off")
    override = add("override", over(on), "one more dose that waits its turn, over on")
    alarm = add("alarm", override, "no lower than override")
    if inlet is not None:
        found.append(SwitchLevel("inlet", inlet, alarm, "no lower than alarm"))
    return tuple(found)


def draw_down(shape: TankShape, on: float, dose: float) -> float | None:
    """How far a dose draws a tank down from a level; None where less water than that is below.

    Parameters
    ----------
    shape : TankShape
    on : float
        Height of the water as the dose begins [length].
    dose : float
        [length unit cubed]

    Returns
    -------
    float or None
        [length]
    """
    left = shape.volume(on) - dose
    return None if left < 0.0 else min(on, shape.height) - shape.depth_of(left)
