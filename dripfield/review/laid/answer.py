"""The answer of a record: pass, fail or not proven, with its reasons."""

from __future__ import annotations

import re
from collections.abc import Sequence

from dripfield.core.verdict import Verdict, verdict_of
from dripfield.core.words import first_few
from dripfield.review.judge.setbacks import setback_reasons
from dripfield.review.laid.marks import mark_words
from dripfield.review.laid.proof import measure_more
from dripfield.review.laid.record_result import MarkCheck, RecordLine
from dripfield.review.model.limits import Limits, LineVerdict
from dripfield.review.model.result import SetbackLine
from dripfield.site.model import Site

_MOST = 8
_FIGURE = re.compile(r"\d+(\.\d+)?")


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
    """How many of the laterals, those with one kind of reason together."""
    if not lines:
        return []
    kinds: dict[str, list[RecordLine]] = {}
    for line in lines:
        kinds.setdefault(_FIGURE.sub("#", _why(line)), []).append(line)
    each = [_together(kind) for kind in list(kinds.values())[:_MOST]]
    left = sum(len(kind) for kind in list(kinds.values())[_MOST:])
    more = f"; and {left} more" if left else ""
    return [f"{len(lines)} of {total} laterals {words}: {'; '.join(each)}{more}"]


def _why(line: RecordLine) -> str:
    return "; ".join(line.reasons[:2])


def _together(lines: Sequence[RecordLine]) -> str:
    """Names of laterals with a reason that is all theirs but for its figures."""
    first, names = lines[0], first_few([line.name for line in lines], _MOST)
    alike = all(_why(line) == _why(first) for line in lines)
    return f"{names} ({_why(first)})" if alike else f"{names} ({first.name}: {_why(first)})"
