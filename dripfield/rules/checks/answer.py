"""What a check answers with, and how figures are held against limits.

A figure exactly at a limit passes, in either foot.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from dripfield.rules.model.book import Rule
from dripfield.rules.model.facts import Facts

Verdict = Literal["pass", "fail", "not proven"]
Answer = tuple[Verdict, str]
Check = Callable[[Rule, Facts], Answer]

SAME = 1e-5  # part of a limit by which it may be missed: the two feet differ by 2 in a million


def judged(broken: bool, line: str) -> Answer:
    """Fail where a limit is broken, else pass."""
    return ("fail" if broken else "pass", line)


def under(value: float, limit: float) -> bool:
    """Is a figure below a limit? One that is not known (NaN) is not."""
    return bool(value < limit * (1.0 - SAME))


def over(value: float, limit: float) -> bool:
    """Is a figure above a limit? One that is not known (NaN) is not."""
    return bool(value > limit * (1.0 + SAME))


def rounding(facts: Facts) -> float:
    """Half of the last place that a crew reads."""
    return 0.5 * 10.0**-facts.unit.places + 1e-9


def area_words(facts: Facts, area: float) -> str:
    """An area of the site: ``2,000 ft2``."""
    return f"{area:,.{0 if not facts.unit.is_metric else 1}f} {facts.unit.short}2"
