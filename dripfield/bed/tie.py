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

from dripfield.bed.pieces import LEVEL, Pieces, lower_of, overlay, pieces_of, pieces_of_area, split
from dripfield.bed.slopes import Corner, faces_from, overhang, steep_sides, straightened
from dripfield.core.arrays import Bools, Floats
from dripfield.core.errors import InputError, input_error
from dripfield.core.units import Unit
from dripfield.ground.triangles.tin import Surface

_TOUCH = 1e-5  # plan distance that counts as touching [site unit]
_SLIT = 1e-4  # [site unit]
_HOLE = 1e-3  # [square site unit]
_FACET = 3.0  # of the corners of a dig, whose sides are short [degrees]
_MOVED = 1e-6  # height that counts as moved earth [site unit]
_COMPASS = (
    *("north", "north-east", "east", "south-east"),
    *("south", "south-west", "west", "north-west"),
)


@dataclass(frozen=True)
class Rings:
    """Where faces start, each (k, 3), what it encloses on its left, the first point not repeated.

    Attributes
    ----------
    finished : tuple of (k, 3) float array
        The finished grade along the shoulder's edge: its outline, then the keepouts that are kept.
    dig : tuple of (k, 3) float array
        The stripped ground along the edge of the dig; empty where nothing is dug.
    deep : tuple of (k, 3) float array
        The floor under the sand along the shoulder's edge, where the dig follows the grade.
    """

    finished: tuple[Floats, ...]
    dig: tuple[Floats, ...]
    deep: tuple[Floats, ...]


@dataclass(frozen=True)
class Ways:
    """How faces stand and what is stripped under them.

    Attributes
    ----------
    side, dig : float
        Horizontal distance for one of rise of the side slopes and of the sides of the dig.
    corner : str
        Round or hipped corners.
    strip : float
        Depth stripped under the side slopes, out to the daylight line [site unit].
    """

    side: float
    dig: float
    corner: Corner = "round"
    strip: float = 0.0


@dataclass(frozen=True)
class Apron:
    """What lies beyond the shoulder.

    Attributes
    ----------
    pieces : Pieces
        Where earth is moved, with the levels ``ground``, ``stripped`` and ``finished``.
    sloped : (t,) bool array
        Which of them are side slopes: the finished grade differs from the ground.
    """

    pieces: Pieces
    sloped: Bools


def tie_in(
    ground: Surface, inner: Polygon, dug: Pieces, rings: Rings, ways: Ways, unit: Unit
) -> Apron:
    """The bed's levels beyond its shoulder, out to the daylight line.

    Parameters
    ----------
    ground : Surface
        Existing ground.
    inner : Polygon
        What lies inside the shoulder's edge; its holes are keepouts that are kept.
    dug : Pieces
        The stripped ground over the area dug to full depth, with the level ``stripped``; it holds
        ``inner`` and may reach farther.
    rings : Rings
    ways : Ways
    unit : Unit

    Returns
    -------
    Apron

    Raises
    ------
    InputError
        A side of a ring is as steep as its face, or a face does not come back to the ground inside
        the surveyed area: how much farther a survey must reach, and where.
    """
    _check_steep(ground, rings, ways, unit)
    xy = shapely.get_coordinates(ground.outline)
    farthest = float(shapely.distance(shapely.points(xy), inner).max()) + 1.0
    reach = min(_first_reach(ground, rings, ways), farthest)
    while True:
        outer = _beyond(ground, inner, dug, rings, ways, reach)
        outer = outer.where(_joined_to(outer, inner))
        away = shapely.distance(shapely.points(outer.xy.reshape(-1, 2)), inner)
        if reach >= farthest or not len(outer) or away.max() < 0.998 * reach:
            break
        reach = min(2.0 * reach, farthest)
    _check_daylight(outer, ground, inner, ways, unit)
    return _stripped_to_daylight(outer, inner, ways.strip)


def _stripped_to_daylight(outer: Pieces, inner: Polygon, depth: float) -> Apron:
    """Strip a depth under the side slopes that hang together with the bed."""
    lift = np.abs(outer.levels["finished"] - outer.levels["ground"]).max(axis=1, initial=0.0)
    sloped = np.asarray(lift > _MOVED)
    if not sloped.all():
        sloped = _hangs_together(outer, sloped, inner)
    if not depth:
        return Apron(outer, sloped)
    under = outer.where(sloped)
    under = under.with_level("under", under.levels["ground"] - depth)
    under = lower_of(under, "stripped", "under", "stripped")
    under = lower_of(under, "stripped", "finished", "stripped")
    whole = under.only("ground", "stripped", "finished").joined(outer.where(~sloped))
    return Apron(whole, np.arange(len(whole)) < len(under))


