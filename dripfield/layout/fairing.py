"""Lines smooth enough to pull tubing along: the least bend radius is kept."""

from __future__ import annotations

import numpy as np

from dripfield.arrays import Floats
from dripfield.layout.tracing import evened

_VERTICES = 0.15  # of the radius, between vertices of a line that is eased


def bend_radii(line: Floats, reach: float = np.inf) -> Floats:
    """Radius of the circle through each inner vertex and its two neighbours.

    Parameters
    ----------
    line : (k, 2) float array
    reach : float
        A neighbour farther off counts as so far along its leg: a corner between two long legs is
        then as tight as it looks from so near.

    Returns
    -------
    (k - 2,) float array
        Infinite where the three vertices lie in a line.
    """
    leg = np.diff(line, axis=0)
    size = np.hypot(*leg.T)
    leg = leg * np.minimum(1.0, reach / np.maximum(size, 1e-300))[:, None]
    size = np.minimum(size, reach)
    before, after = leg[:-1], leg[1:]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    product = size[:-1] * size[1:] * np.hypot(*(before + after).T)
    radii = np.full(len(cross), np.inf)
    np.divide(product, np.abs(2.0 * cross), out=radii, where=cross != 0.0)
    return radii


def eased(lines: list[Floats], radius: float) -> list[Floats]:
    """Ease lines until no bend is tighter than a radius.

    Where a line bends too much its vertices are averaged along it with a bell-shaped weight, made
    wider step by step; its ends stay where they are, and what bends gently stays as it is.

    Parameters
    ----------
    lines : list of (k, 2) float arrays
    radius : float
        Least bend radius [same unit].

    Returns
    -------
    list of (m, 2) float arrays
    """
    if radius <= 0.0 or not lines:
        return lines
    count = np.array([len(line) for line in lines])
    owner = np.repeat(np.arange(len(lines)), count)
    tight = bend_radii(np.concatenate(lines), radius / 2.0) < radius
    tight &= owner[2:] == owner[:-2]
    crooked = set(owner[1:-1][tight].tolist())
    return [_eased(line, radius) if k in crooked else line for k, line in enumerate(lines)]


def _eased(line: Floats, radius: float) -> Floats:
    """One line eased."""
    from scipy.ndimage import gaussian_filter1d, maximum_filter1d

    line, _ = evened([line], _VERTICES * radius)
    if len(line) < 5:
        return line[[0, -1]]
    width = 0.25 / _VERTICES
    while width < 4 * len(line):
        tight = np.zeros(len(line))
        tight[1:-1] = bend_radii(line) < radius
        if not tight.any():
            break
        around = maximum_filter1d(tight, 2 * int(4 * width) + 1, mode="constant")
        share = gaussian_filter1d(around, width, mode="nearest")[:, None]
        # carried on beyond its ends turned by half a turn, so that they stay where they are
        pad = int(4 * width) + 1
        beyond = np.pad(line, ((pad, pad), (0, 0)), mode="reflect", reflect_type="odd")
        smooth = gaussian_filter1d(beyond, width, axis=0)[pad:-pad]
        smooth[0], smooth[-1] = line[0], line[-1]
        line = line + share * (smooth - line)
        width *= 1.2
    return line
