"""What the sheet of two own versions says: totals side by side, both drawn, only what changed."""

from __future__ import annotations

from dataclasses import replace

from dripfield.core.table import Table
from dripfield.core.version import __version__
from dripfield.review.judge.revision import Revision, renumbered
from dripfield.review.model.limits import Limits, LineVerdict
from dripfield.review.model.result import Comparison
from dripfield.sheets.review.comparison_sheet import (
    comparison_overlay,
    difference_columns,
    difference_row,
    totals_table,
)
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

_WORDS = ("before", "after")
_CHANGES = {
    LineVerdict.CONFORMS: "the same",
    LineVerdict.WITHIN: "the same within limits",
    LineVerdict.DIFFERS: "changed",
    LineVerdict.NOT_LAID_OUT: "only before",
    LineVerdict.NOT_ON_PLAN: "only after",
}


def revision_sheet(
    before: Revision,
    after: Revision,
    comparison: Comparison,
    limits: Limits,
    files: tuple[tuple[str, str], ...],
) -> Sheet:
    """Gather the sheet of two versions.

    Parameters
    ----------
    before, after : Revision
    comparison : Comparison
        Of the two, paired by where lines lie.
    limits : Limits
    files : tuple of (name, SHA-256)

    Returns
    -------
    Sheet
    """
    design = after.design
    unit = design.site.unit
    names = [side.name.resolve().name for side in (before, after)]
    changed = [line for line in comparison.by_weight() if not line.verdict.is_yes]
    again = renumbered(comparison)
    another = 4 * len(changed) > 3 * len(comparison.lines)
    if another:
        changed = []
    notes = [f"the same lines under other names: {'; '.join(again)}"] if again else []
    if another:
        notes.append(
            "hardly a line is the same: the later is another layout, which totals and drawing "
            "compare; lines are not listed one by one"
        )
    return Sheet(
        title=f"Revision sheet: {names[0]} before, {names[1]} after",
        site=design.site.name,
        facts=(
            f"before: {len(before.design.layout.laterals)} laterals by the "
            f"{before.design.layout.method} method; after: {len(design.layout.laterals)} by the "
            f"{design.layout.method} method; lengths in {unit.label}",
            limits_line(limits, unit),
            *site_facts(design.site),
        ),
        verdict=comparison.verdict,
        counts=counts_line({word: comparison.count(one) for one, word in _CHANGES.items()}),
        summary=(totals_table(comparison, _WORDS),),
        overlay=_both_drawn(comparison_overlay(design, comparison, _WORDS), another=another),
        tables=(
            Table(
                difference_columns(unit, _WORDS),
                [difference_row(line, _CHANGES) for line in changed],
                f"Lines that changed ({unit.short}); those that are the same are only drawn",
            ),
        ),
        conditions=conditions(design.site),
        unchecked=Section("Could not be checked, and why", ()),
        notes=Section("How it was done", (*notes, *comparison.notes)),
        files=files,
        code=design.code,
        version=__version__,
    )


def _both_drawn(overlay: Overlay, *, another: bool) -> Overlay:
    """The map with words of a revision; of another layout both are drawn and nothing is flagged."""
    words = {one.value: word for one, word in _CHANGES.items()}

    def said(lines: tuple[DrawnLine, ...]) -> tuple[DrawnLine, ...]:
        return tuple(replace(line, flag=words.get(line.flag, line.flag)) for line in lines)

    if not another:
        return replace(
            overlay,
            designed=said(overlay.designed),
            missing=said(overlay.missing),
            extra=said(overlay.extra),
        )
    before = tuple(replace(line, name="") for line in (*overlay.approved, *overlay.missing))
    after = tuple(replace(line, flag="") for line in (*overlay.designed, *overlay.extra))
    return replace(overlay, approved=before, designed=after, missing=(), extra=())
