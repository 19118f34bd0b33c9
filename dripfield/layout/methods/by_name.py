"""Lines of one of the plain methods by its name."""

from __future__ import annotations

import numpy as np
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.layout.lines.frame import points_inside
from dripfield.layout.lines.terrain import Terrain
from dripfield.layout.lines.tracing import with_rim
from dripfield.layout.methods.contour import contour_lines, plan_spacing
from dripfield.layout.methods.offset import offset_lines
from dripfield.layout.methods.straight import straight_lines
from dripfield.site.model import LayoutSettings

PLAIN = ("straight", "offset", "contour")
"""Methods of one family of lines, the easiest to stake first."""


def lines_by(
    method: str, terrain: Terrain, area: BaseGeometry, settings: LayoutSettings
) -> list[Floats]:
    """Lines of one of the plain methods, clipped to the area.

    Parameters
    ----------
    method : str
        One of :data:`PLAIN`.
    terrain : Terrain
    area : Polygon or MultiPolygon
        Local coordinates.
    settings : LayoutSettings

    Returns
    -------
    list of (k, 2) float arrays
        Local coordinates.
    """
    rim = with_rim(area, settings.spacing)
    along_slope = settings.spacing_measured == "slope"
    if method == "contour":
        return contour_lines(
            terrain,
            rim,
            settings.spacing,
            settings.spacing_tolerance,
            settings.min_length,
            settings.bend_radius,
            along_slope,
        )
    places = points_inside(area)
    spacing = float(np.median(plan_spacing(terrain, places, settings.spacing, along_slope)))
    if method == "straight":
        return straight_lines(rim, spacing, settings.min_length)
    return offset_lines(terrain, rim, spacing, settings.min_length, settings.bend_radius)
