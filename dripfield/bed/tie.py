"""From the shoulder out to existing ground: side slopes, the sides of the dig, the daylight line.

A side slope falls outward where the finished grade stands over the ground and rises where it lies
below: beyond the shoulder the finished grade is the middle one of falling face, ground and rising
face. Where it comes back to the ground is the daylight line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.bed.pieces import LEVEL, Pieces, lower_of, overlay, pieces_of, upper_of
from dripfield.bed.slopes import faces_from
from dripfield.core.arrays import Bools, Floats
from dripfield.core.errors import InputError, input_error
from dripfield.core.units import Unit
from dripfield.ground.triangles.tin import Surface

_TOUCH = 1e-5  # plan distance that counts as touching [site unit]
_SLIT = 1e-4  # [site unit]
_MOVED = 1e-6  # height that counts as moved earth [site unit]
_COMPASS = (
    *("north", "north-east", "east", "south-east"),
    *("south", "south-west", "west", "north-west"),
)


@dataclass(frozen=True)
class Rings:
    """Where faces start, each (k, 3), counter-clockwise, the first point not repeated.

    Attributes
    ----------
    finished : (k, 3) float array
        The finished grade along the shoulder's edge.
    dig : (k, 3) float array
        The stripped ground along the edge of the dig.
    deep : (k, 3) float array or None
        The floor under the sand along the shoulder's edge, where the dig follows the grade.
    """

    finished: Floats
    dig: Floats
    deep: Floats | None


@dataclass(frozen=True)
class Runs:
    """Horizontal distance for one of rise: of the side slopes and of the sides of the dig."""

    side: float
    dig: float


def tie_in(
    ground: Surface, inner: Polygon, dug: Pieces, rings: Rings, runs: Runs, unit: Unit
) -> Pieces:
    """The bed's levels beyond its shoulder, out to the daylight line.

    Parameters
    ----------
    ground : Surface
        Existing ground.
    inner : Polygon
        What lies inside the shoulder's edge.
    dug : Pieces
        The stripped ground over the area dug to full depth, with the level ``stripped``; it holds
        ``inner`` and may reach farther.
    rings : Rings
    runs : Runs
    unit : Unit

    Returns
    -------
    Pieces
        With the levels ``ground``, ``stripped`` and ``finished``; only where earth is moved.

    Raises
    ------
    InputError
        A face does not come back to the ground inside the surveyed area: how much farther a
        survey must reach, and where.
    """
    xy = shapely.get_coordinates(ground.outline)
    farthest = float(shapely.distance(shapely.points(xy), inner).max()) + 1.0
    reach = min(_first_reach(ground, rings, runs), farthest)
    while True:
        outer = _beyond(ground, inner, dug, rings, runs, reach)
        outer = outer.where(_joined_to(outer, inner))
        edge = shapely.boundary(inner.buffer(reach * 0.999, join_style="mitre"))
        open_ended = len(outer) and (
            shapely.distance(shapely.points(outer.xy.reshape(-1, 2)), edge).min() < 0.002 * reach
        )
        if not open_ended or reach >= farthest:
            break
        reach = min(2.0 * reach, farthest)
    _check_daylight(outer, ground, inner, runs, unit)
    return outer


def _first_reach(ground: Surface, rings: Rings, runs: Runs) -> float:
    """A reach that usually does: twice the run that level ground would take."""

    def height(ring: Floats) -> float:
        return float(np.abs(ring[:, 2] - ground.elevation(ring[:, :2])).max())

    dig = max(height(ring) for ring in (rings.dig, rings.deep) if ring is not None)
    return 2.0 * max(runs.side * height(rings.finished), runs.dig * dig) + 1.0


def _beyond(
    ground: Surface, inner: Polygon, dug: Pieces, rings: Rings, runs: Runs, reach: float
) -> Pieces:
    """Levels beyond the shoulder as far as the faces reach and the survey goes."""
    near = pieces_of(ground, "ground")
    zone = inner.buffer(3.0 * reach, join_style="mitre")
    near = near.where(shapely.intersects(shapely.polygons(near.xy), zone))
    outer = overlay(near, faces_from(rings.finished, runs.side, reach))
    outer = lower_of(outer, "ground", "rising", "low")
    outer = upper_of(outer, "low", "falling", "finished").only("ground", "finished")
    sides = faces_from(rings.dig, runs.dig, reach)
    floor = Pieces(sides.xy, {"floor": sides.levels["rising"]}).joined(
        Pieces(dug.xy, {"floor": dug.levels["stripped"]})
    )
    outer = lower_of(overlay(outer, floor), "ground", "floor", "stripped")
    if rings.deep is not None:
        deep = faces_from(rings.deep, runs.dig, reach).only("rising")
        outer = lower_of(overlay(outer, deep), "stripped", "rising", "stripped")
    outer = lower_of(outer, "stripped", "finished", "stripped")
    return outer.only("ground", "stripped", "finished")


def _moved(pieces: Pieces) -> Bools:
    """Which pieces have earth moved in them."""
    z = pieces.levels
    lift = np.abs(z["finished"] - z["ground"]).max(axis=1)
    depth = (z["ground"] - z["stripped"]).max(axis=1)
    return np.asarray(np.maximum(lift, depth) > _MOVED)


def _joined_to(pieces: Pieces, inner: Polygon) -> Bools:
    """Which pieces have earth moved and hang together with the bed.

    On a steep hillside the ground may pass a face again far off: that is no part of the bed.
    """
    moved = _moved(pieces)
    if not moved.any():
        return moved
    parts = shapely.get_parts(pieces.where(moved).outline())
    near = parts[shapely.distance(parts, inner) < _TOUCH]
    area = shapely.union_all(near)
    shapely.prepare(area)
    return np.asarray(moved & shapely.contains_xy(area.buffer(_TOUCH), pieces.centres))


def _check_daylight(outer: Pieces, ground: Surface, inner: Polygon, runs: Runs, unit: Unit) -> None:
    """Refuse faces that still stand over or under the ground at the survey's edge."""
    if not len(outer):
        return
    edge = shapely.boundary(ground.outline)
    corners = shapely.points(outer.xy)
    at_edge = shapely.distance(corners, edge) < _TOUCH
    lift = outer.levels["finished"] - outer.levels["ground"]
    depth = outer.levels["ground"] - outer.levels["stripped"]
    open_ = at_edge & ((np.abs(lift) > 1e3 * _MOVED) | (depth > 1e3 * _MOVED))
    if not open_.any():
        return
    piece, _ = np.nonzero(open_)
    xy, lift, depth = outer.xy[open_], lift[open_], depth[open_]
    boundary = inner.exterior
    foot = shapely.get_coordinates(
        shapely.line_interpolate_point(
            boundary, shapely.line_locate_point(boundary, shapely.points(xy))
        )
    )
    away = xy - foot
    length = np.hypot(*away.T)
    away /= np.maximum(length, LEVEL)[:, None]
    climb = np.einsum("ij,ij->i", ground.gradient(outer.centres[piece]), away)
    side = np.abs(lift) > 1e3 * _MOVED
    height = np.where(side, np.abs(lift), depth)
    closing = np.where(side, 1.0 / runs.side + np.sign(lift) * climb, 1.0 / runs.dig - climb)
    with np.errstate(divide="ignore"):
        farther = np.where(closing > 1e-9, height / np.maximum(closing, 1e-300), np.inf)
    # the farthest; of several the one farthest west and south
    rank = np.round(np.where(np.isinf(farther), 1e9 + height, farther), 4)
    worst = int(np.lexsort((xy[:, 1], xy[:, 0], -rank))[0])
    touching = shapely.intersection(edge, outer.outline().buffer(_TOUCH))
    raise _no_daylight(
        xy[worst],
        away[worst],
        float(np.where(side, lift, -depth)[worst]),
        float(farther[worst]),
        float(touching.length),
        bool(side[worst]),
        unit,
    )


