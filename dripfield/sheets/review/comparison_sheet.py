"""What the review sheet of a comparison says."""

from __future__ import annotations

from collections.abc import Mapping

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
    Column,
    DrawnLine,
    Overlay,
    Section,
    Sheet,
    Table,
    columns,
    conditions,
    counts_line,
    limits_line,
    site_facts,
)
from dripfield.sheets.review.record_sheet import laid_lines, record_table, setback_features
from dripfield.sheets.review.setback_table import setback_table
from dripfield.sheets.review.tables import figure, signed


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
        version=__version__,
    )


def totals_table(comparison: Comparison, words: tuple[str, str]) -> Table:
    """Totals of both sides, with what is allowed."""
    rows = tuple(
        (
            one.item,
            figure(one.plan, one.places),
            figure(one.layout, one.places),
            "" if one.difference is None else signed(one.difference, one.places),
            figure(one.allowed, one.places),
            one.unit,
            "" if one.verdict is None else one.verdict.value,
        )
        for one in comparison.totals
    )
    return Table(
        "Totals",
        columns(
            "what",
            words[0],
            words[1],
            "difference",
            "allowed",
            "unit",
            "verdict",
            numbers=(1, 2, 3, 4),
        ),
        rows,
        frozenset(
            i
            for i, one in enumerate(comparison.totals)
            if one.verdict is not None and one.verdict.is_no
        ),
    )


def _difference_table(comparison: Comparison, unit: Unit, words: tuple[str, str]) -> Table:
    """Every line, the worst first."""
    lines = comparison.by_weight()
    return Table(
        f"Line by line, what matters most first ({unit.short}; plan: {words[0]}, "
        f"layout: {words[1]})",
        difference_heads(("plan", "layout")),
        tuple(difference_row(line, unit) for line in lines),
        frozenset(i for i, line in enumerate(lines) if line.verdict.is_no),
    )


def difference_heads(words: tuple[str, str]) -> tuple[Column, ...]:
    """Heads of a table of lines of two sides."""
    one, other = words
    return columns(
        "run",
        "lateral",
        "verdict",
        f"length\n{one}",
        f"length\n{other}",
        f"elev.\n{one}",
        f"elev.\n{other}",
        "offset\nmean",
        "offset\nmost",
        f"spacing\n{one}",
        f"spacing\n{other}",
        "why",
        numbers=(3, 4, 5, 6, 7, 8, 9, 10),
        wide=11,
    )


def difference_row(
    line: Line, unit: Unit, words: Mapping[LineVerdict, str] | None = None
) -> tuple[str, ...]:
    """A row of a table of lines of two sides.

    Parameters
    ----------
    line : Line
    unit : Unit
    words : mapping, optional
        What to call the verdicts, where they have other names.

    Returns
    -------
    tuple of str
    """
    places = unit.places
    return (
        "–" if line.run is None else line.run.name,
        "–" if line.lateral is None else line.lateral.name,
        (words or {}).get(line.verdict, line.verdict.value),
        figure(line.length_plan, places),
        figure(line.length_layout, places),
        figure(None if line.run is None else line.run.elevation, places),
        figure(None if line.lateral is None else line.lateral.elevation, places),
        figure(line.offset_mean, places),
        figure(line.offset_max, places),
        figure(line.spacing_plan, places),
        figure(line.spacing_layout, places),
        "; ".join(line.reasons),
    )


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
            f"{side}: {text}" for side, one in sides if one.word == word for text in one.reasons
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
    return Table(
        f"The plan's runs on the surveyed ground, by themselves ({unit.short})",
        columns(
            "run",
            "ground",
            "off level",
            "spacing\nleast",
            "spacing\nmost",
            "distance to spare\n(negative: too near)",
            numbers=(2, 3, 4, 5),
        ),
        tuple(
            (
                line.name,
                line.ground.word,
                figure(line.ground.level_off, places),
                figure(line.ground.spacing_min, places),
                figure(line.ground.spacing_max, places),
                figure(line.ground.setback_least, places),
            )
            for line in lines
        ),
        frozenset(i for i, line in enumerate(lines) if line.ground.word != "holds"),
    )
