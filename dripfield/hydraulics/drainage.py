"""After the dose: what the full tubing gives to which emitter while it drains.

The pump has stopped, air enters wherever emitters come out of the water, and the level falls.
Water that is held together by full pipe has one level; what leaves it at any moment leaves through
all of its emitters that are still under water: evenly, where each lets out as much as any other,
or by the square root of the head over each, as an opening does that no longer holds its rate
(Torricelli). Far below their range emitters do something between, so both are told.

Read backwards, as a level that rises, this is a flooding: pools grow, meet at the lowest way
between them, and become one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.network import Network

Sharing = Literal["even", "by head"]


@dataclass(frozen=True)
class Store:
    """Water in pipe that can drain, as small parts joined to each other.

    Attributes
    ----------
    volume : (n,) float array
        Of each part [gal or L].
    elevation : (n,) float array
        [length].
    emitters : (k,) int array
        Part that each emitter is at.
    links : (m, 2) int array
        Parts that are joined.
    owner : (k,) int array
        Joined lateral of each emitter.
    step : float
        Levels nearer than this are one: the bore of the tubing [length].
    """

    volume: Floats
    elevation: Floats
    emitters: Ints
    links: Ints
    owner: Ints
    step: float


@dataclass(frozen=True)
class Redistribution:
    """Where the content goes.

    Attributes
    ----------
    received : (k,) float array
        By each emitter after the pump has stopped [gal or L].
    stays : float
        What no emitter can drain [gal or L].
    lowest_over_mean : float
        Of the lowest tenth of the emitters, dose and drained water together, over the mean.
    greatest_over_mean : float
        Of the emitter that gets most.
    """

    received: Floats
    stays: float
    lowest_over_mean: float
    greatest_over_mean: float


def store_of(network: Network, figures: Figures, *, manifolds: bool = True) -> Store:
    """The water of a zone's tubing, and of its manifolds, that drains after a dose.

    Parameters
    ----------
    network : Network
    figures : Figures
    manifolds : bool
        Whether the manifolds drain into the field and join the joined laterals; False where they
        drain back to the tank, or where check valves keep each joined lateral by itself.

    Returns
    -------
    Store
        Every pipe's content half at either end.
    """
    pipes = network.pipes
    roles = ("tubing", "feed", "collect") if manifolds else ("tubing",)
    of = pipes.of(*roles)
    ends = pipes.ends[of].copy()
    count = len(network.ids)
    if not manifolds:  # each joined lateral has taps of its own
        for firsts, side in ((network.first, 0), (network.last, 1)):
            at = np.searchsorted(of, firsts)
            ends[at, side] = count + np.arange(len(firsts))
            count += len(firsts)
    volume = np.zeros(count)
    half = figures.q.volume_of(pipes.length[of], pipes.bore[of]) / 2.0
    np.add.at(volume, ends[:, 0], half)
    np.add.at(volume, ends[:, 1], half)
    z = np.empty(count)
    z[: len(network.ids)] = network.xyz[:, 2]
    if not manifolds:
        taps = np.concatenate((pipes.ends[network.first, 0], pipes.ends[network.last, 1]))
        z[len(network.ids) :] = network.xyz[taps, 2]
    bore = figures.tubing.bore / figures.q.bores if figures.tubing else 0.0
    return Store(volume, z, network.emitters, ends, network.owner, bore)


def drain(store: Store, dose: float = 0.0, sharing: Sharing = "even") -> Redistribution:
    """Drain a store through its emitters.

    Parameters
    ----------
    store : Store
    dose : float
        Emitted evenly while the pump ran [gal or L].
    sharing : {"even", "by head"}
        How emitters under water share what leaves their pool: evenly, or as the square root of the
        depth of water over each and half the bore.

    Returns
    -------
    Redistribution
        With n equal laterals one below the other that share evenly the lowest receives
        V (1 + 1/2 + ... + 1/n) (derived by hand).
    """
    count = len(store.volume)
    step = store.step if store.step > 0.0 else 1e-9
    level = np.floor((store.elevation - store.elevation.min()) / step + 1e-6)
    held = np.zeros(count, dtype=np.int64)  # emitters of each part
    np.add.at(held, store.emitters, 1)
    neighbours: list[list[int]] = [[] for _ in range(count)]
    for a, b in store.links.tolist():
        neighbours[a].append(b)
        neighbours[b].append(a)

    pools = _Pools(count, held) if sharing == "even" else _PoolsByHead(store)
    flooded = np.zeros(count, dtype=bool)
    stays = 0.0
    order = np.argsort(level, kind="stable")
    edges = np.flatnonzero(np.diff(level[order])) + 1
    for together in np.split(order, edges):
        parts = together.tolist()
        flooded[together] = True
        for part in parts:
            for other in neighbours[part]:
                if flooded[other]:
                    pools.join(part, other)
        content: dict[int, float] = {}
        for part in parts:
            pool = pools.find(part)
            content[pool] = content.get(pool, 0.0) + float(store.volume[part])
        for pool, volume in content.items():
            if pools.emitters[pool]:
                pools.give(pool, volume, float(store.elevation[together].mean()))
            else:
                stays += volume
    received = pools.received()[store.emitters]
    total = received + dose / len(received)
    z = store.elevation[store.emitters]
    lowest = np.argsort(z, kind="stable")[: max(1, len(z) // 10)]
    mean = float(total.mean())
    return Redistribution(
        received, stays, float(total[lowest].mean() / mean), float(total.max() / mean)
    )


class _Pools:
    """Parts that are one water, each emitter's share kept as a sum along the way to its root."""

    def __init__(self, count: int, emitters: Ints) -> None:
        self.parent = list(range(count))
        self.size = [1] * count
        self.emitters = emitters.astype(np.int64).tolist()
        self.given = [0.0] * count  # to all below, less what was given before they joined

    def find(self, part: int) -> int:
        """The root of a part."""
        while self.parent[part] != part:
            part = self.parent[part]
        return part

    def join(self, a: int, b: int) -> None:
        """Make two pools one; the smaller hangs below the larger, so that ways stay short."""
        a, b = self.find(a), self.find(b)
        if a == b:
            return
        if self.size[a] < self.size[b]:
            a, b = b, a
        self.parent[b] = a
        self.size[a] += self.size[b]
        self.emitters[a] += self.emitters[b]
        self.given[b] -= self.given[a]

    def give(self, pool: int, volume: float, level: float) -> None:
        """Share a volume that stood at a level among the emitters of a pool."""
        self.given[pool] += volume / self.emitters[pool]

    def received(self) -> Floats:
        """What each part's emitters were given."""
        found = np.empty(len(self.parent))
        for part in range(len(found)):
            total, at = self.given[part], part
            while self.parent[at] != at:
                at = self.parent[at]
                total += self.given[at]
            found[part] = total
        return found


