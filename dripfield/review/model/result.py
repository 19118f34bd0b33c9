"""What a comparison finds, as data for the tables and sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from dripfield.core.verdict import Verdict
from dripfield.layout.model import Lateral
from dripfield.review.model.limits import Band, LineVerdict
from dripfield.review.model.plan import Plan, PlanRun

Quantity = Literal["length", "elevation", "offset", "spacing", "end"]
GroundWord = Literal["holds", "misses level", "misses spacing", "misses both", "not known"]


@dataclass(frozen=True)
class Difference:
    """One quantity of one line, plan against layout; ``plan`` is None for an offset.

    ``accuracy`` is how far the measurement itself may be off [site unit].
    """

    quantity: Quantity
    plan: float | None
    layout: float | None
    difference: float
    band: Band
    accuracy: float = 0.0

    @property
    def verdict(self) -> LineVerdict:
        """What the difference alone makes of the line."""
        return self.band.judge(self.difference, self.accuracy)


def worst_verdict(verdicts: Sequence[LineVerdict]) -> LineVerdict:
    """The worst of several verdicts; none at all conforms."""
    order = list(LineVerdict)
    return max(verdicts, key=order.index, default=LineVerdict.CONFORMS)


@dataclass(frozen=True)
class RunOnGround:
    """A run of the plan judged on the surveyed ground by itself; None where it is not known.

    Attributes
    ----------
    level_off : float or None
        Half of the highest less the lowest ground along it [site unit].
    spacing_min, spacing_max : float or None
        Least and greatest distance to the plan's own neighbouring runs [site unit].
    setback_least : float or None
        Least of distance less required, over everything that is kept away from [site unit].
    word : str
        Whether it holds the site's tolerances.
    height : float or None
        Middle of the highest and the lowest ground along it [site unit].
    """

    level_off: float | None = None
    spacing_min: float | None = None
    spacing_max: float | None = None
    setback_least: float | None = None
    word: GroundWord = "not known"
    height: float | None = None


@dataclass(frozen=True)
class Line:
    """One line of the comparison: a run, a lateral, or a pair of them.

    ``offset_mean`` and ``offset_max`` are distances between the two drawn lines, both ways.
    ``change`` says in a word what became of it; ``reasons`` say why the verdict is what it is.
    """

    run: PlanRun | None
    lateral: Lateral | None
    verdict: LineVerdict
    change: str
    differences: tuple[Difference, ...] = ()
    length_layout: float | None = None
    length_plan: float | None = None
    spacing_plan: float | None = None
    spacing_layout: float | None = None
    offset_mean: float | None = None
    offset_max: float | None = None
    reasons: tuple[str, ...] = ()
    ground: RunOnGround = RunOnGround()

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
    verdict: LineVerdict | None = None

    @property
    def difference(self) -> float | None:
        """Layout less plan; None where the plan gives nothing."""
        return None if self.plan is None else self.layout - self.plan


@dataclass(frozen=True)
class SetbackLine:
    """One setback: what is required, by what source, and how near anything comes to it.

    ``distance`` is that of the layout, ``plan_distance`` that of the plan or of what was laid, None
    where nothing of it is drawn; ``nearest`` is the nearest run there, or lateral where nothing is.
    """

    feature: str
    kind: str
    required: float
    source: str | None
    nearest: str
    distance: float
    plan_distance: float | None
    verdict: LineVerdict


@dataclass(frozen=True)
class Comparison:
    """A plan compared with a layout.

    ``causes`` are what many differences have in common. ``notes`` say how it was done,
    ``unchecked`` what could not be checked and why.
    """

    plan: Plan
    lines: tuple[Line, ...]
    totals: tuple[Total, ...]
    setbacks: tuple[SetbackLine, ...]
    verdict: Verdict
    causes: tuple[str, ...]
    notes: tuple[str, ...]
    unchecked: tuple[str, ...]

    def count(self, verdict: LineVerdict) -> int:
        """Lines with a verdict."""
        return sum(line.verdict is verdict for line in self.lines)

    def by_weight(self) -> list[Line]:
        """Lines in the order in which they matter to a reviewer, the worst first."""
        order = {
            LineVerdict.NOT_LAID_OUT: 0,
            LineVerdict.NOT_ON_PLAN: 0,
            LineVerdict.DIFFERS: 1,
            LineVerdict.WITHIN: 2,
        }
        return sorted(
            self.lines,
            key=lambda line: (
                order.get(line.verdict, 3),
                -line.severity if line.verdict is not LineVerdict.CONFORMS else 0.0,
            ),
        )
