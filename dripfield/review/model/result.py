"""What a comparison finds, as data for the tables and sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from dripfield.layout.model import Lateral
from dripfield.review.model.limits import Band, Verdict
from dripfield.review.model.plan import Plan, PlanRun

Quantity = Literal["length", "elevation", "offset", "spacing", "end"]


@dataclass(frozen=True)
class Difference:
    """One quantity of one line, plan against layout; ``plan`` is None for an offset."""

    quantity: Quantity
    plan: float | None
    layout: float | None
    difference: float
    band: Band

    @property
    def verdict(self) -> Verdict:
        """What the difference alone makes of the line."""
        return self.band.judge(self.difference)


def worst_verdict(verdicts: Sequence[Verdict]) -> Verdict:
    """The worst of several verdicts; none at all conforms."""
    order = list(Verdict)
    return max(verdicts, key=order.index, default=Verdict.CONFORMS)


@dataclass(frozen=True)
class Line:
    """One line of the comparison: a run, a lateral, or a pair of them.

    ``offset_mean`` and ``offset_max`` are distances between the two drawn lines, both ways.
    ``change`` says in a word what became of it; ``reasons`` say why the verdict is what it is.
    """

    run: PlanRun | None
    lateral: Lateral | None
    verdict: Verdict
    change: str
    differences: tuple[Difference, ...] = ()
    length_layout: float | None = None
    length_plan: float | None = None
    spacing_plan: float | None = None
    spacing_layout: float | None = None
    offset_mean: float | None = None
    offset_max: float | None = None
    reasons: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What a reader calls the line: the run's name, else the lateral's."""
        if self.run is not None:
            return self.run.name
        assert self.lateral is not None
        return self.lateral.name

    @property
    def severity(self) -> float:
        """Greatest difference as a multiple of its limit."""
        return max((one.band.severity(one.difference) for one in self.differences), default=0.0)


@dataclass(frozen=True)
class Total:
    """One total of the field: plan against layout, with the greatest difference allowed."""

    item: str
    plan: float | None
    layout: float
    places: int
    unit: str
    allowed: float | None = None
    verdict: Verdict | None = None

    @property
    def difference(self) -> float | None:
        """Layout less plan; None where the plan gives nothing."""
        return None if self.plan is None else self.layout - self.plan


@dataclass(frozen=True)
class SetbackLine:
    """One setback: what is required, by what source, and how near the nearest lateral comes.

    ``plan_distance`` is that of the plan's nearest run, None where no run is drawn.
    """

    feature: str
    kind: str
    required: float
    source: str | None
    nearest: str
    distance: float
    plan_distance: float | None
    verdict: Verdict


@dataclass(frozen=True)
class Comparison:
    """A plan compared with a layout.

    ``notes`` say how it was done, ``unchecked`` what could not be checked and why.
    """

    plan: Plan
    lines: tuple[Line, ...]
    totals: tuple[Total, ...]
    setbacks: tuple[SetbackLine, ...]
    notes: tuple[str, ...]
    unchecked: tuple[str, ...]

    @property
    def is_no(self) -> bool:
        """True when any line, total or setback does not conform."""
        verdicts = [one.verdict for one in self.lines]
        verdicts += [one.verdict for one in self.setbacks]
        verdicts += [one.verdict for one in self.totals if one.verdict is not None]
        return any(verdict.is_no for verdict in verdicts)

    def count(self, verdict: Verdict) -> int:
        """Lines with a verdict."""
        return sum(line.verdict is verdict for line in self.lines)

    def by_weight(self) -> list[Line]:
        """Lines in the order in which they matter to a reviewer, the worst first."""
        order = {
            Verdict.MISSING: 0,
            Verdict.NOT_ON_PLAN: 0,
            Verdict.DIFFERS: 1,
            Verdict.WITHIN: 2,
            Verdict.CONFORMS: 3,
        }
        return sorted(
            self.lines,
            key=lambda line: (
                order[line.verdict],
                -line.severity if line.verdict is not Verdict.CONFORMS else 0.0,
            ),
        )
