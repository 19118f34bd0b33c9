"""Pieces into coils: which are cut from the same coil so that the fewest coils are opened.

One length of coil: bin packing. Best-fit decreasing and least slack give packings, the bound L2 of
Martello and Toth (*Knapsack Problems*, 1990, chapter 8) says how few there could be, and a search
in depth closes the gap where it can within a stated number of steps. Several lengths: exact over
subsets for few pieces, else the best that one length gives, each coil then made as short as its
pieces allow.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Sequence
from dataclasses import dataclass

from dripfield.core.errors import input_error

MOST_STEPS = 3_000_000  # of looking at one coil for one piece
_MOST_BOUNDS = 200
MOST_EXACT = 11  # pieces up to which every subset is tried where coils differ in length
_SAME = 1e-9


@dataclass(frozen=True)
class Packing:
    """Which pieces share a coil.

    Attributes
    ----------
    bins : tuple of tuple of int
        Numbers of the pieces of each coil, ascending; coils in the order of their first piece.
    sizes : tuple of float
        Length of each coil.
    least : float
        A bound from below: coils where they are of one length, else total length bought.
    exact : bool
        Whether nothing better exists.
    """

    bins: tuple[tuple[int, ...], ...]
    sizes: tuple[float, ...]
    least: float
    exact: bool


def pack(pieces: Sequence[float], coils: Sequence[float]) -> Packing:
    """Cut every piece whole from a coil, buying the fewest coils, or the least length of several.

    Parameters
    ----------
    pieces : sequence of float
        Lengths, none longer than the longest coil.
    coils : sequence of float
        Lengths in which coils are sold, each to be had in any number.

    Returns
    -------
    Packing

    Raises
    ------
    InputError
        A piece that is not above zero or longer than the longest coil.
    """
    lengths, sizes = [float(piece) for piece in pieces], sorted(set(map(float, coils)))
    for number, length in enumerate(lengths, 1):
        if not 0.0 < length <= sizes[-1] * (1.0 + _SAME):
            raise input_error(
                f"piece {number} is {length:g} long and the longest coil {sizes[-1]:g}",
                "give longer coils, or allow splices",
            )
    if len(sizes) == 1:
        return _of_one_length(lengths, sizes[0])
    return _of_several_lengths(lengths, sizes)


def _of_one_length(lengths: list[float], coil: float) -> Packing:
    bins = min(best_fit(lengths, coil), least_slack(lengths, coil), key=len)
    least = fewest_bound(lengths, coil)
    exact, steps = len(bins) == least, MOST_STEPS
    while not exact:
        found, steps = _fit_into(lengths, coil, len(bins) - 1, steps)
        if found is None:
            exact = steps > 0
            break
        bins, exact = found, len(found) == least
    if exact:
        least = len(bins)
    return Packing(_ordered(bins), (coil,) * len(bins), float(least), exact)


def best_fit(lengths: Sequence[float], coil: float) -> list[list[int]]:
    """Best-fit decreasing: the longest piece first, into the fullest coil that still holds it."""
    room: list[tuple[float, int]] = []  # of each coil opened, the fullest first
    bins: list[list[int]] = []
    for piece in sorted(range(len(lengths)), key=lambda i: (-lengths[i], i)):
        at = bisect_left(room, (lengths[piece] - coil * _SAME, -1))
        if at < len(room):
            left, into = room.pop(at)
            bins[into].append(piece)
        else:
            left, into = coil, len(bins)
            bins.append([piece])
        insort(room, (left - lengths[piece], into))
    return bins


def least_slack(lengths: Sequence[float], coil: float) -> list[list[int]]:
    """Coil by coil: the longest piece left and, beside it, whatever leaves the least of the coil.

    The minimum bin slack heuristic of Gupta and Ho (1999), its search of each coil limited to a
    number of steps.
    """
    left = sorted(range(len(lengths)), key=lambda i: (-lengths[i], i))
    budget = max(200, MOST_STEPS // 10 // max(1, len(left)))
    bins: list[list[int]] = []
    while left:
        first = left.pop(0)
        sizes = [-lengths[i] for i in left]  # rising, for bisection
        beside = _fullest(sizes, coil - lengths[first], coil * _SAME, budget)
        bins.append([first, *(left[at] for at in beside)])
        for at in reversed(beside):
            del left[at]
    return bins


def _fullest(sizes: list[float], room: float, slack: float, steps: int) -> list[int]:
    """Places, rising, of pieces that fill room best; ``sizes`` are negative lengths, rising."""
    best: list[int] = []
    best_left = room
    chosen: list[int] = []
    rooms = [room]
    at = bisect_left(sizes, -room - slack)
    while steps > 0:
        steps -= 1
        if at < len(sizes):
            chosen.append(at)
            rooms.append(rooms[-1] + sizes[at])
            if rooms[-1] < best_left - slack:
                best, best_left = chosen.copy(), rooms[-1]
                if best_left <= slack:
                    break
            at = bisect_left(sizes, -rooms[-1] - slack, at + 1)
            continue
        if not chosen:
            break
        last = chosen.pop()
        rooms.pop()
        at = bisect_right(sizes, sizes[last], last + 1)  # another of that length is no better
    return best


def fewest_bound(lengths: Sequence[float], coil: float) -> int:
    """A number of coils below which no packing goes: the bound L2 of Martello and Toth."""
    if not lengths:
        return 0
    best = 0
    slack = coil * _SAME
    thresholds = sorted({0.0, *(one for one in lengths if one <= coil / 2.0)})
    for small in thresholds[:: 1 + len(thresholds) // _MOST_BOUNDS]:  # each gives a bound
        large = [one for one in lengths if one > coil - small + slack]
        middle = [one for one in lengths if coil / 2.0 + slack < one <= coil - small + slack]
        rest = sum(one for one in lengths if small <= one <= coil / 2.0 + slack)
        spare = len(middle) * coil - sum(middle)
        more = _whole_up((rest - spare) / coil) if rest > spare else 0
        best = max(best, len(large) + len(middle) + more)
    return best


def _whole_up(value: float) -> int:
    """Rounded up, but not for a rounding error."""
    return int(-((-value + 1e-7) // 1.0)) if value > 1e-7 else 0


def _fit_into(
    lengths: list[float], coil: float, bins: int, steps: int
) -> tuple[list[list[int]] | None, int]:
    """A packing into at most so many coils, and the steps left; None and steps left: there is none.

    Depth first, the longest piece first; a coil with the same room as one tried is not tried again.
    """
    order = sorted(range(len(lengths)), key=lambda i: (-lengths[i], i))
    room = [coil] * bins
    content: list[list[int]] = [[] for _ in range(bins)]
    slack = coil * _SAME
    stack: list[tuple[int, list[int]]] = [(0, _choices(room, lengths[order[0]], slack))]
    placed: list[int] = []
    waste = bins * coil - sum(lengths)
    if waste < -slack * bins:
        return None, steps
    while stack:
        depth, choices = stack[-1]
        if len(placed) > depth:
            into = placed.pop()
            content[into].pop()
            room[into] += lengths[order[depth]]
        if not choices:
            stack.pop()
            continue
        steps -= bins
        if steps <= 0:
            return None, 0
        into = choices.pop(0)
        room[into] -= lengths[order[depth]]
        content[into].append(order[depth])
        placed.append(into)
        if depth + 1 == len(order):
            return [one for one in content if one], steps
        smallest = lengths[order[-1]]
        lost = sum(left for left in room if left < smallest - slack)
        choices_next = (
            [] if lost > waste + slack else _choices(room, lengths[order[depth + 1]], slack)
        )
        stack.append((depth + 1, choices_next))
    return None, steps


def _choices(room: list[float], length: float, slack: float) -> list[int]:
    """Coils that hold a piece, the fullest first, one of each amount of room."""
    fits: dict[float, int] = {}
    for i, left in enumerate(room):
        if length <= left + slack:
            fits.setdefault(round(left / slack / 10.0), i)
    return sorted(fits.values(), key=lambda i: (room[i], i))


def _of_several_lengths(lengths: list[float], sizes: list[float]) -> Packing:
    if len(lengths) <= MOST_EXACT:
        bins = _over_subsets(lengths, sizes)
        exact = True
    else:
        bins = min(
            (
                [list(one) for one in _of_one_length(lengths, size).bins]
                for size in sizes
                if size >= max(lengths) * (1.0 - _SAME)
            ),
            key=lambda some: (_bought(some, lengths, sizes), len(some)),
        )
        exact = False
    ordered = _ordered(bins)
    chosen = tuple(_shortest(sum(lengths[i] for i in one), sizes) for one in ordered)
    least = sum(chosen) if exact else least_bought(sum(lengths), sizes)
    return Packing(ordered, chosen, least, exact or sum(chosen) <= least * (1.0 + _SAME))


def _shortest(total: float, sizes: list[float]) -> float:
    return next(size for size in sizes if total <= size * (1.0 + _SAME))


def _bought(bins: list[list[int]], lengths: list[float], sizes: list[float]) -> float:
    return sum(_shortest(sum(lengths[i] for i in one), sizes) for one in bins)


def _over_subsets(lengths: list[float], sizes: list[float]) -> list[list[int]]:
    """Least length bought, then fewest coils, over all ways to part the pieces."""
    count = len(lengths)
    total = [0.0] * (1 << count)
    for mask in range(1, 1 << count):
        low = (mask & -mask).bit_length() - 1
        total[mask] = total[mask & (mask - 1)] + lengths[low]
    cost = [
        _shortest(one, sizes) if one <= sizes[-1] * (1.0 + _SAME) else float("inf") for one in total
    ]
    best: list[tuple[float, int]] = [(0.0, 0)] + [(float("inf"), 0)] * ((1 << count) - 1)
    chosen = [0] * (1 << count)
    for mask in range(1, 1 << count):
        low = mask & -mask
        rest = mask ^ low
        part = rest
        while True:  # every subset that holds the lowest piece
            coil = part | low
            if cost[coil] < float("inf"):
                before = best[mask ^ coil]
                offer = (before[0] + cost[coil], before[1] + 1)
                if offer < best[mask]:
                    best[mask], chosen[mask] = offer, coil
            if not part:
                break
            part = (part - 1) & rest
    bins, mask = [], (1 << count) - 1
    while mask:
        bins.append([i for i in range(count) if chosen[mask] >> i & 1])
        mask ^= chosen[mask]
    return bins


def least_bought(total: float, sizes: Sequence[float]) -> float:
    """The least length of whole coils that is no less than a total, were pieces to be spliced."""
    longest = max(sizes)
    whole = max(0, int(total // longest) - max(1, len(sizes)) * 8)
    reach = {whole * longest}
    done: list[float] = []
    while reach:
        done += [one for one in reach if one >= total * (1.0 - _SAME)]
        cap = min(done, default=float("inf"))
        reach = (
            {
                round(one + size, 9)
                for one in reach
                if one < total * (1.0 - _SAME)
                for size in sizes
                if one + size < cap
            }
            if total > 0.0
            else set()
        )
        if len(reach) > 5_000:
            return total
    return min(done, default=0.0)


def _ordered(bins: Sequence[Sequence[int]]) -> tuple[tuple[int, ...], ...]:
    return tuple(sorted(tuple(sorted(one)) for one in bins))
