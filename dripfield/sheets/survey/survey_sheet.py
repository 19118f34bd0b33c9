"""The survey sheet: shots sized by their residual, suspects, gaps, and where to take more shots."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.core.words import number
from dripfield.ground.levels.lines import clip_lines
from dripfield.sheets.kit.blank import PANEL, MapSheet, map_sheet
from dripfield.sheets.kit.furniture import STRIP_HEIGHT, legend, stroke
from dripfield.sheets.kit.labels import Placer, along_line
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.notes import site_facts
from dripfield.sheets.kit.plan_map import GAP_HATCH, Pen
from dripfield.sheets.kit.relief import Relief, show_relief
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PAPER_WHITE,
    PENS,
    SURVEY_PINK,
    Paper,
    drawing_defaults,
    save_figure,
    shorten,
    wrap,
    write_text,
)
from dripfield.sheets.kit.suspects import SUSPECT_MARK, beside, doubts, mark_suspects
from dripfield.sheets.survey.survey_report import SurveyReport, figures, more_shots, verdict

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SURROUND = 0.35  # of the bed's size: shots within it are shown
_AT_TOLERANCE = 5.0  # diameter of a shot whose residual is the level tolerance [pt]
_SMALLEST, _LARGEST = 1.6, 14.0  # diameters [pt]
_SHARES = (0.5, 0.35, 0.65, 0.2, 0.8)


def survey_figure(report: SurveyReport) -> Figure:
    """Draw the survey sheet on the smaller of the unit's two usual papers.

    Parameters
    ----------
    report : SurveyReport

    Returns
    -------
    matplotlib Figure
        Sized to the paper: saved without trimming it is true to scale.
    """
    sheet = map_sheet(report.site, _ground(report))
    relief = show_relief(report.ground, report.ground.surface)
    with drawing_defaults():
        _draw_map(sheet.axes, sheet.frame, report, relief)
        _draw_key(sheet, report, relief.interval)
        _draw_words(sheet.axes, sheet.paper, report)
    return sheet.figure


def write_survey_sheet(figure: Figure, path: Path) -> None:
    """Save the sheet as PNG; the same survey gives the same bytes."""
    save_figure(figure, path)


def _ground(report: SurveyReport) -> Polygon:
    """The bed and the shots round it."""
    bed = report.site.bed.boundary
    west, south, east, north = bed.bounds
    near = bed.buffer(_SURROUND * max(east - west, north - south))
    shots = report.ground.shots.xyz[:, :2]
    shapely.prepare(near)
    shown = shapely.multipoints(shots[shapely.intersects_xy(near, shots)])
    return shapely.convex_hull(shapely.geometrycollections([bed, shown]))


def _draw_map(axes: Any, frame: MapFrame, report: SurveyReport, relief: Relief) -> None:
    pen = Pen(axes, frame)
    for gap in (*report.ground.coverage.outside, *report.ground.coverage.sparse):
        pen.area(frame.shape(gap), fc="none", ec=DIM, hatch=GAP_HATCH, lw=PENS["thin"], zorder=1)
    shown = clip_lines(relief.levels, frame.ground)
    for line in shown:
        width = PENS["medium"] if line.major else PENS["hair"]
        pen.line(frame.to_paper(line.xy), lw=width, color=DIM, zorder=1.5)
    for start, end in report.ground.surface.vertices[report.ground.surface.breaks]:
        pen.line(frame.to_paper(np.vstack((start, end))), lw=PENS["medium"], zorder=2)
    pen.area(frame.shape(report.site.bed.boundary), fc="none", ec=INK, lw=PENS["bold"], zorder=3)
    _draw_shots(pen, report)
    edge = shapely.get_coordinates(frame.shape(report.site.bed.boundary))
    placer = Placer(frame.window.buffer(-2.0), [edge])
    mark_suspects(pen, placer, report.ground.suspects, 8.0)
    _mark_more(pen, placer, more_shots(report))
    for line in shown:
        if line.major:
            words = along_line(frame.to_paper(line.xy), (f"{line.elevation:g}",), 6.5, _SHARES)
            pen.words(placer.first(words), over=4.0, colour=DIM)


def _draw_shots(pen: Pen, report: SurveyReport) -> None:
    """Filled where a shot stands above the surface of the others, open where below."""
    shots = pen.frame.to_paper(report.ground.surface.vertices)
    residual = report.trust.residuals
    known = np.isfinite(residual)
    size = np.where(known, np.abs(residual), 0.0) / report.trust.tolerance * _AT_TOLERANCE
    size = size.clip(_SMALLEST, _LARGEST)
    above = known & (residual > 0.0)
    for chosen, look in (
        (above, {"facecolors": INK, "linewidths": 0.0}),
        (known & ~above, {"facecolors": PAPER_WHITE, "linewidths": 0.5}),
    ):
        dots = pen.axes.scatter(
            *shots[chosen].T, s=size[chosen] ** 2, edgecolors=INK, zorder=5, **look
        )
        dots.set_clip_path(pen.window_patch)
    pen.line(shots[~known], ls="none", marker="x", ms=2.6, mew=0.5, color=INK, zorder=5)


def _mark_more(pen: Pen, placer: Placer, places: Floats) -> None:
    """A pink cross and a number where a shot is wanted."""
    for i, at in enumerate(pen.frame.to_paper(places), start=1):
        pen.line(
            at[None, :], ls="none", marker="P", ms=6.5, mew=0.4, mec=PAPER_WHITE,
            color=SURVEY_PINK, zorder=6.5,
        )  # fmt: skip
        pen.words(placer.first(beside(at, f"+{i}", 7.5, bold=True)), over=7.0, colour=SURVEY_PINK)


def _draw_key(sheet: MapSheet, report: SurveyReport, interval: float) -> None:
    """What the marks mean, under the map."""
    axes, low, left = sheet.axes, sheet.frame.low - STRIP_HEIGHT, sheet.key_left + 14.0
    unit = report.site.unit
    off = f"{report.trust.tolerance:.{unit.places}f} {unit.short}"
    open_dot: dict[str, Any] = {"mfc": PAPER_WHITE, "mec": INK, "mew": 0.5}
    at_tolerance: dict[str, Any] = {"ls": "none", "marker": "o", "ms": _AT_TOLERANCE}
    entries = (
        (f"shot {off} above the others", stroke(mew=0, **at_tolerance)),
        (f"shot {off} below the others", stroke(**at_tolerance, **open_dot)),
        ("shot that cannot be tested", stroke(ls="none", marker="x", ms=2.6, mew=0.5)),
        ("suspect shot", stroke(ms=7.0, **SUSPECT_MARK)),
        ("take a shot here", stroke(ls="none", marker="P", ms=6.0, mew=0, color=SURVEY_PINK)),
        (
            f"level line, every {interval:g} {unit.short}",
            stroke(lw=PENS["hair"], color=DIM),
        ),
    )
    right = sheet.paper.width - MARGIN - PANEL
    legend(axes, entries, (left, low, right, low + STRIP_HEIGHT))


def _draw_words(axes: Any, paper: Paper, report: SurveyReport) -> None:
    """Name, verdict, figures, suspects and places for more shots, down the side."""
    left = paper.width - MARGIN - PANEL
    y = paper.height - MARGIN
    for line in wrap(report.site.name, PANEL, 14.0, 2, bold=True):
        y -= 16.0
        write_text(axes, left, y, line, 14.0, bold=True)
    y -= 12.0
    write_text(axes, left, y, "Survey check", 8.0)
    for fact in site_facts(report.ground.site, report.ground):
        y -= 9.5
        write_text(axes, left, y, shorten(fact, PANEL, 7.0), 7.0)
    y -= 6.0
    for line in wrap(verdict(report), PANEL, 9.0, 9, bold=True):
        y -= 12.0
        write_text(axes, left, y, line, 9.0, bold=True)
    y -= 8.0
    for name, value in figures(report):
        y -= 10.5
        write_text(axes, left, y, name, 7.0)
        write_text(axes, left + PANEL, y, value, 7.0, ha="right")
    for head, lines in _lists(report):
        y -= 20.0
        if y < MARGIN + 24.0:
            break
        write_text(axes, left, y, head, 7.6, bold=True)
        y = _write_list(axes, left, y, lines)


def _lists(report: SurveyReport) -> list[tuple[str, list[str]]]:
    """The suspects, the places for more shots and the notes, each with its heading."""
    unit = report.site.unit
    suspects = [f"{points}: {reason}" for points, reason in doubts(report.ground.suspects)]
    places = [
        f"+{i}  N {number(north, 1)}  E {number(east, 1)}"
        for i, (east, north) in enumerate(more_shots(report), start=1)
    ]
    reach = f"{report.ground.coverage.reach:.0f} {unit.short}"
    notes = [*report.ground.shots.notes]
    if report.ground.coverage.sparse or report.ground.coverage.outside:
        notes.insert(0, f"Hatched: outside the survey, or over {reach} from any shot")
    lists = [
        ("Suspect shots, kept unless excluded in site.toml", suspects or ["none"]),
        ("Where to take more shots", places or ["nowhere in the bed for this tolerance"]),
    ]
    return [*lists, ("Notes", notes)] if notes else lists


def _write_list(axes: Any, left: float, y: float, lines: list[str]) -> float:
    """Lines, wrapped, as far as the sheet reaches; says how many are left out."""
    for i, text in enumerate(lines):
        parts = wrap(text, PANEL, 6.8, 3)
        if y - 9.0 * (len(parts) + 1) < MARGIN and i < len(lines) - 1:
            write_text(axes, left, y - 9.0, f"and {len(lines) - i} more: see survey.json", 6.8)
            return y - 9.0
        for part in parts:
            y -= 9.0
            write_text(axes, left, y, part, 6.8)
    return y
