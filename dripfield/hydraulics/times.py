"""Contents of pipe, doses a day, run and rest, filling, and the time that flushing takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.network import OTHER, PUMP, THROTTLE
from dripfield.hydraulics.state import ZoneState
from dripfield.zones.model import Manifold, Pipe, Zone, ZonePlan

DAY = 24.0 * 60.0
"""[min]"""
_STILL = 1e-4  # share of the pump's flow: water slower than this is not followed


@dataclass(frozen=True)
class Volumes:
    """Contents when full [gal or L].

    Attributes
    ----------
    tubing : float
        Tubing and blank tubing, no manifolds.
    manifolds : float
        Of the zone.
    supply, return_ : float
        Of the lines.
    """

    tubing: float
    manifolds: float
    supply: float
    return_: float


@dataclass(frozen=True)
class Nominal:
    """A zone by counting alone, before anything is solved.

    Attributes
    ----------
    emitters : int
    dose_flow : float
        Sum of the rated flows [gal/min or L/min].
    flush_flow : float or None
        The same and the flush velocity at every far end: a lower bound [gal/min or L/min].
    elevation_min, elevation_max : float
        Of the emitters [length].
    volume : float or None
        Of tubing and blank tubing [gal or L].
    """

    emitters: int
    dose_flow: float
    flush_flow: float | None
    elevation_min: float
    elevation_max: float
    volume: float | None


@dataclass(frozen=True)
class Dosing:
    """A day of a zone.

    Attributes
    ----------
    daily : float
        The zone's share of the daily flow, by its area [gal or L].
    doses : int
        A day.
    dose : float
        Emitted by one dose [gal or L].
    pumped : float
        By one dose, with what drains back [gal or L].
    multiple : float
        The dose over the content of the tubing.
    fill : float
        Time to fill what has drained, at the dosing flow [min].
    run, rest : float
        Of one dose, and from its end to the next [min].
    pressurised : float
        Share of the run in which all is full.
    """

    daily: float
    doses: int
    dose: float
    pumped: float
    multiple: float
    fill: float
    run: float
    rest: float
    pressurised: float


def _pipe_volume(pipes: Sequence[Pipe], figures: Figures) -> float:
    q = figures.q
    return sum(
        float(q.volume_of(float(np.linalg.norm(np.diff(p.xyz, axis=0), axis=1).sum()),
                          p.bore * q.bores))
        for p in pipes
    )  # fmt: skip


def volumes(plan: ZonePlan, zone: Zone, figures: Figures) -> Volumes | None:
    """Contents of a zone and of the lines; None where the bore of the tubing is missing.

    Parameters
    ----------
    plan : ZonePlan
    zone : Zone
    figures : Figures

    Returns
    -------
    Volumes or None
    """
    if figures.tubing is None:
        return None
    length = sum(lateral.length for lateral in zone.joined)

    def of(manifold: Manifold | None) -> float:
        return _pipe_volume(manifold.pipes, figures) if manifold else 0.0

    return Volumes(
        float(figures.q.volume_of(length, figures.tubing.bore)),
        of(zone.supply) + of(zone.return_),
        _pipe_volume(plan.supply, figures),
        _pipe_volume(plan.return_, figures),
    )


def elevations(zone: Zone) -> Floats:
    """Elevation of every emitter of a zone, (k,) [length]."""
    found = [
        np.interp(piece.emitters, piece.station, piece.xyz[:, 2])
        for lateral in zone.joined
        for piece in lateral.pieces
        if len(piece.emitters)
    ]
    return np.concatenate(found) if found else np.empty(0)


def nominal(zone: Zone, figures: Figures) -> Nominal:
    """Flows, elevations and content of a zone by counting."""
    count = sum(lateral.emitters for lateral in zone.joined)
    dose = count * figures.emitter_flow
    flush = volume = None
    if figures.tubing is not None:
        length = sum(lateral.length for lateral in zone.joined)
        volume = float(figures.q.volume_of(length, figures.tubing.bore))
        if figures.design.flush_velocity is not None:
            end = figures.q.flow_at(figures.design.flush_velocity, figures.tubing.bore)
            flush = dose + len(zone.joined) * end
    z = elevations(zone)
    low, high = (float(z.min()), float(z.max())) if len(z) else (float("nan"), float("nan"))
    return Nominal(count, dose, flush, low, high, volume)


def dosing(
    daily: float,
    tubing: float,
    empty: float,
    flow: float,
    *,
    multiple: float = 5.0,
    doses: int | None = None,
    drain_back: float = 0.0,
) -> Dosing:
    """Divide a zone's daily flow into doses.

    Parameters
    ----------
    daily : float
        The zone's share of the daily flow [gal or L].
    tubing : float
        Content of its tubing [gal or L].
    empty : float
        What has to be filled before all is under pressure [gal or L].
    flow : float
        While dosing [gal/min or L/min].
    multiple : float
        Least dose over the content of the tubing, where ``doses`` is not given: as many doses as
        that allows (five: common practice, no source).
    doses : int, optional
        A day.
    drain_back : float
        To the tank after each dose [gal or L].

    Returns
    -------
    Dosing
        The run is the filling and then the whole dose at the dosing flow. Where the daily flow is
        less than the multiple, one dose, and its multiple is what it is.
    """
    if doses is None:
        doses = max(1, int(daily / (multiple * tubing) + 1e-9))
    dose = daily / doses
    fill = empty / flow
    run = fill + dose / flow
    return Dosing(
        daily, doses, dose, dose + drain_back, dose / tubing, fill, run, DAY / doses - run,
        1.0 - fill / run,
    )  # fmt: skip


def zone_shares(plan: ZonePlan) -> dict[str, float]:
    """Each zone's share of the daily flow, by the area that it serves."""
    total = sum(zone.area for zone in plan.zones)
    return {zone.name: zone.area / total for zone in plan.zones}


