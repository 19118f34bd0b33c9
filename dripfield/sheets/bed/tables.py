"""The bed's tables: take-off, grade stakes, everything in one JSON, and the check of the shots."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.bed.check import BedCheck
from dripfield.bed.design import BedDesign
from dripfield.bed.frost import frost_cover
from dripfield.bed.materials import SHORT_TON, MaterialVolume, cubic_yards
from dripfield.bed.notes import DesignNote, least_separation
from dripfield.bed.rake import GradeStakes
from dripfield.bed.remarks import bed_remarks
from dripfield.bed.sieves import grain_sizes, read_sieves
from dripfield.core.table import Cell, Table, figures, flag, text
from dripfield.core.units import Unit
from dripfield.core.words import COORDINATE_PLACES, number
from dripfield.rules import Finding
from dripfield.sheets.bed.readings import Readings
from dripfield.site.model import Site


def volumes_file(rows: Sequence[MaterialVolume], unit: Unit) -> Table:
    """``volumes.csv``: a row for what comes out, each layer, and the whole.

    ``cut``, ``fill`` and ``net`` (fill less cut) are in place, in ``unit``, cubic site units;
    ``area`` is where there is any, in plan. ``bank``, ``loose`` and ``compacted`` stand only where
    a factor was given.
    """
    places = unit.places + 1
    in_yards = ("cut_yd3", "fill_yd3", "net_yd3", "bank_yd3", "loose_yd3", "compacted_yd3")
    columns = (
        text("material"),
        *(figures(key, 2) for key in ("cut", "fill", "net", "area")),
        *(text("unit"), text("layer"), text("area_unit")),
        *(figures("greatest_depth", places), figures("mean_depth", places), text("depth_unit")),
        *(figures(key, 2) for key in ("bank", "loose", "compacted", *in_yards)),
        *(figures("truck_loads"), figures("tonnes", 2), figures("short_tons", 2)),
    )
    return Table(columns, [_volume_row(row, unit) for row in rows], "Volumes")


def _volume_row(row: MaterialVolume, unit: Unit) -> list[Cell]:
    volume = row.volume
    in_place = (volume.cut, volume.fill, volume.net)
    states = (row.bank, row.loose, row.compacted)
    return [
        *(row.material, *in_place, volume.cut_area + volume.fill_area),
        *(f"{unit.value}3", row.layer, f"{unit.value}2"),
        *(max(volume.greatest_cut, volume.greatest_fill), abs(volume.mean_depth), unit.value),
        *states,
        *(None if v is None else cubic_yards(v, unit) for v in (*in_place, *states)),
        *(row.loads, row.tonnes, None if row.tonnes is None else row.tonnes / SHORT_TON),
    ]


def rake_file(stakes: GradeStakes, readings: Readings | None, unit: Unit) -> Table:
    """``rake.csv``: heights to work to at each grade stake, cut or fill, rod readings.

    Rod columns are empty where the site has no benchmark. Marks are as a stake carries them:
    ``F 0.72`` is fill and ``C 0.35`` cut from existing ground.

    Parameters
    ----------
    stakes : GradeStakes
    readings : Readings or None
        None without a benchmark.
    unit : Unit
        The site's.

    Returns
    -------
    Table
        A row for each stake; lengths and rod readings [site unit].
    """
    places = unit.places
    heights = ("ground", "stripped", "sand", "finished", "sand_over_ground", "finished_over_ground")
    columns = (
        *(text("stake"), figures("northing", COORDINATE_PLACES)),
        figures("easting", COORDINATE_PLACES),
        *(figures(key, places + 1) for key in heights),
        *(text("sand_mark"), text("finished_mark")),
        *(figures("setup_sand"), figures("rod_sand", places)),
        *(figures("setup_finished"), figures("rod_finished", places), text("unit")),
    )
    rows = []
    for i, name in enumerate(stakes.names):
        sand, finished = (float(stakes.above_ground(k)[i]) for k in ("sand", "finished"))
        levels = ("ground", "stripped", "sand", "finished")
        rows.append(
            (
                *(name, float(stakes.xy[i, 1]), float(stakes.xy[i, 0])),
                *(float(stakes.levels[level][i]) for level in levels),
                *(sand, finished, stake_mark(sand, places), stake_mark(finished, places)),
                *rod_cells(readings, i),
                unit.value,
            )
        )
    return Table(columns, rows, "Grade stakes")


def rake_table(stakes: GradeStakes, readings: Readings | None, unit: Unit) -> Table:
    """The rake sheet's table: what to read and mark at each stake.

    Parameters
    ----------
    stakes : GradeStakes
    readings : Readings or None
        None without a benchmark.
    unit : Unit
        The site's.

    Returns
    -------
    Table
        A row for each stake; lengths and rod readings [site unit].
    """
    places, short = unit.places, unit.short
    columns = (
        text("stake", bold=True),
        *(figures("northing", places, unit=short), figures("easting", places, unit=short)),
        *(figures("setup_sand", head="set-up"), figures("rod_sand", places, "rod", "top of sand")),
        text("sand_mark", "from ground", short, align="right", bold=True),
        figures("setup_finished", head="set-up"),
        figures("rod_finished", places, "rod", "finished"),
        text("finished_mark", "from ground", short, align="right", bold=True),
    )
    sand, finished = (stakes.above_ground(level) for level in ("sand", "finished"))
    rows = []
    for i, name in enumerate(stakes.names):
        rods = rod_cells(readings, i)
        rows.append(
            (
                *(name, float(stakes.xy[i, 1]), float(stakes.xy[i, 0])),
                *(*rods[:2], stake_mark(float(sand[i]), places)),
                *(*rods[2:], stake_mark(float(finished[i]), places)),
            )
        )
    return Table(columns, rows, "Rake sheet")


def rod_cells(readings: Readings | None, stake: int) -> tuple[Cell, Cell, Cell, Cell]:
    """Set-up and reading for the sand, then for the finished grade; none without a benchmark."""
    if readings is None:
        return (None, None, None, None)
    return (
        int(readings.setup_sand[stake]),
        float(readings.rod_sand[stake]),
        int(readings.setup_finished[stake]),
        float(readings.rod_finished[stake]),
    )


def stake_mark(height: float, places: int) -> str:
    """Cut or fill as it is written on a stake."""
    text = number(abs(height), places)
    if float(text) == 0.0:
        return "GRADE"
    return f"{'F' if height > 0 else 'C'} {text}"


def write_bed_json(
    path: Path,
    design: BedDesign,
    rows: Sequence[MaterialVolume],
    notes: Sequence[DesignNote],
    findings: Sequence[Finding],
    readings: Readings | None,
) -> None:
    """Write ``bed.json``: volumes, areas, notes, rules and set-ups of the laser.

    Parameters
    ----------
    path : Path
    design : BedDesign
    rows : sequence of MaterialVolume
    notes : sequence of DesignNote
        What the site asks of its bed.
    findings : sequence of Finding
        Of the rule sets that the site names.
    readings : Readings or None
    """
    unit = design.site.unit
    separation = least_separation(design)
    content: dict[str, Any] = {
        "site": design.site.name,
        "unit": unit.value,
        "graded_area": round(float(design.footprint.area), 3),
        "area_within_daylight": round(float(design.daylight.area), 3),
        "area_within_shoulder": round(float(design.inner.area), 3),
        "top_of_sand": _grade_facts(design),
        "cover_over_tubing": round(design.cover_depth, 4),
        "least_sand_under_tubing": round(float(design.sand_under_tubing().min()), 4),
        "least_separation": None if separation is None else round(separation[0], 4),
        "corner": design.section.corner,
        "frost": _frost_facts(design),
        "grain_sizes": _grain_facts(design),
        "remarks": list(bed_remarks(design)),
        "volumes": volumes_file(rows, unit).records(),
        "notes": [
            {"note": n.name, "met": n.met, "found": n.text, "source": n.source} for n in notes
        ],
        "rules": [finding_facts(finding) for finding in findings],
        "setups": []
        if readings is None
        else [
            {
                "setup": setup.number,
                "mark": setup.mark,
                "mark_elevation": round(setup.mark_elevation, 4),
                "backsight": round(setup.backsight, 4),
                "height_of_instrument": round(setup.height, 4),
            }
            for setup in readings.setups
        ],
    }
    path.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


def _frost_facts(design: BedDesign) -> dict[str, Any] | None:
    """Cover against frost, in site units; None where no depth of frost is entered."""
    cover = frost_cover(design.section)
    if cover is None:
        return None
    return {
        "frost_depth": cover.frost,
        "cover_placed": round(cover.placed, 4),
        "cover_settled": round(cover.settled, 4),
        "insulation_worth": cover.insulation,
        "enough": cover.ok,
    }


def _grain_facts(design: BedDesign) -> dict[str, float | None] | None:
    """Effective size, D60 [mm] and uniformity coefficient; None without a sieve test."""
    if not design.section.sieve:
        return None
    sizes = grain_sizes(read_sieves(design.section.sieve))
    found = {"d10_mm": sizes.d10, "d60_mm": sizes.d60, "uniformity": sizes.uniformity}
    return {name: None if v is None else round(v, 4) for name, v in found.items()}


def finding_facts(finding: Finding) -> dict[str, str]:
    """A finding with its citation, scope, and how and when its text was read."""
    rule = finding.rule
    return {
        "rule": rule.id,
        "set": rule.set,
        "verdict": finding.verdict,
        "found": finding.message,
        "citation": rule.citation,
        "scope": rule.scope,
        "read": rule.read,
        "status": rule.status,
    }


def _grade_facts(design: BedDesign) -> dict[str, Any]:
    """How the top of sand lies: its rule, mean elevation and slope."""
    middle = design.inner.representative_point()
    at = np.array(((middle.x, middle.y),))
    slope, aspect = (float(f(at)[0]) for f in (design.grade.slope, design.grade.aspect))
    return {
        "grade": design.section.grade,
        "northing": round(middle.y, 3),
        "easting": round(middle.x, 3),
        "elevation_there": round(float(design.grade.elevation(at)[0]), 4),
        "slope_there": round(slope, 5),
        "falls_toward": None if math.isnan(aspect) else round(aspect, 2),
    }


def check_file(check: BedCheck, unit: Unit) -> Table:
    """``bed_check.csv``: a row a shot in the file's order.

    A shot outside the bed is not judged: it has no design, difference and ok.
    """
    places = unit.places + 1
    shared = _shared_places(check)
    columns = (
        *(text("point"), figures("northing", COORDINATE_PLACES)),
        figures("easting", COORDINATE_PLACES),
        *(figures(key, places) for key in ("design", "measured", "difference")),
        *(flag("ok"), text("unit"), text("note")),
    )
    rows = []
    for i, (name, xyz) in enumerate(zip(check.shots.names, check.shots.xyz, strict=True)):
        judged = bool(check.inside[i])
        rows.append(
            (
                *(name, float(xyz[1]), float(xyz[0]), float(check.design[i]), float(xyz[2])),
                *(float(check.difference[i]), bool(check.ok[i]) if judged else None),
                *(unit.value, shared.get(i, "") if judged else "outside the bed"),
            )
        )
    return Table(columns, rows, "Shots")


def _shared_places(check: BedCheck) -> dict[int, str]:
    """What is noted of shots at one place, by the shot's number."""
    notes = {}
    for groups, word in (
        (check.places.shots, "one place with"),
        (check.places.disagree, "disagrees, at one place, with"),
    ):
        for shots in groups:
            for shot in shots.tolist() if len(shots) > 1 else []:
                others = [check.shots.names[other] for other in shots.tolist() if other != shot]
                notes[shot] = f"{word} {' '.join(others)}"
    return notes


