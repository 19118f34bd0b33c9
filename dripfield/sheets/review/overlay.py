"""The overlay: every kind of line in a stroke of its own, which differs without colour."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.sheets.kit.furniture import (
    STRIP_HEIGHT,
    Entry,
    Swatch,
    legend,
    north_arrow,
    scale_bar,
    stroke,
)
from dripfield.sheets.kit.labels import Label, Placer, Words, along_line, beyond_end
from dripfield.sheets.kit.map_frame import MapFrame, fit_frame
from dripfield.sheets.kit.style import DIM, INK, PALE, PENS, Paper, text_width
from dripfield.sheets.review.content import DrawnLine, Overlay
from dripfield.sheets.review.picture import draw_picture
from dripfield.site.model import Site

Look = dict[str, Any]

APPROVED: Look = {"lw": 3.4, "color": PALE, "ls": (0.0, (3.2, 1.6)), "zorder": 3.0}
DESIGNED: Look = {"lw": 0.7, "color": INK, "ls": "-", "zorder": 5.0}
LAID: Look = {"lw": 1.4, "color": INK, "ls": (0.0, (0.9, 1.9)), "zorder": 6.0}
MISSING: Look = {"lw": 2.4, "color": DIM, "ls": (0.0, (5.0, 1.2, 1.0, 1.2)), "zorder": 5.5}
EXTRA: Look = {"lw": 2.0, "color": INK, "ls": "-", "zorder": 5.5}
SHOT: Look = {"ls": "none", "marker": "o", "ms": 3.2, "mfc": "white", "mec": INK, "mew": 0.7}
BED: Look = {"lw": PENS["bold"], "color": INK, "zorder": 4.0}
APPROVED_BED: Look = {"lw": 3.0, "color": PALE, "ls": (0.0, (6.0, 1.5)), "zorder": 2.0}
KEEPOUT: Look = {"lw": 0.8, "color": DIM, "zorder": 2.5}
FEATURE: Look = {"lw": 1.0, "color": INK, "ls": (0.0, (6.0, 3.0)), "zorder": 2.5}
TIED: Look = {"ls": "none", "marker": "x", "ms": 4.0, "mec": INK, "mew": 1.0, "zorder": 8.0}
MARK: Look = {"ls": "none", "marker": "^", "ms": 7.0, "mfc": INK, "mec": INK, "zorder": 8.0}

FEATURE_POINT: Look = MARK | {"marker": "s", "ms": 5.0}

_BORDER = (52.0, 22.0)
_SIZE = 8.0  # of names and numbers [pt]
_LEGEND = 1.18  # of the usual type of a legend, to come to that size


def draw_overlay(
    axes: Any,
    site: Site,
    paper: Paper,
    overlay: Overlay,
    rectangle: tuple[float, float, float, float],
) -> str:
    """Draw the map in a rectangle of the sheet.

    Parameters
    ----------
    axes : matplotlib Axes
        In points of the sheet.
    site : Site
    paper : Paper
        For the wording of the scale.
    overlay : Overlay
    rectangle : (left, low, width, height)
        [pt]

    Returns
    -------
    str
        What there was no room to write, in one line; empty when there was.
    """
    left, low, width, height = rectangle
    shown = _shown(overlay)
    room = (left, low + STRIP_HEIGHT, width, height - STRIP_HEIGHT)
    frame = _hugged(fit_frame(site.unit, shown, room, _BORDER), shown)
    if overlay.picture is not None:
        draw_picture(axes, frame, overlay.picture)
    _draw_grounds(axes, frame, overlay)
    drawn: list[tuple[DrawnLine, Floats]] = []
    for lines, look in (
        (overlay.approved, APPROVED),
        (overlay.designed, DESIGNED),
        (overlay.missing, MISSING),
        (overlay.extra, EXTRA),
        (overlay.laid, LAID),
    ):
        for line in lines:
            points = frame.to_paper(line.xy)
            axes.plot(*points.T, solid_capstyle="butt", dash_capstyle="butt", **look)
            drawn.append((line, points))
    for line in overlay.laid:
        axes.plot(*frame.to_paper(line.xy).T, zorder=6.5, **SHOT)
    note = _write_names(axes, frame, overlay, drawn)
    corners = np.asarray(frame.window.exterior.coords)
    axes.plot(*corners.T, color=INK, lw=PENS["thin"])
    low = frame.low - STRIP_HEIGHT
    middle = low + 0.5 * STRIP_HEIGHT
    north_arrow(axes, left + 16.0, middle - 3.0, frame.turn)
    right = scale_bar(axes, frame, paper, site.unit, left + 44.0, low)
    room = (right + 18.0, low, left + width, low + STRIP_HEIGHT)
    legend(axes, _entries(overlay, frame.ground), room, _LEGEND)
    return note


def _hugged(frame: MapFrame, shown: Polygon) -> MapFrame:
    """The frame drawn in to what it shows and the room for labels, at the same place and scale."""
    x0, y0, x1, y1 = frame.shape(shown).bounds
    middle = (frame.left + 0.5 * frame.width, frame.low + 0.5 * frame.height)
    half_width = max(x1 - middle[0], middle[0] - x0) + 1.6 * _BORDER[0]
    half_height = max(y1 - middle[1], middle[1] - y0) + 1.6 * _BORDER[1]
    width, height = min(frame.width, 2.0 * half_width), min(frame.height, 2.0 * half_height)
    # the top stays: what is saved is saved below, above the legend
    return replace(
        frame,
        left=frame.left + 0.5 * (frame.width - width),
        low=frame.low + frame.height - height,
        width=width,
        height=height,
    )


def _shown(overlay: Overlay) -> Polygon:
    """The least ground that must be seen: bed, every line, every mark."""
    parts = [shapely.get_coordinates(overlay.bed)]
    parts += [
        line.xy
        for line in (
            *overlay.approved,
            *overlay.designed,
            *overlay.missing,
            *overlay.extra,
            *overlay.laid,
        )
    ]
    parts += [xy[None, :] for _, xy in overlay.marks]
    if overlay.approved_bed is not None:
        parts.append(shapely.get_coordinates(overlay.approved_bed))
    hull = shapely.convex_hull(shapely.multipoints(np.concatenate(parts)))
    return hull if isinstance(hull, Polygon) else overlay.bed


def _draw_grounds(axes: Any, frame: MapFrame, overlay: Overlay) -> None:
    ground = frame.ground
    if overlay.approved_bed is not None:
        _rings(axes, frame, overlay.approved_bed, APPROVED_BED)
    _rings(axes, frame, overlay.bed, BED)
    for keepout in overlay.keepouts:
        _rings(axes, frame, keepout, KEEPOUT)
        xy = np.asarray(frame.shape(keepout).exterior.coords)
        axes.fill(*xy.T, fc="none", ec=DIM, hatch="////", lw=0.0, zorder=2.4)
    for _, feature in overlay.features:
        for part in shapely.get_parts(shapely.intersection(feature, ground)):
            xy = frame.to_paper(shapely.get_coordinates(part))
            axes.plot(*xy.T, **(FEATURE_POINT if len(xy) == 1 else FEATURE))
    for _, place in overlay.marks:
        axes.plot(*frame.to_paper(place[None, :]).T, **MARK)
    if overlay.numbered:
        axes.plot(*frame.to_paper(np.array([xy for _, xy in overlay.numbered])).T, **TIED)


def _rings(axes: Any, frame: MapFrame, polygon: Polygon, look: Look) -> None:
    for ring in (polygon.exterior, *polygon.interiors):
        axes.plot(*frame.to_paper(np.asarray(ring.coords)).T, **look)


def _write_names(
    axes: Any, frame: MapFrame, overlay: Overlay, drawn: Sequence[tuple[DrawnLine, Floats]]
) -> str:
    """Marks first, then the lines that are flagged, the worst before; says what has no room."""
    lines = [points for _, points in drawn]
    bed = [frame.to_paper(np.asarray(overlay.bed.exterior.coords))]
    # a lateral with a single shot is a line of no length
    taken = [line if len(line) > 1 else np.repeat(line, 2, axis=0) for line in (*lines, *bed)]
    placer = Placer(frame.window.buffer(-1.0), taken)
    for name, place in overlay.marks:
        at = frame.to_paper(place[None, :])[0]
        _first(axes, placer, _about(at, name, _SIZE, (5.0, 9.0, 15.0), bold=True))
    for name, feature in overlay.features:
        seen = shapely.intersection(feature, frame.ground)
        if not seen.is_empty:
            at = frame.to_paper(shapely.get_coordinates(seen.representative_point()))[0]
            _first(axes, placer, _about(at, name, _SIZE, (4.0, 8.0, 14.0)))
    unnamed, seen_names = [], set()
    for i in sorted(range(len(drawn)), key=lambda i: (not drawn[i][0].flag, -drawn[i][0].weight)):
        line, points = drawn[i]
        if not line.name or line.name in seen_names:
            continue
        seen_names.add(line.name)
        text = f"{line.name} {line.flag}".strip()
        places = (
            _line_places(points, text, bool(line.flag))
            if len(points) > 1
            else _about(points[0], text, _SIZE, (4.0, 8.0, 14.0), bold=bool(line.flag))
        )
        written = _first(axes, placer, places, own=i)
        if not written and line.flag:
            # what is wrong must be found on the map: its name alone, then beside another line
            short = list(_line_places(points, line.name, True)) if len(points) > 1 else []
            written = _first(axes, placer, iter(short), own=i)
            written = written or _first(axes, placer, iter(short), own=i, over_lines=True)
        if not written:
            unnamed.append(line.name)
    unnumbered = 0
    for name, place in overlay.numbered:
        at = frame.to_paper(place[None, :])[0]
        unnumbered += not _first(axes, placer, _about(at, name, _SIZE, (3.0, 6.0, 9.0)))
    said = []
    if unnamed:
        said.append(f"No room for the names of {', '.join(unnamed)}.")
    if unnumbered:
        said.append(
            f"No room for {unnumbered} numbers of tied points: they run on along each lateral, as "
            "in the table of ties."
        )
    return " ".join(said)


def _first(
    axes: Any,
    placer: Placer,
    choices: Iterator[Words],
    own: int | None = None,
    *,
    over_lines: bool = False,
) -> bool:
    """Write at the first place that is free and hides no line, save where that is asked for."""
    words = placer.first(choices, own=own, over_lines=over_lines)
    for word in words:
        word.draw(axes, over=9.0)
    return bool(words)


def _about(
    at: Floats, text: str, size: float, gaps: Sequence[float], *, bold: bool = False
) -> Iterator[Words]:
    """Places round a point, the nearest ones first."""
    half = 0.5 * text_width(text, size, bold=bold)
    for gap in gaps:
        for x, y in ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1)):
            yield (
                Label(
                    text,
                    float(at[0] + x * (gap + half)),
                    float(at[1] + y * (gap + 0.5 * size)),
                    0.0,
                    size,
                    bold,
                ),
            )


def _line_places(points: Floats, text: str, bold: bool) -> Iterator[Words]:
    gaps = (2.0, 6.0, 12.0, 20.0, 32.0, 48.0) if bold else (2.0, 6.0, 12.0, 20.0, 32.0)
    for start in (True, False):
        yield from beyond_end(points, text, _SIZE, start=start, gaps=gaps, bold=bold)
    yield from along_line(points, text.split(" "), _SIZE, (0.1, 0.9, 0.3, 0.7, 0.5))


def _entries(overlay: Overlay, ground: Polygon) -> list[Entry]:
    """What the legend explains: only what the map shows."""
    approved, designed, laid = overlay.words
    seen = [feature for _, feature in overlay.features if feature.intersects(ground)]
    kinds = {feature.geom_type for feature in seen}
    points = {"Point", "MultiPoint"}
    shown: tuple[tuple[object, str, Swatch], ...] = (
        (overlay.approved, approved, stroke(**APPROVED)),
        (overlay.designed, designed, stroke(**DESIGNED)),
        (overlay.missing, overlay.odd[0], stroke(**MISSING)),
        (overlay.extra, overlay.odd[1], stroke(**EXTRA)),
        (overlay.laid, laid, _laid_swatch),
        (True, "bed", stroke(**BED)),
        (overlay.approved_bed, f"bed, {approved}", stroke(**APPROVED_BED)),
        (kinds & points, "kept away from", stroke(**FEATURE_POINT)),
        (kinds - points, "kept away from", stroke(**FEATURE)),
        (overlay.marks, "reference", stroke(**MARK)),
        (overlay.numbered, "tied point", stroke(**TIED)),
    )
    return [(text, swatch) for is_there, text, swatch in shown if is_there]


def _laid_swatch(axes: Any, x: float, y: float) -> None:
    """The line as laid with a shot at each end."""
    stroke(**LAID)(axes, x, y)
    axes.plot([x, x + 22.0], [y, y], zorder=6.5, **SHOT)
