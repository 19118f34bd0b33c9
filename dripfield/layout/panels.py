"""Panels: parts of the bed side by side, each with its own family of lines.

A panel lies between two fall lines. Its stripe field is solved in a frame of its own, along its own
strike. For the division of a bed, every run of neighbouring strips is solved roughly on a coarse
grid, and dynamic programming finds the best division for each number of panels.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.arrays import Bools, Floats
from dripfield.layout.fairing import eased_within
from dripfield.layout.falls import Falls
from dripfield.layout.laying import VERTEX_STEP
from dripfield.layout.start import best_start, starts
from dripfield.layout.stripes import StripeField, Tolerances, solve_stripes
from dripfield.layout.terrain import Grid, Terrain
from dripfield.layout.tracing import Field, clipped_lengths

_ROUGH_ROUNDS = 24
_FINE_ROUNDS = 40
_EASY = 0.985  # share of good cells from which a panel is asked to come nearer to the spacing
_TIGHTER = 0.65  # of the spacing tolerance, asked for then
_NEIGHBOURS = 1.8  # a cell out of tolerance spoils the laterals on both its sides
_BATCH = 12  # parts solved together
_ENOUGH = 8  # nodes, to fit a map of elevations
_SHIFT_OF = 12.0  # seams are shifted by parts of the bed's width over this
_SHIFTS = ((0.0, -0.5, -0.25, 0.25, 0.5), (0.0, -0.15, 0.15))  # first far, then near
_HALO = 0.35  # of a cell: nodes so far outside the panel still carry its demands


@dataclass(frozen=True)
class PanelGrid:
    """A panel's own grid: ``local = own @ turn + origin``."""

    origin: Floats
    turn: Floats
    grid: Grid
    nodes: Floats
    mask: Bools

    def to_bed(self, own: Floats) -> Floats:
        """Panel coordinates (k, 2) to the bed's local frame."""
        return np.asarray(own @ self.turn + self.origin)


@dataclass(frozen=True)
class Division:
    """The cuts that divide a bed into panels: values of t, infinite at the ends."""

    cuts: tuple[float, ...]


