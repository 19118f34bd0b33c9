"""A design's laterals joined, divided into zones, led pipe to and solved: the one entry point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from dripfield.design.model import Design
from dripfield.distribution.doses import ZoneDay, zone_days
from dripfield.distribution.dosing_tank import DosingTank, dosing_tank, tank_checks
from dripfield.distribution.facts import system_facts
from dripfield.distribution.field_checks import field_checks, rule_checks
from dripfield.distribution.figures import Assumed, figures_of, zone_settings
from dripfield.distribution.ground_load import GroundLoad, ground_load
from dripfield.distribution.lines import Lines, read_lines
from dripfield.hydraulics.design_checks import Check, design_checks
from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.simulate import Simulation, simulate
from dripfield.rules import Finding, check_rules, facts_of
from dripfield.rules.model.facts import SystemFacts
from dripfield.zones.model import JoinedLateral, ZonePlan
from dripfield.zones.plan import ZoneDesign, plan_zones
from dripfield.zones.settings import ZoneSettings


@dataclass(frozen=True)
class FieldSystem:
    """A field with its zones, pipes and water.

    Attributes
    ----------
    design : Design
    settings : ZoneSettings
    assumed : tuple of Assumed
        What stood in, in joining alone, for figures that the site does not give.
    lines : Lines
        Supply and return as read.
    zones : ZoneDesign
    figures : Figures or None
        None where the emitters' flow is missing.
    simulation : Simulation or None
        None without figures.
    days : tuple of ZoneDay
        Doses, run and rest and what drains after a dose, for the zones where they can be told.
    tank : DosingTank or None
        None for a site without tanks, or whose doses are not known.
    load : GroundLoad or None
        None where there are no emitters or no daily flow.
    facts : SystemFacts
    findings : tuple of Finding
        Of the named rules that are about zones.
    checks : tuple of Check
    """

    design: Design
    settings: ZoneSettings
    assumed: tuple[Assumed, ...]
    lines: Lines
    zones: ZoneDesign
    figures: Figures | None
    simulation: Simulation | None
    days: tuple[ZoneDay, ...]
    tank: DosingTank | None
    load: GroundLoad | None
    facts: SystemFacts
    findings: tuple[Finding, ...]
    checks: tuple[Check, ...]

    @property
    def plan(self) -> ZonePlan:
        """The zones with the lines that lead to them and back."""
        return self.zones.plan

    @property
    def failed(self) -> list[Check]:
        """Checks that failed."""
        return [one for one in self.checks if one.verdict == "fail"]

    @property
    def not_proven(self) -> list[Check]:
        """Checks that lack something."""
        return [one for one in self.checks if one.verdict == "not proven"]


def field_system(design: Design) -> FieldSystem:
    """Join a design's laterals, divide them into zones, lead pipe to them and solve both states.

    Parameters
    ----------
    design : Design

    Returns
    -------
    FieldSystem
        What the site does not say is left out and named as not proven.

    Raises
    ------
    InputError
        Nothing is laid, figures that cannot be true, or routes that lead elsewhere.
    """
    site = design.site
    settings, assumed = zone_settings(site, design.layout)
    lines = read_lines(site)
    figures = figures_of(site.file)
    clear = [setback.feature.buffer(setback.distance) for setback in site.bed.setbacks]
    zones = plan_zones(
        design.layout.laterals,
        site.bed.boundary,
        design.surface,
        settings,
        keepouts=site.bed.keepouts,
        kept_clear=shapely.union_all(clear) if clear else None,
        supply=lines.supply,
        return_=lines.return_,
        tank=None if lines.supply is None else np.asarray(lines.supply.xyz[0, :2]),
    )
    if site.file.emitters is None:
        zones = replace(zones, plan=without_emitters(zones.plan))
    return system_of(design, zones, lines, settings, assumed, figures)


def system_of(
    design: Design,
    zones: ZoneDesign,
    lines: Lines,
    settings: ZoneSettings,
    assumed: Sequence[Assumed],
    figures: Figures | None,
) -> FieldSystem:
    """Solve and check zones that are there already.

    Parameters
    ----------
    design : Design
        What they are held against.
    zones : ZoneDesign
    lines : Lines
    settings : ZoneSettings
    assumed : sequence of Assumed
    figures : Figures or None

    Returns
    -------
    FieldSystem
    """
    site, file = design.site, design.site.file
    simulation = None if figures is None else simulate(zones.plan, figures)
    days = () if simulation is None else zone_days(simulation, zones.shares, file)
    tank = dosing_tank(file, site.unit, days)
    load = None if simulation is None else ground_load(design, simulation)
    facts = system_facts(zones.plan, simulation, days, file)
    findings = tuple(check_rules(facts_of(site, design, facts), about=["zones"]))
    checks = [
        *field_checks(design, zones, lines, assumed, simulation, days),
        *(tank_checks(tank, file, site.unit) if tank is not None else ()),
        *(design_checks(simulation) if simulation is not None else ()),
        *rule_checks(findings),
    ]
    return FieldSystem(
        design,
        settings,
        tuple(assumed),
        lines,
        zones,
        figures,
        simulation,
        days,
        tank,
        load,
        facts,
        findings,
        tuple(checks),
    )


def without_emitters(plan: ZonePlan) -> ZonePlan:
    """The same plan where nobody says how far apart the emitters are."""

    def bare(joined: JoinedLateral) -> JoinedLateral:
        return replace(
            joined, pieces=tuple(replace(one, emitters=np.empty(0)) for one in joined.pieces)
        )

    return replace(
        plan,
        zones=tuple(
            replace(zone, joined=tuple(bare(one) for one in zone.joined)) for zone in plan.zones
        ),
    )
