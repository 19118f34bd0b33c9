"""The set's tables: laterals, stakes, rod readings, flags and paint."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from dripfield.core.feet_inches import decimal, feet_inches
from dripfield.core.table import TICK, Cell, Column, Table, figures, text
from dripfield.core.words import counted
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.sheet import Page
from dripfield.sheets.crew.table_pages import table_pages
from dripfield.sheets.crew.words import offset_words, setup_words, tape_places, tape_words
from dripfield.sheets.kit.style import Paper
from dripfield.staking.flags import LaidLateral

_SMALL = 7.5  # type of the long tables [pt]


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
    for row, laid in zip(work.laterals, work.flags.laterals, strict=True):
        cells: list[Cell] = [TICK, row.name, row.length]
        cells += [row.length] if inches else []
        cells += [row.elevation, row.drop]
        if work.setups:
            cells += [row.setup, row.rod]
            cells += [row.rod] if inches else []
        cells += [row.bearing]
        cells += [row.emitters] if emitters else []
        rows.append([*cells, laid.laying, row.mark])
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


def staking_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """Every stake with coordinates, elevation and rod."""
    unit = work.design.site.unit
    columns = [
        figures("point", bold=True),
        text("lateral", most=20, once=True),
        text("mark", most=13),
        *(_length(key, work) for key in ("station", "northing", "easting")),
        figures("elevation", unit.places, "elev.", unit.short),
    ]
    rods = {row.point: row for row in work.rods if row.point is not None}
    if rods:
        columns += [_length("rod", work, bold=True), _length("on ground", work)]
    rows: list[list[Cell]] = []
    for stake in work.stakes:
        cells: list[Cell] = [stake.point, stake.lateral, stake.kind]
        cells += [stake.station, stake.northing, stake.easting, stake.elevation]
        if rods:
            cells += [rods[stake.point].rod, rods[stake.point].ground]
        rows.append(cells)
    notes = [
        "Elevation is the one the lateral is set to. On ground: the reading to expect with the rod"
        " on the ground as surveyed; a dash where the ground is not known."
        if rods
        else "Elevation is the one the lateral is set to."
    ]
    groups = [stake.lateral for stake in work.stakes]
    return table_pages(Table(columns, rows, "Staking table", notes, groups=groups), paper, _SMALL)


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


def flag_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """Pulls with their flags, then paint with its stations and offsets."""
    pulls = [one for one in work.flags.laterals if one.laying == "pull"]
    paints = [one for one in work.flags.laterals if one.laying == "paint"]
    notes = _tape_notes(work, len(pulls), len(paints))
    pages: list[Page] = []
    if pulls:
        pages += table_pages(_pull_table(work, pulls, notes), paper)
    if paints:
        pages += table_pages(_paint_table(work, paints, notes), paper, _SMALL)
    return pages


def _tape_notes(work: CrewWork, pulls: int, paints: int) -> list[str]:
    flags, unit, short = work.flags, work.design.site.unit, work.design.site.unit.short
    base = flags.base
    lines = [
        f"Total: {flags.flags} flags for {counted(pulls, 'straight pull')};"
        f" {flags.paint:.0f} {short} of paint for {counted(paints, 'lateral')}.",
        f"Base line: from {base.start.name} to {base.end.name}, {tape_words(work, base.length)}"
        f" apart. Stations run from {base.start.name}; offsets are square to the line, left or"
        f" right as seen towards {base.end.name}. Hold tapes level: all distances are horizontal.",
    ]
    why: dict[str, int] = {}
    for one in flags.laterals:
        if one.why:
            why[one.why] = why.get(one.why, 0) + 1
    if why:
        reasons = "; ".join(f"{text} ({count})" for text, count in why.items())
        lines.append(f"Why paint: {reasons}.")
    for name, edge in flags.edges.items():
        ends = base.station_offset(np.array((edge.start.xy, edge.end.xy)))
        top, bottom = (
            f"station {tape_words(work, s)}, offset {offset_words(work, o)}" for s, o in ends
        )
        lines.append(f"Edge line {name} (looking down the slope): from {top} to {bottom}.")
    lines.append(
        f"Tapes alone, laid and read to {flags.accuracy:g} {short}: a mark lies within"
        f" {flags.shift:.{unit.places}f} {short} of its place by rounding. Laid from these numbers"
        f" {flags.within} of {len(flags.laterals)} laterals keep both tolerances"
        f" ({flags.within_design} as designed); greatest departure in level"
        f" {decimal(flags.level, unit)} {short}, in spacing {flags.spacing:.0%}."
    )
    return lines


def _tape(key: str, work: CrewWork, *, bold: bool = False) -> Column:
    """A column of distances to the tape's accuracy."""
    return figures(
        key, tape_places(work.flags.accuracy), unit=work.design.site.unit.short, bold=bold
    )


def _pull_table(work: CrewWork, pulls: list[LaidLateral], notes: list[str]) -> Table:
    short = work.design.site.unit.short
    columns = [text("set", align="center"), text("lateral", bold=True)]
    for flag in ("flag 1", "flag 2"):
        columns += [text(flag, unit="edge line"), _tape("at", work, bold=True)]
        columns += [_tape("station", work), text("offset", unit=short, align="right")]
    rows: list[list[Cell]] = []
    for one in pulls:
        cells: list[Cell] = [TICK, one.name]
        for mark in one.marks:
            cells += [mark.edge, mark.distance, mark.station]
            cells += [offset_words(work, mark.offset, bare=True)]
        rows.append(cells)
    panels = {row.name: row.panel for row in work.laterals}
    groups = [panels[one.name] for one in pulls]
    return Table(columns, rows, "Flags: straight pulls", notes, groups=groups)


def _paint_table(work: CrewWork, paints: list[LaidLateral], notes: list[str]) -> Table:
    columns = [
        text("lateral", bold=True, most=20, once=True),
        text("mark", align="right"),
        _tape("station", work),
        text("offset", unit=work.design.site.unit.short, align="right"),
        text("set", align="center"),
    ]
    marks = [(one.name, mark) for one in paints for mark in one.marks]
    rows = [
        (name, mark.name, mark.station, offset_words(work, mark.offset, bare=True), TICK)
        for name, mark in marks
    ]
    groups = [name for name, _ in marks]
    return Table(columns, rows, "Paint: stations and offsets", notes, groups=groups)
