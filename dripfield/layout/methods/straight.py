"""``straight``: parallel straight lines along the strike, for two flags and a string."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.layout.lines.start import best_start, starts
from dripfield.layout.lines.tracing import clip, clipped_lengths


def lines_across(area: BaseGeometry, spacing: float, start: float) -> list[Floats]:
    """The lines ``v = start + k spacing`` that cross an area, from the top down, past both ends.

    Parameters
    ----------
    area : Polygon or MultiPolygon
        Local coordinates.
    spacing : float
        Between neighbours [site unit].
    start : float
        v of one of them [site unit].

    Returns
    -------
    list of (2, 2) float arrays
        Local coordinates.
    """
    left, top, right, bottom = area.bounds
    first = np.ceil((top - start) / spacing - 1e-9)
    last = np.floor((bottom - start) / spacing + 1e-9)
    v = start + spacing * np.arange(first, last + 1)
    return [np.array(((left - 1.0, at), (right + 1.0, at))) for at in v]


def straight_lines(area: BaseGeometry, spacing: float, least: float) -> list[Floats]:
    """Straight lines along u, ``spacing`` apart in plan, placed so that the most tubing fits.

    Parameters
    ----------
    area : Polygon or MultiPolygon
        Local coordinates.
    spacing : float
        On-centre distance in plan.
    least : float
        Pieces shorter than this do not count for the start (they are returned all the same).

    Returns
    -------
    list of (2, 2) float arrays
    """
    corners = shapely.get_coordinates(area.simplify(1e-3 * spacing))[:, 1]
    start = best_start(
        starts(corners, spacing),
        lambda at: clipped_lengths(lines_across(area, spacing, at), area),
        least,
    )
    return clip(lines_across(area, spacing, start), area)
