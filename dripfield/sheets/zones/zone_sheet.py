"""The sheet of the zones: map to a stated scale, tables beside it, title block below."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dripfield.core.cautions import cautions
from dripfield.core.table import Table
from dripfield.core.words import counted, first_few
from dripfield.distribution.system import FieldSystem
from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.furniture import (
    STRIP_HEIGHT,
    Block,
    Entry,
    box,
    legend,
    north_arrow,
    patch,
    scale_bar,
    stroke,
    title_block,
)
from dripfield.sheets.kit.map_frame import MapFrame, fit_frame
from dripfield.sheets.kit.notes import site_facts
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.plan_map import KEEPOUT_HATCH, SETBACK_DASHES
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import (
    DIM,
    DOTS_PER_INCH,
    INK,
    MARGIN,
    PAPER_WHITE,
    PENS,
    Paper,
    drawing_defaults,
    usual_papers,
    write_text,
)
from dripfield.sheets.zones.columns import picked
from dripfield.sheets.zones.looks import BLANK, RETURN, SUPPLY, zone_look
from dripfield.sheets.zones.zone_map import ZoneMap, shown_ground

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_TITLE = 118.0  # height of the title block [pt]
_STRIP = 1.4 * STRIP_HEIGHT
_GUTTER = 12.0
_BORDER = (26.0, 22.0)
_LEGIBLE = 10.0  # laterals this far apart on the sheet can carry a name [pt]


def zone_figure(system: FieldSystem, made: dict[str, Table], relief: Relief) -> Figure:
    """Draw the sheet of all zones.

    Parameters
    ----------
    system : FieldSystem
    made : dict of str to Table
        The tables of :func:`dripfield.distribution.tables.tables`.
    relief : Relief

    Returns
    -------
    matplotlib Figure
        Sized to the paper, true to the scale that it states.
    """
    beside = [PaperTable(one, Look(8.0, 1.6, 7.0)) for one in _tables_beside(made)]
    width = max(one.width for one in beside)
    paper, frame = _arrange(system, width)
    figure, axes = blank_sheet(paper, DOTS_PER_INCH)
    with drawing_defaults():
        unnamed = ZoneMap(axes, frame, system, relief).draw()
        box(axes, (frame.left, frame.low, frame.width, frame.height))
        _strip(axes, frame, paper, system, relief)
        left, top = frame.left + frame.width + _GUTTER, frame.low + frame.height
        for setting in beside:
            write_text(axes, left, top - 9.0, setting.table.title, 9.0, bold=True)
            blocks = setting.blocks(0, (width, top - 14.0 - MARGIN - _TITLE), 1)
            top = setting.draw(axes, blocks, left, top - 13.0) - 10.0
        _title(axes, paper, system, unnamed)
    return figure


def _arrange(system: FieldSystem, beside: float) -> tuple[Paper, MapFrame]:
    """The smaller sheet where laterals can be named on it, else the larger."""
    site, ground = system.design.site, shown_ground(system).convex_hull
    options = []
    for paper in usual_papers(site.unit):
        low = MARGIN + _TITLE + _STRIP
        width = paper.width - 2.0 * MARGIN - beside - _GUTTER
        rectangle = (MARGIN, low, width, paper.height - MARGIN - low)
        options.append((paper, fit_frame(site.unit, ground, rectangle, _BORDER)))
    small, large = options
    if small[1].scale.paper(site.settings.spacing) >= _LEGIBLE:
        return small
    return large


def _tables_beside(made: dict[str, Table]) -> list[Table]:
    """Zones, and the pump's duty, as many columns as are read on a plan."""
    found = [
        picked(
            made["zones.csv"],
            "Zones",
            {
                "zone": "zone", "joined": "joined", "tubing": "tubing", "emitters": "emit-\nters",
                "area": "area", "dose_flow": "dose\nflow", "flush_flow": "flush flow\nat least",
                "share": "share\nof day",
            },
        )
    ]  # fmt: skip
    if made["duty.csv"].rows:
        found.append(
            picked(
                made["duty.csv"],
                "Duty of the pump",
                {
                    "zone": "zone", "state": "state", "flow": "flow", "head": "head",
                    "other_loss": "filter,\nvalve …", "throttle": "throttle",
                },
            )
        )  # fmt: skip
    return found


