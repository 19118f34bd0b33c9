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
the panel simply carry no demand. Every few rounds F is fitted anew
(:mod:`dripfield.layout.balanced.stripe_map`). All is done in single precision: a millionth of a
stripe.

Sources: S. Boyd et al., "Distributed Optimization and Statistical Learning via the Alternating
Direction Method of Multipliers", Foundations and Trends in Machine Learning 3 (2011), section 3 and
5; E. J. Candès, M. B. Wakin, S. P. Boyd, "Enhancing Sparsity by Reweighted l1 Minimization",
Journal of Fourier Analysis and Applications 14 (2008). Titles from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dripfield.core.arrays import Bools, Floats
from dripfield.layout.balanced.stripe_map import StripeMap, first_map, refit

Singles = NDArray[np.float32]
"""Arrays of single-precision floats."""

LEVEL_PART = 0.92  # of the level tolerance asked of the field: the rest is for drawing it
_BOTH = 0.5  # how far the intervals hold on smoothed and surveyed ground alike, 0 to 1
_LEVEL_WEIGHT = 0.3  # stiffness of the level term in the alternation
_SPACING_WEIGHT = 4.0  # stiffness of the spacing term
_PUSH = 2.0  # weight of a departure against smoothness
_SMOOTH = 3.0  # weight of a bend at the limiting wave length
_STIFF = 0.02  # weight of every bend, so that no cell pattern is left
_REFIT = 5  # rounds between fits of F
_FORGIVE_SPACING = 0.08  # departure (fraction) at which a cell has half its say
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
        Nodes where the demands hold, some in every panel.
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
    panel = np.arange(len(z))[:, None, None]
    cells = mask[:, 1:, 1:] & mask[:, :-1, 1:] & mask[:, 1:, :-1] & mask[:, :-1, :-1]
    middle = (z + rough) / 2.0
    apart = _BOTH * np.abs(z - rough) / 2.0
    tolerance = LEVEL_PART * want.level
    highest, lowest = middle - apart + tolerance, middle + apart - tolerance
    counted = np.flatnonzero(mask)
    counted_z, counted_panel = middle.ravel()[counted], counted // mask[0].size
    stretch = 1.0 if steepness is None else steepness

    maps = first_map(z, mask, step, want.spacing, want.level, steepness is not None)
    phi = maps.stripe_at(z, panel)
    smooth = _Smoother(step, want, phi)
    level = _Level(mask, phi)
    ring = _Ring(cells, stretch, want, smooth.gradient)
    for turn in range(rounds):
        if turn % _REFIT == 0:
            if turn:
                at = smooth.phi.ravel()[counted].astype(np.float64)
                maps = refit(maps, at, counted_z, counted_panel, tolerance)
            level.aim(maps.stripe_at(highest, panel), maps.stripe_at(lowest, panel))
            if turn:
                level.forgive(smooth.phi)
                ring.forgive(smooth.gradient)
        smooth.step(level.near - level.owed, ring.near - ring.owed)
        level.step(smooth.phi)
        ring.step(smooth.gradient)
    phi = smooth.phi.astype(np.float64)
    spacing = stretch / np.maximum(np.hypot(*smooth.gradient.astype(np.float64)), 1e-9)
    missed = np.abs(_middle(middle) - maps.elevation_at(_middle(phi), panel))
    good = (missed <= want.level) & (np.abs(spacing - 1.0) <= want.fraction)
    return [StripeField(phi[i], maps.of(i), good[i], cells[i]) for i in range(len(z))]


class _Smoother:
    """The global step: the smooth φ nearest to what the local steps ask for.

    The cosine transform carries the part of constant coefficients; the rest of the gradient
    operator (its half cells at the rim) stays at its last value.
    """

    def __init__(self, step: float, want: Tolerances, phi: Floats) -> None:
        panels, rows, columns = phi.shape
        self._down, self._along, curve, penalty = _spectrum(rows, columns, step, want)
        damp = 1.0 / (_LEVEL_WEIGHT + _SPACING_WEIGHT * curve + penalty)
        self._damp = damp.astype(np.float32)
        self._stay = (_SPACING_WEIGHT * curve * damp).astype(np.float32)
        self._scale = np.float32(want.spacing / (np.sqrt(2.0) * step))
        self.phi: Singles = phi.astype(np.float32)
        self._waves = self._down @ self.phi @ self._along.T
        self.gradient: Singles = np.empty((2, panels, rows - 1, columns - 1), dtype=np.float32)
        self._differentiate()

    def step(self, level: Singles, gradient: Singles) -> None:
        """φ and its gradient anew from what is asked of each."""
        pull = np.float32(_LEVEL_WEIGHT) * level
        gradient -= self.gradient
        gradient *= np.float32(_SPACING_WEIGHT) * self._scale
        one, other = gradient
        pull[:, 1:, 1:] += one
        pull[:, :-1, :-1] -= one
        pull[:, :-1, 1:] += other
        pull[:, 1:, :-1] -= other
        self._waves *= self._stay
        self._waves += self._damp * (self._down @ pull @ self._along.T)
        self.phi = np.asarray(self._down.T @ self._waves @ self._along, dtype=np.float32)
        self._differentiate()

    def _differentiate(self) -> None:
        """Spacing times the gradient of each cell, along its two diagonals."""
        phi, (one, other) = self.phi, self.gradient
        np.subtract(phi[:, 1:, 1:], phi[:, :-1, :-1], out=one)
        np.subtract(phi[:, :-1, 1:], phi[:, 1:, :-1], out=other)
        self.gradient *= self._scale


