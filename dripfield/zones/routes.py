"""The lines to the field and back: their profile, and what the profile means for air and water."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Bools, Floats
from dripfield.core.errors import input_error
from dripfield.core.height_field import HeightField
from dripfield.layout.model import Lateral


@dataclass(frozen=True)
class Profile:
    """A line along its way from the tank outward.

    Attributes
    ----------
    station : (k,) float array
        Distance from the tank in plan [site unit].
    elevation, ground, cover : (k,) float arrays
        Of the pipe, of the ground above (NaN where not known), and ground less pipe [site unit].
    tops, bellies : tuple of int
        Vertices where the line is highest (air gathers) and lowest (water stays).
    falls_back : bool
        Whether it falls to the tank all the way, so that it drains.
    too_shallow : tuple of (float, float)
        Stretches with less cover than the frost depth, from station to station.
    not_known : float
        Length along which the ground is not known [site unit].
    """

    station: Floats
    elevation: Floats
    ground: Floats
    cover: Floats
    tops: tuple[int, ...]
    bellies: tuple[int, ...]
    falls_back: bool
    too_shallow: tuple[tuple[float, float], ...]
    not_known: float


def profile(
    xyz: Floats, ground: HeightField | None = None, frost_depth: float | None = None
) -> Profile:
    """Look along a line from the tank outward.

    Parameters
    ----------
    xyz : (k, 3) float array
        Vertices, the one at the tank first [site unit].
    ground : Ground or None
    frost_depth : float or None
        Cover that the line needs where it keeps water [site unit]; None: not looked at.

    Returns
    -------
    Profile
    """
    xyz = np.asarray(xyz, dtype=float)
    step = np.hypot(*np.diff(xyz[:, :2], axis=0).T)
    station = np.concatenate(([0.0], np.cumsum(step)))
    surface = np.full(len(xyz), np.nan)
    if ground is not None:
        surface = np.asarray(ground.elevation(xyz[:, :2]), dtype=float)
    cover = surface - xyz[:, 2]
    tops, bellies = turning_points(xyz[:, 2])
    unknown = float((step * (np.isnan(cover[:-1]) | np.isnan(cover[1:]))).sum())
    shallow: tuple[tuple[float, float], ...] = ()
    if frost_depth is not None:
        shallow = _below(station, cover, frost_depth)
    return Profile(
        station,
        xyz[:, 2],
        surface,
        cover,
        tops,
        bellies,
        bool((np.diff(xyz[:, 2]) > 0.0).all()),
        shallow,
        unknown,
    )


def turning_points(elevation: Floats) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Vertices of a line that are local tops, and those inside it that are local bottoms.

    Of vertices of one elevation the first counts. An end is a top where the line rises to it and
    never a bottom: water leaves there.

    Parameters
    ----------
    elevation : (k,) float array
        [site unit]

    Returns
    -------
    tuple of int, tuple of int
    """
    first = np.concatenate(([True], np.diff(elevation) != 0.0))
    where = np.nonzero(first)[0]
    level = elevation[where]
    tops, bottoms = [], []
    for i, vertex in enumerate(where):
        before = level[i - 1] if i else -np.inf
        after = level[i + 1] if i + 1 < len(level) else -np.inf
        if level[i] > before and level[i] > after and len(level) > 1:
            tops.append(int(vertex))
        if 0 < i < len(level) - 1 and level[i] < before and level[i] < after:
            bottoms.append(int(vertex))
    return tuple(tops), tuple(bottoms)


def _below(station: Floats, cover: Floats, depth: float) -> tuple[tuple[float, float], ...]:
    """Stretches where a cover that is straight between vertices is less than a depth."""
    found: list[list[float]] = []
    for i in range(len(station) - 1):
        one, two = cover[i] - depth, cover[i + 1] - depth
        if np.isnan(one) or np.isnan(two) or (one >= 0.0 and two >= 0.0):
            continue
        start, end = station[i], station[i + 1]
        if one * two < 0.0:
            zero = start + (end - start) * one / (one - two)
            start, end = (zero, end) if one > 0.0 else (start, zero)
        if found and abs(found[-1][1] - start) < 1e-9:
            found[-1][1] = float(end)
        else:
            found.append([float(start), float(end)])
    return tuple((a, b) for a, b in found)


