"""What the record sheet says: what was laid against the design, and the ties that find it again."""

from __future__ import annotations

import numpy as np
from shapely.geometry.base import BaseGeometry

from dripfield.core.table import Cell, Table, figures, text
from dripfield.core.units import Unit
from dripfield.core.version import __version__
from dripfield.core.words import first_few, number_range
from dripfield.design.model import Design
from dripfield.review.judge.setbacks import requirements
from dripfield.review.laid.record_result import Record, RecordLine
from dripfield.review.model.limits import Limits, Verdict
from dripfield.sheets.review.content import (
    DrawnLine,
    Overlay,
    Section,
    Sheet,
    counts_line,
    limits_line,
)
from dripfield.site.model import Site

_WORDS = {Verdict.MISSING: "not shot", Verdict.NOT_ON_PLAN: "not in the design"}


def record_sheet(
    design: Design, record: Record, limits: Limits, files: tuple[tuple[str, str], ...]
) -> Sheet:
    """Gather the record sheet: answer, map with ties, tables."""
    unit = design.site.unit
    return Sheet(
        title="Record drawing: what was laid, with ties",
        site=design.site.name,
        facts=(
            f"shots: {record.source.source.name}; design: {len(design.layout.laterals)} laterals "
            f"by the {design.layout.method} method; lengths in {unit.label}",
            limits_line(limits, unit),
        ),
        answer=_answer(record),
        counts=counts_line(
            {
                _WORDS.get(verdict, verdict.value): sum(
                    line.verdict is verdict for line in record.lines
                )
                for verdict in Verdict
            }
        ),
        is_no=record.is_no,
        summary=(_reference_table(record, unit),),
        overlay=Overlay(
            bed=design.site.bed.boundary,
            designed=tuple(DrawnLine("", one.xy) for one in design.layout.laterals),
            laid=laid_lines(record),
            keepouts=design.site.bed.keepouts,
            features=setback_features(design.site),
            marks=tuple(
                (one.name, np.array((one.easting, one.northing))) for one in record.references
            ),
            numbered=tuple((str(i), tie.xy) for i, tie in enumerate(record.ties, 1)),
            words=("", "design", "laid, with its shots"),
            title="record drawing",
            large=True,
        ),
        tables=tuple(
            table
            for table in (tie_table(record, unit), record_table(record, unit))
            if table is not None
        ),
        unchecked=Section("Could not be checked, and why", record.unchecked),
        notes=Section("How it was done", record.notes),
        files=files,
        version=__version__,
    )


def _answer(record: Record) -> str:
    bad = [line for line in record.lines if line.verdict.is_no]
    if not bad:
        return f"YES: all {len(record.lines)} laterals were laid within limits."
    names = [f"{line.name} ({_WORDS.get(line.verdict, line.verdict.value)})" for line in bad]
    return f"NO: {len(bad)} of {len(record.lines)} laterals: {first_few(names, 8)}."


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
    marked = frozenset(i for i, line in enumerate(lines) if line.verdict.is_no)
    title = f"As laid, what matters most first ({unit.short})"
    return Table(columns, [_record_row(line, unit) for line in lines], title, marked=marked)


def _weight(line: RecordLine) -> tuple[int, float]:
    order = {Verdict.CONFORMS: 3, Verdict.WITHIN: 2, Verdict.DIFFERS: 1}
    worst = max((one.band.severity(one.difference) for one in line.differences), default=0.0)
    rank = order.get(line.verdict, 0)
    return rank, 0.0 if rank == 3 else -worst


def _record_row(line: RecordLine, unit: Unit) -> tuple[Cell, ...]:
    return (
        line.name,
        _WORDS.get(line.verdict, line.verdict.value),
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
            f"laid: {_WORDS.get(line.verdict, line.verdict.value)}" if line.verdict.is_no else "",
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
