"""The set's tables: laterals, stakes, rod readings, flags and paint."""

from __future__ import annotations

from collections.abc import Callable

from dripfield.core.feet_inches import decimal, feet_inches
from dripfield.core.table import TICK, Cell, Column, Table, figures, text
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.sheet import Page
from dripfield.sheets.crew.table_pages import table_pages
from dripfield.sheets.crew.words import setup_words
from dripfield.sheets.kit.style import Paper


def _length(key: str, work: CrewWork, *, bold: bool = False) -> Column:
    """A column of lengths in the site's unit, as a crew reads them."""
    return figures(key, work.design.site.unit.places, unit=work.design.site.unit.short, bold=bold)


def _inches(key: str, *, bold: bool = False) -> Column:
    """The same in feet, inches and eighths."""
    return figures(f"{key}_ft_in", 0, key, "ft-in", form=feet_inches, bold=bold)


def lateral_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """The lateral table with boxes to tick."""
    unit = work.design.site.unit
    inches = not unit.is_metric
    emitters = work.design.site.file.emitters is not None
    columns = [text("staked", align="center"), text("lateral", bold=True), _length("length", work)]
    columns += [_inches("length")] if inches else []
    columns += [_length("elevation", work), _length("drop", work)]
    if work.setups:
        columns += [figures("set-up"), _length("rod", work, bold=True)]
        columns += [_inches("rod", bold=True)] if inches else []
    columns += [figures("bearing", 1, "first leg", "bearing \N{DEGREE SIGN}")]
    columns += [figures("emitters")] if emitters else []
    columns += [text("lay"), text("misses")]
    rows: list[list[Cell]] = []
    for row, laid in zip(work.laterals, work.marking, strict=True):
        cells: list[Cell] = [TICK, row.name, row.length]
        cells += [row.length] if inches else []
        cells += [row.elevation, row.drop]
        if work.setups:
            cells += [row.setup, row.rod]
            cells += [row.rod] if inches else []
        cells += [row.bearing]
        cells += [row.emitters] if emitters else []
        rows.append([*cells, laid.lay, row.mark])
    notes = [
        "Drop: fall from the lateral above in its panel. First leg: bearing from stake 1 to"
        " stake 2, clockwise from grid north. Misses: L, leaves the level tolerance somewhere;"
        " S, leaves the spacing tolerance somewhere."
    ]
    if work.setups:
        tolerance, first = work.design.site.settings.level_tolerance, work.setups[0]
        notes.append(
            f"Rod: reading to look for, allowed ±{decimal(tolerance, unit)} {unit.short}, from"
            f" height of instrument {decimal(first.height, unit)} {unit.short} at set-up 1; see the"
            " laser sheet when yours is another."
        )
    groups = [row.panel for row in work.laterals]
    return table_pages(Table(columns, rows, "Lateral table", notes, groups=groups), paper)


def laser_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """Set-ups and the rod readings of every lateral; nothing without a benchmark."""
    if not work.setups:
        return []
    unit = work.design.site.unit
    inches = not unit.is_metric
    columns = [
        figures("set-up", align="center"),
        text("lateral", bold=True),
        _length("elevation", work),
        figures("add to", unit.places, unit="backsight", form=_with_sign(unit.places)),
        _length("rod", work, bold=True),
    ]
    columns += [_inches("rod", bold=True)] if inches else []
    columns += [_length("least", work), _length("most", work)]
    columns += [_inches("least"), _inches("most")] if inches else []
    columns += [text("your reading", align="center")]
    rows: list[list[Cell]] = []
    groups = []
    whole = [row for row in work.rods if row.point is None]
    for row in sorted(whole, key=lambda row: row.setup):
        cells: list[Cell] = [row.setup, row.lateral, row.elevation, row.from_backsight, row.rod]
        cells += [row.rod] if inches else []
        cells += [row.rod_low, row.rod_high] * (2 if inches else 1)
        rows.append([*cells, ""])
        groups.append(row.setup)
    tolerance = decimal(work.design.site.settings.level_tolerance, unit)
    given = work.settings.backsight is not None
    notes = [
        "Elevation of the mark + backsight read on it = height of instrument; height of instrument"
        " - elevation = rod to look for. All stakes of a lateral have the same reading, allowed"
        f" ±{tolerance} {unit.short}.",
        f"Backsights are {'as given' if given else 'planned'}: when yours is another, add the"
        ' figure in the column "add to backsight" to your own.',
        *setup_words(work),
    ]
    return table_pages(Table(columns, rows, "Laser sheet", notes, groups=groups), paper)


def _with_sign(places: int) -> Callable[[float], str]:
    return lambda value: f"{value + 0.0:+.{places}f}"
