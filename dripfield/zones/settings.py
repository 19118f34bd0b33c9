"""What the zones are made with: tubing, emitters and limits, in the site's unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dripfield.core.units import Unit
from dripfield.zones.pipes import PipeSize

GALLON = 0.003785411784  # cubic metres, exactly: 231 cubic inches
Feed = Literal["left", "right"]
Place = Literal["top", "centre", "bottom"]


@dataclass(frozen=True)
class ZoneSettings:
    """Everything that joining, zones and manifolds are decided by.

    Lengths are in the site's unit, velocities in it per second, flows in its cube per second.

    Attributes
    ----------
    unit : Unit
    spacing, clearance : float
        Of the laterals, on centre, and from the bed's edge and keepouts to a lateral.
    longest : float
        Of a joined lateral from supply to return, blank tubing included.
    flush_velocity : float
        At the far end of every joined lateral.
    bore : float
        Of the tubing.
    emitter_spacing, emitter_flow : float
    count : int or None
        Of zones; None: chosen.
    most_flow, height : float or None
        Of a zone: dosing flow, and difference of elevation of its laterals; None: no limit.
    most_joined : int or None
        Of joined laterals in a zone; None: no limit.
    feed : {"left", "right"} or None
        Side of the panels that the supply lies on, looking down the slope; None: chosen.
    feed_at : {"top", "centre", "bottom"}
        Where a zone's manifolds are met when the site gives no route.
    manifold : PipeSize or None
        None: sized.
    velocity_most : float
        In a manifold while flushing; common practice, no source.
    viscosity : float
        Kinematic, of the water [site unit squared per second].
    roughness : float
        Of the tubing.
    """

    unit: Unit
    spacing: float
    clearance: float
    longest: float
    flush_velocity: float
    bore: float
    emitter_spacing: float
    emitter_flow: float
    count: int | None = None
    most_flow: float | None = None
    height: float | None = None
    most_joined: int | None = None
    feed: Feed | None = None
    feed_at: Place = "top"
    manifold: PipeSize | None = None
    velocity_most: float = 0.0
    viscosity: float = 0.0
    roughness: float = 0.0

    def __post_init__(self) -> None:
        """Fill in the round or physical value where 0 was given."""
        size = self.unit.metres
        if not self.velocity_most:
            object.__setattr__(self, "velocity_most", self.unit.default(5.0, 1.5))
        if not self.viscosity:  # water at 10 degC, 1.307e-6 m2/s (handbook value, from memory)
            object.__setattr__(self, "viscosity", 1.307e-6 / size**2)

    @property
    def gravity(self) -> float:
        """Standard gravity [site unit per second squared]."""
        return 9.80665 / self.unit.metres

    @property
    def flush_flow(self) -> float:
        """Flow at a far end with the flush velocity [site unit cubed per second]."""
        return self.flush_velocity * 0.25 * 3.141592653589793 * self.bore**2


def flow_from(unit: Unit, amount: float, per: Literal["minute", "hour"]) -> float:
    """Convert a flow as entered into the site's unit cubed per second.

    Parameters
    ----------
    unit : Unit
        Of the site.
    amount : float
        US gallons (litres on a site in metres) in that time.
    per : {"minute", "hour"}

    Returns
    -------
    float
        [site unit cubed per second]
    """
    volume = 0.001 if unit.is_metric else GALLON
    return amount * volume / unit.metres**3 / (60.0 if per == "minute" else 3600.0)


def flow_to(unit: Unit, flow: float, per: Literal["minute", "hour"]) -> float:
    """Convert a flow in the site's unit cubed per second into gallons or litres.

    Parameters
    ----------
    unit : Unit
        Of the site.
    flow : float
        [site unit cubed per second]
    per : {"minute", "hour"}

    Returns
    -------
    float
        US gallons (litres on a site in metres) in that time.
    """
    return flow / flow_from(unit, 1.0, per)


def bore_from(unit: Unit, bore: float) -> float:
    """Convert a bore as entered into the site's unit [in or mm -> site unit]."""
    return bore * (0.001 if unit.is_metric else 0.0254) / unit.metres
