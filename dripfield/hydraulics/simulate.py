"""A zone plan solved: every zone while dosing and while flushing."""

from __future__ import annotations

from dataclasses import dataclass

from dripfield.core.errors import NotSolved
from dripfield.hydraulics.build import DOSE, FLUSH, build, missing
from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.inp import inp_text
from dripfield.hydraulics.network import Network
from dripfield.hydraulics.solver import solve
from dripfield.hydraulics.state import Unsolved, ZoneState, read_state
from dripfield.hydraulics.throttle import throttled
from dripfield.zones.model import Manifold, Pipe, Zone, ZonePlan

STATES = (DOSE, FLUSH)


@dataclass(frozen=True)
class Simulation:
    """Every zone of a plan in every state.

    Attributes
    ----------
    plan : ZonePlan
    figures : Figures
    states : dict of (str, str) to ZoneState or Unsolved
        By zone and state, ``dose`` before ``flush``.
    """

    plan: ZonePlan
    figures: Figures
    states: dict[tuple[str, str], ZoneState | Unsolved]

    @property
    def solved(self) -> list[ZoneState]:
        """The states that have numbers, in order."""
        return [state for state in self.states.values() if isinstance(state, ZoneState)]

    @property
    def unsolved(self) -> list[Unsolved]:
        """The states that have none, in order."""
        return [state for state in self.states.values() if isinstance(state, Unsolved)]

    def get(self, zone: str, state: str) -> ZoneState | None:
        """A zone's state; None where it has no numbers."""
        found = self.states[zone, state]
        return found if isinstance(found, ZoneState) else None

    @property
    def networks(self) -> dict[str, str]:
        """Text of each network file by its name, ``ZONE_STATE.inp``."""
        return {
            f"{zone}_{state}.inp": found.text
            for (zone, state), found in self.states.items()
            if found.text
        }


def simulate(plan: ZonePlan, figures: Figures) -> Simulation:
    """Solve every zone of a plan while it is dosed and while it is flushed.

    Returns
    -------
    Simulation
        What cannot be solved is told with its reason, never with a number.
    """
    return Simulation(
        plan,
        figures,
        {
            (zone.name, state): simulate_zone(plan, zone, figures, state)
            for zone in plan.zones
            for state in STATES
        },
    )


def simulate_zone(plan: ZonePlan, zone: Zone, figures: Figures, state: str) -> ZoneState | Unsolved:
    """Solve one zone in one state.

    Parameters
    ----------
    plan : ZonePlan
    zone : Zone
        One of its zones.
    figures : Figures
    state : {"dose", "flush"}

    Returns
    -------
    ZoneState or Unsolved
    """
    lacks = missing(plan, zone, figures, state)
    if lacks:
        return Unsolved(zone.name, state, "not proven", "missing: " + ", ".join(lacks))
    return solve_network(build(plan, zone, figures, state), figures, pipe_names(plan, zone))


def solve_network(
    network: Network,
    figures: Figures,
    names: dict[str, list[str]] | None = None,
    *,
    fixed: bool = False,
) -> ZoneState | Unsolved:
    """Solve a network that has been put together.

    Parameters
    ----------
    network : Network
        The throttle of a flush is set here, unless ``fixed``.
    figures : Figures
    names : dict of str to list of str, optional
        Of its pipes, as :func:`pipe_names` gives them.
    fixed : bool
        Leave the throttle as it is set.

    Returns
    -------
    ZoneState or Unsolved
        Unsolved with ``not proven`` where the pump or the other losses would work beyond the ends
        of their curves, with ``fail`` where the pump is too weak or the solver did not converge.
    """
    text = inp_text(network, figures)
    try:
        if network.state == FLUSH and not fixed:
            network, text, solution = throttled(network, figures)
        else:
            solution = solve(text)
        found = read_state(network, solution, text, figures, names or {})
    except NotSolved as problem:
        beyond = "beyond the last point" in str(problem)
        return Unsolved(
            network.zone, network.state, "not proven" if beyond else "fail", str(problem), text
        )
    reason = _beyond(found, figures)
    if reason:
        return Unsolved(network.zone, network.state, "not proven", reason, text)
    return found


def _beyond(found: ZoneState, figures: Figures) -> str:
    """Why the pump's point cannot be proven; empty where it can."""
    pump, unit = figures.pump, figures.q.flow
    if pump is None or pump.head(found.flow) is None:
        return f"the pump runs beyond the ends of its curve, at {found.flow:.2f} {unit}"
    if found.network.other and pump.loss(found.flow) is None:
        return f"the flow is beyond the last point of [pump] other_loss, at {found.flow:.2f} {unit}"
    return ""


def pipe_names(plan: ZonePlan, zone: Zone) -> dict[str, list[str]]:
    """Name and size (a tab between) of each pipe of each role of a zone's network."""

    def told(pipes: tuple[Pipe, ...]) -> list[str]:
        return [f"{pipe.name}\t{pipe.size}" for pipe in pipes]

    def of(manifold: Manifold | None) -> list[str]:
        return told(manifold.pipes) if manifold else []

    return {
        "supply": told(plan.supply),
        "feed": of(zone.supply),
        "tubing": [lateral.name for lateral in zone.joined],
        "collect": of(zone.return_),
        "return": told(plan.return_),
    }
