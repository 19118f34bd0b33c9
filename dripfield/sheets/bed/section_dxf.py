"""The bed's section as a DXF drawing: levels, layers, names and dimensions on their own layers.

Model space is in the site's unit. Distances run along x; heights over a datum, times the stated
exaggeration, along y. Dimensions show true lengths.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from dripfield.bed.design import BedDesign
from dripfield.bed.section import Section
from dripfield.core.arrays import Floats
from dripfield.core.cautions import cautions
from dripfield.sheets.bed.section_sheet import (
    Drawn,
    drawing_scale,
    height_range,
    levels_in_view,
)
from dripfield.sheets.bed.section_words import (
    chain,
    depths,
    faces,
    heading,
    marked_heights,
    named_parts,
    spread,
    widest,
)
from dripfield.sheets.kit.dxf_document import GREY, Layer, drawing_text, new_drawing, save_drawing
from dripfield.sheets.kit.dxf_furniture import FURNITURE_LAYERS, TITLE, title_block
from dripfield.sheets.kit.style import POINTS_PER_INCH, round_length, usual_papers

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

LAYERS = {
    "V-SECT-GRND": Layer("existing ground", width=25, linetype="DASHED"),
    "C-SECT-STRP": Layer("stripped ground", width=35),
    "C-SECT-SAND": Layer("top of sand", width=35),
    "C-SECT-COVR": Layer("tops of cover layers", width=18),
    "C-SECT-FNSH": Layer("finished grade", width=50),
    "C-SECT-TUBE": Layer("tubing", width=50, linetype="DOTTED"),
    "C-SECT-LIMT": Layer("limiting layer", width=25, linetype="DASHDOT"),
    "C-SECT-PATT": Layer("hatching of sand and cover", width=13, colour=GREY),
    "C-SECT-GRID": Layer("elevations and distances", width=13, colour=GREY),
    "C-ANNO-TEXT": Layer("names of layers, slopes"),
    "C-ANNO-DIMS": Layer("dimensions", width=18),
    TITLE: FURNITURE_LAYERS[TITLE],
}
_LEVEL_LAYERS = {
    "ground": "V-SECT-GRND",
    "stripped": "C-SECT-STRP",
    "sand": "C-SECT-SAND",
    "finished": "C-SECT-FNSH",
    "tubing": "C-SECT-TUBE",
    "limiting": "C-SECT-LIMT",
}
_STYLE = "SECTION"
_TEXT = 0.09  # inches on paper


def write_section_dxf(path: Path, design: BedDesign, sections: Sequence[Section]) -> None:
    """Write the drawing: the sections one under the other, at one scale and exaggeration.

    Parameters
    ----------
    path : Path
    design : BedDesign
    sections : sequence of Section
    """
    from ezdxf import bbox

    unit = design.site.unit
    levels = levels_in_view(design, sections)
    paper = usual_papers(unit)[1]
    drawn = drawing_scale(sections, levels, unit, (0.68 * paper.width, 0.24 * paper.height))
    per_inch = drawn.scale.per_point * POINTS_PER_INCH
    document = new_drawing(unit, LAYERS, per_inch, paper)
    for suffix, factor in (("", 1.0), ("-VERT", 1.0 / drawn.exaggeration)):
        _dimension_style(document, _STYLE + suffix, per_inch, factor, unit.places)
    space = document.modelspace()
    top = 0.0
    for section in sections:
        view = _View(space, design, section, drawn, levels, per_inch, top)
        view.draw()
        top = view.bottom - 6.0 * _TEXT * per_inch
    facts = (
        f"{drawn.words(unit)}; elevations and lengths in {unit.label}",
        "Dimensions show true lengths.",
        *cautions("utilities", "excavation"),
    )
    text = _TEXT * per_inch
    title_block(
        document, (0.0, top - 12.0 * text), f"{design.site.name}: section of the bed", facts, text
    )
    extents = bbox.extents(space, fast=True)
    space.reset_extents(extents.extmin, extents.extmax)
    middle = extents.center.vec2
    document.set_modelspace_vport(height=1.1 * extents.size.y, center=middle)
    width, height = extents.size.x / per_inch, extents.size.y / per_inch
    document.paperspace().add_viewport(
        center=(0.5 * width + 0.5, 0.5 * height + 0.5),
        size=(width, height),
        view_center_point=middle,
        view_height=extents.size.y,
    )
    save_drawing(document, path)


def _dimension_style(
    document: Drawing, name: str, per_inch: float, factor: float, places: int
) -> None:
    style = document.dimstyles.duplicate_entry("Standard", name)
    style.dxf.dimtxsty = "Standard"
    style.dxf.dimtxt = _TEXT * per_inch
    style.dxf.dimasz = 0.6 * _TEXT * per_inch
    style.dxf.dimtsz = 0.4 * _TEXT * per_inch  # ticks
    style.dxf.dimexo = 0.3 * _TEXT * per_inch
    style.dxf.dimexe = 0.5 * _TEXT * per_inch
    style.dxf.dimgap = 0.4 * _TEXT * per_inch
    style.dxf.dimlfac = factor
    style.dxf.dimdec = places
    style.dxf.dimdsep = ord(".")
    style.dxf.dimzin = 0  # keep trailing zeros
    style.dxf.dimtad = 1 if name == _STYLE else 0  # text over the line, or in it
    style.dxf.dimtfill = 1  # on the drawing's background, over hatching
    style.dxf.dimtih = style.dxf.dimtoh = 0 if name == _STYLE else 1  # depths read upright


class _View:
    """One section in model space."""

    def __init__(
        self,
        space: Modelspace,
        design: BedDesign,
        section: Section,
        drawn: Drawn,
        levels: Sequence[str],
        per_inch: float,
        top: float,
    ) -> None:
        self.space, self.design, self.section, self.levels = space, design, section, levels
        self.per_inch, self.stretch = per_inch, drawn.exaggeration
        self.text = _TEXT * per_inch
        low, high = height_range(section, levels)
        self.datum = math.floor(low)
        self.high = float(high)
        self.base = top - 15.0 * self.text - (self.high - self.datum) * self.stretch
        self.bottom = self.base - 4.0 * self.text

    def y(self, z: float) -> float:
        """Height in model space of an elevation."""
        return float(self.base + (z - self.datum) * self.stretch)

    def draw(self) -> None:
        """Draw everything."""
        self._hatches()
        for level in self.levels:
            self._level(level)
        self._grid()
        self._lengths()
        self._depths()
        self._names()
        head = self.y(self.high) + 13.0 * self.text
        self._write(heading(self.section), 0.0, head, "C-ANNO-TTLB", 1.2)

    def _path(self, level: str, part: str = "all") -> list[Floats]:
        """A level's polylines, broken where it is not known."""
        z = self.section.where(level, part)
        on = ~np.isnan(z)
        points = np.column_stack(
            (self.section.stations, self.base + (z - self.datum) * self.stretch)
        )
        breaks = np.flatnonzero(np.diff(on)) + 1
        runs = np.split(np.arange(len(z)), breaks)
        return [points[run] for run in runs if on[run[0]] and len(run) > 1]

    def _level(self, level: str) -> None:
        layer = _LEVEL_LAYERS.get(level, "C-SECT-COVR")
        for points in self._path(level):
            self.space.add_lwpolyline(points.tolist(), dxfattribs={"layer": layer})

    def _hatches(self) -> None:
        patterns = ("DOTS", "ANSI31", "ANSI37", "ANSI32")
        for number, layer in enumerate(self.design.layers):
            lower, upper = (self._path(level, layer.where) for level in (layer.lower, layer.upper))
            for low, high in zip(lower, upper, strict=True):
                ring = np.concatenate((low, high[::-1]))
                hatch = self.space.add_hatch(dxfattribs={"layer": "C-SECT-PATT"})
                # patterns are drawn for an inch of paper, in metric drawings for a millimetre
                metric = self.design.site.unit.is_metric
                scale = (2.0 if number == 0 else 0.6) * self.per_inch / (25.4 if metric else 1.0)
                hatch.set_pattern_fill(patterns[number % len(patterns)], scale=scale)
                hatch.paths.add_polyline_path(ring.tolist(), is_closed=True)

    def _grid(self) -> None:
        length = self.section.length
        step = round_length(max((self.high - self.datum) / 3.0, 3.0 * self.text / self.stretch))
        for z in np.arange(self.datum, self.high + 1e-9, step):
            y = self.y(float(z))
            self.space.add_line((0.0, y), (length, y), dxfattribs={"layer": "C-SECT-GRID"})
            text = f"{z:.{self.design.site.unit.places}f}"
            self._write(text, -self.text, y - 0.5 * self.text, "C-SECT-GRID", right=True)
        for station in np.arange(
            0.0, length + 1e-9, round_length(max(length / 5.0, 6.0 * self.text))
        ):
            x, y = float(station), self.base
            self.space.add_line((x, y), (x, y - self.text), dxfattribs={"layer": "C-SECT-GRID"})
            self._write(f"{station:g}", x, y - 2.4 * self.text, "C-SECT-GRID", middle=True)

    def _lengths(self) -> None:
        """A chain of lengths from toe to toe, the whole over it, elevations at toe and shoulder."""
        links = chain(self.section, self.design.site.unit.places)
        if not links:
            return
        y = self.y(self.high) + 2.0 * self.text
        for link in links:
            self._dimension((link.start, link.end), (y, y), y)
        y += 2.5 * self.text
        self._dimension((links[0].start, links[-1].end), (y, y), y)
        for station, z, _ in marked_heights(self.section):
            words = f"{z:.{self.design.site.unit.places}f}"
            self._write(words, station, y + self.text, "C-ANNO-DIMS", turned=True)

    def _depths(self) -> None:
        start, end = widest(self.section)
        pairs = depths(self.design, self.levels)
        for number, (lower, upper, word) in enumerate(pairs):
            station = start + (end - start) * (0.1 + 0.8 * number / len(pairs))
            low, high = self.section.at(lower, station), self.section.at(upper, station)
            if not abs(high - low) > 1e-6:
                continue
            self._dimension((station, station), (self.y(low), self.y(high)), station, word)

    def _dimension(
        self, x: tuple[float, float], y: tuple[float, float], base: float, word: str | None = None
    ) -> None:
        """A length at height ``base`` or, with a word before its figure, a depth at ``base``."""
        depth = word is not None
        dimension = self.space.add_linear_dim(
            base=(base, y[0]) if depth else (x[0], base),
            p1=(x[0], y[0]),
            p2=(x[1], y[1]),
            angle=90.0 if depth else 0.0,
            text=f"{word or ''}<>",
            dimstyle=f"{_STYLE}-VERT" if depth else _STYLE,
            dxfattribs={"layer": "C-ANNO-DIMS"},
        )
        dimension.render()

    def _names(self) -> None:
        start, stop = widest(self.section)
        at = start + 0.92 * (stop - start)
        end = self.section.length + 4.0 * self.text
        wanted: list[tuple[float, float, str]] = []
        for part in named_parts(self.design):
            outside = part.upper in ("ground", "limiting")
            station = at
            if outside and part.upper in self.section.levels:
                station = min(0.985 * self.section.length, self.section.end_of(part.upper))
            if part.beyond and self.section.toe:
                station = 0.5 * (self.section.toe[-1][1] + stop)
            known = part.lower in self.section.levels and part.lower in (*self.levels, "sand")
            if not known and part.lower == part.upper:
                continue
            low, high = self.section.at(part.lower, station), self.section.at(part.upper, station)
            if np.isnan(low + high) or (part.lower != part.upper and high - low < 1e-6):
                continue
            wanted.append((self.y(0.5 * (low + high)), station, part.text))
        wanted.sort(key=lambda name: -name[0])
        places = spread([name[0] for name in wanted], 1.6 * self.text)
        for (y, x, text), place in zip(wanted, places, strict=True):
            self.space.add_lwpolyline(
                ((x, y), (end - 2.0 * self.text, place), (end - 0.5 * self.text, place)),
                dxfattribs={"layer": "C-ANNO-TEXT"},
            )
            self._write(text, end, place - 0.5 * self.text, "C-ANNO-TEXT")
        for start, stop, words in faces(self.section, self.design.section.side_slope):
            middle = 0.5 * (start + stop)
            z = self.section.at("finished", middle)
            self._write(words, middle, self.y(z) + self.text, "C-ANNO-TEXT", middle=True)

    def _write(
        self,
        text: str,
        x: float,
        y: float,
        layer: str,
        size: float = 1.0,
        *,
        right: bool = False,
        middle: bool = False,
        turned: bool = False,
    ) -> None:
        from ezdxf.enums import TextEntityAlignment

        align = TextEntityAlignment.LEFT
        if right or middle:
            align = TextEntityAlignment.RIGHT if right else TextEntityAlignment.CENTER
        entity = self.space.add_text(
            drawing_text(text), height=size * self.text, dxfattribs={"layer": layer}
        )
        if turned:
            entity.dxf.rotation = 90.0
            x += 0.4 * self.text
        entity.set_placement((x, y), align=align)
