"""The map of a field's zones: joined laterals with their flow, manifolds, valves, air release."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely
from shapely import Point
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.distribution.system import FieldSystem
from dripfield.sheets.kit.ground_labels import label_levels
from dripfield.sheets.kit.labels import CAPITAL, Label, Placer, along_line
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.pen import Pen
from dripfield.sheets.kit.plan_map import draw_bed, draw_ground
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import INK, PAPER_WHITE, PENS
from dripfield.sheets.zones.looks import BLANK, RETURN, SUPPLY, zone_look
from dripfield.zones.model import JoinedLateral, Manifold, Pipe, Zone

_SHARES = (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82)
_REACH = 0.45  # lines are shown so far from the bed, over its greatest extent
_TEXT = 8.0  # of everything that is read in the field [pt]
_LEAST = 5.5  # of a joined lateral's name where laterals lie too near for more [pt]


def shown_ground(system: FieldSystem) -> BaseGeometry:
    """What a map of the zones must show: the bed, its manifolds and the near part of the lines."""
    bed = system.design.site.bed
    parts: list[BaseGeometry] = [bed.boundary, *bed.keepouts]
    left, low, right, top = bed.boundary.bounds
    reach = _REACH * max(right - left, top - low)
    for zone in system.plan.zones:
        for manifold in (zone.supply, zone.return_):
            if manifold is not None:
                parts.append(shapely.multipoints(manifold.nodes[:, :2]))
                parts += [shapely.linestrings(pipe.xyz[:, :2]) for pipe in manifold.pipes]
    for pipe in (*system.plan.supply, *system.plan.return_):
        near = [xy for xy in pipe.xyz[:, :2] if bed.boundary.distance(Point(xy)) <= reach]
        if near:
            parts.append(shapely.multipoints(near))
    return shapely.union_all(parts)


def zone_ground(system: FieldSystem, zone: Zone) -> BaseGeometry:
    """The ground about a zone's laterals, to be washed with its tint."""
    half = 0.52 * system.design.site.settings.spacing
    wires = [
        shapely.linestrings(piece.xyz[:, :2])
        for joined in zone.joined
        for piece in joined.pieces
        if piece.lateral is not None
    ]
    area = shapely.union_all(shapely.buffer(wires, half, cap_style="flat"))
    return area.intersection(system.design.site.bed.boundary)


