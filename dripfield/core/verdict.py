"""The three answers of a check: pass, fail, not proven, and the file that says which."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

Word = Literal["pass", "fail", "not proven"]


@dataclass(frozen=True)
class MeasureMore:
    """A place to measure, and why."""

    northing: float
    easting: float
    why: str


@dataclass(frozen=True)
class Verdict:
    """An answer with its reasons.

    Attributes
    ----------
    word : str
        ``pass``, ``fail`` or ``not proven``: too little was measured to say, which is never a yes.
    reasons : tuple of str
        Why, the weightiest first.
    measure_more : tuple of MeasureMore
        Where further measurements are needed.
    """

    word: Word
    reasons: tuple[str, ...]
    measure_more: tuple[MeasureMore, ...] = ()

    @property
    def passed(self) -> bool:
        """Whether the answer is a yes."""
        return self.word == "pass"


def verdict_of(
    failures: Sequence[str],
    unproven: Sequence[str],
    passes: Sequence[str],
    measure_more: Sequence[MeasureMore] = (),
) -> Verdict:
    """The answer that follows from what was found.

    Parameters
    ----------
    failures : sequence of str
        What is wrong: any of them makes it a fail, however little was measured.
    unproven : sequence of str
        What is not known: without a failure any of them makes it not proven. After a failure they
        are reasons too.
    passes : sequence of str
        Reasons of a pass; left out of the other two answers.
    measure_more : sequence of MeasureMore

    Returns
    -------
    Verdict
    """
    word: Word = "fail" if failures else "not proven" if unproven else "pass"
    reasons = (*failures, *unproven) or tuple(passes)
    return Verdict(word, reasons, tuple(measure_more))


def write_verdict(path: Path, verdict: Verdict) -> None:
    """Write ``verdict.json``: the word, the reasons and where to measure more."""
    content = {
        "verdict": verdict.word,
        "reasons": list(verdict.reasons),
        "measure_more": [
            {
                "northing": round(place.northing, 3),
                "easting": round(place.easting, 3),
                "why": place.why,
            }
            for place in verdict.measure_more
        ],
    }
    path.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
