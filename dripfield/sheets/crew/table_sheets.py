"""The set's tables: laterals, stakes, rod readings, flags and paint."""

from __future__ import annotations

import math

import numpy as np

from dripfield.core.feet_inches import decimal, feet_inches
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.grid_table import TICK, Column, GridTable, table_pages
from dripfield.sheets.crew.sheet import Page
from dripfield.sheets.crew.words import offset_words, setup_words, tape_words
from dripfield.sheets.kit.notes import counted
from dripfield.sheets.kit.style import Paper
from dripfield.staking.flags import LaidLateral


def lateral_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """The lateral table with boxes to tick."""
    unit, short = work.design.site.unit, work.design.site.unit.short
    inches = not unit.is_metric
    emitters = work.design.site.file.emitters is not None
    columns = [Column("staked", align="center"), Column("lateral", align="left", bold=True)]
    columns += (
        [Column("length", short), Column("length", "ft-in")]
        if inches
        else [Column("length", short)]
    )
    columns += [Column("elevation", short), Column("drop", short)]
    if work.setups:
        columns += [Column("set-up"), Column("rod", short, bold=True)]
        columns += [Column("rod", "ft-in", bold=True)] if inches else []
    columns += [Column("first leg", "bearing")]
    columns += [Column("emitters")] if emitters else []
    columns += [Column("lay", align="left"), Column("misses", align="left")]
    rows = []
    for row, laid in zip(work.laterals, work.flags.laterals, strict=True):
        cells = [TICK, row.name, decimal(row.length, unit)]
        cells += [feet_inches(row.length)] if inches else []
        cells += [decimal(row.elevation, unit), decimal(row.drop, unit)]
        if work.setups:
            cells += ["" if row.setup is None else str(row.setup), decimal(row.rod, unit)]
            cells += [feet_inches(row.rod)] if inches else []
        cells += [f"{row.bearing:.1f}\N{DEGREE SIGN}"]
        cells += [str(row.emitters)] if emitters else []
        rows.append([*cells, laid.laying, row.mark])
    tolerance = work.design.site.settings.level_tolerance
    notes = [
        "Drop: fall from the lateral above in its panel. First leg: bearing from stake 1 to"
        " stake 2, clockwise from grid north. Misses: L, leaves the level tolerance somewhere;"
        " S, leaves the spacing tolerance somewhere."
    ]
    if work.setups:
        first = work.setups[0]
        notes.append(
            f"Rod: reading to look for, allowed ±{decimal(tolerance, unit)} {short}, from height of"
            f" instrument {decimal(first.height, unit)} {short} at set-up 1; see the laser sheet"
            " when yours is another."
        )
    groups = [row.panel for row in work.laterals]
    return table_pages("Lateral table", paper, GridTable(columns, rows, groups), notes)


def staking_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """Every stake with coordinates, elevation and rod."""
    unit, short = work.design.site.unit, work.design.site.unit.short
    columns = [
        Column("point", bold=True),
        Column("lateral", align="left", most=90.0, once=True),
        Column("mark", align="left", most=60.0),
        Column("station", short),
        Column("northing", short),
        Column("easting", short),
        Column("elev.", short),
    ]
    rods = {row.point: row for row in work.rods if row.point is not None}
    if rods:
        columns += [Column("rod", short, bold=True), Column("on ground", short)]
    rows = []
    for stake in work.stakes:
        cells = [str(stake.point), stake.lateral, stake.kind]
        values = (stake.station, stake.northing, stake.easting, stake.elevation)
        cells += [decimal(value, unit) for value in values]
        if rods:
            rod = rods[stake.point]
            cells += [decimal(rod.rod, unit), decimal(rod.ground, unit)]
        rows.append(cells)
    notes = [
        "Elevation is the one the lateral is set to. On ground: the reading to expect with the rod"
        " on the ground as surveyed; empty where the ground is not known."
        if rods
        else "Elevation is the one the lateral is set to."
    ]
    groups = [stake.lateral for stake in work.stakes]
    return table_pages("Staking table", paper, GridTable(columns, rows, groups, 7.5), notes)


