"""The plan as a set of sheets: the whole bed first, parts where it is large, tables after it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shapely import Polygon

from dripfield.core.words import first_few, plain
from dripfield.design.model import Design
from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.furniture import box
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.plan_map import MapLabels, draw_map
from dripfield.sheets.kit.plan_margin import draw_strip, draw_title, title_height
from dripfield.sheets.kit.ramp import elevation_ramp
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import (
    DOTS_PER_INCH,
    INK,
    MARGIN,
    PAPER_WHITE,
    PENS,
    Paper,
    drawing_defaults,
    save_figure,
    shorten,
    write_text,
)
from dripfield.sheets.kit.tiles import (
    cores_on,
    draw_key_map,
    draw_match_lines,
    laterals_on,
    match_areas,
)
from dripfield.sheets.plan.arrange import Arrangement, arrange
from dripfield.sheets.plan.table_sheets import TableSheet, sheet_mark, table_sheets

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_KEY = 96.0  # width of the key map [pt]


@dataclass(frozen=True)
class PlanSheet:
    """A drawn sheet with a map.

    Attributes
    ----------
    figure : matplotlib Figure
        Sized to the paper: saved without trimming it is true to scale.
    paper : Paper
    frame : MapFrame
        Where the map lies on the sheet, and its scale.
    labels : MapLabels
        Laterals that could not be labelled on the map.
    """

    figure: Figure
    paper: Paper
    frame: MapFrame
    labels: MapLabels


class Plan:
    """A plan: arranged when it is made, drawn sheet by sheet when it is written.

    Parameters
    ----------
    design : Design
    relief : Relief
        :func:`dripfield.sheets.kit.relief.show_relief` makes it.
    paper : Paper, optional
        The smaller of the unit's two usual sheets on which laterals can be told apart unless given.
    scale : float, optional
        Feet to the inch, or N of 1:N, instead of the largest that fits.

    Raises
    ------
    InputError
        The scale is not a usual one, or takes too many sheets.
    """

    def __init__(
        self,
        design: Design,
        relief: Relief,
        paper: Paper | None = None,
        scale: float | None = None,
    ) -> None:
        self.design, self.relief = design, relief
        self.arrangement: Arrangement = arrange(design, paper, scale)
        self._ramp = elevation_ramp(design)
        self._tables: list[TableSheet] = table_sheets(design, relief, self.arrangement.paper)

    @property
    def count(self) -> int:
        """Sheets in all."""
        parts = self.arrangement.parts
        return 1 + (0 if parts is None else len(parts.tiles)) + len(self._tables)

    @cached_property
    def first(self) -> PlanSheet:
        """The sheet with the whole bed."""
        one = self.arrangement
        sheet = self._map_sheet(one.paper, one.whole, 1)
        if one.parts is not None:
            self._outline_parts(sheet)
        return sheet

    def part(self, index: int) -> PlanSheet:
        """A sheet with a part of the bed, counted from 0."""
        tiling = self.arrangement.parts
        if tiling is None:
            raise IndexError("the plan has no parts")
        tile = tiling.tiles[index]
        sheet = self._map_sheet(
            tiling.paper,
            tile.frame,
            2 + index,
            part=f"part {index + 1}",
            kept=match_areas(tiling, tile),
        )
        axes = sheet.figure.axes[0]
        draw_match_lines(axes, tiling, tile)
        low = MARGIN + title_height(tiling.paper) + 4.0
        room = (tiling.paper.width - MARGIN - _KEY, low, _KEY, tile.frame.low - low - 4.0)
        draw_key_map(axes, self.design.site.bed.boundary, tiling, tile, room)
        return sheet

    def figures(self) -> Iterator[Figure]:
        """Every sheet in order, each drawn when it is asked for."""
        yield self.first.figure
        parts = self.arrangement.parts
        drawn = 1
        for index in range(0 if parts is None else len(parts.tiles)):
            yield self.part(index).figure
            drawn += 1
        for table in self._tables:
            drawn += 1
            yield table.draw(drawn, self.count)

    def _map_sheet(
        self,
        paper: Paper,
        frame: MapFrame,
        number: int,
        part: str = "",
        kept: Sequence[Polygon] = (),
    ) -> PlanSheet:
        design = self.design
        figure, axes = blank_sheet(paper, DOTS_PER_INCH)
        with drawing_defaults():
            shown = laterals_on(design, frame.ground) if part else design
            labels = draw_map(
                axes,
                frame,
                shown,
                self.relief,
                type_scale=paper.type_scale,
                ramp=self._ramp,
                kept=kept,
                names_only=not part and self.arrangement.parts is not None,
            )
            strip = frame if not part else _narrower(frame)
            draw_strip(axes, strip, paper, design, self.relief)
            draw_title(
                axes,
                (MARGIN, MARGIN, paper.width - 2.0 * MARGIN, title_height(paper)),
                design,
                self.relief,
                extra=self._unplaced(labels, overview=not part),
                type_scale=paper.type_scale,
                more=f"… all of it on sheet {self.count}",
            )
            box(axes, (frame.left, frame.low, frame.width, frame.height))
            sheet_mark(axes, paper, design, f"Plan{', ' if part else ''}{part}", number, self.count)
        return PlanSheet(figure, paper, frame, labels)

    def _outline_parts(self, sheet: PlanSheet) -> None:
        """The further sheets on the map of the whole bed, with their numbers."""
        tiling, axes = self.arrangement.parts, sheet.figure.axes[0]
        if tiling is None:
            return
        with drawing_defaults():
            for number, core in enumerate(cores_on(sheet.frame, tiling), 1):
                shown = core.intersection(sheet.frame.window.buffer(-2.0))
                x0, _, _, y1 = shown.bounds
                axes.plot(*shown.exterior.xy, color=INK, lw=PENS["medium"], ls=(0, (2, 4)))
                words = f"part {number}"
                place = (x0 + 4.0, y1 - 14.0)
                label = write_text(axes, *place, words, 10.0, bold=True, zorder=9)
                label.set_bbox({"fc": PAPER_WHITE, "ec": INK, "lw": PENS["thin"], "pad": 2.0})

    def _unplaced(self, labels: MapLabels, *, overview: bool) -> list[str]:
        """What the map could not say, the gravest first."""
        notes = [f"{one}." for one in labels.told]
        if labels.unnamed_shots:
            notes.append(f"No room beside suspect shots: {', '.join(labels.unnamed_shots)}.")
        if overview and self.arrangement.parts is not None:
            parts = self.arrangement.parts
            scale = parts.scale.text
            notes.insert(0, f"In {len(parts.tiles)} parts at {scale} on the sheets that follow.")
            return notes
        if labels.unnamed:
            names = first_few([shorten(name, 60.0, 8.0) for name in labels.unnamed], 8)
            notes.append(f"No room on the map for the names {names}: see the table.")
        if labels.without_figures:
            count = len(labels.without_figures)
            notes.append(f"Length and elevation of {count} short or crowded laterals: see table.")
        return notes


def _narrower(frame: MapFrame) -> MapFrame:
    """The frame as far as the key map leaves it the strip."""
    from dataclasses import replace

    return replace(frame, width=frame.width - _KEY - 10.0)


def plan_figure(design: Design, relief: Relief, *, paper: Paper | None = None) -> PlanSheet:
    """Draw the first sheet of a plan.

    Parameters
    ----------
    design : Design
    relief : Relief
    paper : Paper, optional

    Returns
    -------
    PlanSheet
    """
    return Plan(design, relief, paper).first


def write_plan(sheet: PlanSheet, path: Path) -> None:
    """Save a sheet as PNG, PDF or SVG by the file's ending; the same sheet gives the same bytes."""
    save_figure(sheet.figure, path)


def write_plan_pdf(plan: Plan, path: Path) -> None:
    """Write every sheet of a plan to one PDF; the same plan gives the same bytes."""
    from matplotlib.backends.backend_pdf import PdfPages

    metadata: dict[str, Any] = {
        "Title": plain(plan.design.site.name),
        "Subject": "Plan of laterals",
        "Creator": "dripfield",
        "Producer": None,
        "CreationDate": None,
    }
    with drawing_defaults(), PdfPages(path, metadata=metadata) as pdf:
        for figure in plan.figures():
            pdf.savefig(figure)