def _first_reach(ground: Surface, rings: Rings, ways: Ways) -> float:
    """A reach that usually does: twice the run that level ground would take."""

    def height(many: tuple[Floats, ...]) -> float:
        return max(
            (float(np.abs(r[:, 2] - ground.elevation(r[:, :2])).max()) for r in many), default=0.0
        )

    dig = max(height(rings.dig), height(rings.deep))
    return 2.0 * max(ways.side * height(rings.finished), ways.dig * dig) + 1.0


def _beyond(
    ground: Surface, inner: Polygon, dug: Pieces, rings: Rings, ways: Ways, reach: float
) -> Pieces:
    """Levels beyond the shoulder within a reach, as far as the survey goes."""
    zone = inner.buffer(reach, join_style="mitre", mitre_limit=2.0)
    near = pieces_of(ground, "ground")
    near = near.where(shapely.intersects(shapely.polygons(near.xy), zone))
    outer = overlay(near, pieces_of_area(zone.difference(inner)))
    if not len(outer):
        return Pieces(outer.xy, dict.fromkeys(("ground", "stripped", "finished"), outer.xy[..., 0]))
    low, high = (float(f(outer.levels["ground"])) for f in (np.min, np.max))
    box = shapely.box(*zone.bounds)
    faces: list[tuple[str, Pieces]] = []
    if _differs(rings.finished, ground):
        faces = [
            (name, faces_from(rings.finished, ways.side, end, box, rising=up, corner=ways.corner))
            for name, end, up in (("falling", low, False), ("rising", high, True))
        ]
    sloped = _side_slopes(outer, faces)
    digs: list[Pieces] = []
    if rings.dig:
        sides = faces_from(
            rings.dig, ways.dig, high, box, rising=True, corner=ways.corner, facet=_FACET
        )
        digs.append(sides.joined(Pieces(dug.xy, {"face": dug.levels["stripped"]})))
    if rings.deep:
        digs.append(
            faces_from(
                rings.deep, ways.dig, high, box, rising=True, corner=ways.corner, facet=_FACET
            )
        )
    sloped = sloped.with_level("stripped", sloped.levels["ground"])
    for sides in digs:
        sloped = lower_of(_with(sloped, sides, "side"), "stripped", "side", "stripped")
        sloped = sloped.only("ground", "stripped", "finished")
    sloped = lower_of(sloped, "stripped", "finished", "stripped")
    if not digs:
        return sloped
    return sloped.joined(_dug_only(outer, faces, digs)).only("ground", "stripped", "finished")


def _side_slopes(outer: Pieces, faces: list[tuple[str, Pieces]]) -> Pieces:
    """Where a face stands over the ground, or lies under it, with the level ``finished``.

    A falling face nowhere stands over a rising one, so the two parts do not overlap, but for hips
    carried far beyond a corner: there the fill stands.
    """
    parts = outer.with_level("finished", outer.levels["ground"]).where(np.zeros(len(outer), bool))
    for name, face in faces:
        cut = split(_with(outer, face, name), name, "ground")
        over = (cut.levels[name] - cut.levels["ground"]).mean(axis=1)
        part = cut.where(over > LEVEL if name == "falling" else over < -LEVEL)
        if name == "rising" and len(part):
            part = split(_with(part, faces[0][1], "falling"), "falling", "ground")
            filled = (part.levels["falling"] - part.levels["ground"]).mean(axis=1) > LEVEL
            part = part.where(~filled)
        parts = parts.joined(part.with_level("finished", part.levels[name]))
    return parts


def _dug_only(outer: Pieces, faces: list[tuple[str, Pieces]], digs: list[Pieces]) -> Pieces:
    """Sides of the dig where there is no side slope: filled up to the ground."""
    dug = outer.with_level("stripped", outer.levels["ground"])
    for sides in digs:
        dug = lower_of(_with(dug, sides, "side"), "stripped", "side", "stripped")
        dug = dug.only("ground", "stripped")
    deep = (dug.levels["ground"] - dug.levels["stripped"]).mean(axis=1)
    dug = dug.where(deep > LEVEL)
    for name, face in faces:
        dug = split(_with(dug, face, name), name, "ground")
        over = (dug.levels[name] - dug.levels["ground"]).mean(axis=1)
        dug = dug.where(over <= LEVEL if name == "falling" else over >= -LEVEL)
    return dug.with_level("finished", dug.levels["ground"])


