"""A day of each zone: its doses, run and rest, what drains back and what drains after a dose."""

from __future__ import annotations

from dataclasses import dataclass

from dripfield.hydraulics.build import DOSE, FLUSH, build, missing
from dripfield.hydraulics.drainage import (
    Redistribution,
    Remedy,
    by_joined,
    drain,
    remedies,
    store_of,
)
from dripfield.hydraulics.profile import drain_back
from dripfield.hydraulics.simulate import Simulation
from dripfield.hydraulics.times import Dosing, Transit, dosing, nominal, transit, volumes
from dripfield.site.schema.site import SiteFile


@dataclass(frozen=True)
class ZoneDay:
    """A day of a zone.

    Attributes
    ----------
    zone : str
    share : float
        Of the daily flow, as its area.
    dosing : Dosing
    drain_back : float
        To the tank after each dose, from supply line and manifold [gal or L].
    drained : Redistribution
        What the full tubing gives to which emitter after the dose.
    of_joined : dict of str to float
        Dose and drained water of each joined lateral, over the mean.
    remedies : tuple of Remedy
        The zone as it is stands first.
    transit : Transit or None
        Of a flush; None where that is not solved.
    """

    zone: str
    share: float
    dosing: Dosing
    drain_back: float
    drained: Redistribution
    of_joined: dict[str, float]
    remedies: tuple[Remedy, ...]
    transit: Transit | None


def zone_days(
    simulation: Simulation, shares: dict[str, float], file: SiteFile
) -> tuple[ZoneDay, ...]:
    """Days of the zones whose network can be put together and whose daily flow is known.

    Parameters
    ----------
    simulation : Simulation
    shares : dict of str to float
        Of the daily flow, by zone.
    file : SiteFile

    Returns
    -------
    tuple of ZoneDay
    """
    plan, figures = simulation.plan, simulation.figures
    daily = figures.design.daily_flow
    if daily is None or figures.pump is None:
        return ()
    doses = file.design.doses if file.design is not None else None
    days = []
    for zone in plan.zones:
        full = volumes(plan, zone, figures)
        counted = nominal(zone, figures)
        if full is None or not counted.emitters or missing(plan, zone, figures, DOSE):
            continue
        network = build(plan, zone, figures, DOSE)
        back = drain_back(network, figures, figures.pump.level)
        share = shares[zone.name]
        day = dosing(
            share * daily,
            full.tubing,
            full.tubing + full.manifolds + back,
            counted.dose_flow,
            doses=doses,
            drain_back=back,
        )
        store = store_of(network, figures)
        drained = drain(store, day.dose)
        each = by_joined(drained, store, day.dose)
        flushed = simulation.get(zone.name, FLUSH)
        days.append(
            ZoneDay(
                zone.name,
                share,
                day,
                back,
                drained,
                dict(zip(network.joined, (float(one) for one in each), strict=True)),
                tuple(remedies(network, figures, day.dose)),
                None if flushed is None else transit(flushed, figures),
            )
        )
    return tuple(days)
