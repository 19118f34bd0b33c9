"""The field's totals against the plan's, and the list of what could not be checked."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from dripfield.core.words import first_few
from dripfield.design.model import Design
from dripfield.review.model.limits import Band, Limits, LineVerdict
from dripfield.review.model.plan import Plan, name_key
from dripfield.review.model.result import Line, SetbackLine, Total
from dripfield.review.place.register import Placement
from dripfield.site.model import Site


def plan_totals(design: Design, plan: Plan, lines: Sequence[Line], limits: Limits) -> list[Total]:
    """Runs, tubing and what else the plan states, each beside the layout's with its verdict.

    Parameters
    ----------
    design : Design
    plan : Plan
    lines : sequence of Line
        Runs paired with laterals.
    limits : Limits

    Returns
    -------
    list of Total
    """
    unit = design.site.unit
    places = unit.places
    asked = len(design.measured.laterals)
    result = []
    if plan.runs:
        result.append(_runs("runs", len(plan.runs), asked))
    if plan.totals.runs is not None:
        result.append(_runs("runs as totalled on the plan", plan.totals.runs, asked))
    lengths = [line.length_plan for line in lines if line.run is not None]
    known = [length for length in lengths if length is not None]
    tubing = sum(one.length for one in design.measured.laterals)
    if known and len(known) == len(lengths):
        result.append(_fraction("tubing", sum(known), tubing, places, unit.short, limits.total))
    if plan.totals.length is not None:
        result.append(
            _fraction(
                "tubing as totalled on the plan",
                plan.totals.length,
                tubing,
                places,
                unit.short,
                limits.total,
            )
        )
        if known and len(known) == len(lengths):
            result.append(
                _fraction(
                    "the plan's total against its own runs",
                    plan.totals.length,
                    sum(known),
                    places,
                    unit.short,
                    limits.total,
                )
            )
    if plan.totals.spacing is not None:
        own = design.site.settings.spacing
        off = plan.totals.spacing - own
        result.append(
            Total(
                "spacing as stated on the plan",
                plan.totals.spacing,
                own,
                places,
                unit.short,
                limits.spacing.limit,
                limits.spacing.judge(off),
            )
        )
    if plan.totals.area is not None:
        area = design.site.bed.boundary.area
        stated = plan.totals.area
        result.append(
            _fraction("bed area as stated", stated, area, 1, f"{unit.short}2", limits.total)
        )
    if plan.boundary is not None:
        bed = design.site.bed.boundary
        result.append(
            _fraction("bed area", plan.boundary.area, bed.area, 1, f"{unit.short}2", limits.total)
        )
        gap = float(shapely.hausdorff_distance(plan.boundary.exterior, bed.exterior, densify=0.02))
        result.append(
            Total(
                "bed outline, greatest offset",
                0.0,
                gap,
                places,
                unit.short,
                limits.offset.limit,
                limits.offset.judge(gap),
            )
        )
    return result


def _runs(item: str, plan: int, layout: int) -> Total:
    verdict = LineVerdict.CONFORMS if plan == layout else LineVerdict.DIFFERS
    return Total(item, float(plan), float(layout), 0, "", 0.0, verdict)


def _fraction(item: str, plan: float, layout: float, places: int, unit: str, band: Band) -> Total:
    share = (layout - plan) / plan if plan else math.inf
    return Total(item, plan, layout, places, unit, band.limit * plan, band.judge(share))


def not_checked(
    site: Site,
    plan: Plan,
    lines: Sequence[Line],
    setbacks: Sequence[SetbackLine],
    placement: Placement | None,
) -> list[str]:
    """What could not be checked, and why.

    Parameters
    ----------
    site : Site
    plan : Plan
    lines : sequence of Line
        Runs paired with laterals.
    setbacks : sequence of SetbackLine
    placement : Placement or None
        How the plan was brought onto the site.

    Returns
    -------
    list of str
    """
    said = list(placement.unchecked) if placement is not None else []
    if plan.picture is not None:
        said.append("every run and every distance: the plan is a picture, whose lines are not read")
    elif not plan.runs:
        said.append("every run and every distance: the sheet gives totals alone")
    elif not plan.is_drawn:
        said.append("position of the runs: the plan is a table and draws none")
    paired = [line for line in lines if line.run is not None and line.lateral is not None]
    for quantity, figures in (
        ("length", [line.length_plan for line in paired]),
        ("elevation", [line.run and line.run.elevation for line in paired]),
        ("spacing", [line.spacing_plan for line in paired]),
    ):
        without = [
            line.name for line, figure in zip(paired, figures, strict=True) if figure is None
        ]
        if without:
            where = "of every run" if len(without) == len(paired) else f"of {first_few(without, 8)}"
            why = "draws no neighbour" if quantity == "spacing" and plan.is_drawn else "gives none"
            said.append(f"{quantity} {where}: the plan {why}")
    if plan.boundary is None and plan.picture is None:
        said.append("bed outline and area: the plan gives no outline")
    said += [
        f"by what rule {one.feature} needs {one.required:g} {site.unit.short}: no source entered"
        for one in setbacks
        if one.source is None
    ]
    kinds = {one.kind for one in setbacks}
    if not kinds - {"bed edge", "keepout"}:
        said.append(
            "distances to wells, property lines, buildings and water: none were entered under "
            "[[bed.setbacks]] or [[review.setbacks]]"
        )
    renamed = [
        f"{line.run.name} is {line.lateral.name}"
        for line in lines
        if line.run is not None
        and line.lateral is not None
        and name_key(line.run.name) != name_key(line.lateral.name)
        and line.run.named
    ]
    if renamed:
        said.append(f"names: plan and layout name runs differently ({first_few(renamed, 4)})")
    return said
