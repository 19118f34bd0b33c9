"""The lateral table: what is staked, at what elevation, what the rod reads when it is laid."""

from __future__ import annotations

from dripfield.core.feet_inches import decimal, feet_inches
from dripfield.core.table import TICK, Cell, Column, Table, figures, text
from dripfield.crew.say import percent
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.language import Say, speaking
from dripfield.sheets.crew.sheet import type_size
from dripfield.sheets.kit.page import Page
from dripfield.sheets.kit.style import Paper
from dripfield.sheets.kit.table_pages import table_pages

_TYPE = 8.5  # [pt]


def lateral_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """The lateral table with boxes to tick."""
    say = speaking(work.settings.language)
    table = lateral_sheet(work, say)
    large = work.settings.large_print
    return table_pages(table, paper if large else paper.turned(), type_size(work, _TYPE))


def lateral_sheet(work: CrewWork, say: Say) -> Table:
    """The table as it is printed."""
    unit = work.design.site.unit
    inches = not unit.is_metric

    def length(key: str, *, bold: bool = False) -> Column:
        return figures(key, unit.places, say(f"col_{key}"), unit.short, bold=bold)

    columns = [text("staked", say("col_staked"), align="center")]
    columns += [text("lateral", say("col_lateral"), bold=True, most=18)]
    columns += [length("length"), length("elevation")]
    columns += [length("drop"), text("above", say("col_above"), most=12)]
    if work.setups:
        if len(work.setups) > 1:
            columns += [figures("setup", None, say("col_setup"))]
        columns += [length("rod", bold=True)]
        if inches:
            columns += [figures("rod_ft_in", 0, say("col_rod"), "ft-in", form=feet_inches)]
        columns += [
            figures(
                "add",
                unit.places,
                say("col_add"),
                say("col_backsight"),
                form=lambda value: f"{value + 0.0:+.{unit.places}f}",
            )
        ]
    columns += [figures("marks", None, say("col_marks"))]
    columns += [text("expected", say("col_expected"), align="right")]
    columns += [text("misses", say("col_misses"))]
    heights = {setup.number: setup for setup in work.setups}
    rows: list[list[Cell]] = []
    for row in work.laterals:
        cells: list[Cell] = [TICK, row.name, row.length, row.elevation, row.drop, row.above]
        if row.setup is not None:
            foot = row.elevation - work.settings.rod_depth
            cells += [row.setup] if len(work.setups) > 1 else []
            cells += [row.rod, *([row.rod] if inches else [])]
            cells += [heights[row.setup].mark_elevation - foot]
        rows.append([*cells, row.marks, percent(row.expected), row.mark])
    groups = [row.panel for row in work.laterals]
    return Table(columns, rows, say("title_laterals"), _notes(work, say), groups=groups)


def _notes(work: CrewWork, say: Say) -> list[str]:
    notes = [say("laterals_note")]
    if work.setups:
        unit = work.design.site.unit
        notes.append(
            say(
                "laterals_rod",
                foot=say(f"on_{work.settings.rod_foot}"),
                tolerance=decimal(work.design.site.settings.level_tolerance, unit),
                unit=unit.short,
                height=decimal(work.setups[0].height, unit),
                add=f"{say('col_add')} {say('col_backsight')}",
            )
        )
    return notes
