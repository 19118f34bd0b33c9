"""Where air must be let in and out: every local top of the lines and manifolds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.zones.model import Manifold, Pipe, ZonePlan


@dataclass(frozen=True)
class AirRelease:
    """A place for an air and vacuum release, and what it protects."""

    zone: str
    line: str
    xyz: Floats
    protects: str


def air_releases(plan: ZonePlan) -> tuple[AirRelease, ...]:
    """Every local top of supply and return, each zone's manifolds included, and each zone's top.

    Parameters
    ----------
    plan : ZonePlan

    Returns
    -------
    tuple of AirRelease
        Lines first, then zone by zone.
    """
    found = [*_tops_of_lines(plan)]
    for zone in plan.zones:
        for manifold, lines in ((zone.supply, plan.supply), (zone.return_, plan.return_)):
            if manifold is None:
                continue
            tops = _tops(manifold, lines)
            side = manifold.side
            highest = max(float(xyz[2]) for xyz in tops) if tops else -np.inf
            for xyz in tops:
                if float(xyz[2]) >= highest:
                    what = (
                        f"top of {zone.name}: lets air in when the pump stops, so that emitters of "
                        "the upper laterals draw in no soil, and out when the zone fills"
                        if side == "supply"
                        else f"top of {zone.name}'s return: lets air in so that the return drains"
                    )
                else:
                    what = f"local top of {zone.name}'s {side} manifold: air that gathers there"
                found.append(AirRelease(zone.name, f"{side} manifold", xyz, what))
    return tuple(found)


def _tops_of_lines(plan: ZonePlan) -> list[AirRelease]:
    found = []
    for name, pipes in (("supply", plan.supply), ("return", plan.return_)):
        if not pipes:
            continue
        xyz = np.concatenate([pipes[0].xyz[:1], *(pipe.xyz[1:] for pipe in pipes)])
        level = xyz[:, 2]
        for i in range(1, len(level) - 1):
            if level[i] > level[i - 1] and _next_other(level, i) < level[i]:
                what = f"local top of the {name} line: air that gathers there chokes the flow"
                found.append(AirRelease("", f"{name} line", xyz[i], what))
    return found


def _next_other(level: Floats, i: int) -> float:
    after = level[i + 1 :]
    other = after[after != level[i]]
    return float(other[0]) if len(other) else float("inf")


def _tops(manifold: Manifold, lines: tuple[Pipe, ...]) -> list[Floats]:
    """Places of a manifold that are higher than all that is next to them; of equals the first."""
    places: list[Floats] = [*manifold.nodes]
    near: list[set[int]] = [set() for _ in places]

    def join(one: int, two: int) -> None:
        near[one].add(two)
        near[two].add(one)

    for pipe, (first, last) in zip(manifold.pipes, manifold.ends, strict=True):
        before = first
        for xyz in pipe.xyz[1:-1]:
            places.append(xyz)
            near.append(set())
            join(before, len(places) - 1)
            before = len(places) - 1
        join(before, last)
    if lines:
        at = lines[-1].xyz[-2] if manifold.side == "supply" else lines[0].xyz[1]
        places.append(at)
        near.append(set())
        join(0, len(places) - 1)
    tapped = set(manifold.taps.values())
    keep = [
        place
        for place in range(len(places))
        if place not in tapped or len(near[place]) > 1 or len(places) == 1
    ]  # air in a branch goes on into the tubing
    own = len(places) - bool(lines)
    rise = max((pipe.bore for pipe in manifold.pipes), default=0.0)
    level = np.array([xyz[2] for xyz in places])
    return [np.asarray(places[top]) for top in _peaks(level, near, keep, rise) if top < own]


def _peaks(level: Floats, near: list[set[int]], keep: list[int], rise: float) -> list[int]:
    """Places from which every way to a higher one first falls by more than a rise.

    A top that is lower than that over its saddle holds no pocket of air across the whole bore.
    """
    group: dict[int, int] = {}
    peak: dict[int, int] = {}
    found = []

    def head(place: int) -> int:
        while group[place] != place:
            place = group[place]
        return place

    for place in sorted(keep, key=lambda one: (-level[one], one)):
        group[place] = place
        peak[place] = place
        for other in sorted(near[place] & group.keys()):
            one, two = head(place), head(other)
            if one == two:
                continue
            high, low = sorted((one, two), key=lambda top: (-level[peak[top]], peak[top]))
            if level[peak[low]] - level[place] > rise:
                found.append(peak[low])
            group[low] = high
    found += [peak[top] for top in sorted({head(place) for place in group})]
    return sorted(set(found))
