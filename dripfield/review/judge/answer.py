"""The answer on a plan: on the ground by itself first, against the layout second."""

from __future__ import annotations

import math
from collections.abc import Sequence

from dripfield.core.verdict import Verdict, verdict_of
from dripfield.design.model import Design
from dripfield.review.judge.on_ground import ground_counts
from dripfield.review.judge.setbacks import setback_reasons
from dripfield.review.model.limits import Limits, LineVerdict
from dripfield.review.model.plan import Plan
from dripfield.review.model.result import Line, RunOnGround, SetbackLine, Total

_MOST = 6


def plan_verdict(
    design: Design,
    plan: Plan,
    lines: Sequence[Line],
    setbacks: Sequence[SetbackLine],
    totals: Sequence[Total],
    causes: Sequence[str],
    limits: Limits,
) -> Verdict:
    """What follows from everything that was found.

    Parameters
    ----------
    design : Design
    plan : Plan
        Placed on the site where it is drawn.
    lines : sequence of Line
    setbacks : sequence of SetbackLine
        Of the plan.
    totals : sequence of Total
    causes : sequence of str
        What many differences have in common.
    limits : Limits

    Returns
    -------
    Verdict
        ``pass`` when every distance is kept and either every run conforms to the layout or is
        within limits, none extra and none left out, or the plan is a layout of its own: every run
        holds on the ground, says of itself what it draws, and the tubing is as long as the
        layout's within ``total_limit``, or longer.
    """
    unread = _unread(plan, lines)
    too_near, perhaps = setback_reasons(setbacks, design.site)
    contradictions = _contradictions(plan, lines, limits, design, totals)
    alike = bool(plan.runs) and all(line.verdict.is_yes for line in lines)
    if plan.ambiguous:
        return verdict_of([], [plan.ambiguous, *causes], [])
    if unread:
        wrong = [f"total of {one.item}: {_total(one)}" for one in totals if _too_little(one)]
        return verdict_of([*causes, *wrong] if wrong else [], [unread], [])
    if alike:
        failures = [*too_near, *(text for text in contradictions if text.startswith("the plan's"))]
        thin = _thin(plan)
        return verdict_of(failures, [*perhaps, *thin], _alike_words(plan, lines))
    differ = _differences(lines)
    if not plan.is_drawn:
        return _of_table(lines, [*causes, *too_near, *contradictions, *differ])
    found = [line.ground for line in lines if line.run is not None]
    missed = _missed(lines)
    unknown = [line.name for line in lines if line.run is not None and _unknown(line.ground)]
    less = _less_tubing(design, lines, limits)
    failures = [*too_near, *missed, *contradictions, *less]
    if failures:
        failures = [*causes, *failures, *differ]
    open_words = list(perhaps)
    if unknown:
        open_words.append(
            f"the ground along {_listed(unknown)} is not known: the survey does not reach it"
        )
    count = ground_counts(found)["holds"]
    passes = [
        f"a layout of its own that holds on the surveyed ground: all {count} runs are level and "
        "evenly spaced, every distance is kept, and the tubing is as long as asked for",
        *causes,
        *differ,
    ]
    return verdict_of(failures, open_words, passes)


def _unread(plan: Plan, lines: Sequence[Line]) -> str:
    """Why no run was read, where none was."""
    if plan.picture is not None:
        return "the plan is a picture: its lines were not read, and are shown for the eye alone"
    if not plan.runs:
        return "the sheet gives totals alone: no run was read"
    return ""


def _thin(plan: Plan) -> list[str]:
    """What a table must give for its runs to be known at all."""
    if plan.is_drawn or any(run.elevation is not None for run in plan.runs):
        return []
    return ["the plan gives neither lines nor elevations: nothing says where its runs lie"]


def _alike_words(plan: Plan, lines: Sequence[Line]) -> list[str]:
    within = sum(line.verdict is LineVerdict.WITHIN for line in lines)
    said = f"every line conforms to the layout, {within} of them within limits only"
    said = said if within else "every line conforms to the layout"
    if plan.is_drawn:
        return [said, "every distance is kept on the plan"]
    return [said, "the plan draws no lines: its distances are those of the layout that it states"]


