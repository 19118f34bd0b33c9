"""The zones of a site, where it says enough to buy for them, and the volumes that they move."""

from __future__ import annotations

from dripfield.core.words import joined
from dripfield.design.model import Design
from dripfield.distribution.figures import zone_settings
from dripfield.distribution.system import FieldSystem, field_system
from dripfield.hydraulics.build import FLUSH
from dripfield.preparation.prepare import Flows

CHANGES = 2.0  # of water by one flush: an assumption


def zones_given(design: Design) -> tuple[FieldSystem | None, str]:
    """The field system of a site, or what it does not say.

    Returns
    -------
    FieldSystem or None
        None where joining would have to assume a figure: pipe is not bought on an assumption.
    str
        What is missing; empty where the system is there.

    Raises
    ------
    InputError
        As :func:`dripfield.distribution.system.field_system`.
    """
    if not design.layout.laterals:
        return None, "no lateral is laid out: zones are left out"
    _, assumed = zone_settings(design.site, design.layout)
    missing = [one.key for one in assumed]
    if design.site.file.emitters is None:
        missing.insert(0, "[emitters] spacing")
    if missing:
        return None, f"zones are left out: the site does not give {joined(missing)}"
    return field_system(design), ""


def flows_of(design: Design, system: FieldSystem | None) -> Flows:
    """The greatest volumes of any zone, to be compared with the levels of the dosing tank."""
    table, days = design.site.file.design, system.days if system else ()
    flushes = [day.transit.flush(CHANGES)[1] for day in days if day.transit is not None]
    return Flows(
        dose=max((day.dosing.dose for day in days), default=None),
        drained_back=max((day.drain_back for day in days), default=None),
        flushed_back=max(flushes, default=None),
        daily_flow=table.daily_flow if table else None,
    )


def flush_words(system: FieldSystem | None) -> str:
    """Flow of every zone while it is flushed, as solved; empty where one of them is not."""
    if system is None or system.simulation is None or system.figures is None:
        return ""
    states = {zone.name: system.simulation.get(zone.name, FLUSH) for zone in system.plan.zones}
    unit = "L/min" if system.design.site.unit.is_metric else "gal/min"
    if any(state is None for state in states.values()):
        return ""
    flows = "; ".join(f"{name} {state.flow:.1f}" for name, state in states.items() if state)
    return f"{flows} {unit}: duty.csv of zones"
