"""The similarity that lays one set of plan points best on another."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats


@dataclass(frozen=True)
class Similarity:
    """Mirror, turn, scale and shift, in this order, about two near origins.

    Attributes
    ----------
    scale : float
        Target units in one source unit.
    turn : float
        Anticlockwise [radians].
    mirrored : bool
        True when the source's second coordinate changes its sign first.
    source, target : (2,) float arrays
        The point of the source that falls on the point of the target.
    """

    scale: float
    turn: float
    mirrored: bool
    source: Floats
    target: Floats

    def apply(self, xy: Floats) -> Floats:
        """Source points (k, 2) in the target's coordinates."""
        flip = np.array((1.0, -1.0 if self.mirrored else 1.0))
        c, s = math.cos(self.turn), math.sin(self.turn)
        turned = ((xy - self.source) * flip) @ np.array(((c, s), (-s, c)))
        return np.asarray(self.scale * turned + self.target)


def fit_similarity(
    source: Floats, target: Floats, *, scale: float | None = None, mirrored: bool = False
) -> Similarity:
    """Least-squares fit of paired points.

    Parameters
    ----------
    source, target : (k, 2) float arrays
        Pairs, k of at least 2, not all at one place.
    scale : float, optional
        Keep this scale (a rigid fit with 1); solved for unless given.
    mirrored : bool
        Fit a mirrored source.

    Returns
    -------
    Similarity

    Notes
    -----
    Umeyama (1991), *Least-squares estimation of transformation parameters between two point
    patterns*, in the plane, where a complex number is a turn and a scale at once.
    """
    middle, goal = source.mean(axis=0), target.mean(axis=0)
    a = (source - middle) @ np.array((1.0, -1j if mirrored else 1j))
    b = (target - goal) @ np.array((1.0, 1j))
    power = float((np.abs(a) ** 2).sum())
    product = complex((a.conj() * b).sum())
    solved = abs(product) / power if power > 0.0 else 1.0
    return Similarity(
        scale=solved if scale is None else scale,
        turn=cmath.phase(product),
        mirrored=mirrored,
        source=middle,
        target=goal,
    )


def identity(scale: float = 1.0) -> Similarity:
    """No move, at a scale."""
    return Similarity(scale, 0.0, False, np.zeros(2), np.zeros(2))
