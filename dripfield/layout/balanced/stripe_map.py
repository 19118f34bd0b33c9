"""Which stripe belongs to an elevation, for each of several panels.

The map F of a panel gives every elevation a stripe: a level line of the panel would be the line of
one stripe if the ground allowed it. It starts from the ground alone and is fitted again and again
to the stripes as they come out: each takes the elevation that holds the most of it within the
tolerance.

The knots of all panels lie in one array, panels far apart on one axis, so that one interpolation
serves them all.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints

_APART = 1e6  # between panels on the common axis: more than any stripe or drop
_FAR = 1e3  # stripes that a map is carried on beyond its knots
_PART = 0.7  # of the way to the fitted elevation, so that the fit settles
_MOST = 1.5  # tolerances that a stripe's elevation moves at once
_LEAST_FALL = 1e-3  # of the tolerance from one stripe to the next: never level
_FLATTEST = 0.01  # slope, so that a bench does not stop the map


@dataclass(frozen=True)
class StripeMap:
    """Knots of F, panel by panel: stripes rise with the drop.

    Attributes
    ----------
    drop : (m,) float array
        Elevations negated [site unit].
    stripe : (m,) float array
    panel : (m,) int array
        The panel of each knot, from 0 up.
    """

    drop: Floats
    stripe: Floats
    panel: Ints

    @cached_property
    def _drop_axis(self) -> Floats:
        return self.drop + _APART * self.panel

    @cached_property
    def _stripe_axis(self) -> Floats:
        return self.stripe + _APART * self.panel

    def stripe_at(self, z: Floats, panel: int | Ints = 0) -> Floats:
        """F(z) in a panel, or in the panel that each elevation belongs to."""
        return np.interp(np.multiply(_APART, panel) - z, self._drop_axis, self.stripe)

    def elevation_at(self, stripe: Floats, panel: int | Ints = 0) -> Floats:
        """The elevation set for a stripe."""
        return -np.interp(np.multiply(_APART, panel) + stripe, self._stripe_axis, self.drop)

    def of(self, panel: int) -> StripeMap:
        """The map of one panel, as panel 0."""
        mine = self.panel == panel
        return StripeMap(self.drop[mine], self.stripe[mine], np.zeros(mine.sum(), dtype=np.int64))


def carried_on(drop: Floats, stripe: Floats, panel: Ints) -> StripeMap:
    """A map through knots, panel by panel, carried on straight beyond each panel's own.

    Parameters
    ----------
    drop : (m,) float array
        Elevations negated, rising in each panel [site unit].
    stripe : (m,) float array
    panel : (m,) int array
        The panel of each knot, in order from 0.

    Returns
    -------
    StripeMap
    """
    new = np.diff(panel, prepend=-1) > 0
    first = np.flatnonzero(new)
    last = np.append(first[1:], len(panel)) - 1
    before = _FAR * (drop[first + 1] - drop[first]) / (stripe[first + 1] - stripe[first])
    after = _FAR * (drop[last] - drop[last - 1]) / (stripe[last] - stripe[last - 1])
    at = np.concatenate((last + 1, first))  # a panel's end before the next one's beginning
    return StripeMap(
        np.insert(drop, at, np.concatenate((drop[last] + after, drop[first] - before))),
        np.insert(stripe, at, np.concatenate((stripe[last] + _FAR, stripe[first] - _FAR))),
        np.insert(panel, at, np.tile(panel[first], 2)),
    )


def first_map(
    z: Floats, mask: Bools, step: float, spacing: float, tolerance: float, sloped: bool
) -> StripeMap:
    """F from the ground alone: at each elevation the rate of the median slope there.

    Parameters
    ----------
    z : (panels, rows, columns) float array
    mask : (panels, rows, columns) bool array
        Nodes that count, some in every panel.
    step : float
        Between nodes.
    spacing, tolerance : float
        On centre; of the level.
    sloped : bool
        The spacing is measured along the slope.

    Returns
    -------
    StripeMap
    """
    slopes = np.hypot(*np.gradient(z, step, axis=(1, 2)))
    knots = [
        _first_knots(slopes[i][mask[i]], z[i][mask[i]], spacing, tolerance, sloped)
        for i in range(len(z))
    ]
    panel = np.repeat(np.arange(len(z)), [len(drop) for drop, _ in knots])
    drop, stripe = (np.concatenate(parts) for parts in zip(*knots, strict=True))
    return carried_on(drop, stripe, panel)


def _first_knots(
    slope: Floats, z: Floats, spacing: float, tolerance: float, sloped: bool
) -> tuple[Floats, Floats]:
    """Drops and stripes of one panel's first map."""
    beyond = 3.0 * tolerance
    bottom, top = float(z.min()), float(z.max())
    count = int(np.clip((top - bottom) / (4.0 * tolerance), 6, 60))
    edges = np.linspace(-top - beyond, beyond - bottom, count + 1)
    bins = np.clip(((-z - edges[0]) / (edges[1] - edges[0])).astype(np.int64), 0, count - 1)
    order = np.lexsort((slope, bins))
    members = np.bincount(bins, minlength=count)
    first = np.cumsum(members) - members
    held = np.flatnonzero(members > 3) if (members > 3).any() else np.flatnonzero(members)
    median = slope[order][first[held] + members[held] // 2]
    fall = np.maximum(median, _FLATTEST) * spacing  # from one stripe to the next
    if sloped:
        fall /= np.hypot(1.0, median)
    rate = np.interp(np.arange(count), held, 1.0 / fall)
    rate = np.convolve(np.pad(rate, 1, "edge"), (0.25, 0.5, 0.25), "valid")
    return edges, np.concatenate(([0.0], np.cumsum(rate * np.diff(edges))))


def refit(now: StripeMap, phi: Floats, z: Floats, panel: Ints, tolerance: float) -> StripeMap:
    """F anew: each stripe moves to the elevation that holds the most of it within the tolerance.

    Parameters
    ----------
    now : StripeMap
    phi, z : (k,) float arrays
        Stripe and elevation of nodes, those of a panel together and panels rising.
    panel : (k,) int array
        The panel of each node; each panel has some.
    tolerance : float
        Of the level.

    Returns
    -------
    StripeMap
    """
    panels = int(panel[-1]) + 1
    begin = np.searchsorted(panel, np.arange(panels))
    bins = np.floor(phi).astype(np.int64)
    lowest = np.minimum.reduceat(bins, begin)
    count = np.maximum.reduceat(bins, begin) - lowest + 1
    base = np.cumsum(count) - count
    bins += (base - lowest)[panel]
    shift = _fullest(z - now.elevation_at(phi, panel), bins, int(count.sum()), tolerance)

    # averaged with the stripes beside, and carried on by one at both ends of a panel
    owner = np.repeat(np.arange(panels), count + 2)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(count + 2) - count - 2, count + 2)
    stripe = lowest[owner] + place - 0.5
    within = [base[owner] + np.clip(place + beside, 0, count[owner] - 1) for beside in (-2, -1, 0)]
    moved = 0.25 * shift[within[0]] + 0.5 * shift[within[1]] + 0.25 * shift[within[2]]
    drop = -now.elevation_at(stripe, owner) - _PART * moved
    drop = np.maximum.accumulate(drop + _APART * owner) - _APART * owner
    return carried_on(drop + _LEAST_FALL * tolerance * place, stripe, owner)


