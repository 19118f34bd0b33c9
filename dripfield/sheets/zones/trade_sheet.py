"""The choice of longest length and number of zones, as a picture with its table beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dripfield.core.table import Table
from dripfield.core.words import plain
from dripfield.distribution.system import FieldSystem
from dripfield.hydraulics.quantities import Quantities, quantities
from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PENS,
    drawing_defaults,
    usual_papers,
    wrap,
    write_text,
)
from dripfield.sheets.zones.columns import picked
from dripfield.sheets.zones.inset import TYPE, inset
from dripfield.zones.settings import flow_to
from dripfield.zones.trade import TradeRow

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_MARKS = ("o", "s", "^", "D", "v", "P")
_DASHES = ("-", (0.0, (5.0, 2.0)), (0.0, (5.0, 1.5, 1.0, 1.5)), (0.0, (2.0, 1.5)), ":", "-.")


def trade_figure(system: FieldSystem, made: dict[str, Table]) -> Figure:
    """Draw what every sensible choice takes and gives.

    Parameters
    ----------
    system : FieldSystem
    made : dict of str to Table
        The tables of :func:`dripfield.distribution.tables.tables`.

    Returns
    -------
    matplotlib Figure
    """
    paper = usual_papers(system.design.site.unit)[0]
    figure, axes = blank_sheet(paper)
    unit, q = system.design.site.unit, quantities(system.design.site.unit)
    table = picked(
        made["trade.csv"],
        "All choices",
        {
            "longest": "longest", "zones": "zones", "joined": "joined",
            "connections": "connec-\ntions",
            "blank": "blank", "dose_flow": "dose\nflow", "flush_flow": "flush\nflow",
            "head": "head\nlost", "chosen": "chosen",
        },
    )  # fmt: skip
    setting = PaperTable(table, Look(7.2, 1.45, 5.0))
    top = paper.height - MARGIN
    with drawing_defaults():
        write_text(axes, MARGIN, top - 13.0, plain(system.design.site.name), 13.0, bold=True)
        title = "Longest length of a joined lateral and number of zones: what they take; "
        title += f"layout {system.design.code}"
        write_text(axes, MARGIN, top - 27.0, title, 9.0)
        left = paper.width - MARGIN - setting.width
        blocks = setting.blocks(0, (setting.width, top - 40.0 - MARGIN), 1)
        setting.draw(axes, blocks, left, top - 6.0)
        if blocks and blocks[0].stop < len(table.rows):
            more = f"{len(table.rows) - blocks[0].stop} more in trade.csv"
            write_text(axes, left, MARGIN, more, TYPE)
        width = left - MARGIN - 18.0
        _charts(
            axes, system, q, (MARGIN, MARGIN + 72.0, width, top - 44.0 - MARGIN - 72.0), unit.short
        )
        notes = [
            "Filled: as chosen here. Flush flow is what the zone with the most takes while its "
            "longest "
            "joined lateral just flushes; head is what is lost along that. Longest is that of the "
            "joined laterals as they are.",
            f"Chosen: {system.zones.joins.reason}; {system.zones.division.reason}. Another choice: "
            "[zones] longest and count.",
        ]
        y = MARGIN + 58.0
        for note in notes:
            for text in wrap(note, width, TYPE, 4):
                write_text(axes, MARGIN, y, text, TYPE)
                y -= 1.3 * TYPE
    return figure


def _charts(
    axes: Any,
    system: FieldSystem,
    q: Quantities,
    room: tuple[float, float, float, float],
    length: str,
) -> None:
    left, low, width, height = room
    unit = system.design.site.unit
    told = not any(one.key != "[zones] longest" for one in system.assumed)
    emits = system.figures is not None

    def flush(row: TradeRow) -> float:
        return flow_to(unit, row.flush_flow, "minute")

    charts: list[tuple[str, Any, bool]] = []
    if told and emits:
        charts.append((f"flush flow of a zone [{q.flow}]", flush, True))
    if told:
        charts.append((f"head lost in tubing [{q.head}]", lambda row: row.head, False))
    charts.append(("connections to manifolds", lambda row: row.connections, False))
    charts.append((f"blank tubing [{length}]", lambda row: row.blank, False))
    zones = sorted({row.zones for row in system.zones.trade})
    columns = 2
    rows = (len(charts) + columns - 1) // columns
    wide, tall = (width - 40.0) / columns, height / rows
    for k, (title, value, by_zone) in enumerate(charts):
        x = left + 34.0 + (k % columns) * (wide + 20.0)
        y = low + height - (k // columns + 1) * tall + 34.0
        part = inset(axes, (x, y, wide - 26.0, tall - 52.0))
        for number, count in enumerate(zones if by_zone else zones[:1]):
            rows_of = sorted(
                (row for row in system.zones.trade if row.zones == count), key=lambda r: r.longest
            )
            mark, dashes = _MARKS[number % 6], _DASHES[number % 6]
            label = f"{count} zone{'s' if count > 1 else ''}"
            part.plot(
                [row.longest for row in rows_of], [value(row) for row in rows_of], marker=mark,
                ms=4.5, mfc="white", color=INK if number % 2 == 0 else DIM, lw=PENS["medium"],
                ls=dashes, label=label,
            )  # fmt: skip
            for row in rows_of:
                if row.chosen and (not by_zone or row.zones == len(system.plan.zones)):
                    part.plot(
                        [row.longest], [value(row)], marker=mark, ms=6.5, color=INK, ls="none"
                    )
        if by_zone and len(zones) > 1:
            from dripfield.sheets.kit.style import font

            part.legend(prop=font(7.0), frameon=True, framealpha=1.0, edgecolor=DIM, ncols=2,
                        borderpad=0.3, handlelength=2.6, columnspacing=0.8)  # fmt: skip
            most = max(value(row) for row in system.zones.trade)
            part.set_ylim(0.0, 1.35 * most)
        else:
            part.set_ylim(0.0, 1.15 * max(value(row) for row in system.zones.trade) + 1e-9)
        write_text(axes, x - 4.0, y + tall - 48.0, title, TYPE, bold=True)
        write_text(
            axes, x + 0.5 * (wide - 26.0), y - 22.0, f"longest joined lateral [{length}]", TYPE,
            ha="center",
        )  # fmt: skip
