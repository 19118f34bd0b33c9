"""What the sheet of two own versions says: totals side by side, both drawn, only what changed."""

from __future__ import annotations

from dripfield.core.version import __version__
from dripfield.review.judge.revision import Revision, renumbered
from dripfield.review.model.limits import Limits, LineVerdict
from dripfield.review.model.result import Comparison
from dripfield.sheets.review.comparison_sheet import (
    comparison_overlay,
    difference_heads,
    difference_row,
    totals_table,
)
from dripfield.sheets.review.content import (
    Section,
    Sheet,
    Table,
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
    notes = [f"the same lines under other names: {'; '.join(again)}"] if again else []
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
        overlay=comparison_overlay(design, comparison, _WORDS),
        tables=(
            Table(
                f"Lines that changed ({unit.short}); those that are the same are only drawn",
                difference_heads(_WORDS),
                tuple(difference_row(line, unit, _CHANGES) for line in changed),
            ),
        ),
        conditions=conditions(design.site),
        unchecked=Section("Could not be checked, and why", ()),
        notes=Section("How it was done", (*notes, *comparison.notes)),
        files=files,
        version=__version__,
    )
