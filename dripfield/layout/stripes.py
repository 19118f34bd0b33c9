"""The stripe field: one family of lines, level and evenly spaced at once as far as can be.

The laterals of a panel are the lines on which a smooth function φ ("stripes") is a whole number.
Two things are asked of it where a lateral may lie:

* **level**: φ is the same where the ground is the same height. With F the stripe that belongs to an
  elevation, φ must lie between F(z + tolerance) and F(z - tolerance): an interval at every node.
* **spacing**: neighbouring lines are 1/\\|∇φ\\| apart, so spacing times \\|∇φ\\| must lie between
  1/(1 + tolerance) and 1/(1 - tolerance): a ring for the gradient of every cell.

What is minimised is the distance to these sets, not its square, and cells that cannot be mended
weigh less as the solution goes on: so what must fall outside the tolerances falls outside in few
places instead of a little everywhere. Nothing is gained by going farther inside. A third term keeps
the lines smooth: it hardly feels bends longer than a given wave length along the strike and weighs
steeply on shorter ones.

The minimum is found by the alternating direction method of multipliers: a local projection at every
node and cell, then one global least-squares step. That step has constant coefficients on a
rectangle, so cosine transforms solve it exactly (many problems of one shape at once); nodes outside
the panel simply carry no demand. Every few rounds F is fitted anew: for each stripe the elevation
that holds the most of it within the tolerance.

Sources: S. Boyd et al., "Distributed Optimization and Statistical Learning via the Alternating
Direction Method of Multipliers", Foundations and Trends in Machine Learning 3 (2011), section 3 and
5; E. J. Candès, M. B. Wakin, S. P. Boyd, "Enhancing Sparsity by Reweighted l1 Minimization",
Journal of Fourier Analysis and Applications 14 (2008). Titles from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from dripfield.arrays import Bools, Floats

LEVEL_PART = 0.92  # of the level tolerance asked of the field: the rest is for drawing it
_BOTH = 0.5  # how far the intervals hold on smoothed and surveyed ground alike, 0 to 1
_LEVEL_WEIGHT = 1.0  # stiffness of the level term in the alternation
_SPACING_WEIGHT = 4.0  # stiffness of the spacing term
_PUSH = 2.0  # weight of a departure against smoothness
_SMOOTH = 3.0  # weight of a bend at the limiting wave length
_STIFF = 0.02  # weight of every bend, so that no cell pattern is left
_REFIT = 15  # rounds between fits of F
_FORGIVE_SPACING = 0.05  # departure (fraction) at which a cell has half its say
_FORGIVE_LEVEL = 0.3  # departure in stripes at which a node has half its say


@dataclass(frozen=True)
class Tolerances:
    """What is asked: spacing and level tolerance in the site's unit, spacing tolerance a fraction;
    ``wave_along`` and ``wave_across`` the shortest waves wanted along and across the strike;
    ``part`` the share of the spacing tolerance asked of the field: the rest is for drawing it."""

    spacing: float
    level: float
    fraction: float
    wave_along: float
    wave_across: float
    part: float = 0.85


@dataclass(frozen=True)
class StripeMap:
    """Which stripe belongs to an elevation: ``stripe`` falls as ``elevation`` rises."""

    elevation: Floats
    stripe: Floats

    def stripe_at(self, z: Floats) -> Floats:
        """F(z), carried on straight beyond both ends."""
        return _interpolate(z, self.elevation, self.stripe)

    def elevation_at(self, stripe: Floats) -> Floats:
        """The elevation set for a stripe."""
        return _interpolate(stripe, self.stripe[::-1], self.elevation[::-1])


@dataclass(frozen=True)
class StripeField:
    """A solved panel: φ at the nodes, its map, and which cells hold both tolerances."""

    phi: Floats
    map: StripeMap
    good: Bools
    cells: Bools

    @property
    def share_good(self) -> float:
        """Share of the cells where a lateral may lie that hold both tolerances."""
        count = int(self.cells.sum())
        return float((self.good & self.cells).sum() / count) if count else 0.0


def solve_stripes(
    z: Floats,
    rough: Floats,
    mask: Bools,
    steepness: Floats | None,
    step: float,
    want: Tolerances,
    rounds: int,
) -> list[StripeField]:
    """Solve panels of one grid shape together.

    Parameters
    ----------
    z : (panels, rows, columns) float array
        Elevations at the nodes of a grid whose rows run along the strike, the top row first.
    rough : (panels, rows, columns) float array
        Elevations as surveyed, where ``z`` is smoothed: a lateral is to be level on both.
    mask : (panels, rows, columns) bool array
        Nodes where the demands hold.
    steepness : (panels, rows - 1, columns - 1) float array or None
        Length along the slope of one unit in plan for each cell, when the spacing is measured along
        the slope.
    step : float
        Distance between nodes [same unit].
    want : Tolerances
    rounds : int
        Rounds of the alternation.

    Returns
    -------
    list of StripeField
    """
    panels, rows, columns = z.shape
    scale = want.spacing / (2.0 * step)
    stretch = np.ones((panels, rows - 1, columns - 1)) if steepness is None else steepness
    ring_low = stretch / (1.0 + want.part * want.fraction)
    ring_high = stretch / (1.0 - want.part * want.fraction)
    tolerance = LEVEL_PART * want.level
    cells = mask[:, 1:, 1:] & mask[:, :-1, 1:] & mask[:, 1:, :-1] & mask[:, :-1, :-1]
    down, along, curve, penalty = _spectrum(rows, columns, step, want)
    damp = 1.0 / (_LEVEL_WEIGHT + _SPACING_WEIGHT * curve + penalty)
    stay = _SPACING_WEIGHT * curve * damp

    middle = (z + rough) / 2.0
    apart = _BOTH * np.abs(z - rough) / 2.0
    lower, upper = middle - apart, middle + apart
    sloped = steepness is not None
    maps = [_first_map(z[i], mask[i], step, want, sloped) for i in range(panels)]
    phi = np.stack([maps[i].stripe_at(z[i]) for i in range(panels)])
    waves = down @ phi @ along.T
    near = phi.copy()
    grad_u, grad_v = _gradient(phi, scale)
    part_u, part_v = grad_u, grad_v
    owed, owed_u, owed_v = np.zeros_like(phi), np.zeros_like(part_u), np.zeros_like(part_v)
    low = high = phi
    push_level = np.where(mask, _PUSH / _LEVEL_WEIGHT, 0.0)
    push_ring = np.where(cells, _PUSH / _SPACING_WEIGHT, 0.0)
    for turn in range(rounds):
        if turn % _REFIT == 0:
            if turn:
                maps = [
                    _refit(maps[i], phi[i][mask[i]], middle[i][mask[i]], tolerance)
                    for i in range(panels)
                ]
            low = np.stack([maps[i].stripe_at(lower[i] + tolerance) for i in range(panels)])
            high = np.stack([maps[i].stripe_at(upper[i] - tolerance) for i in range(panels)])
            if turn:
                size = np.hypot(grad_u, grad_v)
                off_ring = np.abs(np.clip(size, ring_low, ring_high) - size)
                off_level = np.abs(np.clip(phi, low, high) - phi)
                push_ring = np.where(
                    cells, _PUSH / _SPACING_WEIGHT / (1.0 + off_ring / _FORGIVE_SPACING), 0.0
                )
                push_level = np.where(
                    mask, _PUSH / _LEVEL_WEIGHT / (1.0 + off_level / _FORGIVE_LEVEL), 0.0
                )
        # global step: the cosine transform carries the constant-coefficient part, the rest of the
        # gradient operator (its half cells at the rim) stays at its last value
        pull = _LEVEL_WEIGHT * (near - owed) + _SPACING_WEIGHT * _divergence(
            part_u - owed_u - grad_u, part_v - owed_v - grad_v, scale
        )
        waves = damp * (down @ pull @ along.T) + stay * waves
        phi = down.T @ waves @ along
        # local steps
        aim = phi + owed
        near = aim + np.clip(np.clip(aim, low, high) - aim, -push_level, push_level)
        owed = aim - near
        grad_u, grad_v = _gradient(phi, scale)
        aim_u, aim_v = grad_u + owed_u, grad_v + owed_v
        size = np.sqrt(aim_u * aim_u + aim_v * aim_v) + 1e-12
        change = np.clip(np.clip(size, ring_low, ring_high) - size, -push_ring, push_ring)
        grown = 1.0 + change / size
        part_u, part_v = aim_u * grown, aim_v * grown
        owed_u, owed_v = aim_u - part_u, aim_v - part_v
    size = np.hypot(grad_u, grad_v)
    spaced = np.abs(stretch / np.maximum(size, 1e-9) - 1.0) <= want.fraction
    middle_z, middle_phi = _middle(middle), _middle(phi)
    fields = []
    for i in range(panels):
        level = np.abs(middle_z[i] - maps[i].elevation_at(middle_phi[i])) <= want.level
        fields.append(StripeField(phi[i], maps[i], level & spaced[i], cells[i]))
    return fields


def _gradient(phi: Floats, scale: float) -> tuple[Floats, Floats]:
    """Spacing times the gradient of each cell: along u and along v."""
    one = phi[..., 1:, 1:] - phi[..., :-1, :-1]
    other = phi[..., :-1, 1:] - phi[..., 1:, :-1]
    return scale * (one + other), scale * (one - other)


def _divergence(u: Floats, v: Floats, scale: float) -> Floats:
    """Transpose of :func:`_gradient`."""
    total = np.zeros((*u.shape[:-2], u.shape[-2] + 1, u.shape[-1] + 1))
    plus, minus = scale * (u + v), scale * (u - v)
    total[..., 1:, 1:] += plus
    total[..., :-1, :-1] -= plus
    total[..., :-1, 1:] += minus
    total[..., 1:, :-1] -= minus
    return total


def _middle(values: Floats) -> Floats:
    """Mean of the four corners of each cell."""
    return np.asarray(
        (values[..., 1:, 1:] + values[..., :-1, 1:] + values[..., 1:, :-1] + values[..., :-1, :-1])
        / 4.0
    )


@lru_cache(maxsize=64)
def _cosines(count: int) -> Floats:
    """Orthonormal cosine transform (DCT-II) as a matrix."""
    k, n = np.arange(count)[:, None], np.arange(count)[None, :]
    matrix = np.cos(np.pi * k * (n + 0.5) / count) * np.sqrt(2.0 / count)
    matrix[0] /= np.sqrt(2.0)
    return np.asarray(matrix)


def _spectrum(
    rows: int, columns: int, step: float, want: Tolerances
) -> tuple[Floats, Floats, Floats, Floats]:
    """Transforms down and along, squared gradient and smoothness penalty of each wave."""
    bend_v = ((2.0 - 2.0 * np.cos(np.pi * np.arange(rows) / rows)) / step**2)[:, None]
    bend_u = ((2.0 - 2.0 * np.cos(np.pi * np.arange(columns) / columns)) / step**2)[None, :]
    curve = want.spacing**2 * (bend_u + bend_v)
    short_u = bend_u * (want.wave_along / (2.0 * np.pi)) ** 2
    short_v = bend_v * (want.wave_across / (2.0 * np.pi)) ** 2
    penalty = _STIFF * curve**2 + _SMOOTH * (short_u**3 + short_v**3)
    return _cosines(rows), _cosines(columns), curve, penalty


def _first_map(z: Floats, mask: Bools, step: float, want: Tolerances, sloped: bool) -> StripeMap:
    """F from the ground alone: at each elevation the rate of the median slope there."""
    down, along = np.gradient(z, step)
    slope = np.hypot(down, along)[mask]
    height = z[mask]
    bottom, top = float(height.min()), float(height.max())
    count = int(np.clip((top - bottom) / (4.0 * want.level), 6, 60))
    edges = np.linspace(bottom - 3.0 * want.level, top + 3.0 * want.level, count + 1)
    bins = np.clip(np.digitize(height, edges) - 1, 0, count - 1)
    order = np.lexsort((slope, bins))
    members = np.bincount(bins, minlength=count)
    first = np.concatenate(([0], np.cumsum(members)[:-1]))
    held = np.flatnonzero(members > 3) if (members > 3).any() else np.flatnonzero(members)
    median = slope[order][first[held] + members[held] // 2]
    fall = np.maximum(median, 0.01) * want.spacing  # from one stripe to the next
    if sloped:
        fall /= np.hypot(1.0, median)
    rate = np.interp(np.arange(count), held, 1.0 / fall)
    rate = np.convolve(np.pad(rate, 1, "edge"), (0.25, 0.5, 0.25), "valid")
    stripe = np.concatenate(([0.0], np.cumsum(rate * np.diff(edges))))
    return StripeMap(edges, stripe[-1] - stripe)


def _refit(now: StripeMap, phi: Floats, z: Floats, tolerance: float) -> StripeMap:
    """F anew: each stripe moves to the elevation that holds the most of it within the tolerance."""
    rest = z - now.elevation_at(phi)
    lowest = np.floor(phi.min())
    bins = (phi - lowest).astype(np.int64)
    count = int(bins.max()) + 1
    reach = 4.0 * float(np.ptp(rest)) + 8.0 * tolerance  # keeps the bins apart in one sorted array
    key = np.sort(bins * reach + (rest - rest.min()))
    bin_of = np.floor(key / reach).astype(np.int64)
    last = np.searchsorted(key, key + 2.0 * tolerance, side="right")
    held = last - np.arange(len(key))
    first = np.flatnonzero(np.diff(bin_of, prepend=-1))
    most = np.maximum.reduceat(held, first)
    best = held == most[np.cumsum(np.diff(bin_of, prepend=-1) > 0) - 1]
    centre = (key + key[last - 1]) / 2.0 - bin_of * reach + rest.min()
    members = np.bincount(bin_of, minlength=count)
    shift = np.bincount(bin_of[best], centre[best], count) / np.maximum(
        np.bincount(bin_of[best], minlength=count), 1
    )
    shift = np.where(members >= 3, np.clip(shift, -1.5 * tolerance, 1.5 * tolerance), 0.0)
    shift = np.convolve(np.pad(shift, 1, "edge"), (0.25, 0.5, 0.25), "valid")
    knots = np.linspace(phi.min() - 1.0, phi.max() + 1.0, count + 3)
    moved = now.elevation_at(knots) + 0.7 * np.interp(knots, lowest + 0.5 + np.arange(count), shift)
    rank = np.arange(len(moved))
    falling = np.minimum.accumulate(moved) - 1e-3 * tolerance * rank  # never level
    return StripeMap(falling[::-1], knots[::-1])


def _interpolate(at: Floats, x: Floats, y: Floats) -> Floats:
    """Piecewise linear interpolation over rising x, carried on straight beyond both ends."""
    value = np.interp(at, x, y)
    before = (y[1] - y[0]) / (x[1] - x[0])
    after = (y[-1] - y[-2]) / (x[-1] - x[-2])
    value = value + np.where(at < x[0], (at - x[0]) * before, 0.0)
    return np.asarray(value + np.where(at > x[-1], (at - x[-1]) * after, 0.0))
