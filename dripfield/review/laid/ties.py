"""Ties: distances from two permanent points by which a buried point is found again."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.site.schema.review import ReferenceTable

TURN = 15.0
"""Degrees from which a bend is always tied (common practice, no source)."""

LEAST_ANGLE = 30.0
"""Degrees: ties that cross at less, or at more than 180 less this, are a weak fix (common practice,
no source)."""


@dataclass(frozen=True)
class Tie:
    """One point of a buried line and the two ties that find it.

    Attributes
    ----------
    lateral, mark : str
        ``start``, ``bend 1`` …, ``end``.
    xy : (2,) float array
    elevation : float
        NaN where the shots gave none.
    references : (str, str)
        Names of the two points measured from.
    distances : (float, float)
        Horizontal [site unit].
    side : str
        ``left`` or ``right`` of the line from the first reference to the second.
    angle : float
        At which the ties cross at the point [degrees, 0 to 180].
    error : float
        How far off the point may be found when each tie is off by ``tie_error`` [site unit].
    weak : bool
        True when that is more than the accuracy asked for, or the ties cross too flat.
    """

    lateral: str
    mark: str
    xy: Floats
    elevation: float
    references: tuple[str, str]
    distances: tuple[float, float]
    side: str
    angle: float
    error: float
    weak: bool


def tie_places(xy: Floats, accuracy: float) -> list[tuple[int, str]]:
    """Which vertices of a laid line to tie: both ends and every change of direction.

    Parameters
    ----------
    xy : (k, 2) float array
        The line as laid [site unit].
    accuracy : float
        How well a buried line must be found [site unit].

    Returns
    -------
    list of (vertex, mark)
        In order along the line. Straight lines between the tied points stay within half of
        ``accuracy`` of the laid line (Douglas and Peucker 1973), which leaves the other half for
        the ties themselves; bends of :data:`TURN` degrees and more are tied in any case. WAC
        246-272A-0265(1) asks for the ends and all changes in direction of buried pipe, to half a
        foot.
    """
    near = xy - xy[0]
    kept = shapely.get_coordinates(
        shapely.simplify(shapely.linestrings(near), accuracy / 2.0, preserve_topology=False)
    )
    # simplification keeps vertices in order, so each is found from the one before it on
    chosen = {0, len(xy) - 1}
    at = 0
    for point in kept:
        at += int(np.flatnonzero((near[at:] == point).all(axis=1))[0])
        chosen.add(at)
    step = np.diff(near, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs((np.diff(heading) + math.pi) % math.tau - math.pi)
    chosen |= {int(i) + 1 for i in np.flatnonzero(turn >= math.radians(TURN) - 1e-9)}
    ordered = sorted(chosen)
    return [
        (i, "start" if i == 0 else "end" if i == len(xy) - 1 else f"bend {n}")
        for n, i in enumerate(ordered)
    ]


def tie_line(
    lateral: str,
    xyz: Floats,
    references: Sequence[ReferenceTable],
    *,
    accuracy: float,
    tie_error: float,
) -> list[Tie]:
    """Tie both ends and every change of direction of a laid line.

    Parameters
    ----------
    lateral : str
    xyz : (k, 3) float array
        The line as laid, at least two points [site unit].
    references : sequence of ReferenceTable
        Two or more; each point is tied from the two that fix it best.
    accuracy : float
        Wanted accuracy of a point found again [site unit].
    tie_error : float
        How far off each tie may be measured [site unit].

    Returns
    -------
    list of Tie
    """
    ties = []
    for vertex, mark in tie_places(xyz[:, :2], accuracy):
        best = min(
            (
                _tie(lateral, mark, xyz[vertex], pair, accuracy, tie_error)
                for pair in itertools.combinations(references, 2)
            ),
            key=lambda tie: tie.error,
        )
        ties.append(best)
    return ties


def fix_error(angle: float, tie_error: float) -> float:
    """Greatest distance of the crossing from the true point when both ties are off.

    Parameters
    ----------
    angle : float
        At which the ties cross [degrees].
    tie_error : float
        Of each tie, either way [site unit].

    Returns
    -------
    float
        To first order: the four crossings with each tie too long or too short by ``tie_error`` form
        a rhombus about the point whose half diagonals are tie_error / sin(angle / 2) and
        tie_error / cos(angle / 2); the longer of them. Infinite where the ties do not cross.
    """
    half = math.radians(angle) / 2.0
    least = min(math.sin(half), math.cos(half))
    return tie_error / least if least > 1e-9 else math.inf


def _tie(
    lateral: str,
    mark: str,
    point: Floats,
    pair: tuple[ReferenceTable, ReferenceTable],
    accuracy: float,
    tie_error: float,
) -> Tie:
    first, second = (np.array((one.easting, one.northing)) for one in pair)
    to_first, to_second = first - point[:2], second - point[:2]
    r1, r2 = float(np.hypot(*to_first)), float(np.hypot(*to_second))
    cross = float(to_first[0] * to_second[1] - to_first[1] * to_second[0])
    dot = float(to_first @ to_second)
    angle = math.degrees(math.atan2(abs(cross), dot)) if r1 > 0.0 and r2 > 0.0 else 90.0
    error = fix_error(angle, tie_error)
    return Tie(
        lateral=lateral,
        mark=mark,
        xy=point[:2],
        elevation=float(point[2]),
        references=(pair[0].name, pair[1].name),
        distances=(r1, r2),
        # seen from the point, the second reference lies anticlockwise of the first when the point
        # is on the left of the line between them
        side="left" if cross > 0.0 else "right",
        angle=angle,
        error=error,
        weak=error > accuracy or not LEAST_ANGLE <= angle <= 180.0 - LEAST_ANGLE,
    )
