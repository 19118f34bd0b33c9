"""The approved plan against the layout, line by line, with totals and setbacks."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from dripfield.core.lines import line_length
from dripfield.core.units import Unit
from dripfield.core.words import first_few
from dripfield.design.model import Design
from dripfield.layout.model import Lateral
from dripfield.measures.laterals import LateralMeasure
from dripfield.measures.neighbours import REACH
from dripfield.review.judge.answer import plan_verdict
from dripfield.review.judge.causes import plan_causes
from dripfield.review.judge.distances import gaps_between, mean_spacing, offsets
from dripfield.review.judge.match import Match, match_runs
from dripfield.review.judge.on_ground import runs_on_ground
from dripfield.review.judge.setbacks import Lines, check_setbacks
from dripfield.review.judge.totals import not_checked, plan_totals
from dripfield.review.model.limits import Band, Limits, LineVerdict
from dripfield.review.model.plan import Plan, PlanRun
from dripfield.review.model.result import Comparison, Difference, Line, Quantity, worst_verdict
from dripfield.review.place.register import Placement
from dripfield.site.model import Site

_SAME = LineVerdict.CONFORMS
_NOT_READ = "the plan's lines were not read"
_STEP = 0.25  # of the spacing, between places at which two lines are compared


def compare_plan(
    design: Design, plan: Plan, limits: Limits, placement: Placement | None = None
) -> Comparison:
    """Compare a plan with a layout.

    Parameters
    ----------
    design : Design
    plan : Plan
        Placed on the site where it is drawn.
    limits : Limits
    placement : Placement, optional
        How it was placed.

    Returns
    -------
    Comparison
        A line for every run and every lateral, each exactly once. A line's verdict is the worst of
        its differences; one without any that could be checked conforms only as far as it is there,
        and ``unchecked`` says so.
    """
    match = match_runs(plan, design.layout.laterals, design.site.settings.spacing)
    lines = _lines(design, plan, limits, match)
    drawn = [run for run in plan.runs if run.xy is not None]
    setbacks = check_setbacks(
        design.site,
        Lines(
            [one.name for one in design.layout.laterals], [one.xy for one in design.layout.laterals]
        ),
        Lines([run.name for run in drawn], [run.xy for run in drawn if run.xy is not None]),
        limits,
    )
    if plan.picture is not None:
        setbacks = [replace(one, verdict=LineVerdict.NOT_READ) for one in setbacks]
    totals = plan_totals(design, plan, lines, limits)
    causes = plan_causes(design, plan, lines, limits)
    notes = list(plan.notes)
    if placement is not None:
        notes += placement.notes
    if match.pairs:
        notes.append(f"runs and laterals were paired one to one by {match.basis}")
    return Comparison(
        plan=plan,
        lines=tuple(lines),
        totals=tuple(totals),
        setbacks=tuple(setbacks),
        verdict=plan_verdict(design, plan, lines, setbacks, totals, causes, limits),
        causes=tuple(causes),
        notes=tuple(notes),
        unchecked=tuple(not_checked(design.site, plan, lines, setbacks, placement)),
    )


def _lines(design: Design, plan: Plan, limits: Limits, match: Match) -> list[Line]:
    if not plan.runs:
        return [
            replace(
                _alone(None, lateral, measure, "not read", _NOT_READ), verdict=LineVerdict.NOT_READ
            )
            for lateral, measure in design.laterals.values()
        ]
    spacing = _spacings(design, plan, match)
    ground = runs_on_ground(plan, design.site, design.surface)
    pairs = dict(match.pairs)
    pieces: dict[int, list[str]] = {}  # by lateral number: laterals that share its run
    runs: dict[int, list[str]] = {}  # by lateral number: further runs that lie along it
    of_run = dict(match.pairs)
    for j, i in match.split.items():
        pieces.setdefault(of_run[i], []).append(design.layout.laterals[j].name)
    for i, j in match.joined.items():
        runs.setdefault(j, []).append(plan.runs[i].name)
    along, alike = "lies along", "lies where it does"
    if not plan.is_drawn:
        along, alike = "has the elevation and part of the length of", "is like it"
    lines: list[Line] = []
    for number, run in enumerate(plan.runs):
        if number in pairs:
            j = pairs[number]
            parts = _Parts(pieces.get(j, []), runs.get(j, []))
            lines.append(
                _paired(
                    design.site,
                    run,
                    design.layout.laterals[j],
                    design.measured.laterals[j],
                    spacing.get(number, (run.spacing, None)),
                    limits,
                    parts,
                )
            )
        elif number in match.joined:
            lateral = design.layout.laterals[match.joined[number]].name
            lines.append(
                _alone(run, None, None, "joined", f"{along} {lateral}, which joins it to others")
            )
        else:
            lines.append(_alone(run, None, None, "removed", f"no lateral {alike}"))
        lines[-1] = replace(lines[-1], ground=ground[number])
    for j in match.extra:
        change, why = "added", f"no run of the plan {alike}"
        if j in match.split:
            change = "split"
            why = f"{along} run {plan.runs[match.split[j]].name}, which is split"
        lines.append(
            _alone(None, design.layout.laterals[j], design.measured.laterals[j], change, why)
        )
    return lines


class _Parts(NamedTuple):
    """What else lies along a pair: further laterals on the run, further runs on the lateral."""

    laterals: list[str]
    runs: list[str]


def _paired(
    site: Site,
    run: PlanRun,
    lateral: Lateral,
    measure: LateralMeasure,
    spacing: tuple[float | None, float | None],
    limits: Limits,
    parts: _Parts,
) -> Line:
    unit = site.unit
    drawn = None if run.xy is None else line_length(run.xy)
    length_plan = drawn if run.length is None else run.length
    # a drawn length is one in plan, whatever the layout measures its tubing by
    length_layout = measure.length if run.length is not None else line_length(lateral.xy)
    differences: list[Difference] = []

    def differ(quantity: Quantity, plan: float | None, layout: float | None, band: Band) -> None:
        if plan is not None and layout is not None and math.isfinite(layout):
            differences.append(Difference(quantity, plan, layout, layout - plan, band))

    differ("length", length_plan, length_layout, limits.length)
    differ("elevation", run.elevation, lateral.elevation, limits.elevation)
    mean, most = None, None
    if run.xy is not None:
        mean, most = offsets(run.xy, lateral.xy, _STEP * site.settings.spacing)
        differences.append(Difference("offset", None, None, most, limits.offset))
    # a drawn run that lies in its place is not blamed for a neighbour that does not
    if run.spacing is not None or (most is not None and most > limits.offset.same):
        differ("spacing", *spacing, limits.spacing)
    verdict = worst_verdict([one.verdict for one in differences])
    reasons = [_reason(one, unit) for one in differences if one.verdict is verdict is not _SAME]
    change = "unchanged" if verdict is LineVerdict.CONFORMS else "changed"
    if run.length is not None and drawn is not None:
        stated = limits.length.judge(run.length - drawn)
        if stated.is_no:
            reasons.append(
                f"the plan states {run.length:.{unit.places}f} and draws {drawn:.{unit.places}f}"
            )
            reasons = reasons if verdict is LineVerdict.DIFFERS else reasons[-1:]
            verdict = LineVerdict.DIFFERS
    if (parts.laterals or parts.runs) and verdict is not LineVerdict.DIFFERS:
        reasons = []
    if parts.laterals:
        change, verdict = "split", LineVerdict.DIFFERS
        reasons.append(
            f"one run on the plan, laid out as {first_few([lateral.name, *parts.laterals])}"
        )
    if parts.runs:
        change, verdict = "joined", LineVerdict.DIFFERS
        reasons.append(f"runs {first_few([run.name, *parts.runs])} laid out as one lateral")
    return Line(
        run,
        lateral,
        verdict,
        change,
        tuple(differences),
        length_layout=length_layout,
        length_plan=length_plan,
        spacing_plan=spacing[0],
        spacing_layout=spacing[1],
        offset_mean=mean,
        offset_max=most,
        reasons=tuple(reasons),
    )


def _alone(
    run: PlanRun | None,
    lateral: Lateral | None,
    measure: LateralMeasure | None,
    change: str,
    reason: str,
) -> Line:
    length_plan = None
    if run is not None:
        length_plan = (
            run.length if run.xy is None or run.length is not None else line_length(run.xy)
        )
    return Line(
        run,
        lateral,
        LineVerdict.NOT_LAID_OUT if lateral is None else LineVerdict.NOT_ON_PLAN,
        change,
        length_layout=None if measure is None else measure.length,
        length_plan=length_plan,
        reasons=(reason,),
    )


def _spacings(
    design: Design, plan: Plan, match: Match
) -> dict[int, tuple[float | None, float | None]]:
    """On-centre distance of each paired run on the plan and in the layout.

    A stated spacing compares with the lateral's mean distance to its neighbours. Drawn runs compare
    their mean distance to the runs of the neighbouring laterals with that of the same laterals, so
    that a run that is missing between two does not make them differ.
    """
    result: dict[int, tuple[float | None, float | None]] = {}
    for i, j in match.pairs:
        run, one = plan.runs[i], design.measured.laterals[j]
        if run.spacing is not None:
            result[i] = (run.spacing, mean_spacing(one))
    if not plan.is_drawn or not match.pairs:
        return result
    # run and lateral of each pair in one order, so that both tables of gaps go together
    numbers = [i for i, _ in match.pairs]
    laterals = [design.layout.laterals[j] for _, j in match.pairs]
    planned = gaps_between([xy for i in numbers if (xy := plan.runs[i].xy) is not None])
    laid = gaps_between([one.xy for one in laterals])
    panel = np.array([one.panel for one in laterals])
    neighbours = (laid <= REACH * design.site.settings.spacing) & (panel[:, None] == panel)
    np.fill_diagonal(neighbours, False)
    for k, i in enumerate(numbers):
        if i not in result and neighbours[k].any():
            near = neighbours[k]
            result[i] = (float(planned[k, near].mean()), float(laid[k, near].mean()))
    return result


def _reason(one: Difference, unit: Unit) -> str:
    places = unit.places
    limit = f"limit {one.band.limit:.{places}f}"
    if one.plan is None or one.layout is None:
        return f"up to {one.difference:.{places}f} {unit.short} aside ({limit})"
    return (
        f"{one.quantity} {one.plan:.{places}f} against {one.layout:.{places}f} "
        f"({one.difference:+.{places}f}, {limit})"
    )