def _strip(axes: Any, frame: MapFrame, paper: Paper, system: FieldSystem, relief: Relief) -> None:
    middle = frame.low - 0.5 * _STRIP
    unit = system.design.site.unit
    north_arrow(axes, frame.left + 16.0, middle - 3.0, frame.turn)
    right = scale_bar(axes, frame, paper, unit, frame.left + 44.0, middle - 0.5 * STRIP_HEIGHT)
    room = (right + 18.0, middle - 0.5 * _STRIP, paper.width - MARGIN, middle + 0.5 * _STRIP)
    legend(axes, _entries(system, relief), room, 1.1)


def _entries(system: FieldSystem, relief: Relief) -> list[Entry]:
    plan, site = system.plan, system.design.site
    entries: list[Entry] = []
    for number, zone in enumerate(plan.zones):
        entries.append((f"laterals of {zone.name}", _zone_swatch(number)))
    entries.append(("blank tubing, no emitters", stroke(**BLANK)))
    entries.append(("supply line and manifold", stroke(**SUPPLY)))
    entries.append(("return line and manifold", stroke(**RETURN)))
    entries.append(("flow in a lateral", _flow_swatch))
    entries.append(("valve of a zone", _valve_swatch))
    entries.append(
        ("air and vacuum release", stroke(ls="none", marker="o", ms=5.5, mfc=PAPER_WHITE, mew=0.9))
    )
    entries.append(("bed", stroke(lw=PENS["bold"])))
    if site.bed.keepouts:
        entries.append(("keepout", patch(INK, KEEPOUT_HATCH)))
    if site.bed.setbacks:
        entries.append(("setback of laterals", stroke(lw=0.7, ls=SETBACK_DASHES)))
    if relief.levels:
        entries.append(
            (f"level line, every {relief.interval:g} {site.unit.short}",
             stroke(lw=PENS["hair"], color=DIM))
        )  # fmt: skip
    return entries


def _zone_swatch(number: int) -> Any:
    look = zone_look(number)

    def draw(axes: Any, x: float, y: float) -> None:
        axes.fill(
            [x, x + 22, x + 22, x], [y - 4, y - 4, y + 4, y + 4], fc=look.wash, ec=DIM, lw=0.4
        )
        axes.plot([x, x + 22], [y, y], lw=PENS["lateral"], color=look.ink, ls=look.dashes)

    return draw


def _flow_swatch(axes: Any, x: float, y: float) -> None:
    axes.plot([x, x + 22], [y, y], lw=PENS["lateral"], color=INK)
    axes.fill([x + 14, x + 8, x + 8], [y, y + 2.0, y - 2.0], fc=INK, ec=INK, lw=0.2)


def _valve_swatch(axes: Any, x: float, y: float) -> None:
    axes.fill([x + 6, x + 6, x + 16, x + 16], [y + 3, y - 3, y + 3, y - 3], fc=INK, ec=INK, lw=0.6)


def _title(axes: Any, paper: Paper, system: FieldSystem, unnamed: list[str]) -> None:
    design = system.design
    word = "FAIL" if system.failed else "not proven" if system.not_proven else "pass"
    said = [
        f"{word}: {len(system.failed)} of {counted(len(system.checks), 'check')} failed, "
        f"{len(system.not_proven)} not proven; see the table of checks."
    ]
    said += [f"FAILS: {one.requirement}: {one.where or one.value}" for one in system.failed[:4]]
    said += [f"Not proven: {one.requirement}: {one.where}" for one in system.not_proven[:4]]
    if unnamed:
        said.append(f"No room on the map for {first_few(unnamed)}: see the zone's own sheet.")
    notes = [f"{note[:1].upper()}{note[1:]}." for note in system.plan.notes]
    head = f"Zones and pipes, layout {design.code}"
    blocks = (
        Block(0.25, head, site_facts(design.site, design.ground), design.site.name),
        Block(0.25, "How they were chosen", notes),
        Block(0.24, "Design checks", said),
        Block(0.26, "Caution", cautions("utilities", "wastewater", "frost")),
    )
    room = (MARGIN, MARGIN, paper.width - 2.0 * MARGIN, _TITLE)
    title_block(axes, room, blocks, paper.type_scale)
