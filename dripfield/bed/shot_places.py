"""Shots at one place: one where they agree, no evidence where they do not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints


@dataclass(frozen=True)
class ShotPlaces:
    """Places that were shot, each once.

    Attributes
    ----------
    xyz : (m, 3) float array
        Of each place that counts: its shots' mean [site unit].
    shots : tuple of (k,) int array
        Numbers of the shots at each.
    disagree : tuple of (k,) int array
        Numbers of the shots at places where they differ by more than the tolerance.
    """

    xyz: Floats
    shots: tuple[Ints, ...]
    disagree: tuple[Ints, ...]


def shot_places(xyz: Floats, judged: Bools, apart: float, tolerance: float) -> ShotPlaces:
    """Gather the judged shots by place.

    Parameters
    ----------
    xyz : (n, 3) float array
        Easting, northing, elevation [site unit].
    judged : (n,) bool array
    apart : float
        Shots nearer than this in plan are at one place [site unit].
    tolerance : float
        Most that elevations at one place may differ [site unit].

    Returns
    -------
    ShotPlaces
        In the order of the first shot of each.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    number = np.flatnonzero(judged)
    near = xyz[number, :2] - (xyz[number[0], :2] if len(number) else 0.0)
    pairs = cKDTree(near).query_pairs(apart, output_type="ndarray").reshape(-1, 2)
    links = coo_matrix((np.ones(len(pairs)), pairs.T), shape=(len(number), len(number)))
    _, group = connected_components(links, directed=False)
    members = [number[group == label] for label in dict.fromkeys(group.tolist())]
    agree = [m for m in members if np.ptp(xyz[m, 2]) <= tolerance + 1e-9]
    return ShotPlaces(
        np.array([xyz[m].mean(axis=0) for m in agree]).reshape(-1, 3),
        tuple(agree),
        tuple(m for m in members if np.ptp(xyz[m, 2]) > tolerance + 1e-9),
    )
