"""The bed's section as a sheet: down the slope and across it, to scale, named and dimensioned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.bed.design import BedDesign
from dripfield.bed.section import Section
from dripfield.core.arrays import Floats
from dripfield.core.cautions import cautions
from dripfield.core.units import Unit
from dripfield.sheets.bed.section_words import (
    Link,
    chain,
    depths,
    drawn_levels,
    faces,
    heading,
    marked_heights,
    named_parts,
    spread,
    widest,
)
from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.furniture import caution_line
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PAPER_WHITE,
    PENS,
    WASH,
    Paper,
    Scale,
    fitting_scale,
    round_length,
    save_figure,
    text_width,
    usual_papers,
    write_text,
)

EXAGGERATIONS = (10.0, 5.0, 4.0, 2.0, 1.0)
_AXIS = 44.0  # for elevations at the left [pt]
_NAMES = 192.0  # for names at the right [pt]
_DIMENSIONS = 44.0  # for lengths over the section [pt]
_STATIONS = 46.0  # for distances and elevations under the section [pt]
_TITLE = 52.0
_FOOT = 60.0
_CAUTION = 8.0
_SMALL = 8.0
_TEXT = 8.0
_SAND_HATCH = "...."
_SIDE_HATCH = "oo"
_COVER_FILLS = (("", WASH), ("////", PAPER_WHITE), ("xx", PAPER_WHITE))  # hatch, colour


@dataclass(frozen=True)
class Drawn:
    """The scale that both sections are drawn at.

    Attributes
    ----------
    scale : Scale
        Horizontal.
    exaggeration : float
        Vertical scale over horizontal.
    """

    scale: Scale
    exaggeration: float

    def words(self, unit: Unit) -> str:
        """The scale as it stands on the sheet."""
        if self.exaggeration == 1.0:
            return f"scale {self.scale.text}, vertical exaggeration 1 (none)"
        if unit.is_metric:
            vertical = f"1:{self.scale.per_point * 72.0 / 0.0254 / self.exaggeration:g}"
        else:
            vertical = f"1 in = {self.scale.per_point * 72.0 / self.exaggeration:g} ft"
        return (
            f"horizontal {self.scale.text}, vertical {vertical}, "
            f"vertical exaggeration {self.exaggeration:g}"
        )


def drawing_scale(
    sections: Sequence[Section], levels: Sequence[str], unit: Unit, room: tuple[float, float]
) -> Drawn:
    """The largest usual scale that fits both, and the greatest exaggeration that still fits.

    Parameters
    ----------
    sections : sequence of Section
    levels : sequence of str
        Names of the levels drawn.
    unit : Unit
        The site's.
    room : (width, height)
        For one section [pt].

    Returns
    -------
    Drawn
    """
    length = max(section.length for section in sections)
    height = max(float(np.ptp(height_range(section, levels))) for section in sections)
    scale = fitting_scale(unit, (length, height), room)
    for exaggeration in EXAGGERATIONS:
        if scale.paper(height) * exaggeration <= room[1]:
            return Drawn(scale, exaggeration)
    return Drawn(scale, 1.0)


def height_range(section: Section, levels: Sequence[str]) -> Floats:
    """Lowest and highest elevation drawn, (2,)."""
    z = np.concatenate([section.levels[name] for name in levels if name in section.levels])
    return np.array((np.nanmin(z), np.nanmax(z)))


def levels_in_view(design: BedDesign, sections: Sequence[Section]) -> list[str]:
    """Levels that are drawn: the limiting layer only where it is not far below the rest."""
    levels = drawn_levels(design)
    if design.limiting is None:
        return levels
    without = max(float(np.ptp(height_range(section, levels))) for section in sections)
    within = max(
        float(np.ptp(height_range(section, [*levels, "limiting"]))) for section in sections
    )
    return [*levels, "limiting"] if within <= 3.0 * without else levels


def draw_sections(design: BedDesign, sections: Sequence[Section]) -> Any:
    """Draw a bed's sections on the unit's small sheet.

    Returns
    -------
    matplotlib.figure.Figure
        In inches of paper; saved at any resolution it keeps its scale on a print of full size.
    """
    unit = design.site.unit
    levels = levels_in_view(design, sections)
    paper = usual_papers(unit)[0]
    block, room = _room(paper, len(sections))
    drawn = drawing_scale(sections, levels, unit, room)
    figure, axes = blank_sheet(paper)
    top = paper.height - MARGIN
    write_text(axes, MARGIN, top - 14.0, f"{design.site.name}: section of the bed", 14.0, bold=True)
    words = f"{drawn.words(unit)}; elevations and lengths in {unit.label}"
    write_text(axes, MARGIN, top - 27.0, words, _TEXT + 1.0)
    write_text(
        axes, MARGIN, top - 37.0, f"printed at full size on {paper.label}", _SMALL, color=DIM
    )
    for number, section in enumerate(sections):
        low = top - _TITLE - (number + 1) * block
        _Panel(axes, design, section, drawn, levels, (MARGIN, low), block, room).draw()
    foot = (MARGIN, MARGIN, paper.width - MARGIN, MARGIN + _FOOT)
    caution_line(axes, cautions("utilities", "excavation"), foot, _CAUTION, INK)
    return figure


def _room(paper: Paper, count: int) -> tuple[float, tuple[float, float]]:
    """Height of a section's block on a paper, and the width and height to draw in [pt]."""
    block = (paper.height - 2.0 * MARGIN - _TITLE - _FOOT) / count
    width = paper.width - 2.0 * MARGIN - _AXIS - _NAMES
    return block, (width, block - _DIMENSIONS - _STATIONS - 2.0 * _TEXT - 14.0)