def drains(xyz: Floats) -> tuple[Floats, Bools]:
    """Which parts of a line run back to the tank when the pump stops and air is let in.

    Only what lies above every lower summit on the way back drains: water leaves a place if no part
    of the line between it and the tank is higher.

    Parameters
    ----------
    xyz : (k, 3) float array
        Vertices, the one at the tank first [site unit].

    Returns
    -------
    (m,) float array
        Stations in plan that bound the parts [site unit].
    (m - 1,) bool array
        Whether each part drains.
    """
    step = np.hypot(*np.diff(xyz[:, :2], axis=0).T)
    bounds, kinds = [0.0], []
    highest, at = float(xyz[0, 2]), 0.0
    for i, size in enumerate(step):
        one, two = float(xyz[i, 2]), float(xyz[i + 1, 2])
        if two < one or two < highest:
            bounds.append(at + size)
            kinds.append(False)
        elif one >= highest:
            bounds.append(at + size)
            kinds.append(True)
        else:
            bounds += [at + size * (highest - one) / (two - one), at + size]
            kinds += [False, True]
        highest = max(highest, two)
        at += size
    return np.array(bounds), np.array(kinds, dtype=bool)


def drained_volume(xyz: Floats, bores: Floats) -> float:
    """Volume that drains back to the tank from a line, added to each dose.

    Parameters
    ----------
    xyz : (k, 3) float array
        Vertices, the one at the tank first [site unit].
    bores : (k - 1,) float array
        Inside diameter of each stretch [site unit].

    Returns
    -------
    float
        [site unit cubed]
    """
    step = np.hypot(*np.diff(xyz[:, :2], axis=0).T)
    station = np.concatenate(([0.0], np.cumsum(step)))
    bounds, kinds = drains(xyz)
    middle = 0.5 * (bounds[1:] + bounds[:-1])
    which = np.clip(np.searchsorted(station, middle, side="right") - 1, 0, len(step) - 1)
    area = 0.25 * np.pi * np.asarray(bores, dtype=float)[which] ** 2
    slope = np.hypot(step, np.diff(xyz[:, 2])) / np.maximum(step, 1e-12)  # along the pipe itself
    return float((np.diff(bounds) * slope[which] * area * kinds).sum())


def check_route(
    xyz: Floats,
    name: str,
    bed: Polygon,
    laterals: tuple[Lateral, ...],
    near: float,
    tank: Floats | None = None,
) -> None:
    """Refuse a line that does not lead from the tank to the field.

    Parameters
    ----------
    xyz : (k, 3) float array
        Vertices, the one at the tank first [site unit].
    name : str
        ``supply`` or ``return``, for the error.
    bed : Polygon
    laterals : tuple of Lateral
        None of them may be crossed.
    near : float
        How far from the bed, and from the tank, it may end [site unit].
    tank : (2,) float array or None
        Where it is known.

    Raises
    ------
    InputError
        Fewer than two vertices, an end far from the field or the tank, or a lateral crossed.
    """
    xyz = np.asarray(xyz, dtype=float)
    field = "route"
    if xyz.ndim != 2 or len(xyz) < 2 or not np.isfinite(xyz).all():
        raise input_error(
            f"the {name} line has fewer than two points with an elevation",
            "give northing, easting and elevation of at least two",
            field=field,
        )
    away = bed.distance(shapely.Point(xyz[-1, :2]))
    if away > near:
        other = bed.distance(shapely.Point(xyz[0, :2]))
        turned = " (its other end is nearer: is it the wrong way round?)" if other <= near else ""
        raise input_error(
            f"the {name} line ends {away:.1f} from the bed{turned}",
            f"let it end within {near:g} of the bed",
            field=field,
        )
    if tank is not None:
        away = float(np.hypot(*(xyz[0, :2] - tank)))
        if away > near:
            raise input_error(
                f"the {name} line is {away:.1f} from the tank where it is nearest the pump",
                f"let it begin within {near:g} of the tank",
                field=field,
            )
    wire = shapely.LineString(xyz[:, :2])
    crossed = [one.name for one in laterals if wire.crosses(shapely.LineString(one.xy))]
    if crossed:
        many = f" and {len(crossed) - 1} more" if len(crossed) > 1 else ""
        raise input_error(
            f"the {name} line crosses {crossed[0]}{many}",
            "lead it round the laterals",
            field=field,
        )
