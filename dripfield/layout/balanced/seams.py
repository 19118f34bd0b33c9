"""Seams between panels: straight lines down the slope, each staked by two points.

A seam runs from the top of the area's box to its bottom, in the frame in which v points down the
mean fall. Seams that follow each fall line closely were tried: where fall lines gather in a hollow
they crowd together, and the panels between them serve less.
"""

from __future__ import annotations

from functools import cached_property
from typing import NamedTuple

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Bools, Floats
from dripfield.layout.lines.frame import points_inside

_PLACES = 4000  # of the lattice that parts are weighed by
_BEYOND = 0.01  # of the box's height that parts reach past it, straight up and down


class Seam(NamedTuple):
    """Where a seam crosses the top and the bottom edge of the box: values of u, both infinite for
    the bed's own left and right end."""

    top: float
    bottom: float


LEFT, RIGHT = Seam(-np.inf, -np.inf), Seam(np.inf, np.inf)


class Part(NamedTuple):
    """A part of the bed: the seams on its left and right."""

    left: Seam
    right: Seam


WHOLE = Part(LEFT, RIGHT)


class Seams:
    """Where seams can run in one bed.

    Parameters
    ----------
    area : Polygon or MultiPolygon
        Local coordinates.

    Attributes
    ----------
    places : (k, 2) float array
        A lattice inside the area; each place stands for ``cell`` of it.
    cell : float
    """

    def __init__(self, area: BaseGeometry) -> None:
        self._area = area
        self._left, self._top, self._right, self._bottom = area.bounds
        self.places = points_inside(area, _PLACES)
        self.cell = float(area.area / max(len(self.places), 1))
        self._areas: dict[Part, float] = {}

    @property
    def top(self) -> float:
        """v of the upper edge of the area's box."""
        return float(self._top)

    @property
    def bottom(self) -> float:
        """v of the lower edge of the area's box."""
        return float(self._bottom)

    @cached_property
    def width(self) -> float:
        """Width of the area's box."""
        return float(self._right - self._left)

    def right_of(self, seam: Seam, uv: Floats) -> Floats:
        """How far along u points (k, 2) lie to the right of a seam; negative on its left."""
        if np.isinf(seam.top):
            return np.full(len(uv), -seam.top)
        share = (uv[:, 1] - self._top) / (self._bottom - self._top)
        return np.asarray(uv[:, 0] - seam.top - (seam.bottom - seam.top) * share)

    def holds(self, part: Part, uv: Floats, halo: float = 0.0) -> Bools:
        """Which points (k, 2) lie in a part, or in a halo about it.

        Parameters
        ----------
        part : Part
        uv : (k, 2) float array
            Local coordinates.
        halo : float
            Width beyond either seam, along u [site unit].

        Returns
        -------
        (k,) bool array
        """
        right_of_left = self.right_of(part.left, uv) >= -halo
        return np.asarray(right_of_left & (self.right_of(part.right, uv) < halo))

    def area_of(self, part: Part) -> float:
        """Area of a part in plan."""
        if part not in self._areas:
            self._areas[part] = float(self.holds(part, self.places).sum() * self.cell)
        return self._areas[part]

    def even(self, count: int, lean: float = 0.0) -> list[Seam]:
        """Seams side by side that divide the area into equal strips.

        Parameters
        ----------
        count : int
            Strips.
        lean : float
            How far to the right a seam runs for each unit down.

        Returns
        -------
        list of Seam
            ``count`` + 1, the two ends of the bed among them.
        """
        across = self.places[:, 0] - lean * (self.places[:, 1] - self._top)
        inner = np.quantile(across, np.linspace(0.0, 1.0, count + 1)[1:-1])
        run = lean * (self._bottom - self._top)
        return [LEFT, *(Seam(float(u), float(u + run)) for u in inner), RIGHT]

    def line(self, seam: Seam) -> Floats:
        """A seam as a polyline (2, 2), from the top of the box to its bottom."""
        return np.array(((seam.top, self._top), (seam.bottom, self._bottom)))

    def length(self, seam: Seam) -> float:
        """Length of a seam inside the area; 0 for an end of the bed."""
        if np.isinf(seam.top):
            return 0.0
        return float(shapely.length(self._area.intersection(shapely.linestrings(self.line(seam)))))

    def between(self, part: Part) -> Polygon:
        """The part as a polygon that reaches past the area's box."""
        far = self.width
        ends = (Seam(*[self._left - far] * 2), Seam(*[self._right + far] * 2))
        left, right = (
            end if np.isinf(seam.top) else seam for seam, end in zip(part, ends, strict=True)
        )
        past = np.array(((0.0, -1.0), (0.0, 1.0))) * _BEYOND * (self._bottom - self._top)
        sides = [
            (line[0] + past[0], *line, line[1] + past[1]) for line in map(self.line, (left, right))
        ]
        return Polygon((*sides[0], *sides[1][::-1]))
