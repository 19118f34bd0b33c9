"""What published rules may look at of zones and hydraulics."""

from __future__ import annotations

from collections.abc import Sequence

from dripfield.distribution.doses import ZoneDay
from dripfield.hydraulics.build import DOSE
from dripfield.hydraulics.simulate import Simulation
from dripfield.hydraulics.times import nominal
from dripfield.rules.model.facts import SystemFacts
from dripfield.site.schema.site import SiteFile
from dripfield.zones.model import ZonePlan


def system_facts(
    plan: ZonePlan, simulation: Simulation | None, days: Sequence[ZoneDay], file: SiteFile
) -> SystemFacts:
    """Plain values for the rules; None where the site does not say enough.

    Parameters
    ----------
    plan : ZonePlan
    simulation : Simulation or None
    days : sequence of ZoneDay
    file : SiteFile

    Returns
    -------
    SystemFacts
    """
    design = file.design
    heights = flows = None
    if simulation is not None:
        counted = [nominal(zone, simulation.figures) for zone in plan.zones]
        if all(one.emitters for one in counted):
            heights = tuple(one.elevation_max - one.elevation_min for one in counted)
        states = [simulation.get(zone.name, DOSE) for zone in plan.zones]
        found = [state.emission for state in states if state is not None]
        if len(found) == len(plan.zones):
            flows = (min(float(one.min()) for one in found), max(float(one.max()) for one in found))
    worst = min(days, key=lambda day: day.dosing.multiple, default=None)
    return SystemFacts(
        zones=len(plan.zones),
        spare_zones=spare_zones([zone.area for zone in plan.zones], file.absorption_area),
        zone_heights=heights,
        emitter_flows=flows,
        compensating=None if file.emitters is None else file.emitters.exponent == 0.0,
        daily_flow=None if design is None else design.daily_flow,
        dose=None if worst is None else worst.dosing.dose,
        pipe_volume=None if worst is None else worst.dosing.dose / worst.dosing.multiple,
    )


def spare_zones(areas: Sequence[float], required: float | None) -> int | None:
    """Zones, the largest first, that may stand still while the others have the area required.

    Parameters
    ----------
    areas : sequence of float
        Of all zones [site unit squared].
    required : float or None
        Least area that the design calls for.

    Returns
    -------
    int or None
        None where the area required is not known.
    """
    if required is None:
        return None
    left, spare = sum(areas), 0
    for area in sorted(areas, reverse=True):
        left -= area
        if left < required * (1.0 - 1e-9):
            break
        spare += 1
    return spare
