"""Panels: parts of the bed side by side, each with its own family of lines.

A panel lies between two seams. Its stripe field is solved in a frame of its own, along its own
strike. How a bed is divided is searched for in :mod:`dripfield.layout.balanced.division`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Bools, Floats
from dripfield.layout.balanced.seams import Part, Seams
from dripfield.layout.balanced.stripes import StripeField, Tolerances, solve_stripes
from dripfield.layout.lines.fairing import eased_within
from dripfield.layout.lines.laying import VERTEX_STEP
from dripfield.layout.lines.start import best_start, starts
from dripfield.layout.lines.terrain import Grid, Terrain
from dripfield.layout.lines.tracing import Field, clipped_lengths

_ROUGH_ROUNDS = 15
_FINE_ROUNDS = 50
_EASY = 0.985  # share of good cells from which a panel is asked to come nearer to the spacing
_TIGHTER = 0.65  # of the spacing tolerance, asked for then
_BATCH = 12  # parts solved together roughly
_FINE_BATCH = 5  # parts solved together finely
_ENOUGH = 8  # nodes, to fit a map of elevations
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


class Panels:
    """The parts of one bed, each solved once when it is asked for.

    Parameters
    ----------
    terrain : Terrain
    area : Polygon or MultiPolygon
        Local coordinates.
    seams : Seams
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
        seams: Seams,
        want: Tolerances,
        along_slope: bool,
        narrowest: float,
    ) -> None:
        self.terrain, self.area, self.seams = terrain, area, seams
        self.want, self.along_slope, self.narrowest = want, along_slope, narrowest
        self._drawn: dict[Part, list[Floats]] = {}
        self._fields: dict[Part, tuple[PanelGrid, StripeField]] = {}
        shapely.prepare(area)

    def _frame(self, part: Part) -> tuple[Floats, Floats, Floats]:
        """Origin, turn and the two corners of the box of a part."""
        places = self.seams.places[self.seams.holds(part, self.seams.places)]
        if len(places) < 4:
            return np.zeros(2), np.eye(2), np.empty((0, 2))
        fall = -self.terrain.gradient(places[:: max(1, len(places) // 400)]).mean(axis=0)
        down = fall / max(float(np.hypot(*fall)), 1e-12)
        turn = np.array(((down[1], -down[0]), (down[0], down[1])))
        origin = places.mean(axis=0)
        own = (places - origin) @ turn.T
        return origin, turn, np.array((own.min(axis=0), own.max(axis=0)))

    def _grids(self, parts: list[Part], step: float) -> list[PanelGrid]:
        """Grids of one shape for several parts."""
        frames = [self._frame(part) for part in parts]
        margin = 1.5 * step + 0.5 * self.want.spacing
        size = np.max([np.ptp(box, axis=0) if len(box) else np.zeros(2) for *_, box in frames], 0)
        columns, rows = (np.ceil((size + 2 * margin) / step).astype(int) + 1).tolist()
        rough = step > 1.5 * self.want.spacing
        area = self.area if rough else self._with_halo
        grids = []
        for part, (origin, turn, box) in zip(parts, frames, strict=True):
            middle = box.mean(axis=0) if len(box) else np.zeros(2)
            u = middle[0] + step * (np.arange(columns) - (columns - 1) / 2.0)
            v = middle[1] + step * (np.arange(rows) - (rows - 1) / 2.0)
            grid = Grid(u, v, step)
            nodes = grid.nodes.reshape(-1, 2) @ turn + origin
            mask = self.seams.holds(part, nodes, _HALO * step)
            mask[mask] = shapely.contains_xy(area, nodes[mask])
            grids.append(PanelGrid(origin, turn, grid, nodes, mask.reshape(rows, columns)))
        return grids

    @cached_property
    def _with_halo(self) -> BaseGeometry:
        """The area and a halo about it, as wide as the drawn fields' nodes need."""
        area = self.area.buffer(_HALO * self.want.spacing)
        shapely.prepare(area)
        return area

    def rough_shares(self, parts: list[Part], step: float) -> Floats:
        """Share of each part that holds both tolerances, by a rough solution.

        Parameters
        ----------
        parts : list of Part
        step : float
            Node distance of the rough grids.

        Returns
        -------
        (k,) float array
            0 for a part too narrow to lay.
        """
        shares = dict.fromkeys(parts, 0.0)
        for alike in self._alike(parts, _BATCH):
            grids = self._grids(alike, step)
            ready = [
                (part, grid)
                for part, grid in zip(alike, grids, strict=True)
                if grid.mask.sum() >= _ENOUGH
                and self.seams.area_of(part) > self.narrowest * step * grid.mask.any(axis=1).sum()
            ]
            if ready:
                solved = self._solve([grid for _, grid in ready], _ROUGH_ROUNDS, self.want)
                for (part, _), field in zip(ready, solved, strict=True):
                    shares[part] = field.share_good
        return np.array([shares[part] for part in parts])

    def shares(self, parts: list[Part]) -> Floats:
        """Share of each part that holds both tolerances, by a solution fine enough to draw.

        Parameters
        ----------
        parts : list of Part
            Those not solved yet are solved together.

        Returns
        -------
        (k,) float array
        """
        new = [part for part in dict.fromkeys(parts) if part not in self._fields]
        for alike in self._alike(new, _FINE_BATCH):
            grids = self._grids(alike, self.want.spacing)
            ready = [k for k, grid in enumerate(grids) if grid.mask.any()]
            if not ready:
                continue
            fields = self._solve([grids[k] for k in ready], _FINE_ROUNDS, self.want)
            for k, field in zip(ready, fields, strict=True):
                self._fields[alike[k]] = grids[k], field
        solved = (self._fields.get(part) for part in parts)
        return np.array([one[1].share_good if one else 0.0 for one in solved])

    def _alike(self, parts: list[Part], most: int) -> list[list[Part]]:
        """Parts in groups of about one size, no more than so many in each."""
        rising = sorted(parts, key=self.seams.area_of)
        count = -(-len(rising) // most)
        return [
            rising[len(rising) * k // count : len(rising) * (k + 1) // count] for k in range(count)
        ]

    def _to_draw(self, part: Part) -> tuple[PanelGrid, StripeField]:
        """A part solved finely; where the tolerances are easily held, more is asked for."""
        panel, solved = self._fields[part]
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
        z, rough = (at.reshape(shape) for at in self.terrain.quick_elevations(nodes))
        mask = np.stack([grid.mask for grid in grids])
        stretch = None
        if self.along_slope:
            rise: Any = np.gradient(z, step, axis=(1, 2))
            steep = np.hypot(1.0, np.hypot(*rise))
            stretch = (steep[:, 1:, 1:] + steep[:, :-1, :-1]) / 2.0
        return solve_stripes(z, rough, mask, stretch, step, want, rounds)

    def lines(self, part: Part, piece: BaseGeometry, least: float, radius: float) -> list[Floats]:
        """The lines of one panel, clipped to its piece of the area, started for the most tubing.

        Parameters
        ----------
        part : Part
        piece : Polygon or MultiPolygon
            Its part of the area, local coordinates.
        least : float
            Pieces shorter than this do not count as tubing [site unit].
        radius : float
            Least radius of bend [site unit].

        Returns
        -------
        list of (k, 2) float arrays
            Local coordinates; empty where no node of the grid lies in the panel.
        """
        if part in self._drawn:
            return self._drawn[part]
        self.shares([part])
        if part not in self._fields:  # no node of the grid lies in it
            return []
        panel, solved = self._to_draw(part)
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
        self._drawn[part] = [panel.to_bed(line) for line in drawn]
        return self._drawn[part]