def _no_daylight(
    place: Floats,
    away: Floats,
    height: float,
    farther: float,
    along: float,
    side: bool,
    unit: Unit,
) -> InputError:
    short, key = unit.short, "side_slope" if side else "dig_slope"
    faces = "side slopes" if side else "sides of the dig"
    stands = (
        f"{abs(height):.{unit.places}f} {short} {'above' if height > 0 else 'below'} the ground"
    )
    bearing = math.degrees(math.atan2(float(away[0]), float(away[1]))) % 360.0
    way = _COMPASS[round(bearing / 45.0) % 8]
    if math.isinf(farther):
        change = f"survey farther to the {way} than the slope that is there"
        remedy = f"{change}, or give a smaller {key}: the ground runs as steep as the face"
    else:
        step = unit.default(1.0, 0.5)
        far = math.ceil(farther / step - 1e-4) * step
        remedy = (
            f"survey at least {far:g} {short} farther to the {way} along {along:.0f} {short} of "
            f"that edge, or give a smaller {key}"
        )
    return input_error(
        f"the {faces} do not meet the ground inside the surveyed area: at N {place[1]:.1f}, "
        f"E {place[0]:.1f} on its edge they are still {stands}",
        remedy,
        file="site.toml",
        field=f"[bed.section] {key}",
    )


def daylight(inner: Polygon, outer: Pieces) -> Polygon | MultiPolygon:
    """Everything that is graded: inside the shoulder's edge and out to the daylight line."""
    if not len(outer):
        return inner
    whole = shapely.union_all([inner, outer.outline().buffer(_SLIT, join_style="mitre")])
    return whole.buffer(-_SLIT, join_style="mitre").union(inner)