@dataclass(frozen=True)
class Transit:
    """How long water takes through a zone.

    Attributes
    ----------
    total : float
        From pump to the return's end by the slowest way [min].
    laterals : (j,) float array
        From end to end of each joined lateral [min].
    returned : float
        Flow back to the tank [gal/min or L/min].
    """

    total: float
    laterals: Floats
    returned: float

    def flush(self, changes: float = 2.0) -> tuple[float, float]:
        """Time of a flush [min] and what comes back [gal or L] for some changes of water."""
        return self.total * changes, self.total * changes * self.returned


def transit(state: ZoneState, figures: Figures) -> Transit:
    """Follow the water of a solved flush along every way, each stretch at its own velocity.

    Returns
    -------
    Transit
        Ways through water that all but stands still are left out.
    """
    network, q = state.network, figures.q
    pipes, count = network.pipes, len(network.pipes.ids)
    flow = state.solution.flow
    volume = q.volume_of(pipes.length, pipes.bore)
    moving = np.abs(flow[:count]) > _STILL * max(state.flow, 1e-12)
    minutes = np.full(count, np.nan)
    minutes[moving] = volume[moving] / np.abs(flow[:count][moving])
    ends = np.where(flow[:count, None] >= 0.0, pipes.ends, pipes.ends[:, ::-1])
    ways: dict[int, list[tuple[int, float]]] = {}
    for (a, b), time in zip(ends[moving].tolist(), minutes[moving].tolist(), strict=True):
        ways.setdefault(a, []).append((b, time))
    for name, pair in ((PUMP, network.pump), (OTHER, network.other), (THROTTLE, network.throttle)):
        if pair and flow[network.link(name)] > 0.0:
            ways.setdefault(pair[0], []).append((pair[1], 0.0))
    arrival = np.full(len(network.ids), -np.inf)
    arrival[network.pump[0]] = 0.0
    for node in _downstream(ways, network.pump[0]):
        for other, time in ways.get(node, ()):
            arrival[other] = max(arrival[other], arrival[node] + time)
    end = network.throttle[1] if network.throttle else int(np.argmax(arrival))
    tubing = pipes.of("tubing")
    laterals = np.bincount(
        pipes.part[tubing], weights=minutes[tubing], minlength=len(network.joined)
    )
    returned = float(flow[network.link(THROTTLE)]) if network.throttle else 0.0
    return Transit(float(arrival[end]), laterals.astype(np.float64), returned)


def _downstream(ways: dict[int, list[tuple[int, float]]], start: int) -> list[int]:
    """Nodes that water from a start reaches, each after all that lead to it."""
    order: list[int] = []
    seen = {start}
    stack = [(start, iter(ways.get(start, ())))]
    while stack:
        node, rest = stack[-1]
        for other, _ in rest:
            if other not in seen:
                seen.add(other)
                stack.append((other, iter(ways.get(other, ()))))
                break
        else:
            order.append(node)
            stack.pop()
    return order[::-1]