def zones_file(check: BedCheck, unit: Unit) -> Table:
    """``rake_zones.csv``: where the bed is out of tolerance between the shots."""
    places = unit.places + 1
    columns = (
        *(text("zone"), text("work"), figures("northing", 2), figures("easting", 2)),
        *(figures("worst", places), figures("mean", places), figures("area", 2)),
        *(figures("volume", 3), figures("volume_yd3", 3), text("unit")),
    )
    rows = [
        (
            *(zone.name, "rake off" if zone.high else "fill"),
            *(float(zone.worst_xy[1]), float(zone.worst_xy[0]), zone.worst, zone.mean),
            *(float(zone.area.area), zone.volume, cubic_yards(zone.volume, unit), unit.value),
        )
        for zone in check.zones
    ]
    return Table(columns, rows, "Zones to rake")


def laterals_as_raked_file(check: BedCheck, site: Site) -> Table:
    """``laterals_as_raked.csv``: whether each lateral would lie level on the bed as raked."""
    places = site.unit.places + 1
    columns = (
        *(text("lateral"), figures("elevation", places), figures("raked", places)),
        *(figures("departure", places), figures("covered", 3), flag("level_ok"), text("unit")),
    )
    rows = [
        (
            *(one.name, one.elevation, one.raked, one.departure, one.covered),
            *(one.level_ok, site.unit.value),
        )
        for one in check.laterals
    ]
    return Table(columns, rows, "Laterals as raked")
