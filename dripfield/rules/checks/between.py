"""One quantity between two limits: the commonest rule, as data.

The rule names its quantity in ``of`` and its limits as ``least`` and ``greatest`` with the unit of
the quantity at the end of their names. Figures are converted to the site's unit, never the site's
to the rule's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from dripfield.core.lines import leg_lengths
from dripfield.core.words import counted
from dripfield.rules.checks.answer import Answer, judged, over, rounding, under
from dripfield.rules.model.book import Rule
from dripfield.rules.model.facts import Facts, Missing

Measure = Literal["in", "share", "times", "count"]


@dataclass(frozen=True)
class Quantity:
    """Something that a rule may limit.

    Attributes
    ----------
    measure : {"in", "share", "times", "count"}
        Inches in the rule and the site's unit in the facts; a fraction shown as a percentage;
        a multiple; a number.
    read : callable
        Its value and words about it; raises :class:`dripfield.rules.model.facts.Missing`.
    """

    measure: Measure
    read: Callable[[Facts], tuple[float, str]]


def between(rule: Rule, facts: Facts) -> Answer:
    """The quantity that the rule names lies between its limits.

    Where both limits are one, that is a standard and met by what rounds to it.
    """
    quantity = QUANTITIES[rule.of]
    end = "_in" if quantity.measure == "in" else ""
    least = rule.parameters.get(f"least{end}", -np.inf)
    greatest = rule.parameters.get(f"greatest{end}", np.inf)
    wanted = _wanted(quantity.measure, least, greatest, facts)
    try:
        value, words = quantity.read(facts)
    except Missing as missing:
        raise Missing(f"{missing}; {wanted}") from None
    low, high = least, greatest
    if quantity.measure == "in":
        slack = rounding(facts) if least == greatest else 0.0
        low, high = facts.inches(least) - slack, facts.inches(greatest) + slack
    return judged(under(value, low) or over(value, high), f"{words}; {wanted}")


def about(rule: Rule, facts: Facts) -> Answer:
    """The quantity rounds to the rule's figure; what does not proves nothing, for want of a limit.

    For rules that say "about" and name no tolerance.
    """
    value, words = QUANTITIES[rule.of].read(facts)
    figure = rule.parameters["figure"]
    if abs(value - figure) <= 0.5 + 1e-9:
        return "pass", f"{words}; about {figure:g} times is wanted"
    return "not proven", f"{words}; about {figure:g} times is wanted, how nearly is not said"


def _wanted(measure: Measure, least: float, greatest: float, facts: Facts) -> str:
    show: dict[Measure, Callable[[float], str]] = {
        "in": facts.show_inches,
        "share": lambda value: f"{value:.0%}",
        "times": lambda value: f"{value:g} times",
        "count": lambda value: f"{value:g}",
    }
    one = show[measure]
    if least == greatest:
        return f"the standard is {one(least)}"
    if np.isinf(greatest):
        return f"at least {one(least)} is required"
    if np.isinf(least):
        return f"at most {one(greatest)} is allowed"
    return f"{one(least)} to {one(greatest)} is required"


def _emitter_spacing(facts: Facts) -> tuple[float, str]:
    emitters = facts.site.file.emitters
    if emitters is None:
        raise Missing("give [emitters] spacing")
    return emitters.spacing, f"emitters {facts.show(emitters.spacing)} apart"


def _cover(facts: Facts) -> tuple[float, str]:
    """Depth of the tubing under finished grade."""
    section = facts.site.file.bed.section
    if section is None:
        raise Missing("give [bed.section] with its cover")
    depth = section.cover_depth
    return depth, f"the tubing lies {facts.show(depth)} below finished grade"


def _bed_shape(facts: Facts) -> tuple[float, str]:
    """Length over width of the slimmest rectangle around the bed."""
    around = shapely.minimum_rotated_rectangle(facts.site.bed.boundary)
    ring = shapely.get_coordinates(around)
    width, length = sorted(float(side) for side in leg_lengths(ring[:3]))
    return length / width, (
        f"the bed measures {facts.show(length)} by {facts.show(width)}, {length / width:.2f} times "
        "as long as wide"
    )


def _zones(facts: Facts) -> tuple[float, str]:
    count = facts.system.zones
    if count is None:
        raise Missing("needs the zones: run dripfield zones")
    return count, counted(count, "zone")


def _spare_zones(facts: Facts) -> tuple[float, str]:
    """Zones that may stand still over those that must be able to: one, or a tenth if more."""
    count, spare = facts.system.zones, facts.system.spare_zones
    if count is None or spare is None:
        raise Missing("needs how many zones may stand still while the rest takes the daily flow")
    must = max(1.0, 0.1 * count)
    return spare / must, (
        f"{spare} of {count} zones may stand still; the larger of one and a tenth of them "
        f"({must:g}) must be able to"
    )


def _emitter_difference(facts: Facts) -> tuple[float, str]:
    """Difference between the least and the greatest emitter, as a part of the greatest."""
    flows = facts.system.emitter_flows
    if flows is None:
        raise Missing("needs the emitters' flows: run dripfield zones with [pump] and [supply]")
    least, greatest = flows
    share = (greatest - least) / greatest
    unit = "L/h" if facts.unit.is_metric else "gal/h"
    return share, (
        f"emitters give {least:.3g} to {greatest:.3g} {unit}, a difference of {share:.1%} of the "
        "greatest"
    )


def _pump_chamber(facts: Facts) -> tuple[float, str]:
    volume, flow = facts.system.pump_chamber, facts.system.daily_flow
    if volume is None or flow is None:
        raise Missing("needs the pump chamber's volume and the daily flow")
    unit = "L" if facts.unit.is_metric else "gal"
    return volume / flow, (
        f"the pump chamber holds {volume:,.0f} {unit}, {volume / flow:.2f} times the daily flow of "
        f"{flow:,.0f} {unit}"
    )


def _chamber_access(facts: Facts) -> tuple[float, str]:
    """Least dimension of a round access; a square one of 15 in counts as one of 17 in round."""
    across, side = facts.system.chamber_access_round, facts.system.chamber_access_square
    if across is not None:
        return across, f"the pump chamber's access is {facts.show(across)} in diameter"
    if side is None:
        raise Missing("needs the size of the pump chamber's access")
    return (
        side * 17.0 / 15.0,
        f"the pump chamber's access is {facts.show(side)} square; 15 in square counts as 17 in "
        "round",
    )


def _chamber_vent(facts: Facts) -> tuple[float, str]:
    vent = facts.system.chamber_vent
    if vent is None:
        raise Missing("needs the diameter of the pump chamber's vent")
    return vent, f"the pump chamber's vent is {facts.show(vent)} in diameter"


def _loading(facts: Facts) -> tuple[float, str]:
    loading, table = facts.system.loading, facts.system.table_loading
    if loading is None or table is None:
        raise Missing("needs the loading rate of the design and of the code's table")
    return loading / table, f"the loading rate is {loading / table:.1%} of the table's"


def _dose(facts: Facts) -> tuple[float, str]:
    dose, pipes = facts.system.dose, facts.system.pipe_volume
    if dose is None or pipes is None:
        raise Missing("needs the dose and the volume of the pipes")
    return dose / pipes, f"a dose is {dose / pipes:.2f} times the volume of the pipes"


QUANTITIES: dict[str, Quantity] = {
    "emitter_spacing": Quantity("in", _emitter_spacing),
    "cover": Quantity("in", _cover),
    "bed_shape": Quantity("times", _bed_shape),
    "zones": Quantity("count", _zones),
    "spare_zones": Quantity("times", _spare_zones),
    "emitter_difference": Quantity("share", _emitter_difference),
    "pump_chamber": Quantity("times", _pump_chamber),
    "chamber_access": Quantity("in", _chamber_access),
    "chamber_vent": Quantity("in", _chamber_vent),
    "loading": Quantity("share", _loading),
    "dose": Quantity("times", _dose),
}