def _with(pieces: Pieces, faces: Pieces, name: str) -> Pieces:
    """Pieces cut by faces, whose level gets a name."""
    return overlay(pieces, Pieces(faces.xy, {name: faces.levels["face"]}))


def _differs(rings: tuple[Floats, ...], ground: Surface) -> bool:
    """Whether any ring leaves the ground."""
    return any(bool(_off(ring, ground).any()) for ring in rings)


def _off(ring: Floats, ground: Surface) -> Bools:
    """At which corners a ring leaves the ground."""
    with np.errstate(invalid="ignore"):
        return np.asarray(np.abs(ring[:, 2] - ground.elevation(ring[:, :2])) > _MOVED)


def _check_steep(ground: Surface, rings: Rings, ways: Ways, unit: Unit) -> None:
    """Refuse rings so steep that no face of the slope wanted can stand on them."""
    for many, run, key in (
        (rings.finished, ways.side, "side_slope"),
        (rings.dig, ways.dig, "dig_slope"),
        (rings.deep, ways.dig, "dig_slope"),
    ):
        if not many or not _differs(many, ground):
            continue
        bent = [straightened(ring) for ring in many]
        off = [_off(ring, ground) for ring in bent]
        for ring, moved in zip(bent, off, strict=True):
            steep = steep_sides(ring, run) & (moved | np.roll(moved, -1))
            if steep.any():
                step = np.roll(ring, -1, axis=0) - ring
                grade = np.abs(step[:, 2]) / np.hypot(step[:, 0], step[:, 1])
                worst = int(np.where(steep, grade, 0.0).argmax())
                middle = ring[worst] + 0.5 * step[worst]
                raise _too_steep(middle, float(grade[worst]), run, key)
        whole = np.concatenate(bent)[np.concatenate(off)]
        one, two, height = overhang(whole, run)
        if height > _TOUCH:
            raise _overhanging(whole[one], whole[two], run, key, unit)


def _too_steep(place: Floats, grade: float, run: float, key: str) -> InputError:
    what = "the shoulder's edge" if key == "side_slope" else "the edge of the dig"
    return input_error(
        f"{what} climbs at {grade:.0%} about N {place[1]:.1f}, E {place[0]:.1f}, no less than the "
        f"faces, 1 in {run:g}",
        f"give a smaller {key}, below {math.floor(100.0 / grade) / 100.0:g}, or a flatter grade",
        file="site.toml",
        field=f"[bed.section] {key}",
    )


def _overhanging(high: Floats, low: Floats, run: float, key: str, unit: Unit) -> InputError:
    what = "the shoulder's edge" if key == "side_slope" else "the edge of the dig"
    away = float(np.hypot(*(high - low)[:2]))
    drop = float(high[2] - low[2])
    return input_error(
        f"{what} at N {high[1]:.1f}, E {high[0]:.1f} stands {drop:.{unit.places}f} {unit.short} "
        f"over its other part at N {low[1]:.1f}, E {low[0]:.1f}, {away:.1f} {unit.short} away: a "
        f"face of 1 in {run:g} from the one buries the other",
        f"give a smaller {key}, below {math.floor(100.0 * away / drop) / 100.0:g}, or a flatter "
        "grade",
        file="site.toml",
        field=f"[bed.section] {key}",
    )


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
    return _hangs_together(pieces, _moved(pieces), inner)


def _hangs_together(pieces: Pieces, moved: Bools, inner: Polygon) -> Bools:
    """Which of the marked pieces form parts that touch the bed."""
    if not moved.any():
        return moved
    parts = shapely.get_parts(pieces.where(moved).outline())
    near = parts[shapely.distance(parts, inner) < _TOUCH]
    area = shapely.union_all(near).buffer(_TOUCH)
    shapely.prepare(area)
    return np.asarray(moved & shapely.contains_xy(area, pieces.centres))


def _check_daylight(outer: Pieces, ground: Surface, inner: Polygon, ways: Ways, unit: Unit) -> None:
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
    closing = np.where(side, 1.0 / ways.side + np.sign(lift) * climb, 1.0 / ways.dig - climb)
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
    whole = whole.buffer(-_SLIT, join_style="mitre").union(inner)
    # slits that dropped slivers leave are no holes
    parts = [
        Polygon(part.exterior, [r for r in part.interiors if Polygon(r).area > _HOLE])
        for part in shapely.get_parts(whole)
    ]
    return shapely.union_all(parts)
