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

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.core.quiet import quiet_output
from dripfield.zones.links import Links
from dripfield.zones.pricing import Column, Pricer, Tariff

_ROUNDS = 80
_DIVE_ROUNDS = 2
_FULL = 0.6  # share from which a column is rounded up along with the fullest
_NODES = 200
_SECONDS = 20.0  # against hanging; the limit of nodes comes first

_MOST_COLUMNS = 2500
_MOST_PATHS = 20_000
_WINDOW = 40  # laterals that are chosen anew at a time
_PASSES = 2


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
    columns: Ints
    shares: Floats
    values: Floats
    tolls: Floats


class _Pool:
    """Columns with their figures as arrays."""

    def __init__(self, links: Links, laterals: int) -> None:
        self.links = links
        self.laterals = laterals
        self.columns: list[Column] = []
        self.users: dict[int, list[int]] = {}
        self._known: set[tuple[int, tuple[int, ...]]] = set()
        self._figures: list[tuple[int, int, float, float]] = []
        self._pointers, self._rows = [0], [np.empty(0, dtype=np.int64)]
        self._packed: tuple[Floats, Any, Any] | None = None

    def add(self, columns: Sequence[Column]) -> int:
        """Add columns to those known, and say how many were new."""
        before = len(self.columns)
        links = self.links
        for column in columns:
            key = (column.start, column.links)
            if key in self._known:
                continue
            self._known.add(key)
            blank = float(links.length[list(column.links)].sum()) if column.links else 0.0
            self._figures.append((column.start, column.finish(links), column.length, blank))
            mine = np.array(column.laterals(links), dtype=np.int64)
            self._rows.append(np.sort(mine))
            self._pointers.append(self._pointers[-1] + len(mine))
            for link in column.links:
                self.users.setdefault(link, []).append(len(self.columns))
            self.columns.append(column)
        if len(self.columns) > before:
            self._packed = None
        return len(self.columns) - before

    def packed(self) -> tuple[Floats, Any, Any]:
        """Figures of all columns known, which laterals they cover, which crossings they use."""
        if self._packed is None:
            from scipy.sparse import csc_matrix

            rows = np.concatenate(self._rows)
            cover = csc_matrix(
                (np.ones(len(rows)), rows, np.array(self._pointers)),
                shape=(self.laterals, len(self.columns)),
            )
            conflicts = self.links.conflicts
            at = [
                (row, i)
                for row, pair in enumerate(conflicts)
                for link in pair
                for i in self.users.get(int(link), ())
            ]
            where = np.array(at, dtype=np.int64).reshape(-1, 2).T
            crossing = csc_matrix(
                (np.ones(where.shape[1]), (where[0], where[1])),
                shape=(len(conflicts), len(self.columns)),
            )
            self._packed = (np.array(self._figures), cover, crossing)
        return self._packed

    def costs(self, tariff: Tariff) -> Floats:
        """What every column known costs; infinite where it is too long."""
        start, finish, length, blank = self.packed()[0].T
        ends = tariff.supply[start.astype(int)] + tariff.return_[finish.astype(int)]
        cost = ends + tariff.blank * blank + tariff.for_length(length)
        return np.where(length > tariff.longest * (1.0 + 1e-12), np.inf, cost)


