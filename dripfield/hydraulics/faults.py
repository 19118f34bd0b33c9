"""The same network with something wrong: what the meter and the gauges would read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from dripfield.hydraulics.build import DOSE
from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.network import Network, Pipes
from dripfield.hydraulics.simulate import solve_network
from dripfield.hydraulics.state import Unsolved, ZoneState

_BLOCKED_SHARE = 10  # every how manieth emitter is blocked
_FILTER_TIMES = 4.0  # a blocked filter and what stands with it takes this many times its loss


@dataclass(frozen=True)
class FaultReading:
    """What is read when something is wrong.

    Attributes
    ----------
    fault : str
    zone, state : str
    flow : float or None
        At the meter beside the pump [gal/min or L/min]; None where it cannot be told.
    change : float or None
        Of the flow, a share of what is expected.
    head : float or None
        Of the pump [length].
    pressure_in : float or None
        At the first joined lateral's supply end [psi or kPa].
    pressure_out : float or None
        At its return end [psi or kPa].
    note : str
    """

    fault: str
    zone: str
    state: str
    flow: float | None
    change: float | None
    head: float | None
    pressure_in: float | None
    pressure_out: float | None
    note: str = ""


def _shut(network: Network, pipe: int) -> Network:
    shut = network.pipes.shut.copy()
    shut[pipe] = True
    return replace(network, pipes=replace(network.pipes, shut=shut))


def lateral_shut(network: Network, lateral: int, *, both_ends: bool) -> Network:
    """The network with a joined lateral shut at its supply end, or at both ends.

    Parameters
    ----------
    network : Network
    lateral : int
        Number of the joined lateral.
    both_ends : bool

    Returns
    -------
    Network
        Shut at both ends its emitters give nothing.
    """
    changed = _shut(network, int(network.first[lateral]))
    if not both_ends:
        return changed
    changed = _shut(changed, int(network.last[lateral]))
    rated = network.rated.copy()
    rated[network.owner == lateral] = 0.0
    return replace(changed, rated=rated)


def emitters_blocked(network: Network, every: int = _BLOCKED_SHARE) -> Network:
    """The network with every so manieth emitter blocked."""
    rated = network.rated.copy()
    rated[every - 1 :: every] = 0.0
    return replace(network, rated=rated)


def filter_blocked(network: Network, times: float = _FILTER_TIMES) -> Network:
    """The network whose filter, valve and regulator take several times their head."""
    return replace(network, other_loss=tuple((q, h * times) for q, h in network.other_loss))


def line_cut(network: Network, lateral: int) -> Network:
    """The network with a joined lateral cut through halfway along.

    Parameters
    ----------
    network : Network
    lateral : int
        Number of the joined lateral.

    Returns
    -------
    Network
        The ends at the cut are open to the air: a node there is a reservoir at its own elevation.
        The emitter at the cut is lost.
    """
    mine = np.flatnonzero(network.owner == lateral)
    emitter = int(mine[len(mine) // 2])
    node = int(network.emitters[emitter])
    count = network.junctions
    order = np.concatenate(
        (np.delete(np.arange(count), node), [node], np.arange(count, len(network.ids)))
    )
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))

    def moved(pair: tuple[int, int]) -> tuple[int, int]:
        return int(place[pair[0]]), int(place[pair[1]])

    keep = np.arange(len(network.emitters)) != emitter
    pipes: Pipes = replace(network.pipes, ends=place[network.pipes.ends])
    return replace(
        network,
        ids=tuple(network.ids[k] for k in order.tolist()),
        xyz=network.xyz[order],
        junctions=count - 1,
        emitters=place[network.emitters[keep]],
        rated=network.rated[keep],
        owner=network.owner[keep],
        laterals=tuple(np.asarray(network.laterals, dtype=object)[keep].tolist()),
        pipes=pipes,
        pump=moved(network.pump),
        other=moved(network.other) if network.other else None,
        throttle=moved(network.throttle) if network.throttle else None,
    )


def find_faults(expected: ZoneState, figures: Figures) -> list[FaultReading]:
    """Try the usual faults on a zone that has been solved.

    Parameters
    ----------
    expected : ZoneState
        Of the sound zone; the throttle stays as it was set for that.
    figures : Figures

    Returns
    -------
    list of FaultReading
        The sound zone first. What cannot be told says why and has no numbers.
    """
    network = expected.network
    middle = len(network.joined) // 2
    name = network.joined[middle]
    tried: list[tuple[str, Callable[[], Network]]] = [
        (f"{name} cut through halfway along", lambda: line_cut(network, middle)),
        (
            f"{name} shut at its supply end",
            lambda: lateral_shut(network, middle, both_ends=False),
        ),
        (f"{name} shut at both ends", lambda: lateral_shut(network, middle, both_ends=True)),
        ("a tenth of the emitters blocked", lambda: emitters_blocked(network)),
    ]
    if network.other:
        tried.append(
            (f"filter blocked: its loss {_FILTER_TIMES:g} times", lambda: filter_blocked(network))
        )
    if expected.state != DOSE:
        tried.append(("throttle left wide open", lambda: replace(network, setting=0.0)))
    readings = [_reading("none", expected, expected)]
    for fault, change in tried:
        readings.append(_reading(fault, _again(change(), figures), expected))
    return readings


def _again(network: Network, figures: Figures) -> ZoneState | Unsolved:
    """Solve a changed network with its throttle as it stands."""
    return solve_network(network, figures, fixed=True)


def _reading(fault: str, found: ZoneState | Unsolved, expected: ZoneState) -> FaultReading:
    """What is read, beside what is expected."""
    zone, state = expected.zone, expected.state
    if isinstance(found, Unsolved):
        return FaultReading(fault, zone, state, None, None, None, None, None, found.reason)
    first = found.laterals[0]
    return FaultReading(
        fault, zone, state, found.flow, found.flow / expected.flow - 1.0, found.head,
        first.pressure_in, first.pressure_out, "; ".join(found.faults),
    )  # fmt: skip
