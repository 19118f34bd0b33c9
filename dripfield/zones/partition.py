"""Every lateral in exactly one joined lateral at least cost: column generation, then whole numbers.

The linear programme over all joined laterals is solved with the few that matter, which the pricing
finds; its value is a bound that no choice can beat. Whole numbers come from a dive (round up the
fullest, solve again) and from HiGHS on the columns found; the better is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from dripfield.arrays import Bools, Floats
from dripfield.zones.links import Links
from dripfield.zones.pricing import Column, Pricer, Tariff

_ROUNDS = 80
_DIVE_ROUNDS = 4
_NODES = 400
_SECONDS = 8.0
_MOST_COLUMNS = 6000
_MOST_PATHS = 60_000


@dataclass(frozen=True)
class Partition:
    """A choice of columns, what it costs, and the bound.

    Attributes
    ----------
    columns : tuple of Column
        From the top down.
    cost : float
    bound : float
        No choice costs less (links that cross may not both be used).
    proven : bool
        Whether the choice is known to be the best.
    """

    columns: tuple[Column, ...]
    cost: float
    bound: float
    proven: bool


@dataclass(frozen=True)
class _Relaxed:
    """The linear programme solved: bound, columns with their shares, values and tolls."""

    bound: float
    columns: list[Column]
    shares: Floats
    values: Floats
    tolls: Floats


class Partitioner:
    """Chooses joined laterals on one graph; what it has found serves the next tariff too."""

    def __init__(self, lengths: Floats, links: Links, seeds: Sequence[Column] = ()) -> None:
        """Start from each lateral by itself, both ways round, and some columns known already.

        Parameters
        ----------
        lengths : (n,) float array
            Of the laterals, from the top down [site unit].
        links : Links
        seeds : sequence of Column
        """
        self.lengths = lengths
        self.links = links
        self.pricer = Pricer(lengths, links)
        self.pool: dict[tuple[int, tuple[int, ...]], Column] = {}
        self.add([Column(end, (), float(lengths[end // 2])) for end in range(2 * len(lengths))])
        self.add(seeds)

    def add(self, columns: Sequence[Column]) -> int:
        """Add columns to those known, and say how many were new."""
        before = len(self.pool)
        for column in columns:
            self.pool.setdefault((column.start, column.links), column)
        return len(self.pool) - before

    def solve(self, tariff: Tariff, *, whole_price: bool = False, effort: int = 2) -> Partition:
        """The best choice found for a tariff.

        Parameters
        ----------
        tariff : Tariff
            Some start and finish must be open for every lateral by itself.
        whole_price : bool
            Every column costs 1: the bound is rounded up.
        effort : int
            0: one dive; 1: and HiGHS on the columns; 2: dives from other starts too.

        Returns
        -------
        Partition
        """
        every = np.ones(len(self.lengths), dtype=bool)
        solved = self._generate(tariff, every, _ROUNDS)
        bound = float(np.ceil(solved.bound - 1e-6)) if whole_price else solved.bound
        slack = 0.5 if whole_price else 1e-6 * max(1.0, abs(bound))
        best: list[Column] | None = None
        cost, exact = np.inf, False
        tries = [("dive", 0.0)] + [("whole", 0.0)] * (effort >= 1)
        tries += [("dive", 0.35), ("dive", 0.15), ("whole", 0.0)] * (effort >= 2)
        for kind, shift in tries:
            if exact or cost <= bound + slack:
                break
            if kind == "dive":
                found = self._dive(tariff, shift)
            else:
                gap = cost - solved.bound - (1.0 - 1e-6 if whole_price else 0.0)
                found, exact = self._whole(tariff, solved, gap)
            if found is not None:
                total = sum(column.cost(self.links, tariff) for column in found)
                if total < cost - 1e-9:
                    best, cost = found, total
        if best is None:  # every lateral by itself crosses nothing
            best = [self._alone(tariff, lateral) for lateral in range(len(self.lengths))]
            cost = sum(column.cost(self.links, tariff) for column in best)
        best.sort(key=lambda column: column.laterals(self.links))
        bound = cost if exact else bound
        proven = exact or bool(cost <= bound + slack)
        return Partition(tuple(best), float(cost), float(bound), proven)

    def _alone(self, tariff: Tariff, lateral: int) -> Column:
        both = [self.pool[(2 * lateral + side, ())] for side in (0, 1)]
        return min(both, key=lambda column: column.cost(self.links, tariff))

    def _usable(self, tariff: Tariff, free: Bools) -> tuple[list[Column], Floats]:
        columns = [
            column
            for column in self.pool.values()
            if all(free[lateral] for lateral in column.laterals(self.links))
        ]
        costs = np.array([column.cost(self.links, tariff) for column in columns])
        open_ = np.isfinite(costs)
        return [c for c, kept in zip(columns, open_, strict=True) if kept], costs[open_]

    def _rows(self, columns: list[Column], free: Bools) -> tuple[Any, Any]:
        """Which laterals the columns cover, and which pairs of crossing links they use."""
        from scipy.sparse import csr_matrix

        number = np.cumsum(free) - 1
        at = [(number[j], i) for i, c in enumerate(columns) for j in c.laterals(self.links)]
        cover = csr_matrix(
            (np.ones(len(at)), tuple(np.array(at).T)), shape=(int(free.sum()), len(columns))
        )
        conflicts = self.links.conflicts
        if not len(conflicts):
            return cover, None
        users: dict[int, list[int]] = {}
        for i, column in enumerate(columns):
            for link in column.links:
                users.setdefault(link, []).append(i)
        pairs = [
            (row, i)
            for row, pair in enumerate(conflicts)
            for link in pair
            for i in users.get(int(link), ())
        ]
        where = tuple(np.array(pairs).T) if pairs else (np.empty(0, int), np.empty(0, int))
        shape = (len(conflicts), len(columns))
        return cover, csr_matrix((np.ones(len(pairs)), where), shape=shape)

    def _generate(
        self, tariff: Tariff, free: Bools, rounds: int, shut: Bools | None = None
    ) -> _Relaxed:
        """Solve the linear programme over the free laterals, adding columns until none helps."""
        from scipy.optimize import linprog

        shut = np.zeros(len(self.links.from_), dtype=bool) if shut is None else shut
        conflicts = self.links.conflicts
        bound = -np.inf
        for _ in range(rounds):
            columns, costs = self._usable(tariff, free)
            if shut.any():
                keep = [not any(shut[link] for link in column.links) for column in columns]
                columns = [c for c, k in zip(columns, keep, strict=True) if k]
                costs = costs[np.array(keep, dtype=bool)]
            cover, crossing = self._rows(columns, free)
            solved = linprog(
                costs,
                A_eq=cover,
                b_eq=np.ones(int(free.sum())),
                A_ub=crossing,
                b_ub=None if crossing is None else np.ones(len(conflicts)),
                bounds=(0.0, None),
                method="highs",
            )
            values = np.full(len(free), -np.inf)
            values[free] = solved.eqlin.marginals
            tolls = np.zeros(len(self.links.from_))
            if crossing is not None:
                np.subtract.at(tolls, conflicts[:, 0], solved.ineqlin.marginals)
                np.subtract.at(tolls, conflicts[:, 1], solved.ineqlin.marginals)
            tolls[shut] = np.inf
            found = self.pricer.cheapest(tariff, values, tolls, -1e-7)
            least = found[0][0] if found else 0.0
            bound = max(bound, float(solved.fun) + least * int(free.sum()))
            if not self.add([column for _, column in found]):
                break
        return _Relaxed(bound, columns, solved.x, values, tolls)

    def _dive(self, tariff: Tariff, shift: float) -> list[Column] | None:
        """Round up the fullest columns, solve for what is left, until nothing is."""
        free = np.ones(len(self.lengths), dtype=bool)
        shut = np.zeros(len(self.links.from_), dtype=bool)
        chosen: list[Column] = []
        while free.any():
            solved = self._generate(tariff, free, _DIVE_ROUNDS, shut)
            columns, shares = solved.columns, solved.shares
            rank = shares + shift * np.array([(37 * i % 101) / 101.0 for i in range(len(shares))])
            rank[shares < 1e-6] = -1.0
            taken = 0
            for i in np.argsort(-rank, kind="stable"):
                column = columns[i]
                mine = list(column.laterals(self.links))
                if shares[i] < (0.999 if taken else 1e-6) or not free[mine].all():
                    if taken or shares[i] < 1e-6:
                        break
                    continue
                if any(shut[link] for link in column.links):
                    continue
                free[mine] = False
                for link in column.links:
                    crossing = self.links.conflicts
                    shut[crossing[(crossing == link).any(axis=1)].ravel()] = True
                    shut[link] = False
                chosen.append(column)
                taken += 1
            if not taken:
                return None
        return chosen

    def _whole(
        self, tariff: Tariff, relaxed: _Relaxed, gap: float
    ) -> tuple[list[Column] | None, bool]:
        """HiGHS on every column that a better choice may hold, or on those found if too many."""
        from scipy.optimize import Bounds, LinearConstraint, milp

        every = np.ones(len(self.lengths), dtype=bool)
        columns = self.pricer.every(tariff, relaxed.values, relaxed.tolls, gap, _MOST_PATHS)
        complete = columns is not None and len(columns) <= _MOST_COLUMNS
        if complete and columns is not None:
            costs = np.array([column.cost(self.links, tariff) for column in columns])
        else:
            columns, costs = self._usable(tariff, every)
        if not complete and len(columns) > _MOST_COLUMNS:
            share = costs / np.array([len(c.laterals(self.links)) for c in columns])
            kept = np.sort(np.argsort(share, kind="stable")[:_MOST_COLUMNS])
            singles = [i for i, c in enumerate(columns) if not c.links]
            kept = np.unique(np.concatenate((kept, singles)))
            columns, costs = [columns[i] for i in kept], costs[kept]
        if not columns:
            return None, complete
        cover, crossing = self._rows(columns, every)
        limits = [LinearConstraint(cover, 1.0, 1.0)]
        if crossing is not None:
            limits.append(LinearConstraint(crossing, -np.inf, 1.0))
        solved = milp(
            costs,
            constraints=limits,
            bounds=Bounds(0.0, 1.0),
            integrality=np.ones(len(costs)),
            options={"node_limit": _NODES, "time_limit": _SECONDS, "mip_rel_gap": 1e-6},
        )
        exact = complete and solved.status in (0, 2)  # solved, or no choice is better
        if solved.x is None:
            return None, exact
        return [columns[i] for i in np.nonzero(solved.x > 0.5)[0]], exact
