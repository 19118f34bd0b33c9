"""Which laterals to join: the least and best balanced flush for the tubing and pipe that it takes.

One supply and one return head act on all joined laterals of a zone, so a short one takes more than
the flush velocity needs. For a longest length L a joined lateral is therefore priced by the flow at
its far end when one of length L has just the flush velocity there, in units of that flow, plus its
blank tubing and the pipe to the manifolds. L is swept; what is best over all is kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Bools, Floats
from dripfield.core.errors import input_error
from dripfield.zones.corridors import Corridors, main_side
from dripfield.zones.field import Field
from dripfield.zones.friction import far_end_flow
from dripfield.zones.greedy import next_line_down
from dripfield.zones.links import Links
from dripfield.zones.partition import Partition, Partitioner
from dripfield.zones.pricing import Column, Tariff
from dripfield.zones.settings import ZoneSettings

BLANK_WORTH = 15.0
"""Metres of blank tubing that are worth one far-end flow: our judgement, no source."""
PIPE_WORTH = 6.0
"""Metres of manifold pipe that are worth one far-end flow: our judgement, no source."""
SHARES = (1.0, 0.85, 0.7, 0.55, 0.4)
"""Longest lengths that are tried, as shares of the one allowed."""
_FEW = 120  # laterals: all sides are compared for each longest length
_MOST_OPTIONS = 8
_SHUT = 20.0  # for an end that no pipe reaches


Flush = Callable[[tuple[Column, ...]], float]


@dataclass(frozen=True)
class Sides:
    """Where the manifolds lie, per panel: "left", "right", or for the return "both"."""

    supply: tuple[str, ...]
    return_: tuple[str, ...]


@dataclass(frozen=True)
class Joins:
    """Joined laterals for one longest length.

    Attributes
    ----------
    longest : float
        Length that was allowed [site unit].
    sides : Sides
    columns : tuple of Column
    far_flow : float
        Sum over the far ends while the longest just flushes, all of a zone on one supply and one
        return head; as if every zone were the one that takes most [site unit cubed per second].
    blank : float
        Blank tubing [site unit].
    cost : float
        The objective with the pipe along the sides, in far-end flows.
    bound : float
        No choice for this longest length and these sides costs less.
    """

    longest: float
    sides: Sides
    columns: tuple[Column, ...]
    far_flow: float
    blank: float
    cost: float
    bound: float

    @property
    def reach(self) -> float:
        """Length of the longest that there is [site unit]."""
        return max(column.length for column in self.columns)


@dataclass(frozen=True)
class JoinReport:
    """What was chosen and how good it is.

    Attributes
    ----------
    chosen : Joins
    options : tuple of Joins
        One for each longest length tried, the longest first.
    fewest : int
        Fewest joined laterals that were found, whatever their balance.
    at_least : int
        No choice has fewer.
    greedy : int
        How many taking the next line down gives.
    greedy_shut : int
        Of these, those with an end that no manifold reaches; the other counts avoid such ends
        where they can.
    reason : str
    """

    chosen: Joins
    options: tuple[Joins, ...]
    fewest: int
    at_least: int
    greedy: int
    greedy_shut: int
    reason: str


def check_lengths(field: Field, longest: float) -> None:
    """Refuse a lateral that is by itself longer than a joined lateral may be.

    Raises
    ------
    InputError
        Naming the longest such lateral.
    """
    lengths = field.lengths
    worst = int(np.argmax(lengths))
    if lengths[worst] > longest:
        over = int((lengths > longest).sum())
        more = f" and {over - 1} more are" if over > 1 else " is"
        raise input_error(
            f"{field.laterals[worst].name} ({lengths[worst]:.1f}){more} longer than a joined "
            f"lateral may be ({longest:g})",
            "set max_length under [layout] or a greater longest under [zones]",
            field="longest",
        )


def choose_joins(
    field: Field,
    links: Links,
    corridors: Corridors,
    settings: ZoneSettings,
    routes: tuple[int | None, int | None] = (None, None),
    flush: Flush | None = None,
) -> JoinReport:
    """Choose the joined laterals and the sides that their manifolds lie on.

    Parameters
    ----------
    field : Field
    links : Links
    corridors : Corridors
    settings : ZoneSettings
    routes : tuple of int or None
        Nodes of the corridors where the supply arrives and where the return leaves.
    flush : callable or None
        Flow at all far ends of a choice [site unit cubed per second]; None: as one zone.

    Returns
    -------
    JoinReport

    Raises
    ------
    InputError
        A lateral that is by itself too long.
    """
    check_lengths(field, settings.longest)
    lengths = field.lengths
    pipes = _Pipes(field, corridors, routes)
    greedy = next_line_down(lengths, links, settings.longest, pipes.open)
    work = Partitioner(lengths, links, greedy)
    few = len(lengths) <= _FEW
    effort = 2 if few else 1
    count = work.solve(_count_tariff(pipes, settings.longest), whole_price=True, effort=effort)
    least = int(np.ceil(lengths.sum() / settings.longest - 1e-9))
    if count.cost < _SHUT:
        least = max(least, round(count.bound))

    modes = pipes.modes(settings.feed)
    fixed = [pipes.fixed(sides, settings) for sides in modes]
    options: list[Joins] = []
    best_mode = 0
    ahead = [share * settings.longest for share in (SHARES if few else SHARES[:3])]
    while ahead and len(options) < _MOST_OPTIONS:
        longest = max(ahead.pop(0), float(lengths.max()) * (1.0 + 1e-9))
        price = _price(longest, settings)
        here = range(len(modes)) if few or not options else [best_mode]
        tried = []
        for number in here:
            tariff = _tariff(pipes, modes[number], price, settings)
            tried.append((work.bound(tariff) + fixed[number], number))
        best_mode = min(tried)[1]
        tariff = _tariff(pipes, modes[best_mode], price, settings)
        known = [count.columns, *(one.columns for one in options)]
        solved = work.solve(tariff, effort=1 if few else 0, known=known)
        one = _joins(links, tariff, solved, modes[best_mode], fixed[best_mode], settings, flush)
        options.append(one)
        if (
            few and one.reach < 0.98 * longest
        ):  # the same prices would not hold: again at its own length
            ahead.insert(0, one.reach)
        ahead = [length for length in ahead if length < 0.99 * longest]
        if longest <= lengths.max() * (1.0 + 1e-6):
            break
    best = min(options, key=lambda one: (round(one.cost, 6), len(one.columns)))
    if not few:
        price = _price(best.longest, settings)
        tariff = _tariff(pipes, best.sides, price, settings)
        known = [one.columns for one in options]
        solved = work.solve(tariff, effort=1, known=known)
        again = _joins(
            links, tariff, solved, best.sides, fixed[modes.index(best.sides)], settings, flush
        )
        options = [again if one is best else one for one in options]
        best = again
    shut = sum(1 for one in greedy if not (pipes.open[one.start] and pipes.open[one.finish(links)]))
    return JoinReport(
        best,
        tuple(options),
        min(len(count.columns), *(len(one.columns) for one in options)),
        least,
        len(greedy),
        shut,
        _reason(best, options, settings),
    )


def _reason(best: Joins, options: list[Joins], settings: ZoneSettings) -> str:
    fewest = min(options, key=lambda one: len(one.columns))
    need = best.far_flow / settings.flush_flow
    text = (
        f"{len(best.columns)} joined laterals of up to {best.reach:.0f} flush with "
        f"{need:.1f} times the flow of one far end"
    )
    if len(fewest.columns) < len(best.columns):
        other = fewest.far_flow / settings.flush_flow
        text += f"; {len(fewest.columns)}, the fewest compared, take {other:.1f} times"
        if other <= need:
            text += " but more blank tubing or pipe to the manifolds"
    return text


def one_zone_flow(lengths: Floats, settings: ZoneSettings) -> float:
    """Flow at the far ends of joined laterals of some lengths while the longest just flushes."""
    return float(far_end_flow(lengths, float(lengths.max()), settings).sum())


def _joins(
    links: Links,
    tariff: Tariff,
    solved: Partition,
    sides: Sides,
    fixed: float,
    settings: ZoneSettings,
    flush: Flush | None,
) -> Joins:
    columns = solved.columns
    lengths = np.array([column.length for column in columns])
    far = flush(columns) if flush else one_zone_flow(lengths, settings)
    blank = float(sum(links.length[list(column.links)].sum() for column in columns if column.links))
    paid = sum(column.cost(links, tariff) for column in columns)
    priced = float(tariff.for_length(lengths).sum())
    cost = paid - priced + far / settings.flush_flow + fixed
    bound = solved.bound + fixed
    return Joins(tariff.longest, sides, columns, far, blank, float(cost), bound)


def _tariff(
    pipes: _Pipes, sides: Sides, price: tuple[Floats, Floats], settings: ZoneSettings
) -> Tariff:
    metres = settings.unit.metres
    supply, back = pipes.from_ends(sides)
    worth = metres / PIPE_WORTH
    return Tariff(
        float(price[0][-1]),
        *price,
        np.where(np.isfinite(supply), supply * worth, _SHUT),
        np.where(np.isfinite(back), back * worth, _SHUT),
        metres / BLANK_WORTH,
    )


def _price(longest: float, settings: ZoneSettings) -> tuple[Floats, Floats]:
    """Far-end flow for lengths up to the longest, in far-end flows of the longest."""
    grid = longest * np.concatenate((np.geomspace(0.002, 0.1, 16), np.linspace(0.11, 1.0, 90)))
    return grid, far_end_flow(grid, longest, settings) / settings.flush_flow


def _count_tariff(pipes: _Pipes, longest: float) -> Tariff:
    shut = np.where(pipes.open, 0.0, _SHUT)
    return Tariff(longest, np.array([0.0, longest]), np.ones(2), shut, shut, 0.0)


class _Pipes:
    """Lengths of pipe between ends, sides of panels and the lines from outside."""

    def __init__(
        self, field: Field, corridors: Corridors, routes: tuple[int | None, int | None]
    ) -> None:
        ends = 2 * len(field.laterals)
        self.count = len(field.laterals)
        start = np.concatenate((np.arange(ends), [r for r in routes if r is not None])).astype(int)
        away, _ = corridors.reach(ends, start)
        self.distance = away[:ends, :ends]
        rows = iter(range(ends, len(start)))
        self.routes = [away[next(rows), :ends] if r is not None else None for r in routes]
        self.main = {s: main_side(field, self.distance, i) for i, s in enumerate(("left", "right"))}
        main = self.main["left"] | self.main["right"]
        self.open: Bools = np.asarray(np.isfinite(self.distance[:, main]).any(axis=1))
        panels = np.array([lateral.panel for lateral in field.laterals])
        self.names = tuple(sorted(set(panels)))
        self.panels = np.repeat(panels, 2)

    def _set(self, sides: tuple[str, ...]) -> Bools:
        chosen = np.zeros(len(self.panels), dtype=bool)
        for panel, side in zip(self.names, sides, strict=True):
            for one in ("left", "right"):
                if side in (one, "both"):
                    chosen |= self.main[one] & (self.panels == panel)
        return chosen

    def modes(self, feed: str | None) -> list[Sides]:
        """Sides worth comparing: fewer where there are many laterals."""
        number = len(self.names)
        other = {"left": "right", "right": "left"}
        firsts = [feed] if feed else ["left", "right"]
        patterns = [tuple([first] * number) for first in firsts]
        if number > 1 and not feed and self.count <= 150:
            for first in ("left", "right"):
                patterns.append(tuple(first if i % 2 == 0 else other[first] for i in range(number)))
        modes = []
        for supply in patterns:
            across = tuple(other[side] for side in supply)
            for back in (supply, across, tuple(["both"] * number)):
                modes.append(Sides(supply, back))
        return modes

    def from_ends(self, sides: Sides) -> tuple[Floats, Floats]:
        """Pipe from every end to the supply and to the return side of its panel."""
        found = []
        for which in (sides.supply, sides.return_):
            chosen = self._set(which)
            away = self.distance[:, chosen].min(axis=1)
            found.append(np.where(chosen, 0.0, away))
        return found[0], found[1]

    def fixed(self, sides: Sides, settings: ZoneSettings) -> float:
        """What the manifolds along their sides cost, with the ways to the lines from outside."""
        from scipy.sparse.csgraph import minimum_spanning_tree

        total = 0.0
        for which, route in zip((sides.supply, sides.return_), self.routes, strict=True):
            chosen = np.nonzero(self._set(which))[0]
            away = self.distance[np.ix_(chosen, chosen)]
            if route is not None:
                away = np.block([[away, route[chosen][:, None]], [route[chosen][None, :], 0.0]])
            finite = np.where(np.isfinite(away), away, 0.0)
            total += float(minimum_spanning_tree(finite).sum())
        return total * settings.unit.metres / PIPE_WORTH
