"""What a drawing shows of the ground: level lines, where there is no survey, suspect shots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon, box

from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.ground.ground import Ground
from dripfield.ground.levels.interval import auto_interval, levels_between
from dripfield.ground.levels.lines import LevelLine, level_lines
from dripfield.ground.triangles.tin import Surface
from dripfield.survey.doubt.blunders import Suspect

_LINES_ACROSS_BED = 12


@dataclass(frozen=True)
class Relief:
    """The ground as a map shows it."""

    surface: HeightField
    levels: Sequence[LevelLine] = ()
    interval: float = 1.0
    gaps: Polygon | MultiPolygon | None = None
    suspects: Sequence[Suspect] = ()
    shots: Floats | None = None


def show_relief(ground: Ground, surface: Surface) -> Relief:
    """Level lines at the site's interval, or at one of about a dozen lines across the bed.

    Parameters
    ----------
    ground : Ground
        Asked what it does not cover and which shots are to be doubted.
    surface : Surface
        Whose level lines are drawn: the ground itself, or what laterals lie on.

    Returns
    -------
    Relief
        Lines over the whole survey, the gaps of :func:`dripfield.ground.coverage.coverage`, and
        the shots that :func:`dripfield.survey.doubt.blunders.suspects` doubts.
    """
    site = ground.site
    z = surface.vertices[:, 2]
    near = shapely.contains_xy(box(*site.bed.boundary.bounds), surface.vertices[:, :2])
    height = float(np.ptp(z[near])) if near.sum() > 1 else float(np.ptp(z))
    interval = site.settings.contour_interval or auto_interval(height, _LINES_ACROSS_BED)
    levels, major = levels_between(float(z.min()), float(z.max()), interval)
    found = ground.coverage
    return Relief(
        surface=surface,
        levels=level_lines(surface, levels, major),
        interval=interval,
        gaps=shapely.union_all([*found.outside, *found.sparse]),
        suspects=ground.suspects,
        shots=ground.read.xyz,
    )
