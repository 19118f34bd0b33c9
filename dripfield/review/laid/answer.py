"""The answer of a record: pass, fail or not proven, with its reasons."""

from __future__ import annotations

from collections.abc import Sequence

from dripfield.core.verdict import Verdict, verdict_of
from dripfield.review.judge.setbacks import setback_reasons
from dripfield.review.laid.marks import mark_words
from dripfield.review.laid.proof import measure_more
from dripfield.review.laid.record_result import MarkCheck, RecordLine
from dripfield.review.model.limits import Limits, LineVerdict
from dripfield.review.model.result import SetbackLine
from dripfield.site.model import Site

_MOST = 8


def record_verdict(
    lines: Sequence[RecordLine],
    marks: Sequence[MarkCheck],
    setbacks: Sequence[SetbackLine],
    causes: Sequence[str],
    limits: Limits,
    site: Site,
) -> Verdict:
    """What follows from everything that was found.

    Parameters
    ----------
    lines : sequence of RecordLine
    marks : sequence of MarkCheck
    setbacks : sequence of SetbackLine
        As laid.
    causes : sequence of str
        What many differences have in common.
    limits : Limits
    site : Site

    Returns
    -------
    Verdict
        ``fail`` when a lateral is wrong or a distance is not kept; else ``not proven`` when a mark
        was shot off its place or something is open; a common cause is said before the laterals.
    """
    wrong = [line for line in lines if line.verdict.is_no]
    open_lines = [line for line in lines if line.verdict is LineVerdict.NOT_PROVEN]
    too_near, perhaps = setback_reasons(setbacks, site)
    failures = _counted(wrong, len(lines), "do not conform") + too_near
    unproven = _counted(open_lines, len(lines), "are not proven") + perhaps
    said = [
        f"{mark_words(mark, site)}: the shots are off, or the mark is"
        for mark in marks
        if not mark.ok
    ]
    if failures:
        failures = [*said, *causes, *failures]
    else:
        unproven = [*said, *causes, *unproven]
    widest = max((line.gap_max for line in lines), default=0.0)
    passes = [
        f"all {len(lines)} laterals were laid within limits, with shots at most {widest:.1f} "
        f"{site.unit.short} apart"
    ]
    passes += [f"{mark_words(mark, site)}, which is good" for mark in marks if mark.ok]
    return verdict_of(failures, unproven, passes, measure_more(lines, limits))


def _counted(lines: Sequence[RecordLine], total: int, words: str) -> list[str]:
    """How many of the laterals, and the first of them with their reasons."""
    if not lines:
        return []
    each = [f"{line.name} ({'; '.join(line.reasons[:2])})" for line in lines[:_MOST]]
    more = f" and {len(lines) - _MOST} more" if len(lines) > _MOST else ""
    return [f"{len(lines)} of {total} laterals {words}: {', '.join(each)}{more}"]
