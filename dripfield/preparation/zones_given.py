"""The zones of a site, where it says enough to work them out."""

from __future__ import annotations

import numpy as np
import shapely

from dripfield.core.errors import input_error
from dripfield.design.model import Design
from dripfield.site.reader import inside
from dripfield.site.rings import read_route
from dripfield.site.schema.pump import SupplyTable
from dripfield.zones.model import ZonePlan
from dripfield.zones.pipes import pipe_size
from dripfield.zones.plan import Route, plan_zones
from dripfield.zones.settings import ZoneSettings, bore_from, flow_from


def zones_given(design: Design) -> tuple[ZonePlan | None, str]:
    """The zone plan of a site, or what it does not say.

    Returns
    -------
    ZonePlan or None
    str
        What is missing; empty where the plan is there.
    """
    site, file, unit = design.site, design.site.file, design.site.unit
    wanted = {
        "[emitters] spacing": file.emitters and file.emitters.spacing,
        "[emitters] flow": file.emitters and file.emitters.flow,
        "[tubing] bore": file.tubing and file.tubing.bore,
        "[zones] longest": file.zones and file.zones.longest,
        "[zones] flush_velocity": file.zones and file.zones.flush_velocity,
    }
    missing = [key for key, value in wanted.items() if value is None]
    if missing:
        return None, f"zones are left out: the site does not give {', '.join(missing)}"
    emitters, tubing, zones = file.emitters, file.tubing, file.zones
    assert emitters is not None
    assert tubing is not None
    assert zones is not None
    manifold = file.manifold
    pipe = None
    if manifold is not None and (manifold.pipe or manifold.bore):
        pipe = pipe_size(unit, manifold.pipe, manifold.bore, field="[manifold]")
    most = zones.most_flow
    settings = ZoneSettings(
        unit=unit,
        spacing=site.settings.spacing,
        clearance=site.settings.edge_clearance,
        longest=zones.longest or np.inf,
        flush_velocity=zones.flush_velocity or 0.0,
        bore=bore_from(unit, tubing.bore or 0.0),
        emitter_spacing=emitters.spacing,
        emitter_flow=flow_from(unit, emitters.flow or 0.0, "hour"),
        count=zones.count,
        most_flow=None if most is None else flow_from(unit, most, "minute"),
        height=zones.height,
        feed=manifold.feed if manifold else None,
        manifold=pipe,
    )
    clear = [one.feature.buffer(one.distance) for one in site.bed.setbacks]
    found = plan_zones(
        design.layout.laterals,
        site.bed.boundary,
        design.surface,
        settings,
        keepouts=site.bed.keepouts,
        kept_clear=shapely.union_all(clear) if clear else None,
        supply=_route(design, "supply", file.supply),
        return_=_route(design, "return", file.return_),
    )
    return found.plan, ""


def _route(design: Design, name: str, table: SupplyTable | None) -> Route | None:
    site = design.site
    if table is None or table.route is None:
        return None
    if table.pipe is None and table.bore is None:
        raise input_error(
            "the route is given without the size of its pipe",
            'add pipe = "1-1/2 in" or bore',
            file="site.toml",
            field=f"[{name}]",
        )
    path = inside(site.folder, table.route, f"[{name}] route")
    xyz = read_route(path, site.unit, site.file.survey.decimal)
    return Route(xyz, pipe_size(site.unit, table.pipe, table.bore, field=f"[{name}]"))
