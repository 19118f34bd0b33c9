"""Figures of the user's own tubing, emitters, pump and design, in the units of the site.

A figure that may be left out is None: what needs it is then not proven, and the key is named.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.hydraulics.quantities import Quantities, quantities

LEAST_EXPONENT = 0.05
"""Emitters of a smaller exponent than this, but 0, are not solved: the solver fails on them."""

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class EmitterFigures:
    """The emitters of the tubing.

    Attributes
    ----------
    spacing : float
        Along the tubing [length].
    flow : float
        Of one emitter [gal/h or L/h].
    pressure_least, pressure_most : float or None
        The range in which it keeps its flow [psi or kPa].
    exponent : float
        0: pressure-compensating; else q = flow (p / pressure_nominal)^exponent.
    pressure_nominal : float or None
        [psi or kPa].
    variation : float or None
        The maker's coefficient of variation, a fraction.
    loss : float
        Head lost at each in-line emitter [velocity heads].
    """

    spacing: float
    flow: float
    pressure_least: float | None = None
    pressure_most: float | None = None
    exponent: float = 0.0
    pressure_nominal: float | None = None
    variation: float | None = None
    loss: float = 0.0

    def __post_init__(self) -> None:
        """Refuse figures that cannot be true of an emitter."""
        for key in ("spacing", "flow"):
            _positive(getattr(self, key), f"[emitters] {key}")
        for key in ("pressure_least", "pressure_most", "pressure_nominal"):
            if getattr(self, key) is not None:
                _positive(getattr(self, key), f"[emitters] {key}")
        least, most = self.pressure_least, self.pressure_most
        if least is not None and most is not None and least > most:
            raise input_error(
                f"{least:g} is above pressure_most, {most:g}",
                "give the range from its least to its greatest pressure",
                field="[emitters] pressure_least",
            )
        if not (self.exponent == 0.0 or LEAST_EXPONENT <= self.exponent <= 1.0):
            raise input_error(
                f"exponent is {self.exponent:g}",
                f"give 0 for pressure-compensating, or {LEAST_EXPONENT:g} to 1",
                field="[emitters] exponent",
            )
        if self.exponent and self.pressure_nominal is None:
            raise input_error(
                f"exponent is {self.exponent:g} and pressure_nominal is missing",
                "give the pressure at which the emitter has its flow; it is on the tubing's sheet",
                field="[emitters] pressure_nominal",
            )
        if self.loss < 0.0 or (self.variation is not None and not 0.0 <= self.variation < 1.0):
            raise input_error(
                "loss or variation is out of range",
                "give a loss of 0 or more and a variation of 0 to 1",
                field="[emitters]",
            )

    @property
    def compensating(self) -> bool:
        """True where the flow does not depend on pressure in the range."""
        return self.exponent == 0.0


@dataclass(frozen=True)
class TubingFigures:
    """The tubing.

    Attributes
    ----------
    bore : float
        Inside diameter [in or mm].
    roughness : float or None
        Height of roughness [in or mm]; None: that of smooth plastic, 0.00006 in (0.0015 mm).
    pressure_rating : float or None
        Greatest pressure that tubing and fittings stand [psi or kPa].
    """

    bore: float
    roughness: float | None = None
    pressure_rating: float | None = None

    def __post_init__(self) -> None:
        """Refuse a bore or a roughness that cannot be."""
        _positive(self.bore, "[tubing] bore")
        if self.roughness is not None and not 0.0 <= self.roughness < 0.05 * self.bore:
            raise input_error(
                f"roughness is {self.roughness:g} at a bore of {self.bore:g}",
                "give the height of the roughness, less than a twentieth of the bore",
                field="[tubing] roughness",
            )
        if self.pressure_rating is not None:
            _positive(self.pressure_rating, "[tubing] pressure_rating")


@dataclass(frozen=True)
class PumpFigures:
    """The pump and what stands beside it.

    Attributes
    ----------
    curve : tuple of (float, float)
        Flow and head, straight between the points [gal/min, ft or L/min, m].
    level : float
        Elevation of the water when the pump stops [length].
    other_loss : tuple of (float, float) or None
        Filter, valve and regulator together: flow and head lost, straight between the points and
        from 0, 0; empty for none, None where not told.
    """

    curve: Points
    level: float
    other_loss: Points | None = None

    def __post_init__(self) -> None:
        """Refuse curves that go the wrong way."""
        key = "[pump] curve"
        curve = _points(self.curve, key)
        if len(curve) < 2:
            raise input_error("it has one point", "give two points or more of the curve", field=key)
        rising = np.flatnonzero(np.diff(curve[:, 1]) > 0.0)
        if len(rising):
            at = rising[0]
            raise input_error(
                f"the head rises from {curve[at, 1]:g} to {curve[at + 1, 1]:g} between the flows "
                f"{curve[at, 0]:g} and {curve[at + 1, 0]:g}",
                "give flow and head of each point, in the order of flow, the head falling",
                field=key,
            )
        if curve[0, 1] <= 0.0:
            raise input_error("it has no head", "give the head at each flow", field=key)
        if self.other_loss:
            loss = _points(self.other_loss, "[pump] other_loss")
            if np.any(np.diff(loss[:, 1]) < 0.0) or (loss[0, 0] == 0.0 and loss[0, 1] > 0.0):
                raise input_error(
                    "the loss falls as the flow rises, or is there without a flow",
                    "give flow and head lost of each point, in the order of flow, from 0, 0",
                    field="[pump] other_loss",
                )

    def head(self, flow: float) -> float | None:
        """Head of the pump at a flow; None beyond the ends of its curve."""
        curve = np.asarray(self.curve)
        if not curve[0, 0] <= flow <= curve[-1, 0]:
            return None
        return float(np.interp(flow, curve[:, 0], curve[:, 1]))

    @property
    def loss_points(self) -> Points:
        """Points of ``other_loss`` from 0, 0 on; empty where there is none."""
        points = self.other_loss or ()
        return points if not points or points[0][0] == 0.0 else ((0.0, 0.0), *points)

    def loss(self, flow: float) -> float | None:
        """Head lost in filter, valve and regulator at a flow; None beyond the last point."""
        if not self.loss_points:
            return 0.0
        points = np.asarray(self.loss_points)
        return None if flow > points[-1, 0] else float(np.interp(flow, points[:, 0], points[:, 1]))


@dataclass(frozen=True)
class DesignFigures:
    """What the field is for, and what is asked of its zones.

    Attributes
    ----------
    daily_flow : float or None
        [US gal/day or L/day].
    loading_rate : float or None
        Of the soil [gal/ft2/day or L/m2/day].
    water_temperature : float or None
        [degF, or degC on a site in metres]; None: 50 degF (10 degC), and said so.
    flush_velocity : float or None
        At the far end of every joined lateral [length / s].
    most_flow : float or None
        Of a zone while dosing [gal/min or L/min].
    height : float or None
        Greatest difference of elevation of the emitters of a zone [length].
    longest : float or None
        Of a joined lateral, from supply to return [length].
    """

    daily_flow: float | None = None
    loading_rate: float | None = None
    water_temperature: float | None = None
    flush_velocity: float | None = None
    most_flow: float | None = None
    height: float | None = None
    longest: float | None = None

    def __post_init__(self) -> None:
        """Refuse figures that are not above zero."""
        for key, table in (
            ("daily_flow", "design"),
            ("loading_rate", "design"),
            ("flush_velocity", "zones"),
            ("most_flow", "zones"),
            ("height", "zones"),
            ("longest", "zones"),
        ):
            if getattr(self, key) is not None:
                _positive(getattr(self, key), f"[{table}] {key}")


@dataclass(frozen=True)
class Figures:
    """All figures that the simulation of a zone plan needs.

    Attributes
    ----------
    unit : Unit
        Of the site.
    emitters : EmitterFigures
    tubing : TubingFigures or None
    pump : PumpFigures or None
    design : DesignFigures
    """

    unit: Unit
    emitters: EmitterFigures
    tubing: TubingFigures | None = None
    pump: PumpFigures | None = None
    design: DesignFigures = field(default_factory=DesignFigures)

    def __post_init__(self) -> None:
        """Refuse water that is ice or steam."""
        if not 0.0 <= self.celsius <= 40.0:
            raise input_error(
                f"water_temperature is {self.design.water_temperature:g}",
                "give 32 to 104 degF, or 0 to 40 degC on a site in metres",
                field="[design] water_temperature",
            )

    @cached_property
    def q(self) -> Quantities:
        """The hydraulic units of the site."""
        return quantities(self.unit)

    @property
    def celsius(self) -> float:
        """Temperature of the water [degC]; 10 where none was given."""
        given = self.design.water_temperature
        if given is None:
            return 10.0
        return given if self.unit.is_metric else (given - 32.0) / 1.8

    @property
    def tubing_roughness(self) -> float:
        """Of the tubing [in or mm]."""
        given = self.tubing.roughness if self.tubing else None
        return self.pipe_roughness if given is None else given

    @property
    def pipe_roughness(self) -> float:
        """Of plastic pipe, drawn smooth: 0.0015 mm, common practice [in or mm]."""
        return 0.0015 if self.unit.is_metric else 0.00006

    @property
    def emitter_flow(self) -> float:
        """Rated flow of one emitter, in the unit of a zone's flow [gal/min or L/min]."""
        return self.emitters.flow / 60.0


def _positive(value: float, key: str) -> None:
    """Refuse a figure that is not above zero."""
    if not (np.isfinite(value) and value > 0.0):
        raise input_error(f"it is {value:g}", "give a number above zero", field=key)


def _points(points: Points, key: str) -> Floats:
    """Points of a curve as an array, (k, 2), refused where flows do not grow."""
    curve = np.asarray(points, dtype=np.float64)
    if curve.ndim != 2 or curve.shape[1:] != (2,):
        raise input_error("it is not a list of pairs", "give [flow, head] of each point", field=key)
    if not np.all(np.isfinite(curve)) or curve.min() < 0.0:
        raise input_error("a number is below zero", "give flows and heads of 0 or more", field=key)
    if np.any(np.diff(curve[:, 0]) <= 0.0):
        at = np.flatnonzero(np.diff(curve[:, 0]) <= 0.0)[0]
        raise input_error(
            f"the flow {curve[at + 1, 0]:g} stands after {curve[at, 0]:g}",
            "give the points in the order of flow, each flow once",
            field=key,
        )
    return curve