class Divider:
    """What the search for panels knows of one bed.

    Parameters
    ----------
    terrain : Terrain
    area : Polygon or MultiPolygon
        Local coordinates.
    falls : Falls
    want : Tolerances
    along_slope : bool
        The spacing is measured along the slope.
    narrowest : float
        A panel less wide than this would hold no lateral.
    """

    def __init__(
        self,
        terrain: Terrain,
        area: BaseGeometry,
        falls: Falls,
        want: Tolerances,
        along_slope: bool,
        narrowest: float,
    ) -> None:
        self.terrain, self.area, self.falls = terrain, area, falls
        self.want, self.along_slope, self.narrowest = want, along_slope, narrowest
        self._drawn: dict[tuple[float, float], list[Floats]] = {}
        shapely.prepare(area)

    def _frame(self, low: float, high: float) -> tuple[Floats, Floats, Floats]:
        """Origin, turn and the two corners of the box of the part between two cuts."""
        t = self.falls.place_t
        places = self.falls.places[(t >= low) & (t <= high)]
        if len(places) < 4:
            return np.zeros(2), np.eye(2), np.empty((0, 2))
        fall = -self.terrain.gradient(places[:: max(1, len(places) // 400)]).mean(axis=0)
        down = fall / max(float(np.hypot(*fall)), 1e-12)
        turn = np.array(((down[1], -down[0]), (down[0], down[1])))
        origin = places.mean(axis=0)
        own = (places - origin) @ turn.T
        return origin, turn, np.array((own.min(axis=0), own.max(axis=0)))

    def _grids(self, parts: list[tuple[float, float]], step: float) -> list[PanelGrid]:
        """Grids of one shape for several parts."""
        frames = [self._frame(*part) for part in parts]
        margin = 1.5 * step + 0.5 * self.want.spacing
        size = np.max([np.ptp(box, axis=0) if len(box) else np.zeros(2) for *_, box in frames], 0)
        columns, rows = (np.ceil((size + 2 * margin) / step).astype(int) + 1).tolist()
        rough = step > 1.5 * self.want.spacing
        area = self.area if rough else self._with_halo
        grids = []
        for (low, high), (origin, turn, box) in zip(parts, frames, strict=True):
            middle = box.mean(axis=0) if len(box) else np.zeros(2)
            u = middle[0] + step * (np.arange(columns) - (columns - 1) / 2.0)
            v = middle[1] + step * (np.arange(rows) - (rows - 1) / 2.0)
            grid = Grid(u, v, step)
            nodes = grid.nodes.reshape(-1, 2) @ turn + origin
            t = self.falls.at(nodes)
            halo = _HALO * step
            mask = (t >= low - halo) & (t <= high + halo)
            mask[mask] = shapely.contains_xy(area, nodes[mask])
            grids.append(PanelGrid(origin, turn, grid, nodes, mask.reshape(rows, columns)))
        return grids

    @cached_property
    def _with_halo(self) -> BaseGeometry:
        """The area and a halo about it, as wide as the drawn fields' nodes need."""
        area = self.area.buffer(_HALO * self.want.spacing)
        shapely.prepare(area)
        return area

    def _finest(self, part: tuple[float, float]) -> tuple[PanelGrid, StripeField]:
        """A part solved for drawing; where the tolerances are easily held, asked for more."""
        (panel,) = self._grids([part], self.want.spacing)
        (solved,) = self._solve([panel], _FINE_ROUNDS, self.want)
        if solved.share_good >= _EASY:
            asked = replace(self.want, part=_TIGHTER)
            (nearer,) = self._solve([panel], _FINE_ROUNDS, asked)
            if nearer.share_good >= solved.share_good - (1.0 - _EASY) / 4.0:
                return panel, nearer
        return panel, solved

    def _solve(self, grids: list[PanelGrid], rounds: int, want: Tolerances) -> list[StripeField]:
        """Solve panels on grids of one shape."""
        step = grids[0].grid.step
        shape = (len(grids), *grids[0].grid.shape)
        nodes = np.concatenate([grid.nodes for grid in grids])
        z = self.terrain.elevation(nodes).reshape(shape)
        rough = z
        if self.terrain.rough is not self.terrain.z:
            rough = self.terrain.rough_elevation(nodes).reshape(shape)
        mask = np.stack([grid.mask for grid in grids])
        stretch = None
        if self.along_slope:
            rise: Any = np.gradient(z, step, axis=(1, 2))
            steep = np.hypot(1.0, np.hypot(*rise))
            stretch = (steep[:, 1:, 1:] + steep[:, :-1, :-1]) / 2.0
        return solve_stripes(z, rough, mask, stretch, step, want, rounds)

    def worth(self, parts: list[tuple[float, float]], step: float) -> Floats:
        """Area expected to be served within both tolerances, for each part, by a rough solution."""
        if not parts:
            return np.zeros(0)
        t = self.falls.place_t
        areas = np.array([((t >= a) & (t < b)).sum() * self.falls.cell for a, b in parts])
        result = np.zeros(len(parts))
        order = np.argsort(areas)
        for chunk in np.array_split(order, int(np.ceil(len(parts) / _BATCH))):
            grids = self._grids([parts[k] for k in chunk], step)
            ready = [
                i
                for i, grid in enumerate(grids)
                if grid.mask.sum() >= _ENOUGH
                and areas[chunk[i]] > self.narrowest * step * grid.mask.any(axis=1).sum()
            ]
            if not ready:
                continue
            solved = self._solve([grids[i] for i in ready], _ROUGH_ROUNDS, self.want)
            for i, field in zip(ready, solved, strict=True):
                bad = 1.0 - field.share_good
                result[chunk[i]] = areas[chunk[i]] * max(0.0, 1.0 - _NEIGHBOURS * bad)
        return result

    def divisions(self, most: int, strips: int, step: float, gap: float) -> list[Division]:
        """The best division into one, two … panels.

        Parameters
        ----------
        most : int
            Greatest number of panels.
        strips : int
            Strips that panels are made of.
        step : float
            Node distance of the rough grids.
        gap : float
            Width lost along a seam.

        Returns
        -------
        list of Division
            For one panel, two, three … in that order.
        """
        cuts = self.falls.cuts(strips)
        pairs = [(i, j) for i in range(strips) for j in range(i + 1, strips + 1)]
        worth = self.worth([(float(cuts[i]), float(cuts[j])) for i, j in pairs], step)
        value = np.full((strips + 1, strips + 1), -np.inf)
        for (i, j), at in zip(pairs, worth, strict=True):
            value[i, j] = at - (gap * self.falls.seam_length(float(cuts[i])) if i else 0.0)
        best = np.full((most + 1, strips + 1), -np.inf)
        came = np.zeros((most + 1, strips + 1), dtype=np.int64)
        best[0, 0] = 0.0
        found = []
        for count in range(1, min(most, strips) + 1):
            sums = best[count - 1][:, None] + value
            came[count], best[count] = sums.argmax(axis=0), sums.max(axis=0)
            ends, at = [strips], strips
            for k in range(count, 0, -1):
                at = int(came[k, at])
                ends.append(at)
            found.append(Division(tuple(float(cuts[k]) for k in reversed(ends))))
        return found

    def refined(self, division: Division, step: float, gap: float) -> Division:
        """A division with its seams shifted, one after the other, to where they gain most.

        Parameters
        ----------
        division : Division
        step : float
            Node distance of the rough grids.
        gap : float
            Width lost along a seam.

        Returns
        -------
        Division
        """
        cuts = list(division.cuts)
        t = self.falls.place_t
        width = float(np.ptp(t)) / _SHIFT_OF
        known: dict[tuple[float, float], float] = {}
        for shifts in _SHIFTS:
            for k in range(1, len(cuts) - 1):
                places = [cuts[k] + shift * width for shift in shifts]
                places = [
                    at
                    for at in places
                    if max(cuts[k - 1], t.min()) + width / 2.0 < at
                    and at < min(cuts[k + 1], t.max()) - width / 2.0
                ] or [cuts[k]]
                parts = [(cuts[k - 1], at) for at in places] + [(at, cuts[k + 1]) for at in places]
                new = [part for part in parts if part not in known]
                known.update(zip(new, self.worth(new, step).tolist(), strict=True))
                gains = [
                    known[cuts[k - 1], at]
                    + known[at, cuts[k + 1]]
                    - gap * self.falls.seam_length(at)
                    for at in places
                ]
                cuts[k] = places[int(np.argmax(gains))]
        return Division(tuple(cuts))

    def lines(
        self, low: float, high: float, piece: BaseGeometry, least: float, radius: float
    ) -> list[Floats]:
        """The lines of one panel, clipped to its piece of the area, started for the most tubing."""
        if (low, high) in self._drawn:
            return self._drawn[low, high]
        panel, solved = self._finest((low, high))
        field = Field(panel.grid, solved.phi)
        own = shapely.transform(piece, lambda uv: (uv - panel.origin) @ panel.turn.T)
        inside = solved.phi[panel.mask]
        whole = np.arange(np.floor(inside.min()) - 1.0, np.ceil(inside.max()) + 2.0)

        def lengths(start: float) -> Floats:
            lines = [line for level in whole + start for line in field.rough_lines(level)]
            return clipped_lengths(lines, own)

        corners = field.value(shapely.get_coordinates(own.simplify(0.05 * self.want.spacing)))
        events = np.array((corners.min() + 1e-6, corners.max() - 1e-6))
        start = best_start(starts(events, 1.0), lengths, least)
        lines = field.lines((whole + start).tolist(), VERTEX_STEP * self.want.spacing)
        drawn = eased_within(lines, own, radius)
        self._drawn[low, high] = [panel.to_bed(line) for line in drawn]
        return self._drawn[low, high]
