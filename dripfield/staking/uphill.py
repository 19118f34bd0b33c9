"""Which lateral lies above another on the ground, where one does along nearly all of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.lines import line_length

if TYPE_CHECKING:
    from dripfield.layout.model import Lateral

_REACH = 1.5  # spacings: farther off a line is not beside
_MOST_OF = 0.9  # of a lateral that the one above lies along
_LEAST = 9  # places looked at along a lateral


def laterals_above(laterals: Sequence[Lateral], spacing: float) -> list[str]:
    """The name of the lateral beside each on its uphill side; empty where there is not one.

    Parameters
    ----------
    laterals : sequence of Lateral
        Uphill is where the one beside is set higher, whichever way their points run.
    spacing : float
        On-centre distance [site unit].

    Returns
    -------
    list of str
        A rock, a seam or the bed's edge beside a part of a lateral leaves it without one.
    """
    if not laterals:
        return []
    origin = np.round(laterals[0].xy[0])
    lines = [shapely.linestrings(one.xy - origin) for one in laterals]
    tree = shapely.STRtree(lines)
    return [
        _above(number, line, lines, tree, laterals, spacing) for number, line in enumerate(lines)
    ]


def _above(
    number: int,
    line: shapely.LineString,
    lines: Sequence[shapely.LineString],
    tree: shapely.STRtree,
    laterals: Sequence[Lateral],
    spacing: float,
) -> str:
    count = max(_LEAST, int(line_length(shapely.get_coordinates(line)) / spacing))
    at = (np.arange(count) + 0.5) / count
    place = _places(line, at)
    way = _places(line, np.minimum(at + 0.25 / count, 1.0)) - _places(
        line, np.maximum(at - 0.25 / count, 0.0)
    )
    way /= np.hypot(*way.T)[:, None]
    side = np.column_stack((way[:, 1], -way[:, 0]))
    best = ""
    height = laterals[number].elevation
    for reach in (_REACH * spacing, -_REACH * spacing):
        beside = _beside(number, place, place + reach * side, lines, tree)
        if beside is not None and laterals[beside].elevation > height:
            best, height = laterals[beside].name, laterals[beside].elevation
    return best


def _beside(
    number: int,
    place: Floats,
    end: Floats,
    lines: Sequence[shapely.LineString],
    tree: shapely.STRtree,
) -> int | None:
    """The line that rays (k, 2) to (k, 2) meet first, where nearly all of them meet one."""
    rays = shapely.linestrings(np.stack((place, end), axis=1))
    ray, other = tree.query(rays, predicate="intersects")
    apart = other != number
    ray, other = ray[apart], other[apart]
    if not len(ray):
        return None
    met = shapely.intersection(rays[ray], np.array(lines)[other])
    far = shapely.distance(met, shapely.points(place)[ray])
    nearest: dict[int, tuple[float, int]] = {}
    for k, distance, which in zip(ray.tolist(), far.tolist(), other.tolist(), strict=True):
        nearest[k] = min(nearest.get(k, (np.inf, -1)), (distance, which))
    found, counts = np.unique([which for _, which in nearest.values()], return_counts=True)
    most = int(np.argmax(counts))
    return int(found[most]) if counts[most] >= _MOST_OF * len(place) else None


def _places(line: shapely.LineString, at: Floats) -> Floats:
    return np.asarray(
        shapely.get_coordinates(shapely.line_interpolate_point(line, at, normalized=True)),
        dtype=np.float64,
    )
