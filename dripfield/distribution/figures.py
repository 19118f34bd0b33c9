"""What a site file says of tubing, emitters, zones and pump, as zones and hydraulics take it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.units import Unit
from dripfield.hydraulics.figures import (
    DesignFigures,
    EmitterFigures,
    Figures,
    PumpFigures,
    TubingFigures,
)
from dripfield.hydraulics.quantities import viscosity
from dripfield.layout.model import Lateral, Layout
from dripfield.site.model import Site
from dripfield.site.schema.site import SiteFile
from dripfield.site.schema.zones import DesignTable, TubingTable, ZonesTable
from dripfield.zones.pipes import PipeSize, pipe_size
from dripfield.zones.settings import ZoneSettings, bore_from, flow_from


@dataclass(frozen=True)
class Assumed:
    """A figure that the site does not give, and what laterals were joined with instead.

    Attributes
    ----------
    key : str
        As ``[tubing] bore``.
    taken : str
        With its unit.
    """

    key: str
    taken: str


def figures_of(file: SiteFile) -> Figures | None:
    """Figures of a site file for the simulation; None where the emitters' flow is missing.

    Raises
    ------
    InputError
        Figures that cannot be true.
    """
    emitters, tubing, pump = file.emitters, file.tubing, file.pump
    if emitters is None or emitters.flow is None:
        return None
    unit = Unit(file.site.units)
    design, zones = file.design or DesignTable(), file.zones or ZonesTable()
    bore = tubing.bore if tubing else None
    pumped = None
    if pump is not None and pump.curve is not None and pump.level is not None:
        loss = None if pump.other_loss is None else tuple(pump.other_loss)
        pumped = PumpFigures(tuple(pump.curve), pump.level, loss)
    return Figures(
        unit,
        EmitterFigures(
            emitters.spacing,
            emitters.flow,
            emitters.pressure_least,
            emitters.pressure_most,
            emitters.exponent,
            emitters.pressure_nominal,
            emitters.variation,
            emitters.loss,
        ),
        TubingFigures(bore, tubing.roughness, tubing.pressure_rating) if tubing and bore else None,
        pumped,
        DesignFigures(
            design.daily_flow,
            design.loading_rate,
            design.water_temperature,
            zones.flush_velocity,
            zones.most_flow,
            zones.height,
            zones.longest,
        ),
    )


def missing_keys(file: SiteFile) -> list[str]:
    """Keys without which neither the dose nor the flush of a site can be solved."""
    lacks = []
    if file.emitters is None:
        lacks.append("[emitters] spacing and flow; they are on the tubing's sheet")
    elif file.emitters.flow is None:
        lacks.append("[emitters] flow; it is on the tubing's sheet")
    if file.tubing is None or file.tubing.bore is None:
        lacks.append("[tubing] bore; it is on the tubing's sheet")
    if file.pump is None or file.pump.curve is None:
        lacks.append("[pump] curve; it is on the pump's sheet")
    if file.pump is None or file.pump.level is None:
        lacks.append("[pump] level")
    if file.supply is None or file.supply.route is None:
        lacks.append("[supply] route")
    return lacks


def zone_settings(site: Site, layout: Layout) -> tuple[ZoneSettings, tuple[Assumed, ...]]:
    """What the laterals of a site are joined and divided by.

    Parameters
    ----------
    site : Site
    layout : Layout
        A lateral that is longer than ``[zones] longest`` by itself is let through, for a check to
        find.

    Returns
    -------
    ZoneSettings
    tuple of Assumed
        What stood in for figures that are missing: common practice, no source. Joining needs them;
        nothing that is reported does.
    """
    unit, file = site.unit, site.file
    zones, tubing = file.zones or ZonesTable(), file.tubing or TubingTable()
    bore_unit = unit.small
    assumed: list[Assumed] = []

    def given(key: str, value: float | None, usual: tuple[float, float], what: str) -> float:
        if value is not None:
            return value
        instead = unit.default(*usual)
        assumed.append(Assumed(key, f"{instead:g} {what}"))
        return instead

    longest = given("[zones] longest", zones.longest, (300.0, 90.0), unit.short)
    velocity = given("[zones] flush_velocity", zones.flush_velocity, (2.0, 0.6), f"{unit.short}/s")
    bore = given("[tubing] bore", tubing.bore, (0.5, 13.0), bore_unit)
    spacing, flow = site.settings.spacing, 0.0
    if file.emitters is not None:
        spacing = file.emitters.spacing
        if file.emitters.flow is not None:
            flow = flow_from(unit, file.emitters.flow, "hour")
    figures = figures_of(file)
    celsius = figures.celsius if figures is not None else 10.0
    manifold = file.manifold
    settings = ZoneSettings(
        unit=unit,
        spacing=site.settings.spacing,
        clearance=site.settings.edge_clearance,
        longest=max([longest, *(1.000001 * _length(one) for one in layout.laterals)]),
        flush_velocity=velocity,
        bore=bore_from(unit, bore),
        emitter_spacing=spacing,
        emitter_flow=flow,
        count=zones.count,
        most_flow=None if zones.most_flow is None else flow_from(unit, zones.most_flow, "minute"),
        height=zones.height,
        feed=manifold.feed if manifold else None,
        manifold=_manifold(site),
        viscosity=viscosity(celsius) / unit.metres**2,
        roughness=bore_from(unit, figures.tubing_roughness) if figures is not None else 0.0,
    )
    return settings, tuple(assumed)


def _manifold(site: Site) -> PipeSize | None:
    table = site.file.manifold
    if table is None or (table.pipe is None and table.bore is None):
        return None
    return pipe_size(site.unit, table.pipe, table.bore, field="[manifold] pipe")


def _length(lateral: Lateral) -> float:
    return float(np.hypot(*np.diff(lateral.xy, axis=0).T).sum())
