"""Smooth level lines of a function given on a grid.

The lines are first followed through the grid cells (contourpy), then every vertex is moved onto the
bicubic spline's own level by Newton steps along its gradient, so that no trace of the cells is left
and a plane or a cone comes out exact to the spline's error.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from dripfield.arrays import Floats
from dripfield.layout.terrain import Grid


class Field:
    """A smooth function over a grid, ready to be traced.

    Parameters
    ----------
    grid : Grid
    values : (rows, columns) float array
    refine : int
        Cells are cut into so many each way for following the lines.
    """

    def __init__(self, grid: Grid, values: Floats, refine: int = 2) -> None:
        self.grid = grid
        self.spline: Any = grid.spline(values)
        fine = grid.step / refine
        self._u = grid.u[0] + fine * np.arange(refine * (len(grid.u) - 1) + 1)
        self._v = grid.v[0] + fine * np.arange(refine * (len(grid.v) - 1) + 1)
        # the last node may fall a rounding error outside
        self._u[-1], self._v[-1] = grid.u[-1], grid.v[-1]
        self._fine = np.asarray(self.spline(self._v, self._u))
        self._generator: Any = None

    def value(self, uv: Floats) -> Floats:
        """Values (k,) at local points (k, 2)."""
        return np.asarray(self.spline.ev(uv[:, 1], uv[:, 0]))

    def gradient(self, uv: Floats) -> Floats:
        """Gradient (k, 2) at local points (k, 2)."""
        along = self.spline.ev(uv[:, 1], uv[:, 0], dy=1)
        down = self.spline.ev(uv[:, 1], uv[:, 0], dx=1)
        return np.column_stack((along, down))

    def rough_lines(self, level: float) -> list[Floats]:
        """The lines at a level as the grid cells give them."""
        if self._generator is None:
            from contourpy import LineType, contour_generator

            self._generator = contour_generator(
                self._u, self._v, self._fine, line_type=LineType.Separate
            )
        return [np.asarray(line) for line in self._generator.lines(level) if len(line) > 1]

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
        rough = [(level, line) for level in levels for line in self.rough_lines(level)]
        if not rough:
            return []
        even = [evened(line, step) for _, line in rough]
        count = np.array([len(line) for line in even])
        moved = self.settle(np.concatenate(even), np.repeat([level for level, _ in rough], count))
        return np.split(moved, np.cumsum(count)[:-1])

    def settle(self, uv: Floats, level: float | Floats, steps: int = 2) -> Floats:
        """Move points onto a level along the gradient, never farther than half a cell a step."""
        most = self.grid.step / 2
        for _ in range(steps):
            gradient = self.gradient(uv)
            square = np.einsum("ij,ij->i", gradient, gradient)
            move = ((level - self.value(uv)) / np.maximum(square, 1e-12))[:, None] * gradient
            length = np.hypot(move[:, 0], move[:, 1])
            uv = uv + move * np.minimum(1.0, most / np.maximum(length, 1e-300))[:, None]
        return uv


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


def clip(lines: list[Floats], area: Any) -> list[list[Floats]]:
    """The parts of each line inside an area.

    Parameters
    ----------
    lines : list of (k, 2) float arrays
    area : Polygon or MultiPolygon
        Same coordinates.

    Returns
    -------
    list of list of (m, 2) float arrays
        For each line its parts in order along it.
    """
    if not lines:
        return []
    count = np.array([len(line) for line in lines])
    whole = shapely.linestrings(
        np.concatenate(lines), indices=np.repeat(np.arange(len(lines)), count)
    )
    parts, owner = shapely.get_parts(shapely.intersection(whole, area), return_index=True)
    keep = shapely.get_type_id(parts) == 1
    result: list[list[Floats]] = [[] for _ in lines]
    for part, line in zip(parts[keep], owner[keep], strict=True):
        result[line].append(shapely.get_coordinates(part))
    return result
