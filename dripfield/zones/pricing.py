"""The cheapest joined laterals for given values of the laterals: label setting, exact.

A joined lateral is a path: in at one end of a lateral, out at the other, along a link to the end of
a lower one, and so on. The order of elevations makes the graph acyclic, so one pass over the
laterals from the top finds, at each end, every path that may be part of a cheapest one. A path
is kept unless another that leads to the same end is no longer and, finished here, no dearer: what
a path pays when it is finished falls with its length, and falls the less the longer it is, so the
other stays no dearer however both go on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.zones.links import Links

_MOST_LABELS = 400


@dataclass(frozen=True)
class Tariff:
    """What a joined lateral costs.

    Attributes
    ----------
    longest : float
        Most that it may measure [site unit].
    lengths, price : (g,) float arrays
        What it pays for its length: straight between these lengths, falling and convex.
    supply, return_ : (2 n,) float arrays
        What it pays to start and to finish at each end; infinite where it may not.
    blank : float
        For each length of blank tubing.
    """

    longest: float
    lengths: Floats
    price: Floats
    supply: Floats
    return_: Floats
    blank: float

    def for_length(self, length: Floats) -> Floats:
        """Price of lengths, any shape."""
        return np.interp(length, self.lengths, self.price)


@dataclass(frozen=True)
class Column:
    """One joined lateral: the end it starts at, then the links it takes, and its length."""

    start: int
    links: tuple[int, ...]
    length: float

    def laterals(self, links: Links) -> tuple[int, ...]:
        """Numbers of its laterals in the order of flow."""
        return (self.start // 2, *(int(links.to[link]) // 2 for link in self.links))

    def finish(self, links: Links) -> int:
        """The end that it leaves by."""
        return (int(links.to[self.links[-1]]) if self.links else self.start) ^ 1

    def cost(self, links: Links, tariff: Tariff) -> float:
        """What it pays."""
        if self.length > tariff.longest * (1.0 + 1e-12):
            return float("inf")
        blank = float(links.length[list(self.links)].sum()) if self.links else 0.0
        ends = tariff.supply[self.start] + tariff.return_[self.finish(links)]
        return float(ends + tariff.blank * blank + tariff.for_length(np.array(self.length)))


class Pricer:
    """Finds columns of least reduced cost on one graph of laterals and links."""

    def __init__(self, lengths: Floats, links: Links) -> None:
        """Sort the links by the end that they lead to.

        Parameters
        ----------
        lengths : (n,) float array
            Of the laterals, from the top down [site unit].
        links : Links
        """
        self.lengths = lengths
        self.links = links
        self.into: list[Ints] = [np.nonzero(links.to == end)[0] for end in range(2 * len(lengths))]
        self.truncated = False

    def cheapest(
        self, tariff: Tariff, values: Floats, tolls: Floats, limit: float
    ) -> list[tuple[float, Column]]:
        """At each end the cheapest column that leaves by it, where it costs less than a limit.

        Parameters
        ----------
        tariff : Tariff
        values : (n,) float array
            What covering each lateral is worth; minus infinity where it may not be covered.
        tolls : (m,) float array
            Paid for each link; infinite where it may not be used.
        limit : float
            Of the reduced cost, cost less values.

        Returns
        -------
        list of (float, Column)
            Reduced cost and column, the cheapest first.
        """
        links, labels = self.links, _Labels()
        ends = 2 * len(self.lengths)
        at: list[Ints] = [np.empty(0, dtype=np.int64)] * ends
        found: list[tuple[float, int, int]] = []
        self.truncated = False
        for lateral, length in enumerate(self.lengths):
            if not np.isfinite(values[lateral]) or length > tariff.longest:
                continue
            for side in (0, 1):
                entry = 2 * lateral + side
                labels.start(entry, tariff.supply[entry] - values[lateral], length)
                for link in self.into[entry]:
                    before = at[links.from_[link]]
                    if len(before) and np.isfinite(tolls[link]):
                        gap = links.length[link]
                        extra = tariff.blank * gap + tolls[link] - values[lateral]
                        labels.extend(before, int(link), extra, gap + length, tariff.longest)
                kept, best = labels.settle(tariff)
                self.truncated |= len(kept) >= _MOST_LABELS
                leave = entry ^ 1
                at[leave] = kept
                if best is not None:
                    cost = best[0] + tariff.return_[leave]
                    if cost < limit:
                        found.append((float(cost), leave, best[1]))
        found.sort()
        return [(cost, labels.column(label)) for cost, _, label in found]

    def every(
        self, tariff: Tariff, values: Floats, tolls: Floats, limit: float, most: int
    ) -> list[Column] | None:
        """Every column whose reduced cost is under a limit: a best choice is made of no others.

        Parameters
        ----------
        tariff : Tariff
        values, tolls : (n,) and (m,) float arrays
            As for :meth:`cheapest`, of the solved linear programme.
        limit : float
            Cost of a choice that is known, less the bound.
        most : int
            Paths to look at before giving up.

        Returns
        -------
        list of Column or None
            None where there are too many.
        """
        links, found = self.links, []
        least = self._to_finish(tariff, values, tolls)
        out: list[Ints] = [
            np.nonzero(links.from_ == end)[0] for end in range(2 * len(self.lengths))
        ]
        open_: list[tuple[float, float, int, tuple[int, ...]]] = [
            (tariff.supply[e] - values[e // 2], float(self.lengths[e // 2]), e, ())
            for e in range(2 * len(self.lengths))
            if np.isfinite(tariff.supply[e]) and self.lengths[e // 2] <= tariff.longest
        ]
        seen = 0
        while open_:
            cost, length, start, taken = open_.pop()
            seen += 1
            if seen > most:
                return None
            column = Column(start, taken, length)
            leave = column.finish(links)
            if cost + least[leave] > limit:
                continue
            if cost + tariff.return_[leave] + np.interp(length, tariff.lengths, tariff.price) <= (
                limit
            ):
                found.append(column)
            for link in out[leave]:
                lower = int(links.to[link]) // 2
                longer = length + links.length[link] + self.lengths[lower]
                if longer <= tariff.longest and np.isfinite(tolls[link]):
                    more = cost + tariff.blank * links.length[link] + tolls[link] - values[lower]
                    open_.append((more, float(longer), start, (*taken, int(link))))
        return found

    def _to_finish(self, tariff: Tariff, values: Floats, tolls: Floats) -> Floats:
        """At each end the least that is still to be paid, whatever the length."""
        links = self.links
        least = tariff.return_ + float(tariff.price.min())
        for lateral in range(len(self.lengths) - 1, -1, -1):
            for entry in (2 * lateral, 2 * lateral + 1):
                for link in self.into[entry]:
                    through = tariff.blank * links.length[link] + tolls[link] - values[lateral]
                    before = links.from_[link]
                    least[before] = min(least[before], through + least[entry ^ 1])
        return least


class _Labels:
    """Labels in flat arrays that grow: cost so far, length, the label before and the link taken."""

    def __init__(self) -> None:
        self.cost = np.empty(1024)
        self.length = np.empty(1024)
        self.before = np.empty(1024, dtype=np.int64)
        self.link = np.empty(1024, dtype=np.int64)
        self.size = 0
        self.fresh: list[tuple[Floats, Floats, Ints, Ints]] = []

    def start(self, entry: int, cost: float, length: float) -> None:
        if np.isfinite(cost):
            one = np.array([-1 - entry])
            self.fresh.append((np.array([cost]), np.array([length]), one, np.array([-1])))

    def extend(self, before: Ints, link: int, extra: float, more: float, longest: float) -> None:
        length = self.length[before] + more
        fits = length <= longest
        if fits.any():
            kept = before[fits]
            self.fresh.append(
                (self.cost[kept] + extra, length[fits], kept, np.full(len(kept), link))
            )

    def settle(self, tariff: Tariff) -> tuple[Ints, tuple[float, int] | None]:
        """Keep the labels of one end that are not dominated, and say which is cheapest finished."""
        if not self.fresh:
            return np.empty(0, dtype=np.int64), None
        cost, length, before, link = (
            np.concatenate(part) for part in zip(*self.fresh, strict=True)
        )
        self.fresh = []
        done = cost + tariff.for_length(length)
        order = np.lexsort((link, before, done, length))
        least = np.minimum.accumulate(done[order])
        keep = np.ones(len(order), dtype=bool)
        keep[1:] = done[order][1:] < least[:-1] - 1e-12
        order = order[keep]
        if len(order) > _MOST_LABELS:
            order = np.sort(order[np.argsort(done[order], kind="stable")[:_MOST_LABELS]])
        first = self.size
        self.size += len(order)
        while self.size > len(self.cost):
            for name in ("cost", "length", "before", "link"):
                old = getattr(self, name)
                setattr(self, name, np.concatenate((old, np.empty_like(old))))
        place = slice(first, self.size)
        self.cost[place], self.length[place] = cost[order], length[order]
        self.before[place], self.link[place] = before[order], link[order]
        best = int(np.argmin(done[order]))
        return np.arange(first, self.size), (float(done[order][best]), first + best)

    def column(self, label: int) -> Column:
        length, taken = float(self.length[label]), []
        while self.link[label] >= 0:
            taken.append(int(self.link[label]))
            label = int(self.before[label])
        return Column(int(-1 - self.before[label]), tuple(taken[::-1]), length)
