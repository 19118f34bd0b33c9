"""``offset``: curves parallel to one base level line, so that the spacing is exact.

The base is searched over the whole bed: of level lines at several elevations, the one whose
parallel copies depart least from level, the worst of them counted. Distances to a candidate are
taken on a coarse lattice; the copies themselves are drawn by GEOS's offset curve.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.core.lines import line_length
from dripfield.layout.lines.fairing import eased, eased_within
from dripfield.layout.lines.frame import points_inside
from dripfield.layout.lines.start import FEW, best_start, starts
from dripfield.layout.lines.terrain import Terrain
from dripfield.layout.lines.tracing import Field, clipped_lengths, evened

CANDIDATES = 17
_SHORTEST = 16.0  # steps: a shorter line gives no direction to a bed
_ARC = 64  # segments of a quarter circle round a corner of the base


def signed_distance(points: Floats, line: Floats) -> Floats:
    """Distance of points (k, 2) to a polyline (m, 2), positive on the right hand along it."""
    start, leg = line[:-1], np.diff(line, axis=0)
    square = np.maximum(np.einsum("ij,ij->i", leg, leg), 1e-300)
    east = points[:, :1] - start[:, 0]
    north = points[:, 1:] - start[:, 1]
    along = np.clip((east * leg[:, 0] + north * leg[:, 1]) / square, 0.0, 1.0)
    gap = (east - along * leg[:, 0]) ** 2 + (north - along * leg[:, 1]) ** 2
    nearest = np.argmin(gap, axis=1)
    rows = np.arange(len(points))
    side = leg[nearest, 0] * north[rows, nearest] - leg[nearest, 1] * east[rows, nearest]
    return np.asarray(np.where(side < 0.0, 1.0, -1.0) * np.sqrt(gap[rows, nearest]))


def extended(line: Floats, reach: float) -> Floats:
    """A line carried on straight at both ends by ``reach``, along its end legs."""
    head = line[0] - line[min(2, len(line) - 1)]
    tail = line[-1] - line[max(-3, -len(line))]
    head, tail = head / np.hypot(*head), tail / np.hypot(*tail)
    return np.vstack((line[0] + reach * head, line, line[-1] + reach * tail))


def base_lines(field: Field, levels: Floats, radius: float, step: float) -> list[Floats]:
    """One smooth line for each level that has one: the longest, running from left to right.

    Parameters
    ----------
    field : Field
        Of elevations [site unit].
    levels : (n,) float array
        [site unit]
    radius : float
        Least radius of bend [site unit].
    step : float
        Between vertices, about [site unit].

    Returns
    -------
    list of (k, 2) float arrays
        Local coordinates; lines too short to give a direction are left out.
    """
    bases = []
    for level in levels:
        found = field.lines([float(level)], step)
        line = max(found, key=line_length, default=np.zeros((1, 2)))
        line = eased([line], radius)[0] if len(line) > 1 else line
        if line_length(line) < _SHORTEST * step:
            continue
        bases.append(line if line[-1, 0] >= line[0, 0] else line[::-1])
    return bases


def worst_departure(distance: Floats, z: Floats, spacing: float) -> float:
    """Worst half-range of elevation along the parallels of a base, from places around it.

    Parameters
    ----------
    distance, z : (k,) float arrays
        Signed distance to the base and elevation at places in the bed.
    spacing : float
        Width of the strip that stands for one parallel; its own fall is taken out.

    Returns
    -------
    float
        [site unit]
    """
    strip = np.floor(distance / spacing + 0.5).astype(np.int64)
    strip -= strip.min()
    count = np.bincount(strip)
    mean_d = np.bincount(strip, distance) / np.maximum(count, 1)
    mean_z = np.bincount(strip, z) / np.maximum(count, 1)
    fall = np.polyfit(distance, z, 1)[0]
    rest = z - mean_z[strip] - fall * (distance - mean_d[strip])
    high = np.full(len(count), -np.inf)
    low = np.full(len(count), np.inf)
    np.maximum.at(high, strip, rest)
    np.minimum.at(low, strip, rest)
    return float(((high - low)[count > 1]).max() / 2.0)


def parallels(base: Floats, spacing: float, start: float, area: BaseGeometry) -> list[Floats]:
    """The parallels of a base at ``start + k spacing`` that cross an area, from the top down.

    Parameters
    ----------
    base : (k, 2) float array
        Local coordinates.
    spacing : float
        Between neighbours [site unit].
    start : float
        Distance of one of them from the base, positive on its right hand [site unit].
    area : Polygon or MultiPolygon
        Local coordinates.

    Returns
    -------
    list of (m, 2) float arrays
        Not clipped to the area.
    """
    left, top, right, bottom = area.bounds
    whole = extended(base, 2.0 * float(np.hypot(right - left, bottom - top)))
    across = signed_distance(shapely.get_coordinates(area.segmentize(spacing)), whole)
    first = np.ceil((across.min() - start) / spacing - 1e-9)
    last = np.floor((across.max() - start) / spacing + 1e-9)
    offsets = start + spacing * np.arange(first, last + 1)
    curves = shapely.offset_curve(
        shapely.linestrings(whole), -offsets, quad_segs=_ARC, join_style="round"
    )
    return [
        shapely.get_coordinates(part)
        for part in shapely.get_parts(curves)
        if not shapely.is_empty(part)
    ]


def offset_lines(
    terrain: Terrain, area: BaseGeometry, spacing: float, least: float, radius: float
) -> list[Floats]:
    """Parallel copies of the level line that keeps them most nearly level.

    Parameters
    ----------
    terrain : Terrain
    area : Polygon or MultiPolygon
        Local coordinates.
    spacing : float
        On-centre distance in plan.
    least : float
        Pieces shorter than this do not count for the start.
    radius : float
        Least bend radius of the base.

    Returns
    -------
    list of (k, 2) float arrays
    """
    places = points_inside(area, 700)
    z = terrain.elevation(places)
    levels = np.linspace(z.min(), z.max(), CANDIDATES + 2)[1:-1]
    field = Field(terrain.grid, terrain.z)
    bases = base_lines(field, levels, radius, 0.25 * spacing)
    if not bases:  # small hills and hollows only: parallels of the strike
        left, _, right, _ = area.bounds
        bases = [evened([np.array(((left, 0.0), (right, 0.0)))], 0.25 * spacing)[0]]
    reach = 2.0 * float(np.hypot(*terrain.grid.shape)) * terrain.grid.step
    departure = [
        worst_departure(signed_distance(places, extended(base[::8], reach)), z, spacing)
        for base in bases
    ]
    base = bases[int(np.argmin(departure))]
    rim = shapely.get_coordinates(area.simplify(1e-3 * spacing))
    events = signed_distance(rim, extended(base, reach))
    few = np.ptp(events) < FEW * spacing
    candidates = starts(events if few else events[_extremes(events)], spacing)
    coarse = base[::8]
    start = best_start(
        candidates,
        lambda at: clipped_lengths(parallels(coarse, spacing, at, area), area),
        least,
    )
    return eased_within(parallels(base, spacing, start, area), area, radius)


def _extremes(values: Floats) -> Floats:
    """Numbers of the greatest and the least value."""
    return np.unique((int(np.argmin(values)), int(np.argmax(values))))