def _differences(lines: Sequence[Line]) -> list[str]:
    """How the plan differs from the layout, the weightiest first."""
    said = []
    for verdict, words in (
        (LineVerdict.NOT_LAID_OUT, "not laid out (on the plan, not in the layout)"),
        (LineVerdict.NOT_ON_PLAN, "not on the plan"),
    ):
        names = [line.name for line in lines if line.verdict is verdict]
        if names:
            said.append(f"{len(names)} {words}: {_listed(names)}")
    wrong = [line for line in lines if line.verdict is LineVerdict.DIFFERS]
    if wrong:
        each = [f"{line.name} ({'; '.join(line.reasons[:2])})" for line in wrong[:_MOST]]
        more = f" and {len(wrong) - _MOST} more" if len(wrong) > _MOST else ""
        said.append(f"{len(wrong)} do not conform to the layout: {', '.join(each)}{more}")
    return said


def _of_table(lines: Sequence[Line], failures: list[str]) -> Verdict:
    """A table is the layout with faults, or another layout, of which it cannot tell the ground."""
    alike = sum(line.verdict.is_yes for line in lines)
    if 2 * alike > len(lines):
        return verdict_of(failures, [], [])
    unproven = [
        "the table is of another layout, and a table does not say where its runs lie: draw the "
        "plan to judge it on the ground",
        *failures,
    ]
    return verdict_of([], unproven, [])


def _unknown(found: RunOnGround) -> bool:
    return found.word == "not known"


def _missed(lines: Sequence[Line]) -> list[str]:
    """Runs out of tolerance on the ground."""
    said = []
    for word, what in (
        ("misses level", "not level on the surveyed ground"),
        ("misses spacing", "not evenly spaced"),
        ("misses both", "neither level nor evenly spaced"),
    ):
        names = [line.name for line in lines if line.run is not None and line.ground.word == word]
        if names:
            verb = "is" if len(names) == 1 else "are"
            said.append(f"{len(names)} of the plan's runs {verb} {what}: {_listed(names)}")
    return said


def _contradictions(
    plan: Plan, lines: Sequence[Line], limits: Limits, design: Design, totals: Sequence[Total]
) -> list[str]:
    """Where the plan states what it does not draw."""
    places = design.site.unit.places
    said = []
    high = [
        line
        for line in lines
        if line.run is not None
        and line.run.elevation is not None
        and line.ground.height is not None
        and limits.elevation.judge(line.run.elevation - line.ground.height).is_no
    ]
    if high:
        each = [
            f"{line.name} ({line.run.elevation:.{places}f}, ground {line.ground.height:.{places}f})"
            for line in high[:_MOST]
            if line.run is not None and line.run.elevation is not None
        ]
        more = f" and {len(high) - _MOST} more" if len(high) > _MOST else ""
        said.append(
            "elevations written on the plan are not those of the ground under it: "
            f"{', '.join(each)}{more}"
        )
    said += [
        f"{line.name}: {reason}"
        for line in lines
        for reason in line.reasons
        if reason.startswith("the plan states")
    ][:_MOST]
    said += [
        f"{one.item}: {_total(one)}"
        for one in totals
        if one.item.startswith("the plan's total") and one.verdict is not None and one.verdict.is_no
    ]
    return said


def _less_tubing(design: Design, lines: Sequence[Line], limits: Limits) -> list[str]:
    own = sum(line.length_plan or 0.0 for line in lines if line.run is not None)
    asked = sum(one.length for one in design.measured.laterals)
    if own >= asked * (1.0 - limits.total.limit) - 1e-6:
        return []
    unit = design.site.unit
    return [
        f"tubing {own:.{unit.places}f} {unit.short} on the plan against {asked:.{unit.places}f} "
        f"laid out, {(asked - own) / asked:.1%} less (limit {limits.total.limit:.1%})"
    ]


def _too_little(one: Total) -> bool:
    """A total that is less on the plan than allowed; more of it is no fault."""
    if one.verdict is None or not one.verdict.is_no or one.plan is None:
        return False
    return one.plan < one.layout or not one.item.startswith(("tubing", "runs"))


def _total(one: Total) -> str:
    plan = math.nan if one.plan is None else one.plan
    return f"{plan:.{one.places}f} {one.unit} on the plan against {one.layout:.{one.places}f}"


def _listed(names: Sequence[str]) -> str:
    more = f" and {len(names) - 12} more" if len(names) > 12 else ""
    return ", ".join(names[:12]) + more