class _PoolsByHead(_Pools):
    """The same, each emitter's share kept by itself, since the head over it decides."""

    def __init__(self, store: Store) -> None:
        count = len(store.volume)
        held = np.zeros(count, dtype=np.int64)
        np.add.at(held, store.emitters, 1)
        super().__init__(count, held)
        self.elevation, self.least = store.elevation, 0.5 * max(store.step, 1e-9)
        self.members = [np.full(number, part) for part, number in enumerate(held.tolist())]
        self.taken = np.zeros(count)  # by the emitters of each part, one of them
        self.share = np.maximum(held, 1)

    def join(self, a: int, b: int) -> None:
        """Make two pools one, and what they hold."""
        a, b = self.find(a), self.find(b)
        super().join(a, b)
        if a != b:
            root = self.find(a)
            gone = b if root == a else a
            self.members[root] = np.concatenate((self.members[root], self.members[gone]))
            self.members[gone] = np.empty(0, dtype=np.int64)

    def give(self, pool: int, volume: float, level: float) -> None:
        """Share a volume that stood at a level as the root of the head over each emitter."""
        parts = self.members[pool]
        weight = np.sqrt(np.maximum(level - self.elevation[parts], 0.0) + self.least)
        np.add.at(self.taken, parts, volume * weight / weight.sum())

    def received(self) -> Floats:
        """What each part's emitters were given, each of them alike."""
        return np.asarray(self.taken / self.share)


def by_joined(found: Redistribution, store: Store, dose: float) -> Floats:
    """Dose and drained water of each joined lateral over the mean, for each emitter, (j,).

    Parameters
    ----------
    found : Redistribution
    store : Store
    dose : float
        Emitted evenly while the pump ran [gal or L].

    Returns
    -------
    (j,) float array
    """
    count = np.maximum(np.bincount(store.owner), 1)
    each = np.bincount(store.owner, weights=found.received) / count + dose / len(store.owner)
    return np.asarray(each / (each * count).sum() * count.sum())


