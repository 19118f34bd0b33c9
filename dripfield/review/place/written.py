"""What is written on a plan without a unit, its lines being drawn in another than the site's."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from dripfield.design.model import Design
from dripfield.review.model.plan import Plan, PlanOptions, PlanRun

Quantity = Literal["elevation", "length"]


def settle_written(plan: Plan, design: Design, options: PlanOptions, quantity: Quantity) -> Plan:
    """Give elevations and lengths that stand without a unit the one that they are written in.

    Elevations are in the plan's unit when that brings them nearer to the ground of the field than
    the site's unit does; lengths when it brings them nearer to the lines that they stand beside.

    Parameters
    ----------
    plan : Plan
        Placed on the site, for lengths.
    design : Design
    options : PlanOptions
    quantity : {"elevation", "length"}

    Returns
    -------
    Plan
        Nothing of that quantity ``bare``; a note says what was taken.
    """
    bare = [run for run in plan.runs if quantity in run.bare]
    bare = [run for run in bare if (run.elevation if quantity == "elevation" else run.length)]
    factor = options.factor(design.site.unit)
    if not bare:
        return plan
    scale = _better(quantity, bare, design, factor)
    notes = plan.notes
    if factor != 1.0:
        word = options.units if scale != 1.0 else design.site.unit.value
        notes = (*notes, f"{quantity}s are written without a unit and were taken as {word}")
    return replace(
        plan, runs=tuple(_scaled(run, quantity, scale) for run in plan.runs), notes=notes
    )


def _length(run: PlanRun) -> float:
    return 0.0 if run.xy is None else float(np.hypot(*np.diff(run.xy, axis=0).T).sum())


def _better(quantity: Quantity, runs: list[PlanRun], design: Design, factor: float) -> float:
    """The factor, 1 or the plan's, by which what is written fits better."""
    if factor == 1.0:
        return 1.0
    off = []
    for scale in (1.0, factor):
        if quantity == "elevation":
            written = np.array([run.elevation for run in runs], dtype=np.float64)
            heights = np.array([one.elevation for one in design.layout.laterals])
            off.append(float(np.abs(np.median(written) * scale - np.median(heights))))
        else:
            drawn = [_length(run) for run in runs]
            stated = np.array([run.length for run in runs], dtype=np.float64)
            off.append(float(np.median(np.abs(stated * scale - drawn))))
    return 1.0 if off[0] <= off[1] else factor


def _scaled(run: PlanRun, quantity: Quantity, scale: float) -> PlanRun:
    if quantity not in run.bare:
        return run
    rest = tuple(one for one in run.bare if one != quantity)
    if quantity == "elevation":
        height = None if run.elevation is None else run.elevation * scale
        return replace(run, elevation=height, bare=rest)
    length = None if run.length is None else run.length * scale
    return replace(run, length=length, bare=rest)
