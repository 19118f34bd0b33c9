"""Names, lengths and elevations of laterals on a map: names at ends, figures where they fit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.lines import line_length
from dripfield.core.words import number
from dripfield.measures.field import Measured
from dripfield.measures.laterals import LateralMeasure
from dripfield.sheets.kit.labels import (
    CAPITAL,
    Label,
    Placer,
    Words,
    along_line,
    beyond_end,
    leader,
    line_end,
)
from dripfield.sheets.kit.marks import missed_parts
from dripfield.sheets.kit.pen import Pen
from dripfield.sheets.kit.style import INK, PENS, WASH, shorten, text_width
from dripfield.site.model import Site

SIZE = 8.0  # of names and figures, whatever the scale [pt]
_WHITE = 1.0  # above and below a label, both together [pt]
_NAME_WIDTH = 90.0  # a longer name is cut short [pt]
_SHARES = (  # of a lateral's length, where figures are tried: in echelon from one to the next
    (0.5, 0.4, 0.6, 0.3, 0.7, 0.22, 0.78, 0.15, 0.85),
    (0.7, 0.6, 0.78, 0.85, 0.4, 0.3, 0.5, 0.22, 0.15),
    (0.3, 0.22, 0.4, 0.15, 0.6, 0.7, 0.5, 0.78, 0.85),
)
_LEAST = 2.5  # lengths of its own label that a lateral has, where figures break it
_ROOMY = 1.3  # heights of capitals between laterals, where figures are written between them
_LED = (10.0, 16.0, 24.0, 34.0, 46.0, 60.0)  # how far a name may be led from an end [pt]


def label_laterals(
    pen: Pen,
    placer: Placer,
    site: Site,
    lines: Sequence[Floats],
    measured: Measured,
    *,
    names_only: bool = False,
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """A name at an end of every lateral, then length and elevation along it.

    Where the lines lie too near to each other for a name at every end, names stand at ends in
    turn. No label covers another lateral.

    Parameters
    ----------
    pen : Pen
    placer : Placer
        Holds the lines by their number.
    site : Site
    lines : sequence of (k, 2) float arrays
        On the sheet, what the window shows of them; fewer than two points where it shows nothing.
    measured : Measured
        A measure a line.
    names_only : bool
        Names at ends where they fit, nothing else: the rest is told on other sheets.

    Returns
    -------
    unnamed, without_figures : tuple of str
        Laterals on the map without a name, and those without length and elevation.
    """
    spacing = pen.frame.scale.paper(site.settings.spacing)
    size = min(max((0.9 * spacing - _WHITE) / CAPITAL, SIZE), SIZE * pen.type_scale)
    alternate = spacing < CAPITAL * size + _WHITE
    roomy = spacing > _ROOMY * CAPITAL * size
    bed = shapely.boundary(pen.frame.shape(site.bed.boundary))
    shapely.prepare(bed)
    named: dict[str, bool] = {}
    place_in_panel: dict[str, int] = {}
    rows = [
        (i, line, shorten(one.name, _NAME_WIDTH, size, bold=True), one)
        for i, (line, one) in enumerate(zip(lines, measured.laterals, strict=True))
        if len(line) > 1 and line_length(line) > 0.5
    ]
    for i, line, name, one in rows:
        row = place_in_panel[one.panel] = place_in_panel.get(one.panel, 0) + 1
        start = not alternate or row % 2 == 1
        named[one.name] = pen.words(placer.first(_at_ends(line, name, size, bed, start), own=i))
    if names_only:
        return (), ()
    bare = []
    for row, (i, line, name, one) in enumerate(rows):
        shares = _SHARES[row % len(_SHARES)]
        length = f"{number(one.length, site.unit.places)} {site.unit.short}"
        elevation = f"el {number(one.elevation, site.unit.places)}"
        first = () if named[one.name] else (name,)
        words = None
        if roomy:
            words = placer.first(
                along_line(line, (*first, length, elevation), size, shares, least=_LEAST), own=i
            )
        if not words:
            bare.append(one.name)
            if roomy:
                words = placer.first(
                    along_line(line, (*first, elevation), size, shares, least=_LEAST), own=i
                )
        if words and pen.words(words):
            named[one.name] = True
            _show_faults_under(pen, words, one)
    for i, line, name, one in rows:
        if not named[one.name]:
            named[one.name] = _led_name(pen, placer, line, name, size, i)
    return tuple(name for name, has in named.items() if not has), tuple(bare)


def _show_faults_under(pen: Pen, words: Words, measure: LateralMeasure) -> None:
    """Let the grey band of a part out of tolerance run on under a label."""
    for part in missed_parts(measure):
        line = shapely.linestrings(pen.frame.to_paper(part.xy))
        for label in words:
            for piece in shapely.get_parts(shapely.intersection(line, label.box)):
                if piece.geom_type == "LineString":
                    xy = shapely.get_coordinates(piece)
                    pen.line(xy, lw=PENS["band"], color=WASH, zorder=8.05)


def _at_ends(line: Floats, name: str, size: float, bed: Any, start_first: bool) -> Iterator[Words]:
    """Beyond the bed's edge at one end, at the other, then close to the ends, then inside."""
    for start in (start_first, not start_first):
        end, outward = line_end(line, start=start)
        ray = shapely.linestrings([end, end + 30.0 * outward])
        crossing = shapely.get_coordinates(shapely.intersection(bed, ray))
        if len(crossing):
            gap = float(np.hypot(*(crossing - end).T).max()) + 2.0
            gaps = (gap, gap + 4.0, gap + 8.0, gap + 12.0)
            yield from beyond_end(line, name, size, start=start, gaps=gaps, bold=True)
    for start in (start_first, not start_first):
        yield from beyond_end(line, name, size, start=start, gaps=(1.5, 4.0), bold=True)
    inset = (0.5 * text_width(name, size) + 4.0) / max(line_length(line), 1.0)
    shares = (inset, 1.0 - inset) if start_first else (1.0 - inset, inset)
    yield from along_line(line, (name,), size, shares)


def _led_name(pen: Pen, placer: Placer, line: Floats, name: str, size: float, own: int) -> bool:
    """A name off the end of its lateral where it covers nothing, with a thin line to it."""
    half = 0.5 * text_width(name, size, bold=True)
    for start in (True, False):
        end, outward = line_end(line, start=start)
        across = np.array((-outward[1], outward[0]))
        for reach in _LED:
            for aside in (0.0, 0.4, -0.4, 0.9, -0.9, 1.6, -1.6):
                way = outward + aside * across
                way = way / np.hypot(*way)
                x, y = end + (reach + half * abs(way[0])) * way
                label = Label(name, float(x), float(y), 0.0, size, bold=True)
                if placer.free(label.box):
                    placer.take(label.box)
                    leader(pen.axes, (float(end[0]), float(end[1])), label, INK)
                    return pen.words((label,))
    words = along_line(line, (name,), size, (0.5, 0.4, 0.6), least=1.05)
    return pen.words(placer.first(words, own=own))
