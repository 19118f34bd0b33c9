"""The window of a sheet through which the ground is seen, at a true scale."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import Polygon, box

from dripfield.core.arrays import Floats
from dripfield.core.units import Unit
from dripfield.sheets.kit.style import Scale, fitting_scale

_SLIM = 2.5  # a bed this many times longer than wide may be turned on the sheet


@dataclass(frozen=True)
class MapFrame:
    """Ground to paper: site coordinates to points from the sheet's lower left corner.

    Attributes
    ----------
    left, low, width, height : float
        The window on the sheet [pt].
    centre : (float, float)
        Easting, northing of the window's middle.
    scale : Scale
    turn : float
        Degrees that the ground is turned counter-clockwise on the sheet; 0 is north up.
    """

    left: float
    low: float
    width: float
    height: float
    centre: tuple[float, float]
    scale: Scale
    turn: float = 0.0

    @property
    def window(self) -> Polygon:
        """The window as a rectangle on the sheet [pt]."""
        return box(self.left, self.low, self.left + self.width, self.low + self.height)

    def to_paper(self, xy: Floats) -> Floats:
        """Points on the sheet (k, 2) of plan points (k, 2)."""
        near = (np.asarray(xy, dtype=np.float64)[:, :2] - self.centre) / self.scale.per_point
        cos, sin = math.cos(math.radians(self.turn)), math.sin(math.radians(self.turn))
        turned = near @ np.array(((cos, sin), (-sin, cos)))
        middle = np.array((self.left + 0.5 * self.width, self.low + 0.5 * self.height))
        return np.asarray(turned + middle)

    def shape(self, geometry: Any) -> Any:
        """A shapely geometry on the sheet."""
        return shapely.transform(geometry, self.to_paper)

    @property
    def ground(self) -> Polygon:
        """What of the ground the window shows, in site coordinates."""
        half = np.array((self.width, self.height)) / 2.0 * self.scale.per_point
        corners = np.array(((-1, -1), (1, -1), (1, 1), (-1, 1))) * half
        cos, sin = math.cos(math.radians(self.turn)), math.sin(math.radians(self.turn))
        return Polygon(corners @ np.array(((cos, -sin), (sin, cos))) + self.centre)


def fit_frame(
    unit: Unit,
    ground: Polygon,
    rectangle: tuple[float, float, float, float],
    border: tuple[float, float],
) -> MapFrame:
    """Show a piece of ground in a rectangle of the sheet at the largest usual scale.

    Parameters
    ----------
    unit : Unit
    ground : Polygon
        What must be seen, in site coordinates.
    rectangle : (left, low, width, height)
        [pt]
    border : (float, float)
        Room to leave at the sides and at top and bottom for labels [pt].

    Returns
    -------
    MapFrame
        North up, unless the ground is slim and a turn lets it be drawn at a larger scale.
    """
    left, low, width, height = rectangle
    room = (max(width - 2.0 * border[0], 1.0), max(height - 2.0 * border[1], 1.0))
    options = []
    for turn in (0.0, _lengthwise(ground)):
        x0, y0, x1, y1 = ground.bounds
        middle = np.array((0.5 * (x0 + x1), 0.5 * (y0 + y1)))
        trial = MapFrame(0.0, 0.0, 0.0, 0.0, (middle[0], middle[1]), Scale(1.0, ""), turn)
        x0, y0, x1, y1 = trial.shape(ground).bounds
        scale = fitting_scale(unit, (x1 - x0, y1 - y0), room)
        cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        shift = np.array((0.5 * (x0 + x1), 0.5 * (y0 + y1))) @ np.array(((cos, -sin), (sin, cos)))
        centre = middle + shift
        options.append(MapFrame(left, low, width, height, (centre[0], centre[1]), scale, turn))
    return min(options, key=lambda frame: frame.scale.per_point)


def _lengthwise(ground: Polygon) -> float:
    """The turn that lays a slim piece of ground along the sheet; 0 for one that is not slim."""
    corners = np.asarray(shapely.minimum_rotated_rectangle(ground).exterior.coords)
    sides = np.diff(corners[:3], axis=0)
    lengths = np.hypot(*sides.T)
    if lengths.max() < _SLIM * lengths.min():
        return 0.0
    east, north = sides[int(np.argmax(lengths))]
    turn = -math.degrees(math.atan2(north, east))
    return (turn + 90.0) % 180.0 - 90.0
