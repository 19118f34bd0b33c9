"""What the review sheet of a comparison says."""

from __future__ import annotations

from collections.abc import Iterable

from dripfield.core.table import Cell, Figure, Table, figures, text
from dripfield.core.units import Unit
from dripfield.core.version import __version__
from dripfield.design.model import Design
from dripfield.layout.model import Layout
from dripfield.review.laid.record_result import Record
from dripfield.review.model.limits import Limits, Verdict
from dripfield.review.model.result import Comparison, Line
from dripfield.sheets.review.content import (
    DrawnLine,
    Overlay,
    Section,
    Sheet,
    counts_line,
    limits_line,
)
from dripfield.sheets.review.record_sheet import laid_lines, record_table, setback_features
from dripfield.site.model import Site


def comparison_sheet(
    design: Design,
    comparison: Comparison,
    limits: Limits,
    files: tuple[tuple[str, str], ...],
    *,
    title: str = "Review sheet: approved plan against layout",
    words: tuple[str, str] = ("approved plan", "laid out"),
    record: Record | None = None,
) -> Sheet:
    """Gather the review sheet of a comparison.

    Parameters
    ----------
    design : Design
    comparison : Comparison
    limits : Limits
    files : tuple of (name, SHA-256)
    title : str
    words : (str, str)
        What the two sides are called.
    record : Record, optional
        Shots of what was laid, shown as the third line style and in a table of their own.

    Returns
    -------
    Sheet
    """
    unit = design.site.unit
    is_no = comparison.is_no or (record is not None and record.is_no)
    unchecked = [*comparison.unchecked, *(record.unchecked if record is not None else ())]
    notes = [*comparison.notes, *(record.notes if record is not None else ())]
    tables = [_difference_table(comparison, unit, words)]
    if record is not None:
        tables.append(record_table(record, unit))
    return Sheet(
        title=title,
        site=design.site.name,
        facts=(
            f"{words[0]}: {comparison.plan.source.name}, {len(comparison.plan.runs)} runs; "
            f"{words[1]}: {len(design.layout.laterals)} laterals by the {design.layout.method} "
            f"method; lengths in {unit.label}",
            limits_line(limits, unit),
        ),
        answer=_answer(comparison, is_no),
        counts=counts_line({verdict.value: comparison.count(verdict) for verdict in Verdict}),
        is_no=is_no,
        summary=(
            _totals_table(comparison, words),
            _setback_table(comparison, unit),
        ),
        overlay=_overlay(design.site, design.layout, comparison, words, record),
        tables=tuple(tables),
        unchecked=Section("Could not be checked, and why", tuple(unchecked)),
        notes=Section("How it was done", tuple(notes)),
        files=files,
        version=__version__,
    )


def _answer(comparison: Comparison, is_no: bool) -> str:
    bad = [
        f"{comparison.count(verdict)} {words}"
        for verdict, words in (
            (Verdict.MISSING, "missing from the layout"),
            (Verdict.NOT_ON_PLAN, "not on the plan"),
            (Verdict.DIFFERS, "do not conform"),
        )
        if comparison.count(verdict)
    ]
    bad += [
        f"total of {one.item} does not conform"
        for one in comparison.totals
        if one.verdict is not None and one.verdict.is_no
    ]
    bad += [f"too near to {one.feature}" for one in comparison.setbacks if one.verdict.is_no]
    if bad:
        return f"NO: {', '.join(bad)}."
    if is_no:
        return "NO: what was laid does not conform."
    within = comparison.count(Verdict.WITHIN)
    return (
        f"YES: every line conforms, {within} of them within limits only."
        if within
        else "YES: every line conforms."
    )


def _totals_table(comparison: Comparison, words: tuple[str, str]) -> Table:
    columns = (
        text("what"),
        *(figures(words[0]), figures(words[1]), figures("difference", signed=True)),
        *(figures("allowed"), text("unit"), text("verdict")),
    )
    rows = [
        (
            one.item,
            *(Figure(value, one.places) for value in (one.plan, one.layout)),
            *(Figure(value, one.places) for value in (one.difference, one.allowed)),
            one.unit,
            "" if one.verdict is None else one.verdict.value,
        )
        for one in comparison.totals
    ]
    no = (one.verdict is not None and one.verdict.is_no for one in comparison.totals)
    return Table(columns, rows, "Totals", marked=_where(no))


def _setback_table(comparison: Comparison, unit: Unit) -> Table:
    places = unit.places
    columns = (
        *(text("from"), text("kind"), figures("required", places)),
        text("nearest\nlateral"),
        *(figures("distance\nlaid out", places), figures("distance\non plan", places)),
        *(text("verdict"), text("source", wide=True)),
    )
    rows = [
        (
            *(one.feature, one.kind, one.required, one.nearest, one.distance, one.plan_distance),
            *(one.verdict.value, one.source or "not entered"),
        )
        for one in comparison.setbacks
    ]
    marked = _where(one.verdict.is_no for one in comparison.setbacks)
    return Table(columns, rows, f"Distances to keep ({unit.short})", marked=marked)


def _difference_table(comparison: Comparison, unit: Unit, words: tuple[str, str]) -> Table:
    """Every line, the worst first."""
    heads = (
        *("length\nplan", "length\nlayout", "elev.\nplan", "elev.\nlayout"),
        *("offset\nmean", "offset\nmost", "spacing\nplan", "spacing\nlayout"),
    )
    columns = (
        *(text("run"), text("lateral"), text("verdict")),
        *(figures(head, unit.places) for head in heads),
        text("why", wide=True),
    )
    lines = comparison.by_weight()
    title = (
        f"Line by line, what matters most first ({unit.short}; plan: {words[0]}, "
        f"layout: {words[1]})"
    )
    marked = _where(line.verdict.is_no for line in lines)
    return Table(columns, [_difference_row(line) for line in lines], title, marked=marked)


def _difference_row(line: Line) -> tuple[Cell, ...]:
    return (
        None if line.run is None else line.run.name,
        None if line.lateral is None else line.lateral.name,
        *(line.verdict.value, line.length_plan, line.length_layout),
        None if line.run is None else line.run.elevation,
        None if line.lateral is None else line.lateral.elevation,
        *(line.offset_mean, line.offset_max, line.spacing_plan, line.spacing_layout),
        "; ".join(line.reasons),
    )


def _where(marks: Iterable[bool]) -> frozenset[int]:
    return frozenset(i for i, mark in enumerate(marks) if mark)


def _overlay(
    site: Site,
    layout: Layout,
    comparison: Comparison,
    words: tuple[str, str],
    record: Record | None,
) -> Overlay:
    lateral_flags = {
        line.lateral.name: line.verdict.value
        for line in comparison.lines
        if line.lateral is not None and line.verdict.is_no
    }
    # a pair is named once, by its lateral; a run without one by its own name
    paired = {
        line.run.name
        for line in comparison.lines
        if line.run is not None and line.lateral is not None
    }
    approved = tuple(
        DrawnLine("", run.xy) if run.name in paired else DrawnLine(run.name, run.xy, "missing")
        for run in comparison.plan.runs
        if run.xy is not None
    )
    designed = tuple(
        DrawnLine(one.name, one.xy, lateral_flags.get(one.name, "")) for one in layout.laterals
    )
    return Overlay(
        bed=site.bed.boundary,
        approved=approved,
        designed=designed,
        laid=laid_lines(record) if record is not None else (),
        approved_bed=comparison.plan.boundary,
        keepouts=site.bed.keepouts,
        features=setback_features(site),
        words=(*words, "laid, with its shots"),
    )
