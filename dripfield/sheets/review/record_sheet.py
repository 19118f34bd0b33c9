"""What the record sheet says: what was laid against the design, and the ties that find it again."""

from __future__ import annotations

import numpy as np
from shapely.geometry.base import BaseGeometry

from dripfield.core.arrays import Floats
from dripfield.core.table import Cell, Table, figures, text
from dripfield.core.units import Unit
from dripfield.core.version import __version__
from dripfield.core.words import number_range
from dripfield.design.model import Design
from dripfield.distribution.as_laid import LaidWater, water_table
from dripfield.review.judge.setbacks import requirements
from dripfield.review.laid.record_result import Record, RecordLine
from dripfield.review.model.limits import Limits, LineVerdict
from dripfield.sheets.review.code_items import code_items
from dripfield.sheets.review.content import (
    DrawnLine,
    Overlay,
    Section,
    Sheet,
    conditions,
    counts_line,
    limits_line,
    site_facts,
)
from dripfield.sheets.review.setback_table import setback_table
from dripfield.site.model import Site


def record_sheet(
    design: Design,
    record: Record,
    limits: Limits,
    files: tuple[tuple[str, str], ...],
    water: LaidWater | None = None,
    said_of_water: tuple[str, ...] = (),
) -> Sheet:
    """Gather the record sheet: answer, map with ties, tables.

    Parameters
    ----------
    design : Design
    record : Record
    limits : Limits
    files : tuple of (name, SHA-256)
    water : LaidWater, optional
        Dose and flush of what was laid.
    said_of_water : tuple of str
        What is said of it.

    Returns
    -------
    Sheet
    """
    unit = design.site.unit
    return Sheet(
        title="Record drawing: what was laid, with ties",
        site=design.site.name,
        facts=(
            f"shots: {record.source.source.name}; design: {len(design.layout.laterals)} laterals "
            f"by the {design.layout.method} method; lengths in {unit.label}",
            limits_line(limits, unit),
            *site_facts(design.site),
        ),
        verdict=record.verdict,
        counts=counts_line(
            {
                verdict.value: sum(line.verdict is verdict for line in record.lines)
                for verdict in LineVerdict
            }
        ),
        summary=(
            setback_table(record.setbacks, unit, "as laid"),
            _mark_table(record, unit),
            code_items(design),
            _reference_table(record, unit),
        ),
        overlay=Overlay(
            bed=design.site.bed.boundary,
            designed=tuple(DrawnLine("", one.xy) for one in design.layout.laterals),
            laid=laid_lines(record),
            keepouts=design.site.bed.keepouts,
            features=setback_features(design.site),
            marks=tuple(
                (one.name, np.array((one.easting, one.northing))) for one in record.references
            ),
            numbered=tuple(sorted_ties(record)),
            words=("", "design", "laid, with its shots"),
            title="record drawing",
            large=True,
        ),
        tables=tuple(
            table
            for table in (
                record_table(record, unit),
                None if water is None else water_table(water),
                tie_table(record, unit),
            )
            if table is not None
        ),
        conditions=conditions(design.site),
        unchecked=Section("Could not be checked, and why", record.unchecked),
        notes=Section("How it was done", (*said_of_water, *record.notes)),
        files=files,
        code=design.code,
        version=__version__,
    )


def sorted_ties(record: Record) -> list[tuple[str, Floats]]:
    """Tied points with their numbers; ends come first, so that they find room on the map."""
    numbered = list(enumerate(record.ties, 1))
    numbered.sort(key=lambda pair: pair[1].mark not in ("start", "end"))
    return [(str(number), tie.xy) for number, tie in numbered]


def _mark_table(record: Record, unit: Unit) -> Table:
    """The benchmark and references that were shot along, judged first."""
    columns = (
        *(text("mark"), figures("from its place", unit.places)),
        *(figures("higher", unit.places, signed=True), text("verdict")),
    )
    rows = [
        (mark.name, mark.gap, mark.height, "good" if mark.ok else "off") for mark in record.marks
    ]
    off = frozenset(i for i, mark in enumerate(record.marks) if not mark.ok)
    title = f"Marks shot along with the laterals ({unit.short})"
    return Table(columns, rows, title, marked=off)


