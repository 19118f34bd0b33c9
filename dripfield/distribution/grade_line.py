"""The way of the water from pump to tank through the worst emitter, with its head in each state."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.hydraulics.build import DOSE, FLUSH
from dripfield.hydraulics.network import Network
from dripfield.hydraulics.simulate import Simulation
from dripfield.hydraulics.state import ZoneState

PARTS = ("supply", "feed", "tubing", "collect", "return")
"""Roles of the parts of the way, in order."""


@dataclass(frozen=True)
class GradeLine:
    """The worst way of a field.

    Attributes
    ----------
    zone, joined : str
        The joined lateral with the least pressure while dosing, or while flushing where only that
        is solved.
    xyz : (k, 3) float array
        Nodes along the way [site unit].
    station : (k,) float array
        Distance from the pump in plan [site unit].
    part : tuple of str
        Role of the pipe that leads to each node; the first has that of the second.
    head : dict of str to (k,) float array
        By state: elevation and pressure head at each node [site unit].
    level : float
        Of the water in the tank [site unit].
    """

    zone: str
    joined: str
    xyz: Floats
    station: Floats
    part: tuple[str, ...]
    head: dict[str, Floats]
    level: float


def grade_line(simulation: Simulation) -> GradeLine | None:
    """Follow the water through the joined lateral with the least pressure.

    Returns
    -------
    GradeLine or None
        None where no state is solved.
    """
    states = [simulation.get(zone.name, DOSE) for zone in simulation.plan.zones]
    found = [state for state in states if state is not None]
    if not found:
        flushed = [simulation.get(zone.name, FLUSH) for zone in simulation.plan.zones]
        found = [state for state in flushed if state is not None]
    if not found:
        return None
    worst = min(found, key=lambda state: float(state.pressure.min()))
    network = worst.network
    lateral = int(network.owner[int(np.argmin(worst.pressure))])
    nodes, parts = _way(network, lateral)
    heads = {}
    for name in (DOSE, FLUSH):
        state = simulation.get(worst.zone, name)
        if isinstance(state, ZoneState):
            heads[name] = state.solution.head[nodes]
    xyz = network.xyz[nodes]
    step = np.hypot(*np.diff(xyz[:, :2], axis=0).T)
    return GradeLine(
        worst.zone,
        network.joined[lateral],
        xyz,
        np.concatenate(([0.0], np.cumsum(step))),
        (parts[0], *parts),
        heads,
        float(network.xyz[network.pump[0], 2]),
    )


def _way(network: Network, lateral: int) -> tuple[list[int], list[str]]:
    """Nodes from the supply's first to the return's last, and the role of each pipe between."""
    pipes = network.pipes
    tubing = pipes.of("tubing")
    inside = tubing[pipes.part[tubing] == lateral]
    first, last = int(pipes.ends[inside[0], 0]), int(pipes.ends[inside[-1], 1])
    start = network.other[1] if network.other else network.pump[1]
    before = _path(network, start, first, ("supply", "feed"))
    nodes = [start, *(node for node, _ in before)]
    roles = [role for _, role in before]
    for pipe in inside.tolist():
        nodes.append(int(pipes.ends[pipe, 1]))
        roles.append("tubing")
    if network.throttle is not None:
        after = _path(network, last, network.throttle[0], ("collect", "return"))
        nodes += [node for node, _ in after]
        roles += [role for _, role in after]
    return nodes, roles


def _path(network: Network, start: int, end: int, roles: tuple[str, ...]) -> list[tuple[int, str]]:
    """The way through pipes of some roles, each node with the role of the pipe that leads to it."""
    pipes = network.pipes
    ways: dict[int, list[tuple[int, str]]] = {}
    for pipe in pipes.of(*roles).tolist():
        a, b = (int(one) for one in pipes.ends[pipe])
        ways.setdefault(a, []).append((b, pipes.role[pipe]))
        ways.setdefault(b, []).append((a, pipes.role[pipe]))
    came: dict[int, tuple[int, str]] = {start: (-1, "")}
    queue = [start]
    while queue and end not in came:
        node = queue.pop(0)
        for other, role in ways.get(node, ()):
            if other not in came:
                came[other] = (node, role)
                queue.append(other)
    found: list[tuple[int, str]] = []
    node = end
    while node != start and node in came:
        found.append((node, came[node][1]))
        node = came[node][0]
    return found[::-1]
