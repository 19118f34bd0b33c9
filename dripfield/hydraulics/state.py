"""What a solved zone tells: joined laterals, pipes, emitters and the duty of the pump."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import NotSolved
from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.inp import required_pressure
from dripfield.hydraulics.network import PUMP, THROTTLE, Network
from dripfield.hydraulics.solver import Solution

_BALANCE = 0.01  # of an emitter's rated flow: further off than this the solution is not believed
_STILL = 1e-6  # of the pressure unit: a pressure this little below zero is zero


@dataclass(frozen=True)
class LateralState:
    """A joined lateral in one state.

    Attributes
    ----------
    joined : str
    flow_in, flow_out : float
        From the supply manifold, and into the return manifold; negative the other way
        [gal/min or L/min].
    pressure_in, pressure_out : float
        At the supply end and at the return end [psi or kPa].
    pressure_least, pressure_most : float
        Over the emitters [psi or kPa].
    velocity_out : float
        Size of the velocity at the return end [length / s].
    emitter_least, emitter_most : float
        [gal/h or L/h].
    """

    joined: str
    flow_in: float
    flow_out: float
    pressure_in: float
    pressure_out: float
    pressure_least: float
    pressure_most: float
    velocity_out: float
    emitter_least: float
    emitter_most: float


@dataclass(frozen=True)
class PipeState:
    """A pipe of the lines or manifolds, or the tubing of a joined lateral, in one state.

    Attributes
    ----------
    name, role, size : str
    bore : float
        [in or mm].
    flow, velocity : float
        Greatest along it, by size [gal/min or L/min, length / s].
    head_lost : float
        From its first to its last node [length].
    """

    name: str
    role: str
    size: str
    bore: float
    flow: float
    velocity: float
    head_lost: float


@dataclass(frozen=True)
class ZoneState:
    """A zone in one state, solved.

    Attributes
    ----------
    zone, state : str
    network : Network
    solution : Solution
    text : str
        The network file that was solved.
    laterals : tuple of LateralState
    pipes : tuple of PipeState
    flow, head : float
        The duty of the pump [gal/min or L/min, length].
    other_loss : float
        Head taken by filter, valve and regulator [length].
    throttle : float
        Head taken by the throttle at the return's end [length].
    emission : (k,) float array
        Of each emitter of the network [gal/h or L/h].
    pressure : (k,) float array
        At each emitter [psi or kPa].
    faults : tuple of str
        What makes the state unfit: pressure below that of the air, and where.
    """

    zone: str
    state: str
    network: Network
    solution: Solution
    text: str
    laterals: tuple[LateralState, ...]
    pipes: tuple[PipeState, ...]
    flow: float
    head: float
    other_loss: float
    throttle: float
    emission: Floats
    pressure: Floats
    faults: tuple[str, ...]

    def where(self, emitter: int) -> str:
        """Say where an emitter is: joined lateral, lateral, count along the joined lateral."""
        network = self.network
        owner = int(network.owner[emitter])
        count = int(np.count_nonzero(network.owner[:emitter] == owner)) + 1
        return f"{network.joined[owner]}, {network.laterals[emitter]}, emitter {count} from supply"


@dataclass(frozen=True)
class Unsolved:
    """A zone in one state for which there is no number.

    Attributes
    ----------
    zone, state : str
    verdict : {"fail", "not proven"}
    reason : str
        What failed, or which keys are missing.
    text : str
        The network file, where one could be put together; else empty.
    """

    zone: str
    state: str
    verdict: Literal["fail", "not proven"]
    reason: str
    text: str = ""


def emission_law(pressure: Floats, rated: Floats, figures: Figures) -> Floats:
    """What emitters give at a pressure.

    Parameters
    ----------
    pressure : (k,) float array
        [psi or kPa].
    rated : (k,) float array
        Their rated flow, any unit.
    figures : Figures

    Returns
    -------
    (k,) float array
        In the unit of ``rated``. Compensating emitters give their flow from the least pressure on,
        and the square root of the share of it below; none draws in below the pressure of the air.
    """
    up = np.maximum(pressure, 0.0)
    emitters = figures.emitters
    if emitters.compensating:
        return np.asarray(rated * np.sqrt(np.minimum(up / required_pressure(figures), 1.0)))
    return np.asarray(rated * (up / (emitters.pressure_nominal or 1.0)) ** emitters.exponent)


def read_state(
    network: Network, solution: Solution, text: str, figures: Figures, names: dict[str, list[str]]
) -> ZoneState:
    """Turn what the solver found into figures of the zone.

    Parameters
    ----------
    network : Network
    solution : Solution
    text : str
        The network file that was solved.
    figures : Figures
    names : dict of str to list of str
        Name and size of each pipe of a role, a tab between.

    Returns
    -------
    ZoneState
        Emission by the emitters' own law at the pressures found, so that a flow in range is the
        rated one; flows into joined laterals and of the pump are made up from it.

    Raises
    ------
    NotSolved
        The flows that the solver found do not balance with the emitters' law or the pump's curve.
    """
    q, flow, pressure = figures.q, solution.flow, solution.pressure
    at = pressure[network.emitters]
    emission = emission_law(at, network.rated, figures)
    _check_balance(network, solution, emission, figures)
    out = flow[network.last]
    count = len(network.joined)
    if network.throttle is None or network.setting is None:
        out = out - out.sum() / count  # the solver lets a trace through what is shut
    given = np.bincount(network.owner, weights=emission, minlength=count)
    ends = network.pipes.ends
    spilt = _spilt(network, flow)
    start, end = ends[network.first, 0], ends[network.last, 1]
    velocity = np.abs(q.velocity_of(out, network.pipes.bore[network.last]))
    laterals = []
    for j, name in enumerate(network.joined):
        mine = network.owner == j
        p, e = at[mine], emission[mine] * 60.0
        laterals.append(
            LateralState(
                name,
                float(given[j] + spilt[j] + out[j]),
                float(out[j]),
                float(pressure[start[j]]),
                float(pressure[end[j]]),
                float(p.min()) if len(p) else float("nan"),
                float(p.max()) if len(p) else float("nan"),
                float(velocity[j]),
                float(e.min()) if len(e) else float("nan"),
                float(e.max()) if len(e) else float("nan"),
            )
        )
    head = solution.head
    returned = taken = other = 0.0
    if network.throttle and network.setting is not None:
        returned = float(flow[network.link(THROTTLE)])
        taken = float(head[network.throttle[0]] - head[network.throttle[1]])
    if network.other:
        other = float(head[network.other[0]] - head[network.other[1]])
    duty = float(given.sum() + spilt.sum() + returned)
    return ZoneState(
        zone=network.zone,
        state=network.state,
        network=network,
        solution=solution,
        text=text,
        laterals=tuple(laterals),
        pipes=tuple(_pipes(network, solution, figures, names)),
        flow=duty,
        head=_pump_head(network, solution, duty),
        other_loss=other,
        throttle=taken,
        emission=emission * 60.0,
        pressure=at,
        faults=tuple(_faults(network, pressure, figures)),
    )


def _check_balance(
    network: Network, solution: Solution, emission: Floats, figures: Figures
) -> None:
    """Flows must balance at every junction with the emitters' law, and meet the pump's curve."""
    flow, pipes = solution.flow.copy(), network.pipes
    flow[: len(pipes.ids)][pipes.shut] = 0.0  # the solver lets a trace through what is shut
    if network.throttle and network.setting is None:
        flow[network.link(THROTTLE)] = 0.0
    net = np.zeros(len(network.ids))
    ends = [pipes.ends.T, np.asarray(network.pump).reshape(2, 1)]
    ends += [np.asarray(pair).reshape(2, 1) for pair in (network.other, network.throttle) if pair]
    a, b = np.hstack(ends)
    np.add.at(net, b, flow)
    np.add.at(net, a, -flow)
    net[network.emitters] -= emission
    off = np.abs(net[: network.junctions])
    # a pressure-driven demand of the solver gives more than its flow by some 1e-9 ft3/s for each
    # foot of head (found by trying): 1e-9 of a cubic length a second for each unit of head
    head = np.maximum(solution.pressure[: network.junctions], 0.0) / figures.q.pressures
    per_head = 1e-9 * (0.3048**2 if figures.q.metric else 1.0) * figures.q.volumes * 60.0
    allowed = _BALANCE * figures.emitter_flow + 1.2 * per_head * head
    # where pipes of no resistance meet, or one is shut, it leaves a trace of some 1e-6 ft3/s
    trace = 4e-6 * (0.3048**3 if figures.q.metric else 1.0) * figures.q.volumes * 60.0
    plain = np.ones(network.junctions, dtype=bool)
    plain[network.emitters] = False
    allowed[plain] += trace
    worst = int(np.argmax(off - allowed))
    if off[worst] > allowed[worst]:
        raise NotSolved(
            f"the solver did not converge: flows do not balance at {network.ids[worst]}"
        )


def _spilt(network: Network, flow: Floats) -> Floats:
    """What runs out of each joined lateral where it is cut and open to the air, (j,)."""
    tubing = network.pipes.of("tubing")
    ends = network.pipes.ends[tubing]
    out = np.where(ends[:, 1] >= network.junctions, flow[tubing], 0.0)
    out -= np.where(ends[:, 0] >= network.junctions, flow[tubing], 0.0)
    parts = network.pipes.part[tubing]
    count = len(network.joined)
    return np.bincount(parts, weights=out, minlength=count).astype(np.float64)


def _pump_head(network: Network, solution: Solution, duty: float) -> float:
    """Head of the pump at its duty; what the solver found must lie on the curve too."""
    curve = np.asarray(network.curve)
    tank, outlet = network.pump
    found = float(solution.head[outlet] - solution.head[tank])
    flow = float(solution.flow[network.link(PUMP)])
    if curve[0, 0] <= flow <= curve[-1, 0]:
        on = float(np.interp(flow, *curve.T))
        if abs(on - found) > 1e-3 * max(curve[0, 1], found):
            raise NotSolved("the solver did not converge: the pump is off its curve")
    return float(np.interp(duty, *curve.T)) if curve[0, 0] <= duty <= curve[-1, 0] else found


def _pipes(
    network: Network, solution: Solution, figures: Figures, names: dict[str, list[str]]
) -> list[PipeState]:
    """Flow, velocity and loss of every pipe of the lines and manifolds and of all tubing."""
    pipes = network.pipes
    flow = np.abs(solution.flow[: len(pipes.ids)])
    velocity = np.abs(figures.q.velocity_of(flow, pipes.bore))
    lost = solution.head[pipes.ends[:, 0]] - solution.head[pipes.ends[:, 1]]
    states = []
    for role in ("supply", "feed", "tubing", "collect", "return"):
        of_role = pipes.of(role)
        for part in np.unique(pipes.part[of_role]):
            mine: Ints = of_role[pipes.part[of_role] == part]
            known = names.get(role, [])
            name, _, size = (
                known[part] if part < len(known) else pipes.ids[int(mine[0])]
            ).partition("\t")
            states.append(
                PipeState(
                    name, role, size, float(pipes.bore[mine[0]]), float(flow[mine].max()),
                    float(velocity[mine].max()), float(lost[mine].sum()),
                )
            )  # fmt: skip
    return states


def _faults(network: Network, pressure: Floats, figures: Figures) -> list[str]:
    """Where the pressure is below that of the air, worst first, one line."""
    joints = pressure[: network.junctions]
    if joints.min() >= -_STILL:
        return []
    worst = int(np.argmin(joints))
    below = int(np.count_nonzero(joints < -_STILL))
    return [
        f"pressure below that of the air at {below} places, worst {joints[worst]:.2f} "
        f"{figures.q.pressure} at {network.ids[worst]}"
    ]
