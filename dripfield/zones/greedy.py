"""What a person does without help: take the next line down as long as the length lasts."""

from __future__ import annotations

import numpy as np

from dripfield.core.arrays import Bools, Floats
from dripfield.zones.links import Links
from dripfield.zones.pricing import Column


def next_line_down(
    lengths: Floats, links: Links, longest: float, open_: Bools | None = None
) -> tuple[Column, ...]:
    """Join from the top, each time with the nearest line below that still fits.

    Parameters
    ----------
    lengths : (n,) float array
        Of the laterals, from the top down [site unit].
    links : Links
    longest : float
        Most that a joined lateral may measure [site unit].
    open_ : (2 n,) bool array or None
        Ends that a manifold reaches: a joined lateral starts and stops there where it can.

    Returns
    -------
    tuple of Column
        Each lateral in exactly one.
    """
    reached = np.ones(2 * len(lengths), dtype=bool) if open_ is None else open_
    free = np.ones(len(lengths), dtype=bool)
    crossing: dict[int, set[int]] = {}
    for one, two in links.conflicts:
        crossing.setdefault(int(one), set()).add(int(two))
        crossing.setdefault(int(two), set()).add(int(one))
    shut: set[int] = set()
    chosen = []
    for lateral in range(len(lengths)):
        if not free[lateral]:
            continue
        tries = [
            _follow(2 * lateral + side, lengths, links, longest, (free, shut, crossing))
            for side in (0, 1)
        ]
        tries = [_to_open_end(column, lengths, links, reached) for column in tries]
        best = max(tries, key=lambda one: (reached[one.start], len(one.links)))
        free[list(best.laterals(links))] = False
        for link in best.links:
            shut |= crossing.get(link, set())
        chosen.append(best)
    return tuple(chosen)


def _to_open_end(column: Column, lengths: Floats, links: Links, reached: Bools) -> Column:
    """Without the last laterals, if only then a manifold reaches its end."""
    taken, length = list(column.links), column.length
    while True:
        found = Column(column.start, tuple(taken), length)
        if reached[found.finish(links)]:
            return found
        if not taken:
            return column
        last = taken.pop()
        length -= float(links.length[last] + lengths[links.to[last] // 2])


def _follow(
    start: int,
    lengths: Floats,
    links: Links,
    longest: float,
    state: tuple[Bools, set[int], dict[int, set[int]]],
) -> Column:
    free, shut, crossing = state
    shut = set(shut)
    taken: list[int] = []
    used = {start // 2}
    leave, length = start ^ 1, float(lengths[start // 2])
    while True:
        ways = [
            int(link)
            for link in np.nonzero(links.from_ == leave)[0]
            if free[links.to[link] // 2]
            and int(links.to[link]) // 2 not in used
            and int(link) not in shut
            and length + links.length[link] + lengths[links.to[link] // 2] <= longest
        ]
        if not ways:
            return Column(start, tuple(taken), length)
        link = min(ways, key=lambda way: (int(links.to[way]) // 2, float(links.length[way])))
        taken.append(link)
        shut |= crossing.get(link, set())
        used.add(int(links.to[link]) // 2)
        length += float(links.length[link] + lengths[links.to[link] // 2])
        leave = int(links.to[link]) ^ 1