def _fullest(rest: Floats, bins: Ints, count: int, tolerance: float) -> Floats:
    """For each bin the middle of the band of twice the tolerance that holds most of its members,
    never far from 0 [same unit]; 0 for a bin of fewer than three."""
    lowest = float(rest.min()) - tolerance  # so that none stands on the border of two bins
    reach = 4.0 * (float(rest.max()) - lowest) + 8.0 * tolerance  # keeps bins apart when sorted
    key = np.sort(bins * reach + (rest - lowest))
    bin_of = np.floor(key / reach).astype(np.int64)
    last = np.searchsorted(key, key + 2.0 * tolerance, side="right")
    held = last - np.arange(len(key))
    new = np.diff(bin_of, prepend=-1) > 0
    most = np.maximum.reduceat(held, np.flatnonzero(new))
    best = np.flatnonzero(held == most[np.cumsum(new) - 1])
    centre = (key[best] + key[last[best] - 1]) / 2.0 - bin_of[best] * reach + lowest
    where = bin_of[best]
    middle = np.bincount(where, centre, count) / np.maximum(np.bincount(where, minlength=count), 1)
    most_moved = _MOST * tolerance
    enough = np.bincount(bins, minlength=count) >= 3
    return np.where(enough, np.clip(middle, -most_moved, most_moved), 0.0)
