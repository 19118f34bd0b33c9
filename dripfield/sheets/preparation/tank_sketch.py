"""A tank from the side with its riser, finished grade, inlet, switch levels and ground water."""

from __future__ import annotations

from typing import Any

from dripfield.core.units import Unit
from dripfield.hydraulics.tank_shape import tank_shape, water_unit
from dripfield.preparation.gather import inlet_of
from dripfield.preparation.heights import TankHeights
from dripfield.sheets.kit.style import (
    INK,
    PAPER_WHITE,
    PENS,
    WASH,
    write_text,
)
from dripfield.sheets.preparation.levels import Label, ground_line, water_line, write_labels
from dripfield.sheets.preparation.sheet import Rectangle
from dripfield.site.schema.preparation import TankTable

_LABELS = 118.0  # width of the labels on either side [pt]
_RISER = (2.0, 0.6)  # drawn width of a riser [ft], [m]


class TankSketch:
    """A tank at one scale both ways.

    Parameters
    ----------
    table : TankTable
    heights : TankHeights
    unit : Unit
    """

    def __init__(self, table: TankTable, heights: TankHeights, unit: Unit) -> None:
        self._table, self._heights, self._unit = table, heights, unit
        self._inside = tank_shape(table)
        self._wall = unit.from_small(table.wall or 0.0)
        self._top = self._inside.height + self._wall if table.top is None else table.top
        self._floor = self._top - self._wall - self._inside.height

    def draw(self, axes: Any, rectangle: Rectangle) -> None:
        """Draw it with its labels into a rectangle [pt]."""
        left, low, width, height = rectangle
        high = max(v for v in (self._top, *self._given()) if v is not None)
        bottom = self._floor - self._wall
        inner = (left + _LABELS + 14.0, left + width - _LABELS - 14.0)
        room = inner[1] - inner[0] - 44.0
        scale = min(room / self._across(), (height - 44.0) / (high - bottom))
        self._x = 0.5 * (inner[0] + inner[1])
        self._low = low + 0.5 * (height - 24.0 - scale * (high - bottom)) + 18.0
        self._scale, self._bottom = scale, bottom
        half = 0.5 * scale * self._across()
        self._tank(axes, half)
        self._surroundings(axes, inner)
        self._labels(axes, inner, half, rectangle)
        note = "side view, to one scale" + ("" if self._table.wall else "; walls not given")
        write_text(axes, self._x, low + 4.0, note, 8.0, ha="center")

    def _given(self) -> tuple[float | None, ...]:
        table = self._table
        return (table.riser_top, table.grade, table.ground_water)

    def _across(self) -> float:
        inside = self._inside
        return inside.length + 2.0 * self._wall

    def _y(self, elevation: float) -> float:
        return self._low + self._scale * (elevation - self._bottom)

    def _tank(self, axes: Any, half: float) -> None:
        x, wall = self._x, self._scale * self._wall
        bottom, top = self._y(self._bottom), self._y(self._top)
        box = [x - half, x + half, x + half, x - half]
        axes.fill(box, [bottom, bottom, top, top], fc=WASH, ec=INK, lw=PENS["medium"], zorder=2)
        inner = half - wall
        box = [x - inner, x + inner, x + inner, x - inner]
        low, high = self._y(self._floor), self._y(self._floor + self._inside.height)
        axes.fill(box, [low, low, high, high], fc=PAPER_WHITE, ec=INK, lw=PENS["thin"], zorder=2.1)
        depth = self._table.start_depth
        if depth:
            y = self._y(self._floor + depth)
            axes.fill(
                box, [low, low, y, y], fc=PAPER_WHITE, ec=INK, lw=0.4, hatch="---", zorder=2.2
            )

    def _surroundings(self, axes: Any, inner: tuple[float, float]) -> None:
        table, x = self._table, self._x
        half = 0.5 * self._scale * self._unit.default(*_RISER)
        if table.grade is not None:
            y = self._y(table.grade)
            ground_line(axes, inner[0], x - half - 3.0, y)
            ground_line(axes, x + half + 3.0, inner[1], y)
        if table.ground_water is not None:
            water_line(axes, inner[0], inner[1], self._y(table.ground_water))
        if table.top is None:
            return
        start = self._y(table.top)
        end = start if table.riser_top is None else self._y(table.riser_top)
        for side in (x - half, x + half):
            axes.plot([side, side], [start, end], color=INK, lw=PENS["bold"], zorder=3)
        if table.grade is not None and self._heights.riser_to_add:
            last = self._y(table.grade)
            for side in (x - half, x + half):
                axes.plot([side] * 2, [end, last], color=INK, lw=PENS["medium"], ls=(0, (3, 2)))
            end = last
        lid = half + 4.0
        axes.plot([x - lid, x + lid], [end, end], color=INK, lw=3.0, zorder=3.5)

    def _labels(
        self, axes: Any, inner: tuple[float, float], half: float, rectangle: Rectangle
    ) -> None:
        left, low, width, height = rectangle
        places, short = self._unit.places, self._unit.short
        table = self._table
        riser = 0.5 * self._scale * self._unit.default(*_RISER)
        outer = [("finished grade", table.grade, True), ("ground water", table.ground_water, False)]
        inlet = inlet_of(table, self._unit)
        if table.top is None:
            inlet = None if table.inlet is None else self._floor + table.inlet
        left_labels = [
            Label(self._y(value), f"{name} {value:.{places}f} {short}", bold)
            for name, value, bold in outer
            if value is not None
        ]
        near = []
        for name, value in (
            ("lid now", table.riser_top),
            ("tank's top", table.top),
            ("inlet", inlet),
            ("floor inside", self._floor if table.top is not None else None),
        ):
            if value is not None:
                near.append(Label(self._y(value), f"{name} {value:.{places}f} {short}"))
        if inlet is not None:
            y, x = self._y(inlet), self._x - half
            sides = [y, y, y + 6.0, y + 6.0]
            axes.fill([x - 18.0, x + 4.0, x + 4.0, x - 18.0], sides, fc=PAPER_WHITE, ec=INK, lw=0.8)
        column = (left, low + 16.0, left + _LABELS, low + height)
        for one in near:
            edge = self._x - (riser if one.text.startswith("lid") else half)
            axes.plot([inner[0], edge], [one.y] * 2, color=INK, lw=0.3, ls=(0, (1, 3)), zorder=1)
        write_labels(axes, [*left_labels, *near], inner[0], column)
        self._level_labels(axes, inner, half, (low + 16.0, low + height, left + width))

    def _level_labels(
        self,
        axes: Any,
        inner: tuple[float, float],
        half: float,
        room: tuple[float, float, float],
    ) -> None:
        low, top, right = room
        places, short = self._unit.places, self._unit.short
        labels = []
        wall = self._scale * self._wall
        for name, level, volume in self._heights.volumes:
            if name == "inlet":
                continue
            y = self._y(self._floor + level)
            inside = [self._x - half + wall, self._x + half - wall]
            axes.plot(inside, [y, y], color=INK, lw=PENS["thin"], ls=(0, (4, 2)), zorder=2.6)
            axes.plot([inside[1], inner[1]], [y, y], color=INK, lw=0.3, ls=(0, (1, 3)), zorder=2.6)
            amount = f"{volume:,.0f} {water_unit(self._unit)}"
            labels.append(Label(y, f"{name} {level:.{places}f} {short}, {amount}"))
        start = self._heights.start_water
        if self._table.start_depth and start is not None:
            y = self._y(self._floor + self._table.start_depth)
            words = f"start up {self._table.start_depth:.{places}f} {short},"
            labels.append(Label(y, f"{words} {start:,.0f} {water_unit(self._unit)}", True))
            axes.plot([self._x + half, inner[1]], [y, y], color=INK, lw=0.3, ls=(0, (1, 3)))
        if self._heights.riser_to_add and self._table.grade is not None:
            word = self._unit.small
            middle = self._y(self._table.grade)
            text = f"add {self._heights.riser_to_add:.1f} {word} of riser"
            labels.append(Label(middle, text, True))
        write_labels(axes, labels, inner[1], (right - _LABELS, low, right, top))