class ZoneMap:
    """Draws zones through a frame.

    Parameters
    ----------
    axes : matplotlib Axes
        In points of the sheet.
    frame : MapFrame
    system : FieldSystem
    relief : Relief
    only : str, optional
        The one zone that is drawn in full; the others are pale.
    """

    def __init__(
        self, axes: Any, frame: MapFrame, system: FieldSystem, relief: Relief, only: str = ""
    ) -> None:
        self.system, self.relief, self.only, self.frame = system, relief, only, frame
        self.pen = Pen(axes, frame)
        design = system.design
        self.size = float(
            np.clip(0.62 * frame.scale.paper(design.site.settings.spacing) / CAPITAL, _LEAST, _TEXT)
        )
        lines = [frame.to_paper(one.xy) for one in design.layout.laterals]
        self.lines = {one.name: k for k, one in enumerate(design.layout.laterals)}
        pipes = [frame.to_paper(pipe.xyz) for pipe in self._pipes()]
        edge = shapely.get_coordinates(frame.shape(design.site.bed.boundary.exterior))
        self.placer = Placer(frame.window.buffer(-2.0), [*lines, *pipes, edge])
        for keepout in design.site.bed.keepouts:
            self.placer.take(frame.shape(keepout))

    def _pipes(self) -> Iterator[Pipe]:
        plan = self.system.plan
        yield from (*plan.supply, *plan.return_)
        for zone in plan.zones:
            for manifold in (zone.supply, zone.return_):
                if manifold is not None:
                    yield from manifold.pipes

    def draw(self) -> list[str]:
        """Draw everything; returns names of joined laterals for which there was no room."""
        design, plan = self.system.design, self.system.plan
        for number, zone in enumerate(plan.zones):
            if self._full(zone):
                self.pen.area(
                    self.frame.shape(zone_ground(self.system, zone)),
                    fc=zone_look(number).wash,
                    ec="none",
                    zorder=0.5,
                )
        draw_ground(self.pen, self.relief)
        draw_bed(self.pen, design.site, design.layout)
        for number, zone in enumerate(plan.zones):
            for joined in zone.joined:
                self._joined(joined, number, full=self._full(zone))
        for pipes, look in ((plan.return_, RETURN), (plan.supply, SUPPLY)):
            for pipe in pipes:
                self._pipe(pipe, look)
        for zone in plan.zones:
            for manifold, look in ((zone.return_, RETURN), (zone.supply, SUPPLY)):
                if manifold is not None:
                    for pipe in manifold.pipes:
                        self._pipe(pipe, look if self._full(zone) else {**look, "lw": 0.6})
        self._symbols()
        unnamed = [
            joined.name
            for number, zone in enumerate(plan.zones)
            if self._full(zone)
            for joined in zone.joined
            if not self._name(joined)
        ]
        self._sizes()
        label_levels(self.pen, self.placer, self.relief)
        return unnamed

    def _full(self, zone: Zone) -> bool:
        return not self.only or zone.name == self.only

    def _joined(self, joined: JoinedLateral, number: int, *, full: bool) -> None:
        look = zone_look(number)
        for piece in joined.pieces:
            line = self.frame.to_paper(piece.xyz)
            if piece.lateral is None:
                self.pen.line(line, zorder=5, **{**BLANK, "lw": 0.9 if full else 0.4})
                continue
            width = PENS["lateral"] if full else PENS["hair"]
            self.pen.line(line, lw=width, color=look.ink, ls=look.dashes, zorder=5)
            if full:
                self._arrow(line, look.ink)

    def _arrow(self, line: Floats, colour: str) -> None:
        """A small arrow head in the direction of flow."""
        step = np.hypot(*np.diff(line, axis=0).T)
        station = np.concatenate(([0.0], np.cumsum(step)))
        if station[-1] < 14.0:
            return
        at = min(0.14 * station[-1], 40.0)
        place, ahead = (
            np.array([np.interp(s, station, axis) for axis in line.T]) for s in (at, at + 3.0)
        )
        along = (ahead - place) / max(float(np.hypot(*(ahead - place))), 1e-9)
        across = np.array((-along[1], along[0]))
        corners = np.array([place + 4.6 * along, place + 1.7 * across, place - 1.7 * across])
        (patch,) = self.pen.axes.fill(*corners.T, fc=colour, ec=colour, lw=0.2, zorder=5.5)
        patch.set_clip_path(self.pen.window_patch)

    def _pipe(self, pipe: Pipe, look: dict[str, Any]) -> None:
        line = self.frame.to_paper(pipe.xyz)
        self.pen.line(line, lw=look["lw"] + 1.2, color=PAPER_WHITE, zorder=5.8)
        self.pen.line(line, zorder=6, **look)

    def _symbols(self) -> None:
        """Tank, valves and air release."""
        plan = self.system.plan
        window = self.frame.window.buffer(-6.0)
        for pipes, vertex, text in ((plan.supply, 0, "tank, pump"), (plan.return_, -1, "to tank")):
            if not pipes:
                continue
            xyz = pipes[0].xyz if vertex == 0 else pipes[-1].xyz
            x, y = self.frame.to_paper(xyz[[vertex]])[0]
            if window.contains(Point(x, y)):
                self._square(x, y, 4.0 if vertex == 0 else 2.6)
            else:
                inside = shapely.linestrings(self.frame.to_paper(xyz)).intersection(window)
                if inside.is_empty:
                    continue
                ends = shapely.get_coordinates(inside)
                x, y = ends[0 if vertex == 0 else -1]
            self._beside(text, x, y)
        for zone in plan.zones:
            if zone.supply is not None and self._full(zone):
                x, y = self._valve_place(zone.supply)
                self._bow_tie(x, y)
                self._beside(f"valve {zone.name}", x, y, bold=True)
        for number, one in enumerate(self.system.zones.air, 1):
            if self.only and one.zone not in ("", self.only):
                continue
            x, y = self.frame.to_paper(one.xyz[None])[0]
            circle = np.column_stack(
                [
                    x + 3.0 * np.cos(np.linspace(0.0, 2.0 * np.pi, 25)),
                    y + 3.0 * np.sin(np.linspace(0.0, 2.0 * np.pi, 25)),
                ]
            )
            (patch,) = self.pen.axes.fill(*circle.T, fc=PAPER_WHITE, ec=INK, lw=0.9, zorder=7.5)
            patch.set_clip_path(self.pen.window_patch)
            self._beside(f"AR{number}", x, y)

    def _valve_place(self, manifold: Manifold) -> tuple[float, float]:
        """A little way along the manifold's first pipe."""
        pipe = next(
            (one for one, ends in zip(manifold.pipes, manifold.ends, strict=True) if ends[0] == 0),
            None,
        )
        if pipe is None:
            x, y = self.frame.to_paper(manifold.nodes[:1])[0]
            return float(x), float(y)
        line = self.frame.to_paper(pipe.xyz)
        station = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
        at = min(9.0, 0.5 * float(station[-1]))
        x, y = (float(np.interp(at, station, axis)) for axis in line.T)
        return x, y

    def _square(self, x: float, y: float, half: float) -> None:
        corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half + (x, y)
        self.pen.axes.fill(*corners.T, fc=PAPER_WHITE, ec=INK, lw=1.2, zorder=7.5)
        self.placer.take(shapely.box(x - half, y - half, x + half, y + half))

    def _bow_tie(self, x: float, y: float) -> None:
        corners = np.add([(-5, 3), (-5, -3), (5, 3), (5, -3)], (x, y))
        self.pen.axes.fill(*corners.T, fc=INK, ec=INK, lw=0.6, zorder=7.5)
        self.placer.take(shapely.box(x - 5.0, y - 3.0, x + 5.0, y + 3.0))

    def _beside(self, text: str, x: float, y: float, *, bold: bool = False) -> None:
        """Words at the nearest free place about a symbol, with a thin line to it from farther."""
        choices = []
        for away in (12.0, 18.0, 26.0, 36.0, 48.0, 64.0):
            for turn in np.radians(np.arange(0.0, 360.0, 30.0)):
                middle = Label(text, 0.0, 0.0, 0.0, _TEXT, bold)
                width = middle.box.bounds[2] - middle.box.bounds[0]
                dx, dy = np.cos(turn), np.sin(turn)
                shift = away + 0.5 * width * abs(dx) - 4.0 * abs(dx)
                choices.append((Label(text, x + shift * dx, y + away * dy, 0.0, _TEXT, bold),))
        words = self.placer.first(choices)
        if not words:
            words = self.placer.first(choices, over_lines=True)
        if self.pen.words(words, over=9.0):
            end = Point(
                shapely.get_coordinates(shapely.shortest_line(words[0].box, Point(x, y)))[0]
            )
            if np.hypot(end.x - x, end.y - y) > 7.0:
                self.pen.line(
                    np.array([(x, y), (end.x, end.y)]), lw=PENS["hair"], color=INK, zorder=7.2
                )

    def _name(self, joined: JoinedLateral) -> bool:
        """The joined lateral's name set into the longest of its laterals that has room."""
        pieces = sorted(
            (piece for piece in joined.pieces if piece.lateral is not None),
            key=lambda piece: -piece.length,
        )
        for piece in pieces[:3]:
            line = self.frame.to_paper(piece.xyz)
            own = self.lines.get(str(piece.lateral))
            words = self.placer.first(along_line(line, [joined.name], self.size, _SHARES), own=own)
            if self.pen.words(words):
                return True
        return False

    def _sizes(self) -> None:
        """Sizes of manifold pipe, one for each stretch of a size."""
        plan = self.system.plan
        runs: list[tuple[str, list[Floats]]] = []
        for pipe in (*plan.supply, *plan.return_):
            runs.append((self._size(pipe), [self.frame.to_paper(pipe.xyz)]))
        for zone in plan.zones:
            if not self._full(zone):
                continue
            for manifold in (zone.supply, zone.return_):
                if manifold is None:
                    continue
                by_size: dict[str, list[Floats]] = {}
                for pipe in manifold.pipes:
                    by_size.setdefault(self._size(pipe), []).append(self.frame.to_paper(pipe.xyz))
                runs += by_size.items()
        for text, lines in runs:
            lines.sort(key=lambda line: -float(np.hypot(*np.diff(line, axis=0).T).sum()))
            for line in lines[:4]:
                if self.pen.words(self.placer.first(self._along(text, line))):
                    break

    def _size(self, pipe: Pipe) -> str:
        if pipe.size:
            return pipe.size
        unit = self.system.design.site.unit
        bore = pipe.bore * unit.metres / (0.001 if unit.is_metric else 0.0254)
        return f"bore {bore:.3g} {'mm' if unit.is_metric else 'in'}"

    @staticmethod
    def _along(text: str, line: Floats) -> Iterator[tuple[Label, ...]]:
        """Beside a pipe, square to it, at shares of its length."""
        step = np.diff(line, axis=0)
        station = np.concatenate(([0.0], np.cumsum(np.hypot(*step.T))))
        for away in (8.0, 12.0, 18.0, 26.0):
            for share in _SHARES:
                at = share * station[-1]
                k = int(np.clip(np.searchsorted(station, at) - 1, 0, len(step) - 1))
                place = np.array([np.interp(at, station, axis) for axis in line.T])
                along = step[k] / max(float(np.hypot(*step[k])), 1e-9)
                across = np.array((-along[1], along[0]))
                label = Label(text, 0.0, 0.0, 0.0, _TEXT)
                left, _, right, _ = label.box.bounds
                room = 0.5 * (right - left) * abs(across[0])
                for side in (1.0, -1.0):
                    x, y = place + side * (away + room) * across
                    yield (Label(text, float(x), float(y), 0.0, _TEXT),)
