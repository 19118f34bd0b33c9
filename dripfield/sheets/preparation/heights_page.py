"""Heights around tanks, enclosures and lines: side sketches with what was looked at."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from dripfield.core.cautions import Topic
from dripfield.core.table import Table, figures, text
from dripfield.core.units import Unit
from dripfield.hydraulics.tank_shape import water_unit
from dripfield.preparation.enclosure import EnclosureHeights
from dripfield.preparation.gather import Line
from dripfield.preparation.heights import Finding, TankHeights
from dripfield.preparation.prepared import Prepared
from dripfield.sheets.kit.paper_table import Look, PaperTable
from dripfield.sheets.kit.style import Paper, write_text
from dripfield.sheets.preparation.enclosure_sketch import draw_enclosure
from dripfield.sheets.preparation.line_sketch import draw_line
from dripfield.sheets.preparation.sheet import Drawing, Page, Rectangle, write_notes
from dripfield.sheets.preparation.tank_sketch import TankSketch
from dripfield.site.schema.preparation import EnclosureTable, TankTable

_TANK: tuple[Topic, ...] = ("excavation", "lids", "wastewater", "electricity")
_ENCLOSURE: tuple[Topic, ...] = ("excavation", "utilities")
_LINE: tuple[Topic, ...] = ("utilities", "excavation", "frost")
_HINTS = (
    "Hints (common practice, no source): a lid ends at finished grade or up to an inch (25 mm) over"
    " it, the ground sloped away from it; a lid is locked or weighs more than a child lifts; a tank"
    " is filled as it is backfilled."
)


def heights_pages(found: Prepared, paper: Paper) -> list[Page]:
    """A page a tank, enclosures three to a page, lines two to a page."""
    made, unit = found.preparation, found.design.site.unit
    pages = []
    for table, tank in zip(found.tables.tanks, made.tanks, strict=True):
        own = [one for one in made.findings if one.text.startswith(f"{tank.name}:")]
        drawing = _tank_page(table, tank, own, unit)
        pages.append(Page(f"Heights and water: {tank.name}", _TANK, drawing))
    boxes = list(zip(found.tables.enclosures, made.enclosures, strict=True))
    for first in range(0, len(boxes), 3):
        some = boxes[first : first + 3]
        pages.append(Page("Heights: enclosures", _ENCLOSURE, _enclosure_page(some, unit)))
    lines = found.known.lines
    for first in range(0, len(lines), 2):
        two = lines[first : first + 2]
        names = " and ".join(one.name for one in two)
        pages.append(Page(f"Profile: {names}", _LINE, _line_page(two, unit)))
    return pages


def _tank_page(
    table: TankTable, tank: TankHeights, findings: Sequence[Finding], unit: Unit
) -> Drawing:
    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, width, height = rectangle
        sketch = 0.68 * width
        TankSketch(table, tank, unit).draw(axes, (left, low, sketch, height))
        x, room = left + sketch + 14.0, width - sketch - 14.0
        y = low + height
        if tank.volumes:
            setting = PaperTable(_levels(tank, unit), Look(9.0), room)
            y = setting.draw(axes, [range(len(tank.volumes))], x, y) - 8.0
        lines = [f"{one.verdict.upper()}: {one.what}: {_bare(one, tank.name)}." for one in findings]
        if tank.start_water is not None:
            start = f"Water to start up: {tank.start_water:,.0f} {water_unit(unit)}"
            minutes = tank.fill_minutes
            lines.append(start + (f", {minutes:,.0f} min by the hose." if minutes else "."))
        lines += [f"Left out: {note.removeprefix(f'{tank.name}: ')}." for note in tank.notes]
        write_notes(axes, [*lines, _HINTS], x, y, room)

    return draw


def _bare(one: Finding, name: str) -> str:
    return one.text.removeprefix(f"{name}: ").rstrip(".")


def _levels(tank: TankHeights, unit: Unit) -> Table:
    columns = (
        text("level", bold=True),
        figures("height", unit.places, head="over floor", unit=unit.short),
        figures("water", 0, unit=water_unit(unit)),
        figures("more", 0, head="more than\nbelow", unit=water_unit(unit)),
    )
    steps = [None, *(b[2] - a[2] for a, b in pairwise(tank.volumes))]
    rows = [
        (name, height, volume, step)
        for (name, height, volume), step in zip(tank.volumes, steps, strict=True)
    ]
    return Table(columns, rows[::-1])


def _enclosure_page(some: Sequence[tuple[EnclosureTable, EnclosureHeights]], unit: Unit) -> Drawing:
    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, width, height = rectangle
        room = min((width + 18.0) / len(some), 0.62 * width) - 18.0
        foot = 0.28 * height
        for i, (table, found) in enumerate(some):
            x = left + i * (room + 18.0)
            write_text(axes, x, low + height - 14.0, found.name, 10.0, bold=True)
            draw_enclosure(axes, table, found, unit, (x, low + foot, room, height - foot - 20.0))
            verdict = "PASS" if found.within else "FAIL"
            notes = [f"{verdict}: {found.text}."]
            write_notes(axes, notes, x, low + foot - 4.0, room)

    return draw


def _line_page(lines: Sequence[Line], unit: Unit) -> Drawing:
    def draw(axes: Any, rectangle: Rectangle) -> None:
        left, low, width, height = rectangle
        each = height / 2.0
        top = low + height
        for one in lines:
            name = one.name if one.name == one.use else f"{one.name} ({one.use})"
            write_text(axes, left, top - 13.0, name, 10.0, bold=True)
            findings = one.profile.findings if one.profile else ()
            notes = [f"{found.verdict.upper()}: {found.what}: {found.text}." for found in findings]
            share = 0.66 if notes else 1.0
            room = (left, top - each + 8.0, share * width, each - 26.0)
            draw_line(axes, one, unit, room)
            if notes:
                x = left + share * width + 8.0
                write_notes(axes, notes, x, top - 20.0, (1.0 - share) * width - 8.0)
            top -= each

    return draw
