"""What the rules' kinds of check compute from a layout.

A check takes a rule's parameters, in the US units in which the rule is written, and the facts of a
layout, and answers with a level and one line. Figures are converted to the site's unit, never the
site's to the rule's. A figure exactly at a limit passes, in either foot.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Literal

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.lines import leg_lengths
from dripfield.ground.height_field import Ground
from dripfield.measures.laterals import LateralMeasure
from dripfield.rules.facts import Facts

Level = Literal["warning", "ok", "not checked"]
Answer = tuple[Level, str]
Check = Callable[[Mapping[str, float], Facts], Answer]

_SAME = 1e-5  # part of a limit by which it may be missed: the two feet differ by 2 in a million
_LITRES_PER_GALLON = 3.785411784  # US gallon, NIST Handbook 44, appendix C


def _standard_spacing(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The spacing laid out for is the standard one, or the ground is steep throughout."""
    wanted = rule["standard_in"]
    spacing = facts.site.rules.spacing
    tubing = facts.measured.tubing
    gentle = tubing - facts.steep_length(rule["steep"])
    how = f"measured in {'plan' if facts.site.rules.spacing_measured == 'plan' else 'slope'}"
    if tubing > 0.0 and gentle <= _SAME * tubing:
        return "ok", f"all tubing lies on slopes over {rule['steep']:.0%}, for which another holds"
    line = (
        f"laid out at {facts.show(spacing)} on centre, {how}, with {facts.show(gentle)} of tubing "
        f"on slopes up to {rule['steep']:.0%}; the standard is {facts.show_inches(wanted)}"
    )
    same = abs(spacing - facts.inches(wanted)) <= _rounding(facts)
    return ("ok", line) if same else ("warning", f"{line}, another spacing needs approval")


def _steep_spacing(rule: Mapping[str, float], facts: Facts) -> Answer:
    """Nothing on steep ground is laid out or lies closer than the wider spacing."""
    limit, least = rule["steep"], facts.inches(rule["least_in"])
    steep = facts.steep_length(limit)
    if steep == 0.0:
        return "ok", f"no tubing lies on a slope over {limit:.0%}; {_steepest(facts)}"
    spacing, tolerance = facts.site.rules.spacing, facts.site.rules.spacing_tolerance
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
    line += f"; at least {facts.show_inches(rule['least_in'])} is required there"
    close = _under(spacing, least) or _under(closest, floor)
    return ("warning" if close else "ok", line)


