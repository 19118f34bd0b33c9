"""The rake sheet: a map of the grade stakes and a table of what to read and mark at each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from dripfield.bed.design import BedDesign
from dripfield.bed.rake import GradeStakes
from dripfield.core.cautions import caution, cautions
from dripfield.core.units import Unit
from dripfield.core.words import number
from dripfield.sheets.bed.readings import Readings
from dripfield.sheets.bed.side_panel import Line, write_panel
from dripfield.sheets.bed.tables import rake_table
from dripfield.sheets.kit.blank import blank_sheet, map_sheet
from dripfield.sheets.kit.furniture import caution_line
from dripfield.sheets.kit.labels import Label, Placer
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.plan_map import Pen
from dripfield.sheets.kit.style import (
    INK,
    MARGIN,
    PAPER_WHITE,
    PENS,
    drawing_defaults,
    shorten,
    usual_papers,
    write_text,
)
from dripfield.staking.rod import Setup

_SIZE = 8.0
_LOOK = Look(size=8.0, leading=1.62)
_HEAD = 34.0  # title and words over the table [pt]


def write_rake_sheet(
    path: Path, design: BedDesign, stakes: GradeStakes, readings: Readings | None
) -> None:
    """Write the sheets as one PDF: the map first, then the table on as many pages as it takes.

    Parameters
    ----------
    path : Path
        The PDF to write.
    design : BedDesign
    stakes : GradeStakes
    readings : Readings or None
        None without a benchmark.
    """
    from matplotlib.backends.backend_pdf import PdfPages

    metadata = {"CreationDate": None, "Producer": None, "Creator": None}
    with drawing_defaults(), PdfPages(path, metadata=metadata) as pages:
        for figure in rake_figures(design, stakes, readings):
            pages.savefig(figure)


def rake_figures(
    design: BedDesign, stakes: GradeStakes, readings: Readings | None
) -> Iterator[Any]:
    """The map, then the pages of the table.

    Parameters
    ----------
    design : BedDesign
    stakes : GradeStakes
    readings : Readings or None
        None without a benchmark.

    Yields
    ------
    matplotlib Figure
        One page.
    """
    yield _map(design, stakes, readings)
    unit = design.site.unit
    paper = usual_papers(unit)[0].turned()
    width = paper.width - 2.0 * MARGIN
    setting = PaperTable(rake_table(stakes, readings, unit), _LOOK, width)
    room = (width, paper.height - 2.0 * MARGIN - _HEAD - 28.0)
    pages = [setting.blocks(0, room)]
    while pages[-1][-1].stop < len(stakes.names):
        pages.append(setting.blocks(pages[-1][-1].stop, room))
    for number_, blocks in enumerate(pages, 1):
        figure, axes = blank_sheet(paper)
        top = paper.height - MARGIN
        title = f"{design.site.name}: rake sheet {number_} of {len(pages)}"
        title = shorten(title, width, 13.0, bold=True)
        write_text(axes, MARGIN, top - 13.0, title, 13.0, bold=True)
        words = (
            f"Rod's foot on the level named; F fill, C cut from existing ground; {unit.label}; "
            f"grid {stakes.spacing:g} {unit.short}"
        )
        write_text(axes, MARGIN, top - 26.0, words, _SIZE)
        setting.draw(axes, blocks, MARGIN, top - _HEAD)
        foot = (MARGIN, MARGIN, MARGIN + width, top)
        caution_line(axes, [caution("utilities")], foot, colour=INK)
        yield figure


def _map(design: BedDesign, stakes: GradeStakes, readings: Readings | None) -> Any:
    unit = design.site.unit
    figure, axes, frame, paper, _ = map_sheet(design.site, design.footprint)
    pen = Pen(axes, frame)
    pen.area(frame.shape(design.footprint), fc="none", ec=INK, lw=PENS["medium"], zorder=3)
    dashes = (0, (4, 2))
    pen.area(frame.shape(design.inner), fc="none", ec=INK, lw=PENS["medium"], ls=dashes, zorder=3)
    pen.area(frame.shape(design.site.bed.boundary), fc="none", ec=INK, lw=PENS["bold"], zorder=3)
    points = frame.to_paper(stakes.xy)
    pen.line(points, ls="none", marker="o", ms=3.0, mfc=PAPER_WHITE, mec=INK, mew=0.7, zorder=5)
    placer = Placer(frame.window.buffer(-2.0))
    for name, at in zip(stakes.names, points, strict=True):
        places = (
            (Label(name, float(at[0] + x), float(at[1] + y), 0.0, 6.5),)
            for x, y in ((0.0, 7.0), (0.0, -7.0), (9.0, 0.0), (-9.0, 0.0))
        )
        pen.words(placer.first(places), over=6.0)
    lines: list[Line] = [
        f"{len(stakes.names)} grade stakes on a grid of {stakes.spacing:g} {unit.short}, rows "
        "across the slope from the top down.",
        "Read the rod with its foot on the sand (or the finished grade): a greater reading is low, "
        "a smaller one high.",
        f"Rake to within {_tolerance(design):g} {unit.short}.",
        "Heavy line: bed. Dashed: shoulder's edge. Thin: where the side slopes meet the ground.",
    ]
    write_panel(
        axes,
        paper,
        design.site.name,
        "Rake sheet: grade stakes",
        (
            ("", lines),
            ("Set-ups of the laser", _setups(readings.setups if readings else (), unit)),
            ("Caution", cautions("utilities", "overhead", "excavation", "wastewater", "soil")),
        ),
    )
    return figure


def _tolerance(design: BedDesign) -> float:
    return design.section.rake_tolerance or design.site.settings.level_tolerance


def _setups(setups: Sequence[Setup], unit: Unit) -> list[Line]:
    if not setups:
        return ["The site has no benchmark: add [benchmark] for rod readings."]
    places = unit.places
    lines: list[Line] = [("", "mark", "elevation", "backsight", "laser at")]
    for setup in setups:
        figures = (setup.mark_elevation, setup.backsight, setup.height)
        lines.append((f"set-up {setup.number}", setup.mark, *(number(v, places) for v in figures)))
    lines.append(
        "Where the backsight you read differs, add the difference to every reading of the set-up."
    )
    return lines
