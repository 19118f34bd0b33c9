"""Lines smooth enough to pull tubing along: the least bend radius is kept."""

from __future__ import annotations

import numpy as np
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Bools, Floats
from dripfield.layout.lines.tracing import clip, evened

_BEYOND = 3.0  # of the radius, how far outside an area a line's bends may touch it
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
    around = [np.concatenate((line, line[1:2])) if _is_closed(line) else line for line in lines]
    owner = np.repeat(np.arange(len(lines)), [len(line) for line in around])
    tight = bend_radii(np.concatenate(around), radius / 2.0) < radius
    tight &= owner[2:] == owner[:-2]
    crooked = set(owner[1:-1][tight].tolist())
    return [_eased(line, radius) if k in crooked else line for k, line in enumerate(lines)]


def eased_within(lines: list[Floats], area: BaseGeometry, radius: float) -> list[Floats]:
    """The parts of lines inside an area, eased; what lies far outside it is not worth the work.

    Parameters
    ----------
    lines : list of (k, 2) float arrays
    area : Polygon or MultiPolygon
        Same coordinates.
    radius : float
        Least bend radius [same unit].

    Returns
    -------
    list of (m, 2) float arrays
    """
    if radius > 0.0:
        lines = eased(clip(lines, area.buffer(_BEYOND * radius)), radius)
    return clip(lines, area)


def _is_closed(line: Floats) -> bool:
    """Whether a line ends where it begins."""
    return len(line) > 3 and bool(np.all(line[0] == line[-1]))


def _eased(line: Floats, radius: float) -> Floats:
    """One line eased; a closed one all round, or cut open where it is gentle if it is too small."""
    from scipy.ndimage import gaussian_filter1d

    closed = _is_closed(line)
    line, _ = evened([line], _VERTICES * radius)
    if len(line) < 5:
        return line[[0, -1]]
    if closed:
        ring = _averaged(line[:-1], radius, closed=True, widest=0.1 * len(line))
        tight = _tight(ring, radius, closed=True).astype(float)
        start = int(np.argmin(gaussian_filter1d(tight, 0.1 * len(ring), mode="wrap")))
        line = np.concatenate((ring[start:], ring[: start + 1]))
        if not tight.any():
            return line
    return _averaged(line, radius, closed=False, widest=4.0 * len(line))


def _averaged(line: Floats, radius: float, closed: bool, widest: float) -> Floats:
    """Even vertices averaged along a line where it bends too much, wider and wider up to a width
    (in vertices) until it does nowhere."""
    from scipy.ndimage import gaussian_filter1d, maximum_filter1d

    edge = "wrap" if closed else "nearest"
    width = 0.25 / _VERTICES
    while width < widest:
        tight = _tight(line, radius, closed)
        if not tight.any():
            break
        around = maximum_filter1d(tight.astype(float), 2 * int(4 * width) + 1, mode=edge)
        share = gaussian_filter1d(around, width, mode=edge)[:, None]
        pad = int(4 * width) + 1
        smooth = gaussian_filter1d(_carried_on(line, pad, closed), width, axis=0)[pad:-pad]
        if not closed:
            smooth[[0, -1]] = line[[0, -1]]
        line = line + share * (smooth - line)
        width *= 1.2
    return line


def _tight(line: Floats, radius: float, closed: bool) -> Bools:
    """Vertices that bend too much."""
    tight = bend_radii(_carried_on(line, 1, closed)) < radius
    tight[[0, -1]] &= closed
    return np.asarray(tight)


def _carried_on(line: Floats, count: int, closed: bool) -> Floats:
    """A line carried on by some vertices: a closed one round again, another turned by half a turn
    about its end, so that the end stays where it is when vertices are averaged."""
    beyond = ((count, count), (0, 0))
    if closed:
        return np.pad(line, beyond, mode="wrap")
    return np.pad(line, beyond, mode="reflect", reflect_type="odd")
