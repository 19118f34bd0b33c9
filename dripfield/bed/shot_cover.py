"""Is a bed shot densely enough to be judged, and where is it not."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats
from dripfield.core.units import Unit
from dripfield.site.schema.bed_section import BedSection

_SAMPLES = 40_000  # of an area at most
_FINE = 12  # samples to a reach
_MOST_PLACES = 200  # that are asked for


@dataclass(frozen=True)
class Enough:
    """What proves an area: see ``shots_…`` of the bed's section.

    Attributes
    ----------
    reach, gap : float
        A share of the area lies within ``reach`` of a shot, none of it beyond ``gap`` [site unit].
    share : float
    area : float
        Most that one shot stands for on average [square site unit].
    """

    reach: float
    gap: float
    share: float
    area: float


@dataclass(frozen=True)
class ShotCover:
    """How an area is covered by shots.

    Attributes
    ----------
    within_reach : float
        Share of the area within reach of a shot.
    widest_gap : float
        Greatest distance of a place of the area from the nearest shot [site unit].
    gap_at : (2,) float array
        That place.
    area_a_shot : float
        [square site unit]
    wanted : (k, 2) float array
        Places that, shot too, would make it enough: the farthest first.
    wanted_gaps : (k,) float array
        Distance of each from the nearest shot there is [site unit].
    more : int
        Shots still wanted by area beyond ``wanted``.
    """

    within_reach: float
    widest_gap: float
    gap_at: Floats
    area_a_shot: float
    wanted: Floats
    wanted_gaps: Floats
    more: int


def enough_shots(section: BedSection | None, unit: Unit) -> Enough:
    """What the site asks for: by default a grid of 3 ft (1 m) is enough.

    At the edge of a bed such a grid leaves places up to 5.1 ft from it, in a right corner.
    """
    given = section or BedSection()
    return Enough(
        reach=given.shots_reach or unit.default(3.5, 1.2),
        gap=given.shots_gap or unit.default(7.0, 2.4),
        share=given.shots_share,
        area=given.shots_area or unit.default(20.0, 2.2),
    )


def cover_of(xy: Floats, area: Polygon | MultiPolygon, enough: Enough) -> ShotCover:
    """How well places (m, 2) cover an area, and what is missing.

    Parameters
    ----------
    xy : (m, 2) float array
        Places that were shot.
    area : Polygon or MultiPolygon
    enough : Enough

    Returns
    -------
    ShotCover
        Distances are judged on a grid a twelfth of the reach apart, and at the area's corners.
    """
    from scipy.spatial import cKDTree

    step = max(enough.reach / _FINE, math.sqrt(area.area / _SAMPLES))
    low, high = np.array(area.bounds).reshape(2, 2)
    x, y = (np.arange(low[k] + 0.5 * step, high[k], step) for k in (0, 1))
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    grid = grid[shapely.intersects_xy(area, grid)]
    corners = shapely.get_coordinates(area)
    samples = np.concatenate((grid, corners)) if len(grid) else corners
    counts = np.concatenate((np.ones(len(grid)), np.zeros(len(corners)))) if len(grid) else None
    away = np.full(len(samples), math.inf)
    if len(xy):
        away = cKDTree(xy).query(samples)[0]
    before = away.copy()
    within = float(np.average(away <= enough.reach, weights=counts))
    worst = int(away.argmax())
    gap, gap_at = float(away[worst]), samples[worst]
    by_area = math.ceil(area.area / enough.area - 1e-9)
    wanted: list[int] = []
    while len(wanted) < _MOST_PLACES:
        share = float(np.average(away <= enough.reach, weights=counts))
        enough_of_them = len(xy) + len(wanted) >= by_area
        if share >= enough.share and away.max() <= enough.gap and enough_of_them:
            break
        if not wanted and math.isinf(away.max()):
            middle = area.representative_point()
            number = int(np.hypot(*(samples - (middle.x, middle.y)).T).argmin())
        else:
            number = int(away.argmax())
        wanted.append(number)
        away = np.minimum(away, np.hypot(*(samples - samples[number]).T))
    return ShotCover(
        within,
        gap,
        gap_at,
        float(area.area) / max(len(xy), 1),
        samples[wanted],
        before[wanted],
        max(0, by_area - len(xy) - len(wanted)),
    )
