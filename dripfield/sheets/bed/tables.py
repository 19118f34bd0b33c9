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
from dripfield.core.units import Unit
from dripfield.files.csv import COORDINATE_PLACES, number, write_csv
from dripfield.rules import Finding
from dripfield.sheets.bed.readings import Readings
from dripfield.site.model import Site

VOLUME_COLUMNS = (
    *("material", "cut", "fill", "net", "area", "unit", "layer", "area_unit"),
    *("greatest_depth", "mean_depth", "depth_unit", "bank", "loose", "compacted"),
    *("cut_yd3", "fill_yd3", "net_yd3", "bank_yd3", "loose_yd3", "compacted_yd3"),
    *("truck_loads", "tonnes", "short_tons"),
)
RAKE_COLUMNS = (
    *("stake", "northing", "easting", "ground", "stripped", "sand", "finished"),
    *("sand_over_ground", "finished_over_ground", "sand_mark", "finished_mark"),
    *("setup_sand", "rod_sand", "setup_finished", "rod_finished", "unit"),
)
CHECK_COLUMNS = (
    *("point", "northing", "easting", "design", "measured", "difference", "ok", "unit", "note"),
)
ZONE_COLUMNS = (
    *("zone", "work", "northing", "easting", "worst", "mean", "area", "volume", "volume_yd3"),
    "unit",
)
LATERAL_COLUMNS = (*("lateral", "elevation", "raked", "departure", "covered", "level_ok", "unit"),)


def write_volumes(path: Path, rows: Sequence[MaterialVolume], unit: Unit) -> None:
    """Write ``volumes.csv``: a row for what comes out, each layer, and the whole.

    ``cut``, ``fill`` and ``net`` (fill less cut) are in place, in ``unit``, cubic site units;
    ``area`` is where there is any, in plan. ``bank``, ``loose`` and ``compacted`` are empty where
    no factor was given.
    """
    write_csv(path, VOLUME_COLUMNS, (_volume_row(row, unit) for row in rows))


def _volume_row(row: MaterialVolume, unit: Unit) -> list[str]:
    volume = row.volume
    places = unit.places + 1
    in_place = (volume.cut, volume.fill, volume.net)
    states = [math.nan if v is None else v for v in (row.bank, row.loose, row.compacted)]
    tonnes = math.nan if row.tonnes is None else row.tonnes
    return [
        row.material,
        *(number(v, 2) for v in in_place),
        number(volume.cut_area + volume.fill_area, 2),
        f"{unit.value}3",
        row.layer,
        f"{unit.value}2",
        number(max(volume.greatest_cut, volume.greatest_fill), places),
        number(abs(volume.mean_depth), places),
        unit.value,
        *(number(v, 2) for v in states),
        *(number(cubic_yards(v, unit), 2) for v in (*in_place, *states)),
        "" if row.loads is None else str(row.loads),
        number(tonnes, 2),
        number(tonnes / SHORT_TON, 2),
    ]


def write_rake(path: Path, stakes: GradeStakes, readings: Readings | None, unit: Unit) -> None:
    """Write ``rake.csv``: heights to work to at each grade stake, cut or fill, rod readings.

    Rod columns are empty where the site has no benchmark. Marks are as a stake carries them:
    ``F 0.72`` is fill and ``C 0.35`` cut from existing ground.
    """
    places = unit.places
    rows = []
    for i, name in enumerate(stakes.names):
        sand, finished = (float(stakes.above_ground(k)[i]) for k in ("sand", "finished"))
        rows.append(
            [
                name,
                number(float(stakes.xy[i, 1]), COORDINATE_PLACES),
                number(float(stakes.xy[i, 0]), COORDINATE_PLACES),
                *(
                    number(float(stakes.levels[level][i]), places + 1)
                    for level in ("ground", "stripped", "sand", "finished")
                ),
                number(sand, places + 1),
                number(finished, places + 1),
                stake_mark(sand, places),
                stake_mark(finished, places),
                *rod_cells(readings, i, places),
                unit.value,
            ]
        )
    write_csv(path, RAKE_COLUMNS, rows)


def rod_cells(readings: Readings | None, stake: int, places: int) -> list[str]:
    """Set-up and reading for the sand, then for the finished grade; empty without a benchmark."""
    if readings is None:
        return ["", "", "", ""]
    return [
        str(readings.setup_sand[stake]),
        number(float(readings.rod_sand[stake]), places),
        str(readings.setup_finished[stake]),
        number(float(readings.rod_finished[stake]), places),
    ]


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
        "volumes": [_volume_facts(row, unit) for row in rows],
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


def _volume_facts(row: MaterialVolume, unit: Unit) -> dict[str, Any]:
    cells = dict(zip(VOLUME_COLUMNS, _volume_row(row, unit), strict=True))
    texts = ("material", "unit", "layer", "area_unit", "depth_unit")
    return {
        key: value if key in texts else (json.loads(value) if value else None)
        for key, value in cells.items()
    }


def write_bed_check(path: Path, check: BedCheck, unit: Unit) -> None:
    """Write ``bed_check.csv``: a row a shot in the file's order.

    A shot outside the bed is not judged: its design, difference and ok are empty.
    """
    places = unit.places + 1
    shared = _shared_places(check)
    rows = []
    for i, (name, xyz) in enumerate(zip(check.shots.names, check.shots.xyz, strict=True)):
        judged = bool(check.inside[i])
        rows.append(
            [
                name,
                number(float(xyz[1]), COORDINATE_PLACES),
                number(float(xyz[0]), COORDINATE_PLACES),
                number(float(check.design[i]), places),
                number(float(xyz[2]), places),
                number(float(check.difference[i]), places),
                truth(bool(check.ok[i])) if judged else "",
                unit.value,
                shared.get(i, "") if judged else "outside the bed",
            ]
        )
    write_csv(path, CHECK_COLUMNS, rows)


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


def write_zones(path: Path, check: BedCheck, unit: Unit) -> None:
    """Write ``rake_zones.csv``: where the bed is out of tolerance between the shots."""
    places = unit.places + 1
    rows = (
        [
            zone.name,
            "rake off" if zone.high else "fill",
            number(float(zone.worst_xy[1]), 2),
            number(float(zone.worst_xy[0]), 2),
            number(zone.worst, places),
            number(zone.mean, places),
            number(float(zone.area.area), 2),
            number(zone.volume, 3),
            number(cubic_yards(zone.volume, unit), 3),
            unit.value,
        ]
        for zone in check.zones
    )
    write_csv(path, ZONE_COLUMNS, rows)


def write_lateral_check(path: Path, check: BedCheck, site: Site) -> None:
    """Write ``laterals_as_raked.csv``: whether each lateral would lie level on the bed as raked."""
    places = site.unit.places + 1
    rows = (
        [
            one.name,
            number(one.elevation, places),
            number(one.raked, places),
            number(one.departure, places),
            number(one.covered, 3),
            truth(one.level_ok),
            site.unit.value,
        ]
        for one in check.laterals
    )
    write_csv(path, LATERAL_COLUMNS, rows)


def truth(value: bool) -> str:
    """A yes or no as the project's tables write it."""
    return "true" if value else "false"