def _steep_length(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The tubing is as long as the standard spacing would need for the design's area."""
    steep = facts.steep_length(rule["steep"])
    if steep == 0.0:
        return "ok", f"no tubing lies on a slope over {rule['steep']:.0%}; {_steepest(facts)}"
    area = facts.site.file.rules.absorption_area
    if area is None:
        return "not checked", (
            f"{facts.show(steep)} of tubing lies on slopes over {rule['steep']:.0%}: give the area "
            f"that the design calls for as [rules] absorption_area, to compare its length at "
            f"{rule['standard_in']:g} in with the {facts.show(facts.measured.tubing)} laid out"
        )
    needed = area / facts.inches(rule["standard_in"])
    return _at_least(
        facts,
        facts.measured.tubing,
        needed,
        f"at {rule['standard_in']:g} in the design's {_area(facts, area)}",
    )


def _on_contour(rule: Mapping[str, float], facts: Facts) -> Answer:
    """Every lateral is level within the site's own tolerance."""
    laterals = facts.measured.laterals
    off = [one for one in laterals if not one.level_ok]
    tolerance = facts.show(facts.site.rules.level_tolerance)
    if not off:
        return "ok", f"all {len(laterals)} laterals lie level within {tolerance}"
    length = sum(one.length - one.length_level for one in off)
    return "warning", (
        f"{len(off)} of {len(laterals)} laterals leave level by more than {tolerance}, over "
        f"{facts.show(length)} of {facts.show(facts.measured.tubing)}: {_names(off)}"
    )


def _grade_along(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The ground under a lateral falls no more than a grade over any stretch of a length."""
    laterals = facts.measured.laterals
    over = facts.unit.from_feet(rule["over_ft"])
    grades = [_greatest_grade(one, over) for one in laterals]
    known = [grade for grade in grades if np.isfinite(grade)]
    if not known:
        return "not checked", "the ground under the laterals is not known"
    worst = max(known)
    stretch = f"over {facts.show_feet(rule['over_ft'])} of line, or a shorter line's whole length"
    off = [
        one for one, grade in zip(laterals, grades, strict=True) if _over(grade, rule["greatest"])
    ]
    line = f"greatest grade along a line {worst:.2%} {stretch}; at most {rule['greatest']:.0%}"
    if not off:
        return "ok", line
    return "warning", f"{line}; {len(off)} of {len(laterals)} laterals exceed it: {_names(off)}"


def _spacing_between(rule: Mapping[str, float], facts: Facts) -> Answer:
    """Every on-centre distance measured lies between two limits."""
    least, greatest = facts.inches(rule["least_in"]), facts.inches(rule["greatest_in"])
    wanted = f"{facts.show_inches(rule['least_in'])} to {facts.show_inches(rule['greatest_in'])}"
    laterals = facts.measured.laterals
    low = float(np.fmin.reduce([np.nan, *(one.spacing_min for one in laterals)]))
    high = float(np.fmax.reduce([np.nan, *(one.spacing_max for one in laterals)]))
    spacing = facts.site.rules.spacing
    line = f"laid out at {facts.show(spacing)} on centre"
    if np.isfinite(low) and np.isfinite(high):
        line += f", measured {facts.show(low)} to {facts.show(high)}"
    off = any(_under(one, least) or _over(one, greatest) for one in (spacing, low, high))
    return ("warning" if off else "ok", f"{line}; {wanted} is required")


def _length_for_area(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The tubing is at least so many feet for a square foot of absorption area."""
    given = facts.site.file.rules.absorption_area
    if given is None:
        area, whose = _bed_area(facts), "the bed's"
    else:
        area, whose = given, "the design's"
    per_unit = rule["per_ft"] * facts.unit.to_feet(1.0)  # ft per ft2 to unit per unit2
    return _at_least(
        facts, facts.measured.tubing, per_unit * area, f"for {whose} {_area(facts, area)}"
    )


def _long_shape(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The bed is so many times as long as wide, by the slimmest rectangle around it."""
    around = shapely.minimum_rotated_rectangle(facts.site.bed.boundary)
    ring = shapely.get_coordinates(around)
    width, length = sorted(leg_lengths(ring[:3]))
    line = (
        f"the bed measures {facts.show(float(length))} by {facts.show(float(width))}, "
        f"{length / width:.2f} to 1; at least {rule['least']:g} to 1 is required"
    )
    return ("warning" if _under(float(length), rule["least"] * float(width)) else "ok", line)


def _swale(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The lowest lateral of each panel bends round no centre downhill that is too near."""
    apart = facts.unit.from_feet(rule["apart_ft"])
    never, over = (facts.unit.from_feet(rule[key]) for key in ("never_ft", "over_ft"))
    lowest: dict[str, LateralMeasure] = {}
    for one in facts.measured.laterals:
        if one.panel not in lowest or one.elevation < lowest[one.panel].elevation:
            lowest[one.panel] = one
    long_enough = [one for one in lowest.values() if not _under(one.station[-1], 2.0 * apart)]
    if not long_enough:
        wanted = facts.show_feet(2.0 * rule["apart_ft"])
        return "not checked", f"no panel's lowest lateral is {wanted} long"
    radius, name = min(
        (_least_swale_radius(one, apart, rule["slope"], facts.surface), one.name)
        for one in long_enough
    )
    if not np.isfinite(radius):
        return "ok", f"no swale under the {len(long_enough)} lowest laterals"
    line = f"{name} bends round a swale of {facts.show(radius)} radius"
    if _under(radius, never):
        return "warning", f"{line}; under {facts.show_feet(rule['never_ft'])} is never allowed"
    if not _over(radius, over):
        return "warning", (
            f"{line}; where the absorption ratio is 5.0 or more it must be over "
            f"{facts.show_feet(rule['over_ft'])}"
        )
    return "ok", f"{line}, over {facts.show_feet(rule['over_ft'])}"


def _zone_height(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The laterals' heights differ little enough for any emitter."""
    heights = [one.elevation for one in facts.measured.laterals]
    if not heights:
        return "ok", "nothing is laid out"
    range_ = max(heights) - min(heights)
    line = f"the laterals lie within {facts.show(range_)} of height"
    limit = facts.show_feet(rule["greatest_ft"])
    if not _over(range_, facts.unit.from_feet(rule["greatest_ft"])):
        return "ok", f"{line}; up to {limit} any emitter is allowed"
    return "not checked", (
        f"{line}: within one zone over {limit} is allowed only with pressure-compensating emitters"
    )


def _emitter_spacing(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The emitters' spacing along the tubing lies between two limits."""
    emitters = facts.site.file.emitters
    least, greatest = rule["least_in"], rule["greatest_in"]
    if least == greatest:
        wanted = f"the standard is {facts.show_inches(least)}"
    else:
        wanted = f"{facts.show_inches(least)} to {facts.show_inches(greatest)} is required"
    if emitters is None:
        return "not checked", f"give [emitters] spacing; {wanted}"
    # a standard is met by what rounds to it; limits are limits
    rounding = _rounding(facts) if least == greatest else 0.0
    low, high = facts.inches(least) - rounding, facts.inches(greatest) + rounding
    line = f"emitters {facts.show(emitters.spacing)} apart; {wanted}"
    off = _under(emitters.spacing, low) or _over(emitters.spacing, high)
    return ("warning" if off else "ok", line)


def _emitter_rate(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The rated flow of an emitter is low enough."""
    emitters = facts.site.file.emitters
    if emitters is None or emitters.flow is None:
        return "not checked", f"give [emitters] flow; at most {rule['greatest_gph']:g} gal/h"
    metric = facts.unit.is_metric
    limit = rule["greatest_gph"] * (_LITRES_PER_GALLON if metric else 1.0)
    unit = "L/h" if metric else "gal/h"
    line = f"emitters of {emitters.flow:g} {unit}; at most {limit:.3g} {unit} is allowed"
    return ("warning" if _over(emitters.flow, limit) else "ok", line)


def _cover(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The bed's section puts the tubing deep enough below finished grade and not too deep."""
    section = facts.site.file.bed.section
    wanted = f"at least {facts.show_inches(rule['least_in'])}"
    if "greatest_in" in rule:
        wanted += f" and at most {facts.show_inches(rule['greatest_in'])}"
    if section is None:
        return "not checked", f"give [bed.section] with its cover; {wanted} is required"
    depth = section.cover_depth
    low = _under(depth, facts.inches(rule["least_in"]))
    high = _over(depth, facts.inches(rule.get("greatest_in", np.inf)))
    line = f"the tubing lies {facts.show(depth)} below finished grade; {wanted} is required"
    return ("warning" if low or high else "ok", line)


def _fill_extent(rule: Mapping[str, float], facts: Facts) -> Answer:
    """The section's shoulder is wide enough and its side slope gentle enough."""
    section = facts.site.file.bed.section
    wanted = (
        f"at least {facts.show_feet(rule['shoulder_ft'])} beyond the tubing, then no steeper than "
        f"{rule['run']:g} to 1, is required"
    )
    if section is None or section.shoulder is None:
        return "not checked", f"give [bed.section] shoulder; {wanted}"
    narrow = _under(section.shoulder, facts.unit.from_feet(rule["shoulder_ft"]))
    steep = _under(section.side_slope, rule["run"])
    line = (
        f"shoulder {facts.show(section.shoulder)} wide, side slope {section.side_slope:g} to 1; "
        f"{wanted}"
    )
    return ("warning" if narrow or steep else "ok", line)


CHECKS: dict[str, Check] = {
    "standard_spacing": _standard_spacing,
    "steep_spacing": _steep_spacing,
    "steep_length": _steep_length,
    "on_contour": _on_contour,
    "grade_along": _grade_along,
    "spacing_between": _spacing_between,
    "length_for_area": _length_for_area,
    "long_shape": _long_shape,
    "swale": _swale,
    "zone_height": _zone_height,
    "emitter_spacing": _emitter_spacing,
    "emitter_rate": _emitter_rate,
    "cover": _cover,
    "fill_extent": _fill_extent,
}


def _greatest_grade(one: LateralMeasure, over: float) -> float:
    """Greatest rise or fall for its length between samples ``over`` apart along a lateral."""
    length = float(one.station[-1])
    over = min(over, length)
    begin = np.linspace(0.0, length - over, len(one.station)) if over < length else np.zeros(1)
    rise = np.interp(begin + over, one.station, one.ground) - np.interp(
        begin, one.station, one.ground
    )
    return float(np.fmax.reduce(np.abs(rise))) / over


def _least_swale_radius(
    one: LateralMeasure, apart: float, least_slope: float, surface: Ground
) -> float:
    """Least radius of circles through three points of a lateral whose centre lies downhill."""
    slack = _SAME * apart
    far = (one.station >= apart - slack) & (one.station <= one.station[-1] - apart + slack)
    middle = one.station[far]

    def at(station: Floats) -> Floats:
        return np.column_stack([np.interp(station, one.station, axis) for axis in one.xy.T])

    a, b, c = at(middle - apart), at(middle), at(middle + apart)
    u, v, w = a - b, c - b, c - a
    twice_area = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    product = np.hypot(*u.T) * np.hypot(*v.T) * np.hypot(*w.T)
    straight = twice_area <= 1e-9 * product  # a radius of hundreds of millions
    radius = product / np.where(straight, 1.0, 2.0 * twice_area)
    slope = surface.gradient(b)
    downhill_centre = -np.einsum("ij,ij->i", u + v, slope) > 0.0
    counts = ~straight & downhill_centre & (np.hypot(*slope.T) >= least_slope - 1e-9)
    return float(radius[counts].min()) if counts.any() else np.inf


def _under(value: float, limit: float) -> bool:
    """Is a figure below a limit? One that is not known (NaN) is not."""
    return bool(value < limit * (1.0 - _SAME))


def _over(value: float, limit: float) -> bool:
    """Is a figure above a limit? One that is not known (NaN) is not."""
    return bool(value > limit * (1.0 + _SAME))


def _rounding(facts: Facts) -> float:
    """Half of the last place that a crew reads."""
    return 0.5 * 10.0**-facts.unit.places + 1e-9


def _at_least(facts: Facts, length: float, needed: float, why: str) -> Answer:
    line = f"{facts.show(length)} of tubing; {why} needs at least {facts.show(needed)}"
    if not _under(length, needed):
        return "ok", line
    return "warning", f"{line}, {facts.show(needed - length)} more"


def _bed_area(facts: Facts) -> float:
    bed = facts.site.bed
    return float(bed.boundary.difference(shapely.union_all(bed.keepouts)).area)


def _area(facts: Facts, area: float) -> str:
    return f"{area:,.{0 if not facts.unit.is_metric else 1}f} {facts.unit.short}2"


def _steepest(facts: Facts) -> str:
    steepest = facts.steepest
    return f"greatest {steepest:.1%}" if np.isfinite(steepest) else "the slope is not known"


def _names(laterals: list[LateralMeasure], most: int = 6) -> str:
    names = [one.name for one in laterals[:most]]
    more = len(laterals) - len(names)
    return ", ".join(names) + (f" and {more} more" if more else "")
