"""The plan: one sheet with the map, the lateral table beside it and the title block below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import shapely
from shapely import Polygon

from dripfield.core.words import first_few
from dripfield.design.model import Design
from dripfield.measures.field import Measured
from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.furniture import box
from dripfield.sheets.kit.map_frame import MapFrame, fit_frame
from dripfield.sheets.kit.plan_map import MapLabels, draw_map
from dripfield.sheets.kit.plan_margin import draw_strip, draw_title, strip_height, title_height
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import (
    DOTS_PER_INCH,
    MARGIN,
    Paper,
    drawing_defaults,
    save_figure,
    shorten,
    usual_papers,
)
from dripfield.sheets.plan.plan_table import PlanTable, fit_table
from dripfield.site.model import Site

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_LEGIBLE = 9.0  # laterals this far apart on the sheet can be labelled [pt]
_LABEL_BORDER = (44.0, 26.0)  # round the bed, for names beyond the ends of laterals [pt]
_GUTTER = 12.0
_MOST_COLUMNS = 4  # of the table
_LEAST_MAP = 216.0  # width that the table leaves the map [pt]
_ROWS_COST = 2.0  # a map may be so many times smaller for the sake of further rows


@dataclass(frozen=True)
class PlanSheet:
    """A drawn plan.

    Attributes
    ----------
    figure : matplotlib Figure
        Sized to the paper: saved without trimming it is true to scale.
    paper : Paper
    frame : MapFrame
        Where the map lies on the sheet, and its scale.
    labels : MapLabels
        Laterals that could not be labelled on the map.
    rows_left_out : int
        Laterals for which the table has no room.
    """

    figure: Figure
    paper: Paper
    frame: MapFrame
    labels: MapLabels
    rows_left_out: int


@dataclass(frozen=True)
class _Arrangement:
    paper: Paper
    table: PlanTable
    frame: MapFrame


def plan_figure(design: Design, relief: Relief, *, paper: Paper | None = None) -> PlanSheet:
    """Draw the plan.

    Parameters
    ----------
    design : Design
    relief : Relief
        :func:`dripfield.sheets.kit.relief.show_relief` makes it.
    paper : Paper, optional
        Used as it is. Otherwise the smaller of the unit's two usual sheets, upright or lying, on
        which laterals stand far enough apart to be labelled and the table has room.

    Returns
    -------
    PlanSheet
    """
    arrangement = _arrange(design.site, design.measured, paper)
    sheet, frame, table = arrangement.paper, arrangement.frame, arrangement.table
    figure, axes = blank_sheet(sheet, DOTS_PER_INCH)
    with drawing_defaults():
        labels = draw_map(axes, frame, design, relief, type_scale=sheet.type_scale)
        draw_strip(axes, frame, sheet, design, relief)
        table.draw(axes, frame.left + frame.width + _GUTTER, frame.low + frame.height)
        draw_title(
            axes,
            (MARGIN, MARGIN, sheet.width - 2.0 * MARGIN, title_height(sheet)),
            design,
            relief,
            extra=_unplaced_note(labels),
            type_scale=sheet.type_scale,
        )
        box(axes, (frame.left, frame.low, frame.width, frame.height))
    return PlanSheet(figure, sheet, frame, labels, table.left_out)


def write_plan(sheet: PlanSheet, path: Path) -> None:
    """Save a plan as PNG, PDF or SVG by the file's ending; the same plan gives the same bytes."""
    save_figure(sheet.figure, path)


def _arrange(site: Site, measured: Measured, paper: Paper | None) -> _Arrangement:
    """Choose the sheet, its orientation, the table's columns and the scale."""
    bed = site.bed
    ground: Polygon = shapely.convex_hull(shapely.union_all([bed.boundary, *bed.keepouts]))
    if paper is not None:
        return _best(site, measured, ground, [paper])
    small, large = (
        _best(site, measured, ground, [sheet, sheet.turned()]) for sheet in usual_papers(site.unit)
    )
    legible = small.frame.scale.paper(site.settings.spacing) >= _LEGIBLE
    no_gain = small.frame.scale.per_point <= large.frame.scale.per_point
    fits = not small.table.left_out
    return small if fits and (legible or no_gain) else large


def _best(site: Site, measured: Measured, ground: Polygon, papers: Sequence[Paper]) -> _Arrangement:
    """All rows, unless they cost the map too much, then a large scale, north up, large type."""
    options = [
        _on_paper(site, measured, ground, paper, columns)
        for paper in papers
        for columns in range(1, _MOST_COLUMNS + 1)
    ]
    options = [one for one in options if one.frame.width > _LEAST_MAP or one is options[0]]
    largest = min(one.frame.scale.per_point for one in options)
    return min(
        (one for one in options if one.frame.scale.per_point <= _ROWS_COST * largest),
        key=lambda one: (
            one.table.left_out,
            one.frame.scale.per_point,
            one.frame.turn != 0.0,
            -one.table.size,
            one.table.columns,
        ),
    )


def _on_paper(
    site: Site, measured: Measured, ground: Polygon, paper: Paper, columns: int
) -> _Arrangement:
    low = MARGIN + title_height(paper) + strip_height(paper)
    height = paper.height - MARGIN - low
    table = fit_table(measured, site.unit, height, columns, paper.type_scale)
    width = paper.width - 2.0 * MARGIN - table.width - _GUTTER
    frame = fit_frame(site.unit, ground, (MARGIN, low, width, height), _LABEL_BORDER)
    return _Arrangement(paper, table, frame)


def _unplaced_note(labels: MapLabels) -> list[str]:
    notes = []
    if labels.unnamed:
        names = first_few([shorten(name, 60.0, 8.0) for name in labels.unnamed], 8)
        notes.append(f"No room on the map for the names {names}: see table.")
    if labels.unnamed_shots:
        notes.append(f"No room beside suspect shots: {', '.join(labels.unnamed_shots)}.")
    if labels.without_figures:
        count = len(labels.without_figures)
        notes.append(f"All figures of {count} short or crowded laterals: see table.")
    return notes