class _Level:
    """The local step at the nodes: towards the interval of φ that is level enough."""

    def __init__(self, mask: Bools, phi: Floats) -> None:
        self._mask = mask
        self._push = _said(mask, _PUSH / _LEVEL_WEIGHT)
        self.near: Singles = phi.astype(np.float32)
        self._low = self._high = self.near
        self.owed: Singles = np.zeros_like(self.near)

    def aim(self, low: Floats, high: Floats) -> None:
        """Set the interval."""
        self._low, self._high = low.astype(np.float32), high.astype(np.float32)

    def forgive(self, phi: Singles) -> None:
        """Let nodes far from it weigh less."""
        off = np.abs(_between(phi, self._low, self._high) - phi)
        self._push = _said(self._mask, _PUSH / _LEVEL_WEIGHT / (1.0 + off / _FORGIVE_LEVEL))

    def step(self, phi: Singles) -> None:
        """The value wanted at each node, and what is owed between it and φ."""
        aim = phi + self.owed
        change = _between(aim, self._low, self._high)
        change -= aim
        change = _between(change, -self._push, self._push)
        self.near = aim + change
        self.owed = np.negative(change, out=change)


class _Ring:
    """The local step in the cells: towards the ring of gradients that are evenly spaced enough."""

    def __init__(
        self, cells: Bools, stretch: float | Floats, want: Tolerances, gradient: Singles
    ) -> None:
        self._cells = cells
        self._push = _said(cells, _PUSH / _SPACING_WEIGHT)
        slack = want.part * want.fraction
        self._low = np.asarray(stretch / (1.0 + slack), dtype=np.float32)
        self._high = np.asarray(stretch / (1.0 - slack), dtype=np.float32)
        self.near: Singles = gradient.copy()
        self.owed: Singles = np.zeros_like(gradient)

    def forgive(self, gradient: Singles) -> None:
        """Let cells far from it weigh less."""
        size = _size(gradient)
        off = np.abs(_between(size, self._low, self._high) - size)
        self._push = _said(self._cells, _PUSH / _SPACING_WEIGHT / (1.0 + off / _FORGIVE_SPACING))

    def step(self, gradient: Singles) -> None:
        """The gradient wanted in each cell, and what is owed between it and φ's own."""
        aim = gradient + self.owed
        size = _size(aim)
        change = _between(size, self._low, self._high)
        change -= size
        change = _between(change, -self._push, self._push)
        change /= size
        move = aim * change
        self.near = aim + move
        self.owed = np.negative(move, out=move)


def _said(mask: Bools, weight: Any) -> Singles:
    """A weight where a demand is made, 0 elsewhere."""
    return np.asarray(np.where(mask, weight, 0.0), dtype=np.float32)


def _between(values: Singles, low: Singles, high: Singles) -> Singles:
    """Values clipped (``np.clip`` takes three times as long on arrays as small as these)."""
    clipped: Singles = np.maximum(values, low)
    np.minimum(clipped, high, out=clipped)
    return clipped


def _size(gradient: Singles) -> Singles:
    """Length of gradients (2, ...), never quite 0."""
    square = gradient * gradient
    size: Singles = np.add(square[0], square[1], out=square[0])
    np.sqrt(size, out=size)
    size += np.float32(1e-12)
    return size


def _middle(values: Floats) -> Floats:
    """Mean of the four corners of each cell."""
    return np.asarray(
        (values[..., 1:, 1:] + values[..., :-1, 1:] + values[..., 1:, :-1] + values[..., :-1, :-1])
        / 4.0
    )


@lru_cache(maxsize=64)
def _cosines(count: int) -> Singles:
    """Orthonormal cosine transform (DCT-II) as a matrix."""
    k, n = np.arange(count)[:, None], np.arange(count)[None, :]
    matrix = np.cos(np.pi * k * (n + 0.5) / count) * np.sqrt(2.0 / count)
    matrix[0] /= np.sqrt(2.0)
    return np.asarray(matrix, dtype=np.float32)


def _spectrum(
    rows: int, columns: int, step: float, want: Tolerances
) -> tuple[Singles, Singles, Floats, Floats]:
    """Transforms down and along, squared gradient and smoothness penalty of each wave."""
    bend_v = ((2.0 - 2.0 * np.cos(np.pi * np.arange(rows) / rows)) / step**2)[:, None]
    bend_u = ((2.0 - 2.0 * np.cos(np.pi * np.arange(columns) / columns)) / step**2)[None, :]
    curve = want.spacing**2 * (bend_u + bend_v)
    short_u = bend_u * (want.wave_along / (2.0 * np.pi)) ** 2
    short_v = bend_v * (want.wave_across / (2.0 * np.pi)) ** 2
    penalty = _STIFF * curve**2 + _SMOOTH * (short_u**3 + short_v**3)
    return _cosines(rows), _cosines(columns), curve, penalty
