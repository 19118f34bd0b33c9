"""How lines lie: level, on the contour, and round what they bend."""

from __future__ import annotations

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.measures.laterals import LateralMeasure
from dripfield.rules.checks.answer import SAME, Answer, over, under
from dripfield.rules.model.book import Rule
from dripfield.rules.model.facts import Facts, Missing


def on_contour(rule: Rule, facts: Facts) -> Answer:
    """Every lateral is level within the site's own tolerance."""
    laterals = facts.measured.laterals
    off = [one for one in laterals if not one.level_ok]
    tolerance = facts.show(facts.site.settings.level_tolerance)
    if not off:
        return "pass", f"all {len(laterals)} laterals lie level within {tolerance}"
    length = sum(one.length - one.length_level for one in off)
    return "fail", (
        f"{len(off)} of {len(laterals)} laterals leave level by more than {tolerance}, over "
        f"{facts.show(length)} of {facts.show(facts.measured.tubing)}: {_names(off)}"
    )


def grade_along(rule: Rule, facts: Facts) -> Answer:
    """The ground under a lateral falls no more than a grade over any stretch of a length."""
    figures = rule.parameters
    laterals = facts.measured.laterals
    reach = facts.unit.from_feet(figures["over_ft"])
    grades = [_greatest_grade(one, reach) for one in laterals]
    known = [grade for grade in grades if np.isfinite(grade)]
    if not known:
        return "not proven", "the ground under the laterals is not known"
    worst = max(known)
    stretch = (
        f"over {facts.show_feet(figures['over_ft'])} of line, or a shorter line's whole length"
    )
    off = [
        one for one, grade in zip(laterals, grades, strict=True) if over(grade, figures["greatest"])
    ]
    line = f"greatest grade along a line {worst:.2%} {stretch}; at most {figures['greatest']:.0%}"
    if not off:
        return "pass", line
    return "fail", f"{line}; {len(off)} of {len(laterals)} laterals exceed it: {_names(off)}"


def swale_never(rule: Rule, facts: Facts) -> Answer:
    """No panel's lowest lateral bends, on any slope, round a centre downhill that is too near."""
    figures = rule.parameters
    radius, line = _sharpest_swale(rule, facts, 0.0)
    if not under(radius, facts.unit.from_feet(figures["least_ft"])):
        return "pass", line
    return "fail", f"{line}; under {facts.show_feet(figures['least_ft'])} is never allowed"


def swale_by_ratio(rule: Rule, facts: Facts) -> Answer:
    """On enough slope and with a high absorption ratio, a swale's radius is over a limit."""
    figures = rule.parameters
    limit, least_ratio = figures["over_ft"], figures["ratio"]
    slope = figures["slope"]
    ratio = facts.system.absorption_ratio
    if ratio is not None and under(ratio, least_ratio):
        return "pass", f"the absorption ratio is {ratio:g}, under {least_ratio:.1f}"
    radius, line = _sharpest_swale(rule, facts, slope)
    line = f"{line} on slopes of {slope:.0%} and more"
    if not np.isfinite(radius) or radius > facts.unit.from_feet(limit) * (1.0 + SAME):
        return "pass", line
    wanted = f"with an absorption ratio of {least_ratio:.1f} or more over {facts.show_feet(limit)}"
    if ratio is None:
        return "not proven", f"{line}; {wanted} is required: the ratio is not given"
    return "fail", f"{line}; {wanted} is required, and it is {ratio:g}"


def _sharpest_swale(rule: Rule, facts: Facts, slope: float) -> tuple[float, str]:
    """Least radius of a swale round which a panel's lowest lateral bends, and a line about it."""
    figures = rule.parameters
    apart = facts.unit.from_feet(figures["apart_ft"])
    lowest: dict[str, LateralMeasure] = {}
    for one in facts.measured.laterals:
        if one.panel not in lowest or one.elevation < lowest[one.panel].elevation:
            lowest[one.panel] = one
    long_enough = [one for one in lowest.values() if not under(one.station[-1], 2.0 * apart)]
    if not long_enough:
        wanted = facts.show_feet(2.0 * figures["apart_ft"])
        raise Missing(f"no panel's lowest lateral is {wanted} long")
    radius, name = min(
        (_least_swale_radius(one, apart, slope, facts.surface), one.name) for one in long_enough
    )
    if not np.isfinite(radius):
        return radius, f"no swale under the {len(long_enough)} lowest laterals"
    return radius, f"{name} bends round a swale of {facts.show(radius)} radius"


def zone_height(rule: Rule, facts: Facts) -> Answer:
    """The tubing of a zone lies within a height, where emitters do not compensate for pressure."""
    figures = rule.parameters
    compensating, given = facts.system.compensating, facts.system.zone_heights
    limit = facts.show_feet(figures["greatest_ft"])
    if given is None:
        heights = [one.elevation for one in facts.measured.laterals]
        height = max(heights) - min(heights) if heights else 0.0
        line = f"all laterals lie within {facts.show(height)} of height"
    else:
        height = max(given, default=0.0)
        line = f"the tubing of a zone lies within {facts.show(height)} of height at most"
    if not over(height, facts.unit.from_feet(figures["greatest_ft"])):
        return "pass", f"{line}; {limit} is allowed where emitters are not pressure-compensating"
    if compensating:
        return "pass", (
            f"{line}; the limit of {limit} is for emitters that are not pressure-compensating, and "
            "these are: nothing is said of them"
        )
    if compensating is None:
        return "not proven", (
            f"{line}, over {limit}: that breaks the rule where emitters are not "
            "pressure-compensating, which is not given"
        )
    if given is None:
        return "not proven", f"{line}, over {limit}: the height within each zone is not known"
    return "fail", f"{line}, over {limit}"


def _greatest_grade(one: LateralMeasure, reach: float) -> float:
    """Greatest rise or fall for its length between samples ``reach`` apart along a lateral."""
    length = float(one.station[-1])
    reach = min(reach, length)
    begin = np.linspace(0.0, length - reach, len(one.station)) if reach < length else np.zeros(1)
    rise = np.interp(begin + reach, one.station, one.ground) - np.interp(
        begin, one.station, one.ground
    )
    return float(np.fmax.reduce(np.abs(rise))) / reach


def _least_swale_radius(
    one: LateralMeasure, apart: float, least_slope: float, surface: HeightField
) -> float:
    """Least radius of circles through three points of a lateral whose centre lies downhill."""
    slack = SAME * apart
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


def _names(laterals: list[LateralMeasure], most: int = 6) -> str:
    names = [one.name for one in laterals[:most]]
    more = len(laterals) - len(names)
    return ", ".join(names) + (f" and {more} more" if more else "")
