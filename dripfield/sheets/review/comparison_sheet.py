"""What the review sheet of a comparison says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from dripfield.core.table import Cell, Column, Figure, Table, figures, text
from dripfield.core.units import Unit
from dripfield.core.verdict import Verdict, verdict_of
from dripfield.core.version import __version__
from dripfield.design.model import Design
from dripfield.review.judge.on_ground import ground_counts
from dripfield.review.laid.record_result import Record
from dripfield.review.model.limits import Limits, LineVerdict
from dripfield.review.model.result import Comparison, Line
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
from dripfield.sheets.review.record_sheet import laid_lines, record_table, setback_features
from dripfield.sheets.review.setback_table import setback_table


def comparison_sheet(
    design: Design,
    comparison: Comparison,
    limits: Limits,
    files: tuple[tuple[str, str], ...],
    *,
    record: Record | None = None,
) -> Sheet:
    """Gather the review sheet of a comparison.

    Parameters
    ----------
    design : Design
    comparison : Comparison
    limits : Limits
    files : tuple of (name, SHA-256)
    record : Record, optional
        Shots of what was laid, shown as the third line style and in a table of their own.

    Returns
    -------
    Sheet
    """
    unit = design.site.unit
    words = ("approved plan", "laid out")
    verdict = comparison.verdict
    if record is not None:
        verdict = _both(verdict, record.verdict)
    unchecked = [*comparison.unchecked, *(record.unchecked if record is not None else ())]
    notes = [*comparison.notes, *(record.notes if record is not None else ())]
    tables = [ground_table(comparison, unit), _difference_table(comparison, unit, words)]
    if record is not None:
        tables.append(record_table(record, unit))
    return Sheet(
        title="Review sheet: approved plan on the ground and against the layout",
        site=design.site.name,
        facts=(
            f"{words[0]}: {comparison.plan.source.name}, {_read(comparison)}; "
            f"{words[1]}: {len(design.layout.laterals)} laterals by the {design.layout.method} "
            f"method; lengths in {unit.label}",
            limits_line(limits, unit),
            *site_facts(design.site),
        ),
        verdict=verdict,
        counts=_counts(comparison),
        summary=(
            totals_table(comparison, words),
            setback_table(comparison.setbacks, unit, "on plan"),
            code_items(design),
        ),
        overlay=comparison_overlay(design, comparison, words, record),
        tables=tuple(tables),
        conditions=conditions(design.site),
        unchecked=Section("Could not be checked, and why", tuple(unchecked)),
        notes=Section("How it was done", tuple(notes)),
        files=files,
        code=design.code,
        version=__version__,
    )


def totals_table(comparison: Comparison, words: tuple[str, str]) -> Table:
    """Totals of both sides, with what is allowed."""
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


def _difference_table(comparison: Comparison, unit: Unit, words: tuple[str, str]) -> Table:
    """Every line, the worst first."""
    lines = comparison.by_weight()
    title = (
        f"Line by line, what matters most first ({unit.short}; plan: {words[0]}, "
        f"layout: {words[1]})"
    )
    marked = _where(line.verdict.is_no for line in lines)
    rows = [difference_row(line) for line in lines]
    return Table(difference_columns(unit, ("plan", "layout")), rows, title, marked=marked)


def difference_columns(unit: Unit, words: tuple[str, str]) -> tuple[Column, ...]:
    """Columns of a table of lines of two sides."""
    one, other = words
    heads = (
        *(f"length\n{one}", f"length\n{other}", f"elev.\n{one}", f"elev.\n{other}"),
        *("offset\nmean", "offset\nmost", f"spacing\n{one}", f"spacing\n{other}"),
    )
    return (
        *(text("run"), text("lateral"), text("verdict")),
        *(figures(head, unit.places) for head in heads),
        text("why", wide=True),
    )


def difference_row(line: Line, words: Mapping[LineVerdict, str] | None = None) -> tuple[Cell, ...]:
    """A row of a table of lines of two sides.

    Parameters
    ----------
    line : Line
    words : mapping, optional
        What to call the verdicts, where they have other names.

    Returns
    -------
    tuple of cells
    """
    return (
        None if line.run is None else line.run.name,
        None if line.lateral is None else line.lateral.name,
        (words or {}).get(line.verdict, line.verdict.value),
        *(line.length_plan, line.length_layout),
        None if line.run is None else line.run.elevation,
        None if line.lateral is None else line.lateral.elevation,
        *(line.offset_mean, line.offset_max, line.spacing_plan, line.spacing_layout),
        "; ".join(line.reasons),
    )


def _where(marks: Iterable[bool]) -> frozenset[int]:
    return frozenset(i for i, mark in enumerate(marks) if mark)


def comparison_overlay(
    design: Design, comparison: Comparison, words: tuple[str, str], record: Record | None = None
) -> Overlay:
    """The map of a comparison: a pair is named once, by its lateral; the worst lines first.

    Parameters
    ----------
    design : Design
    comparison : Comparison
    words : (str, str)
        What the two sides are called.
    record : Record, optional
        What was laid.

    Returns
    -------
    Overlay
    """
    site = design.site
    approved: list[DrawnLine] = []
    missing: list[DrawnLine] = []
    designed: list[DrawnLine] = []
    extra: list[DrawnLine] = []
    for line in comparison.lines:
        flag = line.verdict.value if line.verdict.is_no else ""
        weight = line.severity + (10.0 if line.verdict.is_no else 0.0)
        if line.lateral is not None:
            drawn = DrawnLine(line.lateral.name, line.lateral.xy, flag, weight)
            (extra if line.verdict is LineVerdict.NOT_ON_PLAN else designed).append(drawn)
        if line.run is not None and line.run.xy is not None:
            name = "" if line.lateral is not None else line.run.name
            drawn = DrawnLine(name, line.run.xy, flag if name else "", weight)
            (missing if line.lateral is None else approved).append(drawn)
    return Overlay(
        bed=site.bed.boundary,
        approved=tuple(approved),
        designed=tuple(designed),
        laid=laid_lines(record) if record is not None else (),
        missing=tuple(missing),
        extra=tuple(extra),
        approved_bed=comparison.plan.boundary,
        keepouts=site.bed.keepouts,
        features=setback_features(site),
        words=(*words, "laid, with its shots"),
        odd=(f"{words[0]} only", f"{words[1]} only"),
        picture=comparison.plan.picture,
    )


def _read(comparison: Comparison) -> str:
    """How much of the plan was read, in words."""
    if comparison.plan.picture is not None:
        return "a picture, shown pale under the layout"
    return f"{len(comparison.plan.runs)} runs" if comparison.plan.runs else "totals alone"


def _both(plan: Verdict, laid: Verdict) -> Verdict:
    """One answer on a plan and on what was laid after it."""
    sides = (("plan", plan), ("as laid", laid))

    def reasons(word: str) -> list[str]:
        return [
            f"{side}: {reason}" for side, one in sides if one.word == word for reason in one.reasons
        ]

    return verdict_of(reasons("fail"), reasons("not proven"), reasons("pass"), [*laid.measure_more])


def _counts(comparison: Comparison) -> str:
    """How many runs hold on the ground, and how many lines have each verdict."""
    counts = ground_counts([one.ground for one in comparison.lines if one.run is not None])
    on_ground = counts_line({str(word): count for word, count in counts.items()})
    against = counts_line({one.value: comparison.count(one) for one in LineVerdict})
    return f"On the ground: {on_ground or 'not read'}. Against the layout: {against}."


def ground_table(comparison: Comparison, unit: Unit) -> Table:
    """Every run of the plan judged by itself on the surveyed ground, the worst first."""
    places = unit.places
    lines = [line for line in comparison.lines if line.run is not None and line.run.xy is not None]
    lines.sort(key=lambda line: (line.ground.word == "holds", -(line.ground.level_off or 0.0)))
    columns = (
        *(text("run"), text("ground"), figures("off level", places)),
        *(figures("spacing\nleast", places), figures("spacing\nmost", places)),
        figures("distance to spare\n(negative: too near)", places),
    )
    rows = [
        (
            *(line.name, line.ground.word, line.ground.level_off),
            *(line.ground.spacing_min, line.ground.spacing_max, line.ground.setback_least),
        )
        for line in lines
    ]
    title = f"The plan's runs on the surveyed ground, by themselves ({unit.short})"
    return Table(columns, rows, title, marked=_where(line.ground.word != "holds" for line in lines))
