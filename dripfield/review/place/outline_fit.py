"""Laying one outline on another when no points are known to be common."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.core.similarity import Similarity, fit_similarity

_SAMPLES = 80
_EVEN_STARTS = 24
_POLISHED = 8
_ROUGH_ROUNDS = 8
_ROUNDS = 100


@dataclass(frozen=True)
class OutlineFit:
    """One way to lay the plan's outline on the bed.

    ``rms`` is the root mean square distance between the outlines, both ways [site unit].
    """

    move: Similarity
    rms: float


def fit_outlines(
    plan: Polygon, bed: Polygon, *, scale: float | None = None, mirrored: bool = False
) -> list[OutlineFit]:
    """Every distinct good way to lay one outline on another, the best first.

    Starts are the four turns that match the outlines' principal axes and 24 even turns; the best
    are polished by pairing each outline's points with the nearest of the other (iterative closest
    point, after Besl and McKay 1992, from memory), both ways, until nothing moves.

    Parameters
    ----------
    plan, bed : Polygon
        Outlines in the plan's and the site's coordinates.
    scale : float, optional
        Site units in one plan unit; solved for unless given.
    mirrored : bool
        Lay the plan's mirror image.

    Returns
    -------
    list of OutlineFit
    """
    source = _around(plan)
    target = _around(bed)
    size = scale if scale is not None else float(np.sqrt(bed.area / plan.area))
    source_middle = np.array(plan.centroid.coords[0])
    target_middle = np.array(bed.centroid.coords[0])
    axis = _axis(source - source_middle)
    turns = _axis(target - target_middle) - (-axis if mirrored else axis)
    starts = [turns + k * np.pi / 2.0 for k in range(4)]
    starts += [k * 2.0 * np.pi / _EVEN_STARTS for k in range(_EVEN_STARTS)]
    moves = [Similarity(size, turn, mirrored, source_middle, target_middle) for turn in starts]
    rough = sorted(moves, key=lambda move: _pairs(move, source, target)[2])[:_POLISHED]
    extent = float(np.ptp(target, axis=0).max())
    fits = [_polish(move, source, target, scale, _ROUGH_ROUNDS) for move in rough]
    fits = [
        _polish(fit.move, source, target, scale, _ROUNDS)
        for fit in _distinct(fits, source, 0.05 * extent)
    ]
    return _distinct(fits, source, 0.01 * extent)


def _distinct(fits: list[OutlineFit], source: Floats, nearness: float) -> list[OutlineFit]:
    """The fits, best first, less those that put the outline where a better one does."""
    kept: list[OutlineFit] = []
    for fit in sorted(fits, key=lambda fit: fit.rms):
        placed = fit.move.apply(source)
        if all(np.abs(placed - other.move.apply(source)).max() > nearness for other in kept):
            kept.append(fit)
    return kept


def _around(polygon: Polygon) -> Floats:
    """An outline's corners and points at even distances between them, in order, (k, 2)."""
    ring = shapely.segmentize(polygon.exterior, polygon.exterior.length / _SAMPLES)
    xy: Floats = shapely.get_coordinates(ring)[:-1]
    return xy


def _axis(near: Floats) -> float:
    """Direction of the longest extent of points about their middle [radians]."""
    _, vectors = np.linalg.eigh(near.T @ near)
    return float(np.arctan2(vectors[1, -1], vectors[0, -1]))


def _pairs(move: Similarity, source: Floats, target: Floats) -> tuple[Floats, Floats, float]:
    """Source points and the target points they should fall on, both ways, and their rms gap."""
    placed = move.apply(source)
    forward, on_target = _nearest(placed, target)
    backward, share = _nearest(target, placed)
    # the same similarity takes a point between two source points to the one between their places
    on_source = _between(source, share)
    return (
        np.vstack((source, on_source)),
        np.vstack((_between(target, on_target), target)),
        float(np.sqrt((np.concatenate((forward, backward)) ** 2).mean())),
    )


def _nearest(points: Floats, ring: Floats) -> tuple[Floats, Floats]:
    """Distance (k,) to a closed ring of points and where on it, in segments from its start."""
    shift = ring[0]
    closed = np.vstack((ring, ring[:1])) - shift
    chord = np.diff(closed, axis=0)
    offset = (points - shift)[:, None, :] - closed[None, :-1, :]
    share = np.clip((offset * chord).sum(-1) / np.maximum((chord**2).sum(-1), 1e-300), 0.0, 1.0)
    gap = np.hypot(*np.moveaxis(offset - share[..., None] * chord, -1, 0))
    segment = gap.argmin(axis=1)
    row = np.arange(len(points))
    return gap[row, segment], segment + share[row, segment]


def _between(ring: Floats, place: Floats) -> Floats:
    """Points (k, 2) of a closed ring at places counted in segments."""
    closed = np.vstack((ring, ring[:1]))
    segment = np.minimum(place.astype(np.int64), len(ring) - 1)
    share = (place - segment)[:, None]
    places: Floats = closed[segment] * (1.0 - share) + closed[segment + 1] * share
    return places


def _polish(
    move: Similarity, source: Floats, target: Floats, scale: float | None, rounds: int
) -> OutlineFit:
    a, b, rms = _pairs(move, source, target)
    for _ in range(rounds):
        better = fit_similarity(a, b, scale=scale, mirrored=move.mirrored)
        a, b, new_rms = _pairs(better, source, target)
        if new_rms >= rms * (1.0 - 1e-4):
            break
        move, rms = better, new_rms
    return OutlineFit(move, rms)
