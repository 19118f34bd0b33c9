"""How far apart lines lie, and how long they are in all."""

from __future__ import annotations

import numpy as np

from dripfield.rules.checks.answer import SAME, Answer, area_words, over, rounding, under
from dripfield.rules.model.book import Rule
from dripfield.rules.model.facts import Facts, Missing


def standard_spacing(rule: Rule, facts: Facts) -> Answer:
    """The spacing laid out for is the standard one, or the ground is steep throughout."""
    figures = rule.parameters
    wanted = figures["standard_in"]
    spacing = facts.site.settings.spacing
    tubing = facts.measured.tubing
    gentle = tubing - facts.steep_length(figures["steep"])
    how = f"measured in {'plan' if facts.site.settings.spacing_measured == 'plan' else 'slope'}"
    if tubing > 0.0 and gentle <= SAME * tubing:
        return (
            "pass",
            f"all tubing lies on slopes over {figures['steep']:.0%}, for which another holds",
        )
    line = (
        f"laid out at {facts.show(spacing)} on centre, {how}, with {facts.show(gentle)} of tubing "
        f"on slopes up to {figures['steep']:.0%}; the standard is {facts.show_inches(wanted)}"
    )
    same = abs(spacing - facts.inches(wanted)) <= rounding(facts)
    return ("pass", line) if same else ("fail", f"{line}, another spacing needs approval")


def steep_spacing(rule: Rule, facts: Facts) -> Answer:
    """Nothing on steep ground is laid out or lies closer than the wider spacing."""
    figures = rule.parameters
    limit, least = figures["steep"], facts.inches(figures["least_in"])
    steep = facts.steep_length(limit)
    if steep == 0.0:
        return "pass", f"no tubing lies on a slope over {limit:.0%}; {_steepest(facts)}"
    spacing, tolerance = facts.site.settings.spacing, facts.site.settings.spacing_tolerance
    floor = least * (1.0 - tolerance)
    gaps = [
        np.fmin(one.gap_left, one.gap_right)[slope > limit + 1e-9]
        for one, slope in zip(facts.measured.laterals, facts.slope, strict=True)
    ]
    closest = float(np.fmin.reduce(np.concatenate([*gaps, [np.inf]])))
    line = (
        f"{facts.show(steep)} of {facts.show(facts.measured.tubing)} of tubing lies on slopes over "
        f"{limit:.0%} ({_steepest(facts)}), laid out at {facts.show(spacing)} on centre"
    )
    if np.isfinite(closest):
        line += f", {facts.show(closest)} at the closest"
    line += f"; at least {facts.show_inches(figures['least_in'])} is required there"
    close = under(spacing, least) or under(closest, floor)
    return ("fail" if close else "pass", line)


def steep_length(rule: Rule, facts: Facts) -> Answer:
    """The tubing is as long as the standard spacing would need for the design's area."""
    figures = rule.parameters
    steep = facts.steep_length(figures["steep"])
    if steep == 0.0:
        return "pass", f"no tubing lies on a slope over {figures['steep']:.0%}; {_steepest(facts)}"
    area = facts.site.file.absorption_area
    if area is None:
        return "not proven", (
            f"{facts.show(steep)} of tubing lies on slopes over {figures['steep']:.0%}: give the "
            f"area that the design calls for as [rules] absorption_area, to compare its length at "
            f"{figures['standard_in']:g} in with the {facts.show(facts.measured.tubing)} laid out"
        )
    needed = area / facts.inches(figures["standard_in"])
    return _at_least(
        facts,
        facts.measured.tubing,
        needed,
        f"at {figures['standard_in']:g} in the design's {area_words(facts, area)}",
    )


def spacing_between(rule: Rule, facts: Facts) -> Answer:
    """Every on-centre distance measured lies between two limits."""
    figures = rule.parameters
    least, greatest = facts.inches(figures["least_in"]), facts.inches(figures["greatest_in"])
    wanted = (
        f"{facts.show_inches(figures['least_in'])} to {facts.show_inches(figures['greatest_in'])}"
    )
    laterals = facts.measured.laterals
    low = float(np.fmin.reduce([np.nan, *(one.spacing_min for one in laterals)]))
    high = float(np.fmax.reduce([np.nan, *(one.spacing_max for one in laterals)]))
    spacing = facts.site.settings.spacing
    line = f"laid out at {facts.show(spacing)} on centre"
    if np.isfinite(low) and np.isfinite(high):
        line += f", measured {facts.show(low)} to {facts.show(high)}"
    off = any(under(one, least) or over(one, greatest) for one in (spacing, low, high))
    return ("fail" if off else "pass", f"{line}; {wanted} is required")


def length_for_area(rule: Rule, facts: Facts) -> Answer:
    """The tubing is at least so many feet for a square foot of absorption area."""
    figures = rule.parameters
    area = facts.site.file.absorption_area
    if area is None:
        raise Missing(
            f"{facts.show(facts.measured.tubing)} of tubing: give the least area that the design "
            "calls for as [rules] absorption_area, at which the rule takes it"
        )
    per_unit = figures["per_ft"] * facts.unit.to_feet(1.0)  # ft per ft2 to unit per unit2
    return _at_least(
        facts, facts.measured.tubing, per_unit * area, f"for the design's {area_words(facts, area)}"
    )


def _at_least(facts: Facts, length: float, needed: float, why: str) -> Answer:
    line = f"{facts.show(length)} of tubing; {why} needs at least {facts.show(needed)}"
    if not under(length, needed):
        return "pass", line
    return "fail", f"{line}, {facts.show(needed - length)} more"


def _steepest(facts: Facts) -> str:
    steepest = facts.steepest
    return f"greatest {steepest:.1%}" if np.isfinite(steepest) else "the slope is not known"