@dataclass(frozen=True)
class Remedy:
    """What a change of the field would make of the drainage.

    Attributes
    ----------
    what : str
    lowest_over_mean, greatest_over_mean : float
        Where emitters share evenly.
    lowest_by_head, greatest_by_head : float
        Where they share as the root of the head.
    caution : str
    """

    what: str
    lowest_over_mean: float
    greatest_over_mean: float
    lowest_by_head: float
    greatest_by_head: float
    caution: str


def remedies(
    network: Network, figures: Figures, dose: float, groups: Sequence[int] = (2, 3)
) -> list[Remedy]:
    """Drain the zone as it is and with what may help, each measured anew.

    Parameters
    ----------
    network : Network
    figures : Figures
    dose : float
        Of the zone [gal or L]; a zone divided in n takes its n-th part by emitters.
    groups : sequence of int
        Numbers of zones to divide it into.

    Returns
    -------
    list of Remedy
        The zone as it is stands first.
    """
    whole = store_of(network, figures)
    apart = store_of(network, figures, manifolds=False)

    def told(what: str, store: Store, caution: str = "") -> Remedy:
        even, head = drain(store, dose), drain(store, dose, "by head")
        return Remedy(
            what,
            even.lowest_over_mean,
            even.greatest_over_mean,
            head.lowest_over_mean,
            head.greatest_over_mean,
            caution,
        )

    made = [told("as it is", whole)]
    for number in groups:
        if number <= len(network.joined):
            made.append(told(f"{number} zones, from the top down", _divided(apart, number)))
    made.append(
        told(
            "a check valve at both ends of each joined lateral", apart,
            "some codes forbid check valves here",
        )
    )  # fmt: skip
    made.append(
        told(
            "manifolds that drain back to the tank", apart,
            "adds to every cycle; the line must fall to the tank all the way",
        )
    )  # fmt: skip
    raised = _raised(network, figures)
    if raised is not None:
        made.append(
            told("joining tubing raised over the laterals", raised, "a high spot holds air")
        )
    return made


def _divided(store: Store, number: int) -> Store:
    """Joined laterals in contiguous groups by elevation, those of a group joined at their ends."""
    owners = int(store.owner.max()) + 1
    height = np.array([store.elevation[store.emitters[store.owner == j]].mean()
                       if np.any(store.owner == j) else np.inf for j in range(owners)])  # fmt: skip
    count = np.bincount(store.owner, minlength=owners)
    order = np.argsort(-height, kind="stable")
    group = np.empty(owners, dtype=np.int64)
    group[order] = (np.cumsum(count[order]) - count[order] / 2.0) * number // count.sum()
    firsts = len(store.volume) - 2 * owners + np.arange(owners)
    links = [store.links]
    for ends in (firsts, firsts + owners):
        for one in range(number):
            mine = order[group[order] == one]
            links.append(np.column_stack((ends[mine[:-1]], ends[mine[1:]])))
    return Store(
        store.volume, store.elevation, store.emitters, np.vstack(links), store.owner, store.step
    )


def _raised(network: Network, figures: Figures) -> Store | None:
    """Each lateral by itself: blank tubing between laterals lets no water over once it is raised.

    None where no joined lateral has more than one lateral.
    """
    store = store_of(network, figures, manifolds=False)
    lateral = dict(zip(network.emitters.tolist(), network.laterals, strict=True))
    keep = np.ones(len(store.links), dtype=bool)
    cut = 0
    at_end = np.flatnonzero(np.isin(store.links[:, 0], network.emitters))
    walk = {int(a): k for k, a in enumerate(store.links[:, 0].tolist())}
    for link in at_end.tolist():
        start, node, way = int(store.links[link, 0]), int(store.links[link, 1]), link
        while node not in lateral and node in walk:
            way = walk[node]
            node = int(store.links[way, 1])
        if node in lateral and lateral[node] != lateral[start]:
            keep[way] = False
            cut += 1
    if not cut:
        return None
    return Store(
        store.volume, store.elevation, store.emitters, store.links[keep], store.owner, store.step
    )
