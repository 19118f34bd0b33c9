"""Checks of the field as it is piped, and of what the site leaves unsaid."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from dripfield.design.model import Design
from dripfield.distribution.doses import ZoneDay
from dripfield.distribution.figures import Assumed, missing_keys
from dripfield.distribution.lines import Lines
from dripfield.hydraulics.design_checks import Check
from dripfield.hydraulics.simulate import Simulation
from dripfield.hydraulics.times import DAY
from dripfield.rules import Finding
from dripfield.rules.words import source
from dripfield.zones.model import Manifold, Pipe, ZonePlan
from dripfield.zones.plan import ZoneDesign
from dripfield.zones.routes import profile

_ENTERED = "entered by the user"
_PHYSICS = "physics"
_OURS = "common practice, no source"
_TOUCH = 1e-3  # feet: pipe that runs along a keepout is not in it
_ROUNDING = 1e-6


def field_checks(
    design: Design,
    zones: ZoneDesign,
    lines: Lines,
    assumed: Sequence[Assumed],
    simulation: Simulation | None,
    days: Sequence[ZoneDay],
) -> list[Check]:
    """Hold zones and pipes against the bed, and name what is missing.

    Parameters
    ----------
    design : Design
    zones : ZoneDesign
    lines : Lines
    assumed : sequence of Assumed
    simulation : Simulation or None
    days : sequence of ZoneDay

    Returns
    -------
    list of Check
    """
    plan = zones.plan
    return [
        *_missing(design, assumed, simulation),
        *_joined(design, plan),
        *_piped(design, zones, lines),
        *_covered(design, lines),
        *_loaded(design, plan),
        *_timed(design, days),
    ]


def rule_checks(findings: Sequence[Finding]) -> Iterator[Check]:
    """Named rules as checks: what is said of the design, and the rule in our own words."""
    for finding in findings:
        rule = finding.rule
        yield Check(
            f"{rule.title} ({rule.set})", source(rule), finding.message, rule.text.strip(), "",
            finding.verdict, f"scope: {rule.scope}; text read: {rule.read}",
        )  # fmt: skip


def _missing(
    design: Design, assumed: Sequence[Assumed], simulation: Simulation | None
) -> Iterator[Check]:
    if simulation is None:
        for state in ("dose", "flush"):
            yield Check(
                f"{state}: pump reaches its duty", _ENTERED, "", "", "", "not proven",
                "missing: " + ", ".join(missing_keys(design.site.file)),
            )  # fmt: skip
    for one in assumed:
        yield Check(
            f"laterals are joined for {one.key}", _ENTERED, "", "", "", "not proven",
            f"missing: {one.key}; joined as if it were {one.taken} ({_OURS})",
        )  # fmt: skip


def _joined(design: Design, plan: ZonePlan) -> Iterator[Check]:
    """Every lateral once, and none that climbs."""
    count = Counter(
        name for zone in plan.zones for joined in zone.joined for name in joined.laterals
    )
    wanted = {lateral.name for lateral in design.layout.laterals}
    wrong = sorted((wanted ^ set(count)) | {name for name in count if count[name] > 1})
    yield Check(
        "every lateral is joined once", _PHYSICS, f"{len(wanted) - len(wrong)} of {len(wanted)}",
        f"{len(wanted)}", "laterals", "fail" if wrong else "pass", ", ".join(wrong),
    )  # fmt: skip
    level = {lateral.name: lateral.elevation for lateral in design.layout.laterals}
    climbing = [
        joined.name
        for zone in plan.zones
        for joined in zone.joined
        if (np.diff([level[name] for name in joined.laterals if name in level]) > 1e-9).any()
    ]
    yield Check(
        "no joined lateral climbs from supply to return", _OURS, f"{len(climbing)} climb", "none",
        "", "fail" if climbing else "pass", ", ".join(climbing),
    )  # fmt: skip


def _piped(design: Design, zones: ZoneDesign, lines: Lines) -> Iterator[Check]:
    """Limits of zones, ways for pipe, and pipe clear of keepouts."""
    plan = zones.plan
    yield Check(
        "zones keep their limits and every end is reached by pipe", _ENTERED,
        "; ".join(zones.faults) or "all", "all", "", "fail" if zones.faults else "pass",
        "; ".join(zones.faults),
    )  # fmt: skip
    for zone in plan.zones:
        if zone.return_ is None:
            yield Check(
                f"{zone.name}: a path for flushing", _PHYSICS, "none", "a return manifold", "",
                "fail", "no pipe reaches the far ends",
            )  # fmt: skip
    if lines.return_ is None:
        lacks = [key for key in lines.missing if key.startswith("[return]")]
        yield Check(
            "a path for flushing, back to the tank", _ENTERED, "", "", "", "not proven",
            "missing: " + ", ".join(lacks),
        )  # fmt: skip
    pipes = _pipes(plan)
    inner = [
        keepout.buffer(-design.site.unit.from_feet(_TOUCH)) for keepout in design.site.bed.keepouts
    ]
    through = [
        f"{pipe.name} through {name or 'a keepout'}"
        for pipe in pipes
        for keepout, name in zip(inner, design.site.bed.keepout_names, strict=True)
        if shapely.linestrings(pipe.xyz[:, :2]).intersects(keepout)
    ]
    if pipes and inner:
        yield Check(
            "pipe is clear of keepouts", _ENTERED, f"{len(through)} through", "none", "",
            "fail" if through else "pass", ", ".join(through),
        )  # fmt: skip
    yield from _set_back(design, zones, pipes)


def _set_back(design: Design, zones: ZoneDesign, pipes: Sequence[Pipe]) -> Iterator[Check]:
    """Distance of pipe from what laterals are set back from.

    The site enters its setbacks for laterals; whether a code asks them of pipe too it does not say.
    """
    unit = design.site.unit
    if not pipes:
        return
    wires = [shapely.linestrings(pipe.xyz[:, :2]) for pipe in pipes]
    for setback in design.site.bed.setbacks:
        away = [float(wire.distance(setback.feature)) for wire in wires]
        worst = int(np.argmin(away))
        holds = away[worst] >= setback.distance - unit.from_feet(_TOUCH)
        why = (
            f"{pipes[worst].name}; {'; '.join(zones.in_setbacks)}; the setback is entered for "
            "laterals: ask whether it holds for pipe too"
        )
        yield Check(
            f"pipe is as far from {setback.name} as laterals are", setback.source or _ENTERED,
            f"{away[worst]:.{unit.places}f}", f"at least {setback.distance:g}", unit.short,
            "pass" if holds else "not proven", "" if holds else why,
        )  # fmt: skip


def _pipes(plan: ZonePlan) -> list[Pipe]:
    """Every pipe of lines and manifolds."""
    found = [*plan.supply, *plan.return_]
    for zone in plan.zones:
        for manifold in (zone.supply, zone.return_):
            if isinstance(manifold, Manifold):
                found += manifold.pipes
    return found


def _covered(design: Design, lines: Lines) -> Iterator[Check]:
    """Cover against the frost depth that is entered, for a line that keeps its water."""
    depth = design.site.file.design.frost_depth if design.site.file.design else None
    for name, route in (("supply", lines.supply), ("return", lines.return_)):
        if route is None:
            continue
        outward = route.xyz if name == "supply" else route.xyz[::-1]
        found = profile(outward, design.ground.surface, depth)
        known = found.cover[np.isfinite(found.cover)]
        least = f"{known.min():.2f}" if len(known) else ""
        unit = design.site.unit.short
        title = f"{name} line lies below frost, or drains back to the tank"
        if depth is None:
            yield Check(
                title, _ENTERED, least, "", unit, "not proven", "missing: [design] frost_depth"
            )
            continue
        bound = f"at least {depth:g} of cover"
        if found.falls_back:
            yield Check(title, _ENTERED, "drains back", bound, unit, "pass", "")
        elif found.too_shallow:
            where = ", ".join(f"{a:.0f} to {b:.0f} from the tank" for a, b in found.too_shallow)
            yield Check(title, _ENTERED, least, bound, unit, "fail", where)
        elif found.not_known > 0.0:
            where = f"the ground is not known along {found.not_known:.0f} {unit}"
            yield Check(title, _ENTERED, least, bound, unit, "not proven", where)
        else:
            yield Check(title, _ENTERED, least, bound, unit, "pass", "")


def _loaded(design: Design, plan: ZonePlan) -> Iterator[Check]:
    """Area against what is asked for, and the mean loading against the soil's."""
    file, unit = design.site.file, design.site.unit.short
    area = sum(zone.area for zone in plan.zones)
    title = "area that the emitters serve"
    if file.absorption_area is None:
        yield Check(
            title, _ENTERED, f"{area:.1f}", "", f"{unit}2", "not proven",
            "missing: [design] absorption_area, or daily_flow and loading_rate",
        )  # fmt: skip
    else:
        holds = area >= file.absorption_area * (1.0 - _ROUNDING)
        yield Check(
            title, _ENTERED, f"{area:.1f}", f"at least {file.absorption_area:g}", f"{unit}2",
            "pass" if holds else "fail", "",
        )  # fmt: skip
    table = file.design
    if table is not None and table.daily_flow is not None and table.loading_rate is not None:
        rate = table.daily_flow / area
        holds = rate <= table.loading_rate * (1.0 + _ROUNDING)
        yield Check(
            "mean loading of the ground in a day", _ENTERED, f"{rate:.3f}",
            f"at most {table.loading_rate:g}", "L/m2/day" if unit == "m" else "gal/ft2/day",
            "pass" if holds else "fail", "",
        )  # fmt: skip


def _timed(design: Design, days: Sequence[ZoneDay]) -> Iterator[Check]:
    """All zones fit into a day, one after the other."""
    title = "all doses of all zones fit into a day"
    if not days:
        lacks = []
        if design.site.file.design is None or design.site.file.design.daily_flow is None:
            lacks.append("[design] daily_flow")
        lacks += missing_keys(design.site.file)
        yield Check(
            title, _PHYSICS, "", f"at most {DAY:.0f}", "min", "not proven",
            "missing: " + ", ".join(lacks or ["the pump, the lines or a manifold of a zone"]),
        )  # fmt: skip
        return
    run = sum(day.dosing.run * day.dosing.doses for day in days)
    yield Check(
        title, _PHYSICS, f"{run:.0f}", f"at most {DAY:.0f}", "min",
        "pass" if run <= DAY else "fail", "",
    )  # fmt: skip