def laser_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """Set-ups and the rod readings of every lateral; nothing without a benchmark."""
    if not work.setups:
        return []
    unit, short = work.design.site.unit, work.design.site.unit.short
    inches = not unit.is_metric
    columns = [
        Column("set-up", align="center"),
        Column("lateral", align="left", bold=True),
        Column("elevation", short),
        Column("add to", "backsight"),
        Column("rod", short, bold=True),
    ]
    columns += [Column("rod", "ft-in", bold=True)] if inches else []
    columns += [Column("least", short), Column("most", short)]
    columns += [Column("least", "ft-in"), Column("most", "ft-in")] if inches else []
    columns += [Column("your reading  ", "", "left")]
    rows = []
    groups = []
    whole = [row for row in work.rods if row.point is None]
    for row in sorted(whole, key=lambda row: row.setup):
        cells = [str(row.setup), row.lateral, decimal(row.elevation, unit)]
        cells += [f"{row.from_backsight + 0.0:+.{unit.places}f}", decimal(row.rod, unit)]
        cells += [feet_inches(row.rod)] if inches else []
        band = (row.rod_low, row.rod_high)
        cells += [decimal(value, unit) for value in band]
        cells += [feet_inches(value) for value in band] if inches else []
        rows.append([*cells, ""])
        groups.append(row.setup)
    tolerance = decimal(work.design.site.settings.level_tolerance, unit)
    given = work.settings.backsight is not None
    notes = [
        "Elevation of the mark + backsight read on it = height of instrument; height of instrument"
        " - elevation = rod to look for. All stakes of a lateral have the same reading, allowed"
        f" ±{tolerance} {short}.",
        f"Backsights are {'as given' if given else 'planned'}: when yours is another, add the"
        ' figure in the column "add to backsight" to your own.',
        *setup_words(work),
    ]
    return table_pages("Laser sheet", paper, GridTable(columns, rows, groups), notes)


def flag_pages(work: CrewWork, paper: Paper) -> list[Page]:
    """Pulls with their flags, then paint with its stations and offsets."""
    pulls = [one for one in work.flags.laterals if one.laying == "pull"]
    paints = [one for one in work.flags.laterals if one.laying == "paint"]
    notes = _tape_notes(work, len(pulls), len(paints))
    pages: list[Page] = []
    if pulls:
        pages += table_pages("Flags: straight pulls", paper, _pull_table(work, pulls), notes)
    if paints:
        pages += table_pages(
            "Paint: stations and offsets", paper, _paint_table(work, paints), notes
        )
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


def _pull_table(work: CrewWork, pulls: list[LaidLateral]) -> GridTable:
    short = work.design.site.unit.short
    columns = [
        Column("set", align="center"),
        Column("lateral", align="left", bold=True),
    ]
    for flag in ("flag 1", "flag 2"):
        columns += [
            Column(flag, "edge line", align="left"),
            Column("at", short, bold=True),
            Column("station", short),
            Column("offset", short),
        ]
    rows = []
    for one in pulls:
        cells = [TICK, one.name]
        for mark in one.marks:
            at = "" if math.isnan(mark.distance) else tape_words(work, mark.distance, bare=True)
            cells += [mark.edge or "", at, tape_words(work, mark.station, bare=True)]
            cells += [offset_words(work, mark.offset, bare=True)]
        rows.append(cells)
    panels = {row.name: row.panel for row in work.laterals}
    return GridTable(columns, rows, [panels[one.name] for one in pulls])


def _paint_table(work: CrewWork, paints: list[LaidLateral]) -> GridTable:
    short = work.design.site.unit.short
    columns = [
        Column("lateral", align="left", bold=True, most=90.0, once=True),
        Column("mark"),
        Column("station", short),
        Column("offset", short),
        Column("set", align="center"),
    ]
    rows, groups = [], []
    for one in paints:
        for mark in one.marks:
            rows.append(
                [
                    one.name,
                    mark.name,
                    tape_words(work, mark.station, bare=True),
                    offset_words(work, mark.offset, bare=True),
                    TICK,
                ]
            )
            groups.append(one.name)
    return GridTable(columns, rows, groups, 7.5)
