"""The day as bars: tasks by crew and time, the critical path, who waits for whom, what if."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from dripfield.core.cautions import Topic, cautions
from dripfield.core.table import TICK, Table, figures, text
from dripfield.preparation.day import DayPlan
from dripfield.preparation.prepared import Prepared
from dripfield.preparation.schedule import Planned
from dripfield.sheets.kit.blank import blank_sheet
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    MARGIN,
    PALE,
    PAPER_WHITE,
    PENS,
    Paper,
    save_figure,
    shorten,
    text_width,
    wrap,
    write_text,
)
from dripfield.sheets.preparation.sheet import Page, Rectangle, body, table_pages, write_notes

TOPICS: tuple[Topic, ...] = ("utilities", "electricity", "soil")
_ROW = 20.0  # least height of a task's row [pt]
_TYPE = 9.0
_AXIS = 34.0  # over the bars, for clock times [pt]
_KEY = 18.0  # under them, for the key [pt]


def day_pages(found: Prepared, paper: Paper) -> list[Page]:
    """Bars, then the tasks with their times, then what if."""
    day = found.preparation.day
    tasks = day.schedule.tasks
    _, _, _, height = body(paper, TOPICS)
    most = int((height - _AXIS - _KEY) / _ROW)
    words, shown = [*_waits(day), *day.notes], False
    pages = []
    for first in range(0, len(tasks), most):
        title = "Day plan" if first == 0 else "Day plan, continued"
        some = tasks[first : first + most]
        last = first + most >= len(tasks) and len(some) < most - 6
        pages.append(Page(title, TOPICS, _bars(day, some, words if last else ())))
        shown = shown or last
    pages += table_pages(_times(day, () if shown else words), paper, TOPICS)
    pages += table_pages(_what_if(day), paper, TOPICS)
    return pages


def write_day_chart(found: Prepared, path: Path) -> None:
    """Write ``day.png``: all tasks on one picture as high as it takes."""
    day, site = found.preparation.day, found.design.site
    rows = day.schedule.tasks
    width = 792.0
    room = width - 2.0 * MARGIN
    words = [*_waits(day), *day.notes, *cautions(*TOPICS)]
    lines = [line for one in words for line in wrap(one, room, 8.5, 10)]
    high = 1.2 * _ROW * len(rows) + _AXIS + _KEY
    foot = 1.35 * 8.5 * len(lines) + 2.0 * len(words) + 10.0
    paper = Paper("day", width, high + foot + 2.0 * MARGIN + 34.0, "day")
    figure, axes = blank_sheet(paper)
    top = paper.height - MARGIN
    date = f", {found.tables.day.date}" if found.tables.day.date else ""
    write_text(axes, MARGIN, top - 14.0, f"Day plan{date}", 13.0, bold=True)
    name = f"{site.name}, layout {found.design.code}"
    title = text_width(f"Day plan{date}", 13.0, bold=True) + 20.0
    write_text(axes, MARGIN + title, top - 14.0, shorten(name, room - title, 10.0), 10.0)
    low = top - 34.0 - high
    _bars(day, rows)(axes, (MARGIN, low, room, high))
    write_notes(axes, words, MARGIN, low - 4.0, room)
    save_figure(figure, path)


def _bars(day: DayPlan, rows: Sequence[Planned], words: Sequence[str] = ()) -> Any:
    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, width, height = rectangle
        crews = max(text_width(one.task.crew, _TYPE) for one in rows)
        names = max(text_width(one.task.name, _TYPE, bold=True) for one in rows)
        names, crews = min(names, 0.32 * width), min(crews, 0.16 * width)
        start = left + names + crews + 24.0
        end = max(day.schedule.end, day.end - day.start)
        scale = (left + width - start - 30.0) / max(end, 0.5)
        top = low + height - _AXIS
        step = min((top - low - _KEY) / len(rows), 30.0)
        bottom = top - step * len(rows)
        _hours(axes, day, (start, scale, end), (bottom, top))
        for i, one in enumerate(rows):
            y = top - (i + 0.5) * step
            base = y - 0.36 * _TYPE
            name = shorten(one.task.name, names, _TYPE, bold=one.critical)
            write_text(axes, left, base, name, _TYPE, bold=one.critical)
            crew = shorten(one.task.crew, crews, _TYPE)
            write_text(axes, left + names + 12.0, base, crew, _TYPE, color=DIM)
            axes.plot([left, left + width], [y - 0.5 * step] * 2, color=PALE, lw=PENS["hair"])
            _bar(axes, one, start, scale, y, 0.55 * step)
        _key(axes, start, bottom - _KEY + 4.0)
        if words:
            write_notes(axes, words, left, bottom - _KEY - 6.0, width)

    return draw


def _hours(
    axes: Any,
    day: DayPlan,
    along: tuple[float, float, float],
    between: tuple[float, float],
) -> None:
    """Clock times over the bars, and the end of work."""
    start, scale, end = along
    bottom, top = between
    step = next((h for h in (1, 2, 3, 4, 6, 12, 24) if h * scale >= 34.0), 48)
    first = math.ceil(day.start / step - 1e-9) * step
    for hour in range(first, math.floor(day.start + end) + 1, step):
        x = start + (hour - day.start) * scale
        axes.plot([x, x], [bottom, top + 3.0], color=PALE, lw=PENS["hair"], zorder=0.5)
        label = f"{hour % 24:02d}:00" + (f" +{hour // 24} d" if hour >= 24 else "")
        write_text(axes, x, top + 6.0, label, 8.0, ha="center")
    x = start + (day.end - day.start) * scale
    axes.plot([x, x], [bottom, top + 3.0], color=INK, lw=PENS["medium"], ls=(0, (6, 3)))
    write_text(axes, x, top + 18.0, "end of work", 8.0, ha="center", bold=True)


def _bar(axes: Any, one: Planned, start: float, scale: float, y: float, thick: float) -> None:
    """A task: filled where it is critical, else open with its slack behind it."""
    a, b = (start + hours * scale for hours in (one.earliest_start, one.earliest_finish))
    b = max(b, a + 1.5)
    corners = [a, b, b, a]
    sides = [y - 0.5 * thick, y - 0.5 * thick, y + 0.5 * thick, y + 0.5 * thick]
    fill = INK if one.critical else PAPER_WHITE
    axes.fill(corners, sides, fc=fill, ec=INK, lw=PENS["medium"], zorder=3)
    last = b
    if one.slack > 1e-6:
        last = start + one.latest_finish * scale
        axes.plot([b, last], [y, y], color=INK, lw=PENS["medium"], ls=(0, (1, 2)), zorder=2)
        axes.plot([last, last], [y - 4.0, y + 4.0], color=INK, lw=PENS["medium"], zorder=2)
    label = f"{one.task.duration:g} h"
    if text_width(label, 8.0) + 4.0 <= b - a:
        colour = PAPER_WHITE if one.critical else INK
        middle = 0.5 * (a + b)
        write_text(axes, middle, y - 2.9, label, 8.0, ha="center", color=colour, zorder=4)
    else:
        write_text(axes, last + 3.0, y - 2.9, label, 8.0, zorder=4)


def _key(axes: Any, x: float, y: float) -> None:
    for label, critical, slack in (
        ("critical: late here is late at the end", True, False),
        ("has slack", False, False),
        ("slack", False, True),
    ):
        if slack:
            axes.plot([x, x + 20.0], [y + 3.0] * 2, color=INK, lw=PENS["medium"], ls=(0, (1, 2)))
            axes.plot([x + 20.0] * 2, [y - 0.5, y + 6.5], color=INK, lw=PENS["medium"])
        else:
            fill = INK if critical else PAPER_WHITE
            box = [y - 0.5, y - 0.5, y + 6.5, y + 6.5]
            axes.fill([x, x + 20.0, x + 20.0, x], box, fc=fill, ec=INK, lw=PENS["medium"])
        write_text(axes, x + 25.0, y, label, 8.0)
        x += 25.0 + text_width(label, 8.0) + 18.0


def _waits(day: DayPlan) -> list[str]:
    waits = [
        f"{one.crew} waits {one.hours:.1f} h for {one.its_crew} ({one.waits_for}) before {one.task}"
        for one in day.schedule.waits
    ]
    path = f"Critical path: {', '.join(day.schedule.critical_path)}."
    return [path, *([f"Who waits for whom: {'; '.join(waits)}."] if waits else [])]


def _times(day: DayPlan, notes: Sequence[str]) -> Table:
    columns = (
        text("done", align="center"),
        text("task", bold=True, most=40),
        text("crew"),
        text("after", wide=True, most=60),
        text("starts", align="right"),
        text("ends", align="right"),
        figures("duration", 2, unit="h"),
        figures("slack", 2, unit="h"),
        text("critical"),
        text("source"),
    )
    rows = [
        (
            *(TICK, one.task.name, one.task.crew, ", ".join(one.task.after) or "–"),
            *(day.clock(one.earliest_start), day.clock(one.earliest_finish)),
            *(one.task.duration, one.slack, "yes" if one.critical else "", one.task.source),
        )
        for one in day.schedule.tasks
    ]
    return Table(columns, rows, "Day plan: tasks", notes=notes)


def _what_if(day: DayPlan) -> Table:
    columns = (
        text("case", bold=True, most=44),
        text("inspection", align="right"),
        text("backfill", align="right"),
        text("end", align="right"),
        text("what it does", wide=True, most=120),
    )
    rows = [
        (
            one.case,
            *(
                "cannot be done" if value is None else day.clock(value)
                for value in (one.inspection, one.backfill, one.end)
            ),
            one.text,
        )
        for one in day.effects
    ]
    return Table(columns, rows, "Day plan: what if", notes=["Times are when each is finished."])
