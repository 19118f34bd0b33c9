"""Labels that do not cover each other: try places in turn, measure, keep the first that is free.

Everything here is on the sheet, in points. A label is a box of the text's measured width and its
capitals' height; it may not touch a label already placed nor, unless allowed, a line.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.core.lines import stations_along
from dripfield.sheets.kit.style import INK, PAPER_WHITE, text_width, write_text

CAPITAL = 0.73  # height of a capital letter over the type size, DejaVu Sans
_PAD = 1.0  # white around a label


@dataclass(frozen=True)
class Label:
    """One line of text about its middle (x, y), turned ``angle`` degrees counter-clockwise."""

    text: str
    x: float
    y: float
    angle: float
    size: float
    bold: bool = False
    white: float = _PAD  # left and right of the text

    @cached_property
    def box(self) -> Polygon:
        """The ground that it covers, with a little white around."""
        half_width = 0.5 * text_width(self.text, self.size, bold=self.bold) + self.white
        half_height = 0.5 * CAPITAL * self.size + 0.5 * _PAD
        along, across = _axes(self.angle)
        corners = [
            (self.x, self.y) + i * half_width * along + j * half_height * across
            for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
        return Polygon(corners)

    def draw(self, axes: Any, *, over: float = 8.0, ground: bool = True, colour: str = INK) -> None:
        """Write it on axes, over a white ground unless told not to.

        Parameters
        ----------
        axes : matplotlib Axes
            In points.
        over : float
            Drawn over what has a lower ``zorder``.
        ground : bool
            White under it.
        colour : str
        """
        if ground:
            from matplotlib.patches import Polygon as Patch

            corners = np.asarray(self.box.exterior.coords)
            axes.add_artist(Patch(corners, color=PAPER_WHITE, lw=0, zorder=over))
        _, across = _axes(self.angle)
        x, y = (self.x, self.y) - 0.5 * CAPITAL * self.size * across
        write_text(
            axes,
            x,
            y,
            self.text,
            self.size,
            bold=self.bold,
            ha="center",
            rotation=self.angle,
            rotation_mode="anchor",
            zorder=over + 0.1,
            color=colour,
        )


Words = tuple[Label, ...]  # placed together or not at all


class Placer:
    """Keeps account of what is taken on a sheet.

    Parameters
    ----------
    window : Polygon
        No label leaves it.
    lines : sequence of (k, 2) float arrays
        Lines that labels keep off.
    """

    def __init__(self, window: Polygon, lines: Sequence[Floats] = ()) -> None:
        self._window = window
        self._lines = shapely.STRtree([shapely.linestrings(line) for line in lines])
        self._taken: list[Polygon] = []
        self._bounds = np.empty((64, 4))
        shapely.prepare(window)

    def free(self, place: Polygon, *, own: int | None = None, over_lines: bool = False) -> bool:
        """Whether a box is free; line number ``own`` may run under it.

        Parameters
        ----------
        place : Polygon
            On the sheet [pt].
        own : int or None
            Number of a line.
        over_lines : bool
            Every line may run under it.

        Returns
        -------
        bool
        """
        left, low, right, high = place.bounds
        bounds = self._bounds[: len(self._taken)]
        near = (bounds[:, 0] <= right) & (bounds[:, 2] >= left)
        near &= (bounds[:, 1] <= high) & (bounds[:, 3] >= low)
        if any(self._taken[i].intersects(place) for i in np.flatnonzero(near).tolist()):
            return False
        if not self._window.contains(place):
            return False
        if over_lines:
            return True
        hits = self._lines.query(place, predicate="intersects")
        return all(hit == own for hit in hits.tolist())

    def take(self, place: Polygon) -> None:
        """Mark a box as taken."""
        if len(self._taken) == len(self._bounds):
            self._bounds = np.concatenate((self._bounds, np.empty_like(self._bounds)))
        self._bounds[len(self._taken)] = place.bounds
        self._taken.append(place)

    def first(
        self, choices: Iterable[Words], *, own: int | None = None, over_lines: bool = False
    ) -> Words:
        """Take the first of several choices that is free in all its parts; empty when none is.

        Parameters
        ----------
        choices : iterable of Words
            The best first.
        own : int or None
            Number of the line that may run under them.
        over_lines : bool
            Every line may run under them.

        Returns
        -------
        Words
        """
        for words in choices:
            places = [label.box for label in words]
            if all(self.free(place, own=own, over_lines=over_lines) for place in places):
                for place in places:
                    self.take(place)
                return words
        return ()


def along_line(
    line: Floats,
    words: Sequence[str],
    size: float,
    shares: Sequence[float],
    *,
    least: float = 1.1,
) -> Iterator[Words]:
    """Words set into a line one after the other, their middle at shares of the line's length.

    Each word stands straight, so together they follow a bend. The line must be ``least`` times as
    long as they are, and bend away from each by no more than a third of the type size.

    Parameters
    ----------
    line : (k, 2) float array
        On the sheet [pt].
    words : sequence of str
    size : float
        Of the type [pt].
    shares : sequence of float
        From 0 to 1 of the line's length, the best first.
    least : float
        Length of the line over that of the words.

    Yields
    ------
    Words
        One label for each word.
    """
    gap = 0.5 * size
    widths = np.array([text_width(word, size) for word in words])
    width = float(widths.sum() + gap * (len(words) - 1))
    station = stations_along(line)
    total = station[-1]
    if total < least * width:
        return
    middles = np.cumsum(widths) - 0.5 * widths + gap * np.arange(len(words)) - 0.5 * width
    for share in shares:
        middle = min(max(share * total, 0.54 * width), total - 0.54 * width)
        ahead = np.interp(middle + 0.5 * width * np.array((-1, 1)), station, line[:, 0])
        towards = 1.0 if ahead[1] >= ahead[0] else -1.0  # words are read from left to right
        placed = [
            _word(line, station, word, middle + towards * offset, length, size)
            for word, offset, length in zip(words, middles, widths, strict=True)
        ]
        if all(placed):
            yield tuple(label for label in placed if label)


def _word(
    line: Floats, station: Floats, text: str, middle: float, width: float, size: float
) -> Label | None:
    """One word about a station of a line; None where the line is too bent for it."""
    stops = middle + np.linspace(-0.5, 0.5, 9) * width
    on = np.column_stack([np.interp(stops, station, axis) for axis in line.T])
    chord = on[-1] - on[0]
    length = math.hypot(*chord)
    if length < 0.9 * width:
        return None
    normal = np.array((-chord[1], chord[0])) / length
    across = (on - on[0]) @ normal
    if np.ptp(across) > size / 3.0:
        return None
    x, y = 0.5 * (on[0] + on[-1]) + 0.5 * (across.min() + across.max()) * normal
    return Label(text, float(x), float(y), _upright(chord), size, white=0.3 * size)


def beyond_end(
    line: Floats, text: str, size: float, *, start: bool, gaps: Sequence[float], bold: bool = False
) -> Iterator[Words]:
    """Labels that carry a line on past one of its ends, at several distances from it.

    Parameters
    ----------
    line : (k, 2) float array
        On the sheet [pt].
    text : str
    size : float
        Of the type [pt].
    start : bool
        Past the first end, else past the last.
    gaps : sequence of float
        From the end to the text [pt].
    bold : bool

    Yields
    ------
    Words
        One label.
    """
    end, outward = line_end(line, start=start)
    width = text_width(text, size, bold=bold)
    for gap in gaps:
        x, y = end + (gap + _PAD + 0.5 * width) * outward
        yield (Label(text, float(x), float(y), _upright(outward), size, bold),)


def led_to(
    at: tuple[float, float], text: str, size: float, *, bold: bool = False
) -> Iterator[Words]:
    """Labels round a place that a leader may join to it, near ones first.

    Parameters
    ----------
    at : (x, y)
        On the sheet [pt].
    text : str
    size : float
        Of the type [pt].
    bold : bool

    Yields
    ------
    Words
        One label.
    """
    half = 0.5 * text_width(text, size, bold=bold)
    for reach in (12.0, 20.0, 30.0, 44.0, 62.0, 84.0, 110.0, 150.0, 200.0):
        for turn in range(0, 360, 30):
            along, up = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            x, y = at[0] + reach * along + half * along, at[1] + (reach + 0.4 * size) * up
            yield (Label(text, x, y, 0.0, size, bold),)


def leader(axes: Any, at: tuple[float, float], label: Label, colour: str) -> None:
    """A thin line from a place to the nearest point of a label.

    Parameters
    ----------
    axes : matplotlib Axes
        In points.
    at : (x, y)
        On the sheet [pt].
    label : Label
    colour : str
    """
    from matplotlib.lines import Line2D

    near = shapely.shortest_line(shapely.Point(at), label.box)
    axes.add_artist(Line2D(*np.asarray(near.coords).T, color=colour, lw=0.5, zorder=7.9))


def line_end(line: Floats, *, start: bool) -> tuple[Floats, Floats]:
    """An end of a line and the unit vector that leads out of it (over its last six points)."""
    line = line[::-1] if start else line
    station = stations_along(line)
    reach = min(6.0, station[-1])
    inner = np.array([np.interp(station[-1] - reach, station, axis) for axis in line.T])
    outward = line[-1] - inner
    return line[-1], outward / math.hypot(*outward)


def _upright(direction: Floats) -> float:
    """Angle of a direction in degrees, turned about where text would stand on its head."""
    angle = math.degrees(math.atan2(direction[1], direction[0]))
    if angle > 90.0 + 1e-9:
        return angle - 180.0
    return angle + 180.0 if angle <= -90.0 + 1e-9 else angle


def _axes(angle: float) -> tuple[Floats, Floats]:
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return np.array((cos, sin)), np.array((-sin, cos))
