"""Elevation along the lines: what drains back, siphons, and the pressure at shut-off."""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.network import Network
from dripfield.hydraulics.times import elevations
from dripfield.zones.model import ZonePlan


def share_above(before: float, after: float, summit: float) -> tuple[float, float]:
    """Share of a straight stretch that drains over the highest summit between it and the tank.

    Parameters
    ----------
    before, after : float
        Elevations of its ends, the end nearer the tank first [length].
    summit : float
        The highest elevation on the way from its nearer end to the tank, the tank's inlet
        included [length].

    Returns
    -------
    tuple of float
        The share that drains, and the highest elevation beyond the stretch: water stands up to
        that in whatever comes after.
    """
    beyond = max(summit, before, after)
    if after <= max(summit, before):
        # it falls away from the tank, or stays below a summit
        return 0.0, beyond
    if before >= summit:
        return 1.0, beyond
    return (after - summit) / (after - before), beyond


def drain_back(network: Network, figures: Figures, inlet: float, *roles: str) -> float:
    """Volume that runs back to the tank from supply line and supply manifold after a dose.

    Parameters
    ----------
    network : Network
    figures : Figures
    inlet : float
        Elevation at which the line lets go of its water in the tank [length].
    *roles : str
        Of the pipes; left out: ``supply`` and ``feed``.

    Returns
    -------
    float
        [gal or L]. Only what lies above every lower summit on its way back drains; a belly keeps
        its water.
    """
    pipes = network.pipes
    of = pipes.of(*(roles or ("supply", "feed")))
    volume = figures.q.volume_of(pipes.length, pipes.bore)
    ways: dict[int, list[tuple[int, int]]] = {}
    for k in of.tolist():
        a, b = pipes.ends[k].tolist()
        ways.setdefault(a, []).append((b, k))
        ways.setdefault(b, []).append((a, k))
    start = int(pipes.ends[of[0], 0])
    z = network.xyz[:, 2]
    drained = 0.0
    seen = {start}
    heap = [(max(inlet, float(z[start])), start)]
    while heap:
        summit, node = heapq.heappop(heap)
        for other, pipe in ways.get(node, ()):
            if other in seen:
                continue
            seen.add(other)
            share, beyond = share_above(float(z[node]), float(z[other]), summit)
            drained += share * float(volume[pipe])
            heapq.heappush(heap, (beyond, other))
    return drained


@dataclass(frozen=True)
class AtRest:
    """Pressures that pump, tank and ground make without flow.

    Attributes
    ----------
    lowest : float
        Elevation of the lowest emitter [length].
    shut_off : float or None
        Pressure there with the pump running against shut valves, no regulator counted
        [psi or kPa]; None where the pump's curve does not start at no flow.
    siphon : float
        How far the lowest emitter lies below the water in the tank when the pump stops; zero or
        less: no siphon [length].
    vacuum : float
        Head by which the topmost emitter stands above the lowest: the pull at the top where no air
        is let in [length].
    """

    lowest: float
    shut_off: float | None
    siphon: float
    vacuum: float


def at_rest(plan: ZonePlan, figures: Figures) -> AtRest | None:
    """Pressures at rest over all zones; None where the pump or every emitter is missing."""
    found = [elevations(zone) for zone in plan.zones]
    z = np.concatenate(found) if found else np.empty(0)
    if figures.pump is None or not len(z):
        return None
    low, high = float(z.min()), float(z.max())
    head = figures.pump.head(0.0)
    level = figures.pump.level
    shut = None if head is None else (level + head - low) * figures.q.pressures
    return AtRest(low, shut, level - low, high - low)


def summits(xyz: Floats) -> Floats:
    """Local tops of a line's profile, where air gathers, (t, 3): its ends are none of them."""
    z = xyz[:, 2]
    keep = np.concatenate(([True], np.diff(z) != 0.0))
    line = xyz[keep]
    up = np.diff(line[:, 2]) > 0.0
    return np.asarray(line[1:-1][up[:-1] & ~up[1:]])


def surge(change: float, bore: float, wall: float, figures: Figures, modulus: float) -> float:
    """Pressure that a sudden change of velocity makes (Joukowsky).

    Parameters
    ----------
    change : float
        Of velocity [length / s].
    bore, wall : float
        Inside diameter and thickness of the pipe, in one unit.
    figures : Figures
    modulus : float
        Of the pipe's wall over the bulk modulus of water, a ratio (400 over 300 ksi for rigid
        vinyl, from memory).

    Returns
    -------
    float
        [psi or kPa]. The wave runs at 4720 / sqrt(1 + D / (t modulus)) ft/s, 1438.7 m/s in metres.
    """
    speed = 1438.656 if figures.q.metric else 4720.0
    wave = speed / float(np.sqrt(1.0 + bore / wall / modulus))
    return wave * change / figures.q.gravity * figures.q.pressures