def write_section_sheet(design: BedDesign, sections: Sequence[Section], *paths: Path) -> None:
    """Write the sheet to files whose endings say how (.png, .pdf).

    Parameters
    ----------
    design : BedDesign
    sections : sequence of Section
    *paths : Path
        Files to write.
    """
    figure = draw_sections(design, sections)
    for path in paths:
        save_figure(figure, path)


class _Panel:
    """One section on the sheet."""

    def __init__(
        self,
        axes: Any,
        design: BedDesign,
        section: Section,
        drawn: Drawn,
        levels: Sequence[str],
        corner: tuple[float, float],
        block: float,
        room: tuple[float, float],
    ) -> None:
        self.axes, self.design, self.section, self.drawn = axes, design, section, drawn
        self.levels, self.unit = levels, design.site.unit
        self.low_z, self.high_z = height_range(section, levels)
        self.left = corner[0] + _AXIS
        self.head = corner[1] + block - _TEXT - 4.0
        height = drawn.scale.paper(self.high_z - self.low_z) * drawn.exaggeration
        slack = room[1] - height
        self.low = corner[1] + _STATIONS + 8.0 + 0.6 * slack

    def x(self, station: float) -> float:
        """Place on the sheet of a distance along the section."""
        return self.left + self.drawn.scale.paper(station)

    def y(self, z: float) -> float:
        """Place on the sheet of an elevation."""
        return self.low + self.drawn.scale.paper(z - self.low_z) * self.drawn.exaggeration

    def path(self, level: str, part: str = "all") -> tuple[Floats, Floats]:
        """A level on the sheet."""
        return (
            self.left + self.section.stations / self.drawn.scale.per_point,
            np.array([self.y(z) for z in self.section.where(level, part)]),
        )

    def draw(self) -> None:
        """Draw everything."""
        write_text(self.axes, MARGIN, self.head, heading(self.section), _TEXT + 1.0, bold=True)
        self._layers()
        self._lines()
        self._scales()
        self._lengths()
        self._depths()
        self._slopes()
        self._names()

    def _layers(self) -> None:
        for number, layer in enumerate(self.design.layers):
            x, low = self.path(layer.lower, layer.where)
            _, high = self.path(layer.upper, layer.where)
            hatch, colour = _SAND_HATCH, PAPER_WHITE
            if layer.where == "beyond":
                hatch, colour = _SIDE_HATCH, PAPER_WHITE
            elif number:
                hatch, colour = _COVER_FILLS[(number - 1) % len(_COVER_FILLS)]
            self.axes.fill_between(
                x,
                low,
                high,
                where=high - low > 1e-3,
                facecolor=colour,
                edgecolor=DIM,
                hatch=hatch,
                linewidth=0.0,
                zorder=1,
            )

    def _lines(self) -> None:
        pens = {
            "ground": (PENS["medium"], (0, (6, 3))),
            "stripped": (PENS["medium"], "solid"),
            "sand": (PENS["lateral"], "solid"),
            "finished": (PENS["bold"], "solid"),
            "tubing": (PENS["bold"], (0, (1, 2))),
            "limiting": (PENS["medium"], (0, (8, 2, 1, 2))),
        }
        for level in self.levels:
            if level not in self.section.levels:
                continue
            width, style = pens.get(level, (PENS["thin"], "solid"))
            self.axes.plot(*self.path(level), color=INK, lw=width, ls=style, zorder=3)

    def _scales(self) -> None:
        """Elevations at the left, distances underneath."""
        end = self.x(self.section.length)
        top = self.y(self.high_z)
        least = 20.0 * self.drawn.scale.per_point / self.drawn.exaggeration
        step = round_length(max(float(self.high_z - self.low_z) / 3.0, least))
        z = np.ceil(self.low_z / step) * step
        while z <= self.high_z + 1e-9:
            y = self.y(float(z))
            self.axes.plot((self.left, end), (y, y), color=WASH, lw=PENS["hair"], zorder=0)
            text = f"{z:.{self.unit.places}f}"
            write_text(self.axes, self.left - 4.0, y - 2.0, text, _SMALL, ha="right")
            z += step
        self.axes.plot((self.left, self.left), (self.low, top), color=INK, lw=PENS["thin"])
        base = self.low - 6.0
        self.axes.plot((self.left, end), (base, base), color=INK, lw=PENS["thin"])
        step = round_length(max(self.section.length / 5.0, 40.0 * self.drawn.scale.per_point))
        for station in np.arange(0.0, self.section.length + 1e-9, step):
            x = self.x(float(station))
            self.axes.plot((x, x), (base, base - 3.0), color=INK, lw=PENS["thin"])
            write_text(self.axes, x, base - 10.0, f"{station:g}", _SMALL, ha="center")
        name = self.section.name
        write_text(self.axes, self.left - 4.0, base - 3.0, name, _TEXT, bold=True, ha="right")
        write_text(self.axes, end + 4.0, base - 3.0, f"{name}'", _TEXT, bold=True)

    def _lengths(self) -> None:
        """A chain of lengths from toe to toe, the whole over it, elevations at toe and shoulder."""
        links = chain(self.section, self.unit.places)
        if not links:
            return
        base = self.y(self.high_z) + 14.0
        whole = base + 20.0
        first, last = self.x(links[0].start), self.x(links[-1].end)
        for y, ends in ((base, [*(link.start for link in links), links[-1].end]), (whole, None)):
            places = [first, last] if ends is None else [self.x(station) for station in ends]
            self.axes.plot((first, last), (y, y), color=INK, lw=PENS["hair"], zorder=4)
            for x in places:
                self.axes.plot((x - 2.0, x + 2.0), (y - 2.0, y + 2.0), color=INK, lw=PENS["medium"])
        for link in links:
            self._foot(link.start, base)
        self._foot(links[-1].end, base)
        self._chain_words(links, base)
        total = round(sum(link.length for link in links), self.unit.places)
        text = f"toe to toe {total:.{self.unit.places}f}"
        self._write_over(0.5 * (first + last), whole, text)
        self._heights()

    def _foot(self, station: float, top: float) -> None:
        """The line from the grade up to the dimensions."""
        foot = self.y(self.section.at("finished", station))
        foot = self.y(self.section.at("ground", station)) if np.isnan(foot) else foot
        x = self.x(station)
        self.axes.plot((x, x), (foot, top + 2.0), color=DIM, lw=PENS["hair"], zorder=2)

    def _chain_words(self, links: Sequence[Link], y: float) -> None:
        """Each link's word and length: in the line, or over it where that has no room."""
        over: list[tuple[float, str]] = []
        for link in links:
            a, b = self.x(link.start), self.x(link.end)
            length = f"{link.length:.{self.unit.places}f}"
            fits = [
                text
                for text in (f"{link.what} {length}", length)
                if text_width(text, _SMALL) <= b - a - 6.0
            ]
            if fits:
                self._write_over(0.5 * (a + b), y, fits[0])
            else:
                over.append((0.5 * (a + b), length))
        right = -np.inf
        for x, text in over:
            half = 0.5 * text_width(text, _SMALL) + 1.5
            at = max(x, right + half)
            right = at + half
            write_text(self.axes, at, y + 5.0, text, _SMALL, ha="center", zorder=6)

    def _heights(self) -> None:
        """Elevations of the finished grade at shoulders and toes, in a row each under the axis."""
        base = self.low - 6.0
        rows = {"shoulder": base - 21.0, "toe": base - 31.0}
        for word, y in rows.items():
            write_text(self.axes, self.left - 4.0, y, word, _SMALL, ha="right")
        for station, z, words in marked_heights(self.section):
            x = self.x(station)
            for word, y in rows.items():
                if word in words:
                    self.axes.plot((x, x), (base, base + 4.0), color=INK, lw=PENS["medium"])
                    text = f"{z:.{self.unit.places}f}"
                    write_text(self.axes, x, y, text, _SMALL, ha="center", zorder=6)

    def _write_over(self, x: float, y: float, text: str) -> None:
        """Text in the middle of a dimension line, on white."""
        half = 0.5 * text_width(text, _SMALL) + 1.5
        self.axes.fill(
            (x - half, x + half, x + half, x - half),
            (y - 4.2, y - 4.2, y + 4.6, y + 4.6),
            color=PAPER_WHITE,
            lw=0,
            zorder=5,
        )
        write_text(self.axes, x, y - 2.9, text, _SMALL, ha="center", zorder=6)

    def _depths(self) -> None:
        """Depths, each at a station of its own so that thin layers stay readable."""
        start, end = widest(self.section)
        pairs = depths(self.design, self.levels)
        texts = []
        for lower, upper, word in pairs:
            middle = 0.5 * (start + end)
            depth = self.section.at(upper, middle) - self.section.at(lower, middle)
            if abs(depth) > 1e-6:  # there, and known
                texts.append((lower, upper, f"{word}{depth:.{self.unit.places}f}"))
        widths = [text_width(text, _SMALL) + 9.0 for _, _, text in texts]
        most = 0.86 * self.drawn.scale.paper(end - start)
        if sum(widths) > most:  # the cover layers' depths stand with their names too
            cover = {(layer.lower, layer.upper) for layer in self.design.cover_layers}
            kept = [i for i, (low, up, _) in enumerate(texts) if (low, up) not in cover]
            texts, widths = [texts[i] for i in kept], [widths[i] for i in kept]
        room = most - sum(widths)
        gap = max(room / max(len(texts), 1), 0.0)
        x = self.x(start) + 0.5 * gap + 6.0
        for (lower, upper, _), width in zip(texts, widths, strict=True):
            station = (x - self.left) * self.drawn.scale.per_point
            if station > end:
                break
            low, high = self.section.at(lower, station), self.section.at(upper, station)
            word = next(word for one, two, word in pairs if (one, two) == (lower, upper))
            text = f"{word}{high - low:.{self.unit.places}f}"
            self._depth(x, self.y(low), self.y(high), text)
            x += width + gap

    def _depth(self, x: float, low: float, high: float, text: str) -> None:
        low, high = min(low, high), max(low, high)
        self.axes.plot((x, x), (low, high), color=INK, lw=PENS["thin"], zorder=6)
        for y in (low, high):
            self.axes.plot((x - 2.0, x + 2.0), (y - 2.0, y + 2.0), color=INK, lw=0.9, zorder=6)
        width = text_width(text, _SMALL)
        y = self._clear(x, width, 0.5 * (low + high))
        if not low <= y <= high:
            self.axes.plot((x, x), (high, y) if y > high else (low, y), color=INK, lw=PENS["hair"])
        self.axes.fill(
            (x + 3.0, x + 5.0 + width, x + 5.0 + width, x + 3.0),
            (y - 4.2, y - 4.2, y + 4.4, y + 4.4),
            color=PAPER_WHITE,
            lw=0,
            zorder=2.5,  # under the levels, which stay whole
        )
        write_text(self.axes, x + 4.0, y - 2.9, text, _SMALL, zorder=6)

    def _clear(self, x: float, width: float, y: float) -> float:
        """The height nearest to ``y`` where text of a width beside ``x`` crosses no level."""
        over = np.linspace(x + 2.0, x + 6.0 + width, 9)
        stations = (over - self.left) * self.drawn.scale.per_point
        lows, highs = [], []
        for level in self.levels:
            z = np.interp(stations, self.section.stations, self.section.levels[level])
            if not np.isnan(z).any():
                lows.append(self.y(float(z.min())))
                highs.append(self.y(float(z.max())))
        for move in sorted(range(-60, 61), key=abs):
            touched = (np.array(highs) > y + move - 4.6) & (np.array(lows) < y + move + 5.0)
            if not touched.any():
                return y + move
        return y

    def _slopes(self) -> None:
        """The slope of the faces at each end."""
        middle = 0.5 * self.section.length
        for start, end, text in faces(self.section, self.design.section.side_slope):
            station = 0.5 * (start + end)
            y = self.y(self.section.at("finished", station)) + 4.0
            side, gap = ("right", -3.0) if station < middle else ("left", 3.0)
            write_text(self.axes, self.x(station) + gap, y, text, _SMALL, ha=side, zorder=6)

    def _names(self) -> None:
        """Names at the right, each with a line to what it names."""
        start, end = widest(self.section)
        station = start + 0.9 * (end - start)
        wanted: list[tuple[float, float, str]] = []
        for part in named_parts(self.design):
            if part.lower == "limiting" and "limiting" not in self.levels:
                continue
            at = station
            if part.upper in ("ground", "limiting"):  # beyond the bed, where nothing else lies
                at = min(self.section.length * 0.985, self.section.end_of(part.upper))
            if part.lower != part.upper:
                at = station + 0.3 * (end - station)
            if part.beyond and self.section.toe:
                at = 0.5 * (self.section.shoulder[-1][1] + self.section.toe[-1][1])
            low, high = self.section.at(part.lower, at), self.section.at(part.upper, at)
            if np.isnan(low) or np.isnan(high):
                continue
            if part.lower != part.upper and high - low < 1e-6:
                continue
            wanted.append((self.y(0.5 * (low + high)), self.x(at), part.text))
        wanted.sort(key=lambda name: -name[0])
        column = self.left + self.drawn.scale.paper(self.section.length) + 14.0
        places = spread([name[0] for name in wanted], 10.0)
        lift = max(0.0, self.low + 2.0 - min(places, default=self.low + 2.0))
        places = [place + lift for place in places]
        for (y, x, text), place in zip(wanted, places, strict=True):
            self.axes.plot(
                (x, column - 4.0, column - 1.0),
                (y, place, place),
                color=INK,
                lw=PENS["hair"],
                zorder=6,
            )
            self.axes.plot((x,), (y,), marker="o", ms=1.6, color=INK, zorder=6)
            write_text(self.axes, column, place - 2.4, text, _TEXT)
