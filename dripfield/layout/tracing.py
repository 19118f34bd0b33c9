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

from dripfield.arrays import Floats
from dripfield.layout.terrain import Grid

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
        return _follower(self.grid.u, self.grid.v, self.values)

    @cached_property
    def _fine(self) -> Any:
        """Cells cut in two each way, so that no wave of the spline is stepped over."""
        u, v = _halved(self.grid.u), _halved(self.grid.v)
        return _follower(u, v, np.asarray(self.spline(v, u)))

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
        rough = [(level, line) for level in levels for line in self._fine.lines(level)]
        if not rough:
            return []
        even = [evened(line, step) for _, line in rough]
        count = np.array([len(line) for line in even])
        moved = self.settle(np.concatenate(even), np.repeat([level for level, _ in rough], count))
        return np.split(moved, np.cumsum(count)[:-1])

    def settle(self, uv: Floats, level: float | Floats, steps: int = 3) -> Floats:
        """Move points onto a level along the gradient, never farther than half a cell a step."""
        most = self.grid.step / 2
        for _ in range(steps):
            gradient = self.gradient(uv)
            square = np.maximum(np.einsum("ij,ij->i", gradient, gradient), 1e-12)
            move = ((level - self.value(uv)) / square)[:, None] * gradient
            length = np.hypot(move[:, 0], move[:, 1])
            uv = uv + move * np.minimum(1.0, most / np.maximum(length, 1e-300))[:, None]
            if length.max(initial=0.0) < _SETTLED * self.grid.step:
                break
        return uv


def _halved(axis: Floats) -> Floats:
    """An axis with the middles of its steps put in."""
    return np.interp(np.arange(2 * len(axis) - 1) / 2.0, np.arange(len(axis)), axis)


def _follower(u: Floats, v: Floats, values: Floats) -> Any:
    """contourpy's generator of lines over a grid."""
    from contourpy import LineType, contour_generator

    return contour_generator(u, v, values, line_type=LineType.Separate)


def evened(line: Floats, step: float) -> Floats:
    """Points along a polyline, evenly spaced and about ``step`` apart, ends kept.

    Parameters
    ----------
    line : (k, 2) float array
    step : float

    Returns
    -------
    (m, 2) float array
    """
    station = np.zeros(len(line))
    np.cumsum(np.hypot(*np.diff(line, axis=0).T), out=station[1:])
    count = max(1, int(np.ceil(station[-1] / step)))
    at = np.linspace(0.0, station[-1], count + 1)
    return np.column_stack((np.interp(at, station, line[:, 0]), np.interp(at, station, line[:, 1])))


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
    return np.split(at, np.cumsum(shapely.get_num_coordinates(parts))[:-1]) if len(parts) else []


def clipped_lengths(lines: list[Floats], area: Any) -> Floats:
    """Lengths of the parts that :func:`clip` would return."""
    return np.asarray(shapely.length(_parts(lines, area)))


def _parts(lines: list[Floats], area: Any) -> Any:
    """The parts of lines inside an area, as shapely lines."""
    if not lines:
        return np.empty(0, dtype=object)
    owner = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    whole = shapely.linestrings(np.concatenate(lines), indices=owner)
    parts = shapely.get_parts(shapely.intersection(whole, area))
    return parts[shapely.get_type_id(parts) == 1]
