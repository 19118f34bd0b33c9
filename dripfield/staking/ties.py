"""Two-tape ties: places as the crossing of two tapes held on findable points.

A place whose distances r1 and r2 from two points are each in error by sigma lies in an ellipse. The
two circles cross at the angle g between the tapes, and to first order the place moves by the
inverse of the matrix of their unit directions: the semi-axes are sigma / (sqrt(2) sin(g / 2)) and
sigma / (sqrt(2) cos(g / 2)), so the crossing is best square (hand-derived).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely

from dripfield.core.arrays import Bools, Floats
from dripfield.staking.model import CheckLength, FindablePoint, TwoTapeTie

LEAST_ANGLE = 30.0
"""Tapes that cross flatter than this, or nearer to straight on, are the last choice [degrees]."""

_FAR = 0.15  # of a longest tape: how much a longer tape counts beside a worse crossing
_MOST_CHECKS = 12


def tape_ellipse(angle: Floats) -> tuple[Floats, Floats]:
    """Semi-axes of the error ellipse of a two-tape tie, in parts of one tape's standard error.

    Parameters
    ----------
    angle : (k,) float array
        Between the tapes, over 0 and under 180 [degrees].

    Returns
    -------
    across, along : (k,) float arrays
        Across the bisector of the two tapes and along it.
    """
    half = np.radians(np.asarray(angle)) / 2.0
    return 1.0 / (np.sqrt(2.0) * np.sin(half)), 1.0 / (np.sqrt(2.0) * np.cos(half))


def crossing(point_1: Floats, r1: Floats, point_2: Floats, r2: Floats, near: Floats) -> Floats:
    """Where two circles cross, (k, 2): of both crossings the one nearer to a place.

    Parameters
    ----------
    point_1 : (k, 2) float array
        Centres of the first circles [site unit].
    r1 : (k,) float array
        Their radii [site unit].
    point_2 : (k, 2) float array
        Centres of the second circles.
    r2 : (k,) float array
        Their radii. Circles that just miss each other give the place midway between them.
    near : (k, 2) float array
        About where the crossing is.

    Returns
    -------
    (k, 2) float array
    """
    base = point_2 - point_1
    size = np.hypot(*base.T)
    along = base / size[:, None]
    left = np.column_stack((-along[:, 1], along[:, 0]))
    run = (r1**2 - r2**2 + size**2) / (2.0 * size)
    height = np.sqrt(np.maximum(r1**2 - run**2, 0.0))
    side = np.where(((near - point_1) * left).sum(axis=1) >= 0.0, 1.0, -1.0)
    return np.asarray(point_1 + run[:, None] * along + (side * height)[:, None] * left)


def best_ties(
    names: Sequence[str],
    places: Floats,
    points: Sequence[FindablePoint],
    longest: float,
    keepouts: Sequence[shapely.Polygon] = (),
) -> list[TwoTapeTie | None]:
    """For each place the two points whose tapes fix it best.

    Parameters
    ----------
    names : sequence of str
        What is tied.
    places : (k, 2) float array
        Where it is [site unit].
    points : sequence of FindablePoint
    longest : float
        Longest tape [site unit].
    keepouts : sequence of Polygon
        What no tape is pulled across.

    Returns
    -------
    list of TwoTapeTie or None
        The pair with the least greatest error, and of pairs nearly alike the one with the shorter
        tapes; tapes that are too long or cross too flat only where there is nothing better. None
        where no two points apart from the place can be had.
    """
    if len(points) < 2 or not len(places):
        return [None] * len(names)
    origin = np.round(places.mean(axis=0))
    hubs = np.array([p.xy for p in points]) - origin
    at = places - origin
    away = at[:, None] - hubs[None]
    size = np.hypot(away[..., 0], away[..., 1])
    blocked = _blocked(at, hubs, [shapely.transform(k, lambda xy: xy - origin) for k in keepouts])
    pairs = np.array(list(combinations(range(len(points)), 2)))
    i, j = pairs.T
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = away / size[..., None]
        cosine = (unit[:, i] * unit[:, j]).sum(axis=-1)
        angle = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
        error = np.maximum(*tape_ellipse(angle))
        far = np.maximum(size[:, i], size[:, j])
        apart = np.minimum(size[:, i], size[:, j]) > 1e-6
        price = error + _FAR * far / longest
        price += np.where(far > longest, 100.0, 0.0)
        price += np.where((angle < LEAST_ANGLE) | (angle > 180.0 - LEAST_ANGLE), 20.0, 0.0)
        price += np.where(blocked[:, i] | blocked[:, j], 50.0, 0.0)
    price = np.where(apart & np.isfinite(price), price, np.inf)
    ties: list[TwoTapeTie | None] = []
    for k, name in enumerate(names):
        best = int(np.argmin(price[k]))
        if not np.isfinite(price[k, best]):
            ties.append(None)
            continue
        one, two = pairs[best]
        ties.append(
            TwoTapeTie(
                name,
                points[one].name,
                points[two].name,
                float(size[k, one]),
                float(size[k, two]),
                float(angle[k, best]),
            )
        )
    return ties


def check_lengths(points: Sequence[FindablePoint]) -> tuple[CheckLength, ...]:
    """Diagonals and sides to measure before work begins.

    From every bed corner to the one farthest from it, and along the bed's sides while there are no
    more than twelve of them; each pair once.

    Parameters
    ----------
    points : sequence of FindablePoint
        Bed corners in the order of the ring, other points among them.

    Returns
    -------
    tuple of CheckLength
    """
    corners = [p for p in points if p.kind == "bed corner"]
    if len(corners) < 2:
        return ()
    xy = np.array([p.xy for p in corners])
    size = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    pairs = [(i, int(np.argmax(size[i]))) for i in range(len(corners))]
    if len(corners) <= _MOST_CHECKS:
        pairs += [(i, (i + 1) % len(corners)) for i in range(len(corners))]
    unique = dict.fromkeys((min(i, j), max(i, j)) for i, j in pairs if i != j)
    return tuple(
        CheckLength(corners[i].name, corners[j].name, float(size[i, j])) for i, j in unique
    )


def _blocked(places: Floats, hubs: Floats, keepouts: Sequence[shapely.Polygon]) -> Bools:
    """Whether the tape from each hub to each place (k, h) would lie across a keepout."""
    found = np.zeros((len(places), len(hubs)), dtype=np.bool_)
    if not len(keepouts):
        return found
    ends = np.stack(np.broadcast_arrays(places[:, None], hubs[None]), axis=2)
    tapes = shapely.linestrings(ends.reshape(-1, 2, 2))
    for keepout in keepouts:
        # a hub on the keepout's own corner touches it and no more
        across = shapely.relate_pattern(tapes, keepout, "T********").reshape(found.shape)
        found |= across
    return found
