"""Fittings counted from routed pipe: bends by angle, tees, reducers, couplings and joints.

Turns between two stretches are measured in space, then met by the stock bends that come closest;
which bends are stocked is common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.preparation.pipe_sizes import known_size, rank

STOCK_BENDS = (90.0, 45.0, 22.5)  # [degree]
LEAST_TURN = 10.0  # taken up by the pipe itself [degree]
_CLOSE = 7.5  # a single bend this close is taken before two [degree]


@dataclass(frozen=True)
class PipeRun:
    """Pipe of one nominal size from one place to another.

    Attributes
    ----------
    name : str
    use : str
        ``supply``, ``return``, ``supply manifold``, ``return manifold``, ``pump line``, ``gravity
        return`` or the user's own word.
    size : str
        Nominal size of Schedule 40 pipe ("1-1/2 in").
    length : float
        Along the pipe [site unit].
    bends : tuple of float
        Angle of each bend to be bought [degree].
    tees : tuple of str
        Nominal size of the branch of each tee in the run.
    unions : int
        Places where it must come apart.
    reducers : tuple of (str, str)
        Sizes that meet in line, the larger first.
    shallow : float or None
        Length with less soil over it than the frost depth [site unit]; None: not known.
    taken : int
        Turns too small for a bend, which the pipe itself takes up.
    missed : tuple of float
        Turns that no stock bend meets [degree].
    """

    name: str
    use: str
    size: str
    length: float
    bends: tuple[float, ...] = ()
    tees: tuple[str, ...] = ()
    unions: int = 0
    reducers: tuple[tuple[str, str], ...] = ()
    shallow: float | None = None
    taken: int = 0
    missed: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a size that is not in the table and a length below zero."""
        object.__setattr__(self, "size", known_size(self.size))
        if not (np.isfinite(self.length) and self.length >= 0.0):
            raise input_error(f"the pipe {self.name} is {self.length:g} long", "give its length")

    @property
    def sockets(self) -> int:
        """Glued joints of its fittings; those of its couplings come with the lengths bought."""
        return 2 * len(self.bends) + 3 * len(self.tees) + 2 * (self.unions + len(self.reducers))


def run_along(
    name: str,
    use: str,
    size: str,
    xyz: Floats,
    *,
    ground: Floats | None = None,
    frost_depth: float | None = None,
    cover_less: float = 0.0,
    tees: Sequence[str] = (),
    unions: int = 0,
) -> PipeRun:
    """A run whose length, bends and shallow stretch are those of a routed path.

    Parameters
    ----------
    name, use, size : str
        As in :class:`PipeRun`.
    xyz : (k, 3) float array
        Easting, northing, elevation of its vertices [site unit].
    ground : (k,) float array, optional
        Elevation of the ground over each vertex [site unit].
    frost_depth : float, optional
        [site unit]
    cover_less : float
        Height of the top of the pipe over the line of ``xyz`` [site unit].
    tees : sequence of str
        Branch sizes of the tees in it.
    unions : int
        Unions in it.

    Returns
    -------
    PipeRun
    """
    bends, taken, missed = bends_for(turns(xyz))
    shallow = None
    if ground is not None and frost_depth is not None:
        shallow = shallow_length(xyz, ground - cover_less, frost_depth)
    return PipeRun(
        name,
        use,
        size,
        length_along(xyz),
        bends,
        tuple(known_size(one) for one in tees),
        unions,
        (),
        shallow,
        taken,
        missed,
    )


def length_along(xyz: Floats) -> float:
    """Length of a path in space [site unit]."""
    return float(np.linalg.norm(np.diff(xyz, axis=0), axis=1).sum())


def turns(xyz: Floats) -> Floats:
    """Angle by which a path turns at each inner vertex, in space [degree]; repeats left out."""
    step = np.diff(np.asarray(xyz, dtype=float), axis=0)
    size = np.linalg.norm(step, axis=1)
    step = step[size > 1e-9] / size[size > 1e-9, None]
    cross = np.linalg.norm(np.cross(step[:-1], step[1:]), axis=1)
    return np.asarray(np.degrees(np.arctan2(cross, (step[:-1] * step[1:]).sum(axis=1))))


def bends_for(
    angles: Sequence[float] | Floats,
) -> tuple[tuple[float, ...], int, tuple[float, ...]]:
    """Stock bends that meet turns, how many turns need none, and the turns badly met.

    A turn takes one bend where one comes within 7.5°, else the two that come closest; it counts as
    badly met where these are still more than 11.25° off, half of the smallest bend.
    """
    bends: list[float] = []
    missed: list[float] = []
    taken = 0
    for angle in map(float, angles):
        if angle < LEAST_TURN:
            taken += 1
            continue
        one = min(STOCK_BENDS, key=lambda bend: abs(bend - angle))
        best: tuple[float, ...] = (one,)
        if abs(one - angle) > _CLOSE:
            pairs = combinations_with_replacement(STOCK_BENDS, 2)
            best = min([best, *pairs], key=lambda some: (abs(sum(some) - angle), len(some)))
        bends += best
        if abs(sum(best) - angle) > min(STOCK_BENDS) / 2.0 + 1e-9:
            missed.append(angle)
    return tuple(sorted(bends, reverse=True)), taken, tuple(missed)


def shallow_length(xyz: Floats, ground: Floats, frost_depth: float) -> float:
    """Length of a path with less cover than the frost depth.

    Parameters
    ----------
    xyz : (k, 3) float array
        Top of the pipe [site unit].
    ground : (k,) float array
        Elevation of the ground over each vertex, straight between them [site unit].
    frost_depth : float
        [site unit]

    Returns
    -------
    float
        Along the pipe; exactly at the depth is deep enough [site unit].
    """
    short = frost_depth - (np.asarray(ground, dtype=float) - xyz[:, 2])  # cover that is wanting
    size = np.linalg.norm(np.diff(xyz, axis=0), axis=1)
    first, last = short[:-1], short[1:]
    high, low = np.maximum(first, last), np.minimum(first, last)
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(low > 0.0, 1.0, np.where(high > 1e-12, high / (high - low), 0.0))
    return float((size * part).sum())


def count_fittings(runs: Sequence[PipeRun]) -> Counter[str]:
    """Fittings of all runs by the name under which they are bought."""
    count: Counter[str] = Counter()
    for run in runs:
        for angle in run.bends:
            count[f"bend {angle:g}°, Schedule 40, {run.size}"] += 1
        for branch in run.tees:
            large = max(run.size, branch, key=rank)
            through = run.size if large == run.size else large
            count[f"tee, Schedule 40, {through} x {through} x {branch}"] += 1
        if run.unions:
            count[f"union, Schedule 40, {run.size}"] += run.unions
        for large, small in run.reducers:
            count[f"reducer, Schedule 40, {known_size(large)} x {known_size(small)}"] += 1
    return Counter(dict(sorted(count.items())))
