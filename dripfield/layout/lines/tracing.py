"""Smooth level lines of a function given on a grid.

The lines are first followed through the grid cells (contourpy), then every vertex is moved onto the
bicubic spline's own level by Newton steps along its gradient, so that no trace of the cells is left
and a plane or a cone comes out exact to the spline's error.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np
import shapely

from dripfield.core.arrays import Floats, Ints
from dripfield.core.lines import leg_lengths
from dripfield.layout.lines.terrain import Grid

_RIM = 1e-6  # of the spacing
_SETTLED = 1e-4  # of a cell: after a last step so short the next one would be nothing


class Field:
    """A smooth function over a grid, ready to be traced.

    Parameters
    ----------
    grid : Grid
    values : (rows, columns) float array
    """

    def __init__(self, grid: Grid, values: Floats) -> None:
        self.grid = grid
        self.values = values
        self.spline: Any = grid.spline(values)

    @cached_property
    def _rough(self) -> Any:
        return line_follower(self.grid.u, self.grid.v, self.values)

    @cached_property
    def _fine(self) -> Any:
        """Cells cut in two each way, so that no wave of the spline is stepped over."""
        u, v = _halved(self.grid.u), _halved(self.grid.v)
        return line_follower(u, v, np.asarray(self.spline(v, u)))

    def value(self, uv: Floats) -> Floats:
        """Values (k,) at local points (k, 2)."""
        return np.asarray(self.spline.ev(uv[:, 1], uv[:, 0]))

    def gradient(self, uv: Floats) -> Floats:
        """Gradient (k, 2) at local points (k, 2)."""
        along = self.spline.ev(uv[:, 1], uv[:, 0], dy=1)
        down = self.spline.ev(uv[:, 1], uv[:, 0], dx=1)
        return np.column_stack((along, down))

    def rough_lines(self, level: float) -> list[Floats]:
        """The lines at a level as the grid's own cells give them."""
        return [line for line in self._rough.lines(level) if len(line) > 1]

    def lines(self, levels: Sequence[float], step: float) -> list[Floats]:
        """The lines at several levels, with even vertices that lie on them.

        Parameters
        ----------
        levels : sequence of float
        step : float
            Distance between vertices, about.

        Returns
        -------
        list of (k, 2) float arrays
            Local coordinates, level by level; a closed line repeats its first vertex.
        """
        levels_of, rough = [], []
        for level in levels:
            for line in self._fine.lines(level):
                if len(line) > 1:
                    levels_of.append(level)
                    rough.append(line)
        if not rough:
            return []
        even, count = evened(rough, step)
        return split(self.settle(even, np.repeat(levels_of, count)), count)

    def settle(self, uv: Floats, level: float | Floats, steps: int = 3) -> Floats:
        """Move points onto a level along the gradient, never farther than half a cell a step.

        Parameters
        ----------
        uv : (k, 2) float array
            Local coordinates.
        level : float or (k,) float array
            In the unit of the values.
        steps : int
            At most.

        Returns
        -------
        (k, 2) float array
            Local coordinates.
        """
        gradient = self.gradient(uv)
        square = np.maximum(np.einsum("ij,ij->i", gradient, gradient), 1e-12)
        most = self.grid.step / 2 * np.sqrt(square)
        for _ in range(steps):
            short = np.clip(level - self.value(uv), -most, most)
            uv = uv + (short / square)[:, None] * gradient
            if np.abs(short / most).max(initial=0.0) < _SETTLED:
                break
        return uv


def _halved(axis: Floats) -> Floats:
    """An axis with the middles of its steps put in."""
    return np.interp(np.arange(2 * len(axis) - 1) / 2.0, np.arange(len(axis)), axis)


def line_follower(u: Floats, v: Floats, values: Floats) -> Any:
    """contourpy's generator of lines, each an array of its own, over a grid.

    Parameters
    ----------
    u, v : (columns,), (rows,) float arrays
    values : (rows, columns) float array

    Returns
    -------
    contourpy.ContourGenerator
    """
    from contourpy import LineType, contour_generator

    return contour_generator(u, v, values, line_type=LineType.Separate)


def evened(lines: Sequence[Floats], step: float) -> tuple[Floats, Ints]:
    """Points along polylines, evenly spaced and about ``step`` apart, ends kept.

    Parameters
    ----------
    lines : sequence of (k, 2) float arrays
    step : float

    Returns
    -------
    points : (m, 2) float array
        Of all lines, one after the other.
    count : (n,) int array
        How many belong to each line.
    """
    given = np.array([len(line) for line in lines])
    points = np.concatenate(lines)
    last = np.cumsum(given) - 1
    first = last - given + 1
    run = np.zeros(len(points))
    run[1:] = leg_lengths(points)
    run[first] = 0.0
    travelled = np.cumsum(run)
    lengths = travelled[last] - travelled[first]
    count = np.maximum(1, np.ceil(lengths / step - 1e-9)).astype(np.int64) + 1
    owner = np.repeat(np.arange(len(lines)), count)
    number = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    along = travelled[first][owner] + number * (lengths / (count - 1))[owner]
    after = np.clip(np.searchsorted(travelled, along), first[owner] + 1, last[owner])
    size = run[after]
    part = np.clip((along - travelled[after - 1]) / np.where(size > 0.0, size, 1.0), 0.0, 1.0)
    even = points[after - 1] + part[:, None] * (points[after] - points[after - 1])
    ends = np.cumsum(count) - 1
    even[ends] = points[last]
    return even, count


def split(points: Floats, count: Ints) -> list[Floats]:
    """Points of several lines, one after the other, as lines."""
    return np.split(points, np.cumsum(count)[:-1])


def with_rim(area: Any, spacing: float) -> Any:
    """An area and a hair about it, so that a line that lies on its edge is inside.

    Parameters
    ----------
    area : Polygon or MultiPolygon
    spacing : float
        On-centre distance; the hair is a millionth of it.

    Returns
    -------
    Polygon or MultiPolygon
    """
    return area.buffer(_RIM * spacing, join_style="mitre")


def clip(lines: list[Floats], area: Any) -> list[Floats]:
    """The parts of lines inside an area, in the order of the lines and along each.

    Parameters
    ----------
    lines : list of (k, 2) float arrays
    area : Polygon or MultiPolygon
        Same coordinates.

    Returns
    -------
    list of (m, 2) float arrays
    """
    parts = _parts(lines, area)
    at = shapely.get_coordinates(parts)
    return split(at, shapely.get_num_coordinates(parts)) if len(parts) else []


def clipped_lengths(lines: list[Floats], area: Any) -> Floats:
    """Lengths of the parts that :func:`clip` would return."""
    return np.asarray(shapely.length(_parts(lines, area)))


def _parts(lines: list[Floats], area: Any) -> Any:
    """The parts of lines inside an area, as shapely lines."""
    if not lines:
        return np.empty(0, dtype=object)
    owner = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    whole = shapely.linestrings(np.concatenate(lines), indices=owner)
    inside = shapely.intersection(whole, area)
    # a closed line is not parted where it begins, nor any line where it touches a corner
    several = shapely.get_num_geometries(inside) > 1
    inside[several] = shapely.line_merge(inside[several])
    parts = shapely.get_parts(inside)
    return parts[(shapely.get_type_id(parts) == 1) & ~shapely.is_empty(parts)]
