"""The hydraulic units that go with a site's unit of length, and the water's viscosity.

A site in feet (either foot) counts bores in inches, pressures in psi, heads in feet, flows of a
zone in gal/min and of an emitter in gal/h; a site in metres in mm, kPa, m, L/min and L/h. Inside
one site nothing is converted from one of the two to the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.units import Unit

_PSI_PER_FOOT = 0.4333  # of EPANET, so that a network read back gives the same pressures
_KPA_PER_PSI = 6.895  # of EPANET
_EPANET_VISCOSITY = 1.1e-5 * 0.3048**2  # kinematic, of EPANET's water at 20 degC [m2/s]


@dataclass(frozen=True)
class Quantities:
    """Names and factors of the hydraulic units of a site.

    Attributes
    ----------
    length, bore, pressure, head, flow, emitter_flow, velocity, volume, area, loading : str
        Unit names as written beside a figure.
    bores : float
        Bore units in a unit of length (12 or 1000).
    pressures : float
        Pressure units in a unit of head.
    volumes : float
        Volume units in a cubic unit of length (US gal in ft3, L in m3).
    gravity : float
        [length / s2].
    metric : bool
    """

    length: str
    bore: str
    pressure: str
    head: str
    flow: str
    emitter_flow: str
    velocity: str
    volume: str
    area: str
    loading: str
    bores: float
    pressures: float
    volumes: float
    gravity: float
    metric: bool

    def section(self, bore: float | Floats) -> float | Floats:
        """Area of a round section of a given bore [bore unit -> length unit squared]."""
        return np.pi / 4.0 * (np.asarray(bore) / self.bores) ** 2

    def velocity_of(self, flow: float | Floats, bore: float | Floats) -> Floats:
        """Mean velocity of a flow in a bore [flow unit, bore unit -> length unit / s]."""
        return np.asarray(flow) / self.volumes / 60.0 / self.section(bore)

    def flow_at(self, velocity: float, bore: float) -> float:
        """Flow of a mean velocity in a bore [length unit / s, bore unit -> flow unit]."""
        return float(velocity * self.section(bore) * self.volumes * 60.0)

    def volume_of(self, length: float | Floats, bore: float | Floats) -> Floats:
        """Content of pipe, full [length unit, bore unit -> volume unit]."""
        return np.asarray(length * self.section(bore) * self.volumes)


_US = Quantities(
    "ft", "in", "psi", "ft", "gal/min", "gal/h", "ft/s", "gal", "ft2", "gal/ft2/day",
    12.0, _PSI_PER_FOOT, 1728.0 / 231.0, 32.174, False,
)  # fmt: skip
_SI = Quantities(
    "m", "mm", "kPa", "m", "L/min", "L/h", "m/s", "L", "m2", "L/m2/day",
    1000.0, _PSI_PER_FOOT * _KPA_PER_PSI / 0.3048, 1000.0, 9.80665, True,
)  # fmt: skip


def quantities(unit: Unit) -> Quantities:
    """The hydraulic units of a site's unit of length (a US gallon is 231 cubic inches)."""
    return _SI if unit.is_metric else _US


def viscosity(celsius: float) -> float:
    """Kinematic viscosity of water at atmospheric pressure, 0 to 40 degC [degC -> m2/s].

    Dynamic viscosity by Kestin, Sokolov and Wakeham, J. Phys. Chem. Ref. Data 7 (1978), density by
    McCutcheon, Martin and Barnwell (1993), both from memory; the tests hold it to a printed table.
    """
    below = 20.0 - celsius
    power = below / (celsius + 96.0) * (1.2364 - 1.37e-3 * below + 5.7e-6 * below**2)
    dynamic = 1.002e-3 * 10.0**power
    density = 1000.0 * (
        1.0 - (celsius + 288.9414) * (celsius - 3.9863) ** 2 / (508929.2 * (celsius + 68.12963))
    )
    return float(dynamic / density)


def relative_viscosity(celsius: float) -> float:
    """Viscosity beside that which EPANET takes for water at 20 degC (1.1e-5 ft2/s), a factor."""
    return viscosity(celsius) / _EPANET_VISCOSITY
