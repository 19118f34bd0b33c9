"""What a zone should read when it is started up."""

from __future__ import annotations

from dataclasses import dataclass

from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.simulate import Simulation

BAND = 0.10
"""Share either way within which a reading is as expected: common practice, no source."""


@dataclass(frozen=True)
class Expected:
    """A reading with its band.

    Attributes
    ----------
    zone, state : str
    what : str
        ``flow`` or ``pressure``.
    where : str
        ``meter``, ``pump``, or the end of a joined lateral.
    value, least, most : float
    unit : str
    """

    zone: str
    state: str
    what: str
    where: str
    value: float
    least: float
    most: float
    unit: str


def expected_readings(simulation: Simulation, band: float = BAND) -> list[Expected]:
    """Flow of every zone at dose and flush, and pressures at its test points.

    Test points are the pump, and supply end and far end of the joined laterals that are topmost,
    lowest, and of the least pressure.

    Returns
    -------
    list of Expected
        Only of the states that have been solved.
    """
    figures = simulation.figures
    found = []
    for state in simulation.solved:
        zone = next(zone for zone in simulation.plan.zones if zone.name == state.zone)
        height = [float(lateral.supply_end[2]) for lateral in zone.joined]
        least = min(range(len(height)), key=lambda k: state.laterals[k].pressure_least)
        points = sorted({height.index(max(height)), height.index(min(height)), least})
        found.append(_expected(state.zone, state.state, "flow", "meter", state.flow, band, figures))
        pump = state.head * figures.q.pressures
        found.append(_expected(state.zone, state.state, "pressure", "pump", pump, band, figures))
        for k in points:
            one = state.laterals[k]
            for where, value in (("supply end", one.pressure_in), ("far end", one.pressure_out)):
                found.append(
                    _expected(
                        state.zone, state.state, "pressure", f"{one.joined} {where}", value, band,
                        figures,
                    )
                )  # fmt: skip
    return found


def _expected(
    zone: str, state: str, what: str, where: str, value: float, band: float, figures: Figures
) -> Expected:
    unit = figures.q.flow if what == "flow" else figures.q.pressure
    return Expected(
        zone, state, what, where, value, value * (1.0 - band), value * (1.0 + band), unit
    )