class Partitioner:
    """Chooses joined laterals on one graph; what it has found serves the next tariff too.

    It starts from each lateral by itself, both ways round, and the columns of ``seeds``.

    Parameters
    ----------
    lengths : (n,) float array
        Of the laterals, from the top down [site unit].
    links : Links
    seeds : sequence of Column
        Joined laterals known already.
    """

    def __init__(self, lengths: Floats, links: Links, seeds: Sequence[Column] = ()) -> None:
        self.lengths = lengths
        self.links = links
        self.pricer = Pricer(lengths, links)
        self.pool = _Pool(links, len(lengths))
        self.pool.add(
            [Column(end, (), float(lengths[end // 2])) for end in range(2 * len(lengths))]
        )
        self.pool.add(seeds)

    def _usable(self, tariff: Tariff, free: Bools, barred: Sequence[int]) -> Bools:
        """Which columns known cover free laterals alone, by links that are not barred."""
        cover = self.pool.packed()[1]
        usable = np.isfinite(self.pool.costs(tariff))
        usable &= (~free).astype(float) @ cover == 0.0
        for link in barred:
            usable[self.pool.users.get(link, [])] = False
        return np.asarray(usable)

    def bound(self, tariff: Tariff) -> float:
        """What no choice can cost less than."""
        return self._generate(tariff, np.ones(len(self.lengths), dtype=bool), _ROUNDS).bound

    def solve(
        self,
        tariff: Tariff,
        *,
        whole_price: bool = False,
        effort: int = 2,
        known: Sequence[Sequence[Column]] = (),
    ) -> Partition:
        """The best choice found for a tariff.

        Parameters
        ----------
        tariff : Tariff
            Some start and finish must be open for every lateral by itself.
        whole_price : bool
            Every column costs 1: the bound is rounded up.
        effort : int
            0: one dive; 1: and HiGHS on the columns; 2: dives from other starts too.
        known : sequence of sequences of Column
            Choices made for other tariffs.

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
        for choice in known:  # made on the same links, so nothing in it crosses
            total = sum(column.cost(self.links, tariff) for column in choice)
            if total < cost - 1e-9:
                best, cost = list(choice), total
        tries = [("dive", 0.0)]
        if len(self.lengths) <= _WINDOW * 2 and effort >= 1:
            tries.append(("whole", 0.0))
        tries += [("parts", 0.0)] * (effort >= 1)
        tries += [("dive", 0.35), ("parts", 0.0), ("dive", 0.15), ("whole", 0.0)] * (effort >= 2)
        for kind, shift in tries:
            if exact or cost <= bound + slack:
                break
            if kind == "dive":
                found = self._dive(tariff, shift)
            elif kind == "parts":
                found = self._parts(tariff, best) if best else None
            else:
                gap = cost - solved.bound - (1.0 - 1e-6 if whole_price else 0.0)
                found, exact = self._whole(tariff, solved, gap, every)
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
        both = [Column(2 * lateral + side, (), float(self.lengths[lateral])) for side in (0, 1)]
        return min(both, key=lambda column: column.cost(self.links, tariff))

    def _generate(
        self, tariff: Tariff, free: Bools, rounds: int, shut: Bools | None = None
    ) -> _Relaxed:
        """Solve the linear programme over the free laterals, adding columns until none helps."""
        from scipy.optimize import linprog

        conflicts = self.links.conflicts
        barred = [int(link) for link in np.nonzero(shut)[0]] if shut is not None else []
        bound = -np.inf
        for _ in range(rounds):
            _, cover, crossing = self.pool.packed()
            costs = self.pool.costs(tariff)
            columns = np.nonzero(self._usable(tariff, free, barred))[0]
            pairs = crossing[:, columns]
            with quiet_output():
                solved = linprog(
                    costs[columns],
                    A_eq=cover[:, columns][free],
                    b_eq=np.ones(int(free.sum())),
                    A_ub=pairs if len(conflicts) else None,
                    b_ub=np.ones(len(conflicts)) if len(conflicts) else None,
                    bounds=(0.0, None),
                    method="highs",
                )
            values = np.full(len(free), -np.inf)
            values[free] = solved.eqlin.marginals
            tolls = np.zeros(len(self.links.from_))
            if len(conflicts):
                np.subtract.at(tolls, conflicts[:, 0], solved.ineqlin.marginals)
                np.subtract.at(tolls, conflicts[:, 1], solved.ineqlin.marginals)
            tolls[barred] = np.inf
            found = self.pricer.cheapest(tariff, values, tolls, -1e-7)
            least = found[0][0] if found else 0.0
            bound = max(bound, float(solved.fun) + least * int(free.sum()))
            if not self.pool.add([column for _, column in found]):
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
                column = self.pool.columns[columns[i]]
                mine = list(column.laterals(self.links))
                if shares[i] < (_FULL if taken else 1e-6) or not free[mine].all():
                    if taken or shares[i] < 1e-6:
                        break
                    continue
                if any(shut[link] for link in column.links) or self._crosses_itself(column):
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

    def _crosses_itself(self, column: Column) -> bool:
        return bool(np.isin(self.links.conflicts, column.links).all(axis=1).any())

    def _parts(self, tariff: Tariff, start: list[Column]) -> list[Column]:
        """Choose anew for some neighbouring joined laterals at a time, all others kept."""
        chosen = list(start)
        crossing = self.links.conflicts
        better = True
        for _ in range(_PASSES):
            if not better:
                break
            better = False
            chosen.sort(key=lambda column: column.laterals(self.links))
            first = 0
            while first < len(chosen):
                last, size = first, 0
                while last < len(chosen) and size < _WINDOW:
                    size += 1 + len(chosen[last].links)
                    last += 1
                mine, rest = chosen[first:last], chosen[:first] + chosen[last:]
                free = np.zeros(len(self.lengths), dtype=bool)
                free[[j for column in mine for j in column.laterals(self.links)]] = True
                used = [link for column in rest for link in column.links]
                shut = np.zeros(len(self.links.from_), dtype=bool)
                shut[crossing[np.isin(crossing, used).any(axis=1)].ravel()] = True
                relaxed = self._generate(tariff, free, _ROUNDS, shut)
                cost = sum(column.cost(self.links, tariff) for column in mine)
                if cost > relaxed.bound + 1e-6:
                    barred = [int(link) for link in np.nonzero(shut)[0]]
                    gap = cost - relaxed.bound
                    found, _ = self._whole(tariff, relaxed, gap, free, barred)
                    total = sum(column.cost(self.links, tariff) for column in found or ())
                    if found and total < cost - 1e-7:
                        chosen = [*chosen[:first], *found, *chosen[last:]]
                        last = first + len(found)
                        better = True
                first = max(first + 1, (first + last) // 2) if last < len(chosen) else last
        return chosen

    def _whole(
        self,
        tariff: Tariff,
        relaxed: _Relaxed,
        gap: float,
        free: Bools,
        barred: Sequence[int] = (),
    ) -> tuple[list[Column] | None, bool]:
        """HiGHS on every column that a better choice may hold, or on those found if too many."""
        from scipy.optimize import Bounds, LinearConstraint, milp

        every = self.pricer.every(tariff, relaxed.values, relaxed.tolls, gap, _MOST_PATHS)
        complete = every is not None and len(every) <= _MOST_COLUMNS
        if complete and every is not None:
            pool = _Pool(self.links, len(self.lengths))
            pool.add(every)
            columns = np.arange(len(pool.columns))
            if not len(columns):
                return None, True
        else:
            pool = self.pool
            columns = np.nonzero(self._usable(tariff, free, barred))[0]
            reduced = pool.costs(tariff) - (
                np.where(np.isfinite(relaxed.values), relaxed.values, 0.0) @ pool.packed()[1]
            )
            rank = columns[np.argsort(reduced[columns], kind="stable")]
            columns = np.sort(rank[: _MOST_COLUMNS // 2])
        costs = pool.costs(tariff)[columns]
        cover, crossing = (part[:, columns] for part in pool.packed()[1:])
        cover = cover[free]
        limits = [LinearConstraint(cover, 1.0, 1.0)]
        if crossing.shape[0]:
            limits.append(LinearConstraint(crossing, -np.inf, 1.0))
        with quiet_output():
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
        return [pool.columns[columns[i]] for i in np.nonzero(solved.x > 0.5)[0]], exact
