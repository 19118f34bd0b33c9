"""What a plan's scale means: the site's unit, another unit, or a sheet drawn at paper scale."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from dripfield.core.errors import InputError, input_error
from dripfield.core.lengths import METRES, UNIT_WORDS
from dripfield.core.lines import line_length
from dripfield.core.units import Unit
from dripfield.design.model import Design
from dripfield.review.model.plan import Plan, PlanOptions, units_option
from dripfield.site.model import Site

_NEAR = math.log(1.025)
_FEET_TO_AN_INCH = (4, 5, 8, 10, 16, 20, 25, 30, 40, 50, 60, 80, 100, 200)
_METRIC_RATIOS = (20, 25, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 2000)


@dataclass(frozen=True)
class NamedScale:
    """A scale that has a name: how many site units go to one plan unit, and what it means."""

    scale: float
    kind: Literal["same", "unit", "paper"]
    text: str


def name_scale(scale: float, unit: Unit, options: PlanOptions) -> NamedScale | None:
    """The named scale within 2.5 % of a fitted one, or None.

    Parameters
    ----------
    scale : float
        Site units to one plan unit, as fitted.
    unit : Unit
        The site's.
    options : PlanOptions
        With ``units`` given, only that unit and paper scales are looked for.

    Returns
    -------
    NamedScale or None
    """
    known = [NamedScale(options.factor(unit), "same", options.units or unit.value)]
    if options.units is None:
        known += [
            NamedScale(metres / unit.metres, "unit", name)
            for name, metres in METRES.items()
            if name != "ftUS" and abs(metres / unit.metres - 1.0) > 1e-3
        ]
    if unit.is_metric:
        known += [
            NamedScale(ratio / 1000.0, "paper", f"1:{ratio} in millimetres")
            for ratio in _METRIC_RATIOS
        ]
    else:
        known += [
            NamedScale(float(feet), "paper", f"1 in = {feet} ft") for feet in _FEET_TO_AN_INCH
        ]
        known += [
            NamedScale(feet / 25.4, "paper", f"1 in = {feet} ft, in millimetres")
            for feet in _FEET_TO_AN_INCH
        ]
    best = min(known, key=lambda one: abs(math.log(scale / one.scale)))
    return best if abs(math.log(scale / best.scale)) <= _NEAR else None


def other_unit_error(plan: Path, units: str, unit: Unit, found: str) -> InputError:
    """The refusal of a plan in another unit than the site's.

    Parameters
    ----------
    plan : Path
        The plan's file.
    units : str
        Name of the plan's unit.
    unit : Unit
        The site's.
    found : str
        What gave it away.

    Returns
    -------
    InputError
        To be raised.
    """
    return input_error(
        f"{found}: the plan is in {UNIT_WORDS[units]} and the site in {UNIT_WORDS[unit.value]}",
        units_option(units),
        file=plan,
    )


def check_stated_units(plan: Plan, design: Design, options: PlanOptions) -> None:
    """Refuse stated lengths, elevations or spacings whose ratio to the layout's is that of units.

    Lengths and elevations only when ``--plan-units`` was not given: lengths are compared by their
    means, within 4 %, elevations by their medians, within 1 %. Spacings, which a sheet often gives
    in inches beside lengths in feet, by their median, within 25 % of the site's.

    Parameters
    ----------
    plan : Plan
    design : Design
    options : PlanOptions

    Raises
    ------
    InputError
        Naming the unit.
    """
    site, layout = design.site, design.layout
    unit = site.unit
    _check_spacing(plan, site)
    if options.units is not None or not layout.laterals:
        return
    drawn = [line_length(one.xy) for one in layout.laterals]
    heights = [one.elevation for one in layout.laterals]
    lengths = [run.length for run in plan.runs if run.length is not None]
    elevations = [run.elevation for run in plan.runs if run.elevation is not None]
    ratios = []
    if len(lengths) > len(plan.runs) / 2:
        # missing runs change a total, so the mean is compared when the counts differ
        ratios.append(("lengths", float(np.mean(drawn) / np.mean(lengths)), 0.04))
    if len(elevations) > len(plan.runs) / 2 and np.median(elevations) > 0 < np.median(heights):
        ratios.append(("elevations", float(np.median(heights) / np.median(elevations)), 0.01))
    for quantity, ratio, slack in ratios:
        for name, metres in METRES.items():
            scale = metres / unit.metres
            if abs(scale - 1.0) > 1e-3 and abs(ratio / scale - 1.0) <= slack:
                found = f"the plan's {quantity} are {1.0 / ratio:.4g} times the layout's"
                raise other_unit_error(plan.source, name, unit, found)


def _check_spacing(plan: Plan, site: Site) -> None:
    stated = [run.spacing for run in plan.runs if run.spacing is not None]
    if not stated:
        return
    middle = float(np.median(stated))
    for name in ("in", "mm", "cm"):
        ratio = site.unit.metres / METRES[name]  # such units in one of the site's
        if abs(middle / (ratio * site.settings.spacing) - 1.0) <= 0.25:
            raise input_error(
                f"the plan's spacing is {middle:g} and the site's {site.settings.spacing:g} "
                f"{site.unit.short}: the spacing is in {UNIT_WORDS[name]}",
                f"name its unit, as in a column 'spacing ({name})', or convert it",
                file=plan.source,
            )