def _reference_table(record: Record, unit: Unit) -> Table:
    columns = (
        *(text("name"), figures("northing", unit.places), figures("easting", unit.places)),
        text("description", wide=True),
    )
    rows = [
        (one.name, one.northing, one.easting, one.description or "") for one in record.references
    ]
    return Table(columns, rows, "Permanent reference points")


def tie_table(record: Record, unit: Unit) -> Table | None:
    """Every tied point with its distances; None without ties.

    With two references each has its column; with more, each row says which two it is tied from.
    """
    if not record.ties:
        return None
    places = unit.places - 1  # a tape on a hillside is read to a tenth of a foot, to a centimetre
    one_pair = len(record.references) == 2
    rows: list[tuple[Cell, ...]] = []
    for number, tie in enumerate(record.ties, 1):
        named = [cell for pair in zip(tie.references, tie.distances, strict=True) for cell in pair]
        rows.append(
            (
                *(number, tie.lateral, tie.mark, *(tie.distances if one_pair else named)),
                *(tie.side, tie.angle, tie.error, "weak" if tie.weak else "good", tie.elevation),
            )
        )
    tied = (
        [figures(f"from\n{one.name}", places) for one in record.references]
        if one_pair
        else [
            *(text("from"), figures("distance", places)),
            *(text("and from"), figures("distance", places)),
        ]
    )
    columns = (
        *(figures("no."), text("lateral"), text("point"), *tied, text("side")),
        *(figures("angle", unit="°"), figures("found\nwithin", unit.places), text("fix")),
        figures("elev.", unit.places),
    )
    title = (
        f"Ties: horizontal distances from permanent points ({unit.short}); the side is that of a "
        "person who looks from the first point to the second"
    )
    weak = frozenset(i for i, tie in enumerate(record.ties) if tie.weak)
    return Table(columns, rows, title, marked=weak)


def record_table(record: Record, unit: Unit) -> Table:
    """Every lateral as laid against its design, the worst first."""
    places = unit.places
    measured = ("offset\nmean", "offset\nmost", "ends\noff", "spacing\ndesign", "spacing\nlaid")
    columns = (
        *(text("lateral"), text("verdict"), figures("shots")),
        *(figures("length\ndesign", places), figures("length\nlaid", places)),
        *(figures("elev.\ndesign", places), text("elev.\nlaid", align="right")),
        *(figures(head, places) for head in measured),
        text("why", wide=True),
    )
    lines = sorted(record.lines, key=_weight)
    marked = frozenset(i for i, line in enumerate(lines) if not line.verdict.is_yes)
    title = f"As laid, what matters most first ({unit.short})"
    return Table(columns, [_record_row(line, unit) for line in lines], title, marked=marked)


def _weight(line: RecordLine) -> tuple[int, float]:
    order = {
        LineVerdict.CONFORMS: 4,
        LineVerdict.WITHIN: 3,
        LineVerdict.NOT_PROVEN: 2,
        LineVerdict.DIFFERS: 1,
    }
    worst = max((one.band.severity(one.difference) for one in line.differences), default=0.0)
    rank = order.get(line.verdict, 0)
    return rank, 0.0 if rank == 4 else -worst


def _record_row(line: RecordLine, unit: Unit) -> tuple[Cell, ...]:
    return (
        *(line.name, line.verdict.value),
        *(len(line.xyz), line.length_design, line.length_laid),
        None if line.lateral is None else line.lateral.elevation,
        number_range(line.level_min, line.level_max, unit.places),
        *(line.offset_mean, line.offset_max, line.end_offset),
        *(line.spacing_design, line.spacing_mean, "; ".join(line.reasons)),
    )


def laid_lines(record: Record) -> tuple[DrawnLine, ...]:
    """The laid lines of the map, flagged where they do not conform."""
    return tuple(
        DrawnLine(
            line.name,
            line.xyz[:, :2],
            f"laid: {line.verdict.value}" if line.verdict.is_no else "",
            -_weight(line)[1] + (line.verdict.is_no * 10.0),
        )
        for line in record.lines
        if len(line.xyz)
    )


def setback_features(site: Site) -> tuple[tuple[str, BaseGeometry], ...]:
    """The features that setbacks are measured from."""
    return tuple(
        (one.feature, one.geometry)
        for one in requirements(site)
        if one.kind not in ("bed edge", "keepout")
    )
