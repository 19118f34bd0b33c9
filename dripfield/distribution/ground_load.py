"""Water on the ground: loading where each emitter serves, and along the lower edge of the bed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import InputError
from dripfield.design.model import Design
from dripfield.hydraulics.build import DOSE
from dripfield.hydraulics.flow_paths import LinearLoading, linear_loading
from dripfield.hydraulics.loading import Loading, areas_of, loading
from dripfield.hydraulics.simulate import Simulation
from dripfield.zones.areas import emitter_points, serving_cells


@dataclass(frozen=True)
class GroundLoad:
    """Loading of the bed.

    Attributes
    ----------
    points : (k, 2) float array
        Emitters [site unit].
    cells : list of Polygon or MultiPolygon
        The area that each serves.
    area : (k,) float array
        [site unit squared].
    emission : (k,) float array
        Of each while dosing [gal/h or L/h]; as rated where the dose is not solved.
    daily : (k,) float array
        Of each in a day [gal or L].
    zone, joined, lateral : tuple of str
        Where each emitter is, (k,).
    surface : Loading
    linear : LinearLoading or None
    reason : str
        Why there is no linear loading; else empty.
    rated : bool
        Whether emission is as rated, since no dose is solved.
    """

    points: Floats
    cells: list[Any]
    area: Floats
    emission: Floats
    daily: Floats
    zone: tuple[str, ...]
    joined: tuple[str, ...]
    lateral: tuple[str, ...]
    surface: Loading
    linear: LinearLoading | None
    reason: str
    rated: bool


def ground_load(design: Design, simulation: Simulation) -> GroundLoad | None:
    """Loading of a design's bed in a day.

    Parameters
    ----------
    design : Design
    simulation : Simulation
        Each zone takes its share of the daily flow by its area.

    Returns
    -------
    GroundLoad or None
        None where the daily flow is not known or nothing emits.
    """
    figures, plan = simulation.figures, simulation.plan
    total = figures.design.daily_flow
    groups = [(zone, joined) for zone in plan.zones for joined in zone.joined]
    if total is None or not sum(joined.emitters for _, joined in groups):
        return None
    points = np.concatenate([emitter_points(joined) for _, joined in groups])
    names = [
        (zone.name, joined.name, str(piece.lateral))
        for zone, joined in groups
        for piece in joined.pieces
        for _ in piece.emitters
    ]
    zone, in_joined, lateral = (tuple(column) for column in zip(*names, strict=True))
    free = design.site.bed.boundary
    for keepout in design.site.bed.keepouts:
        free = free.difference(keepout)
    cells = serving_cells(points, free)
    area = areas_of(cells)

    emission = np.full(len(points), figures.emitters.flow)
    rated = True
    of_zone = np.array(zone)
    for one in plan.zones:
        state = simulation.get(one.name, DOSE)
        if state is not None and state.emission.sum() > 0.0:
            emission[of_zone == one.name] = state.emission
            rated = False
    daily = np.zeros(len(points))
    served = sum(one.area for one in plan.zones)
    for one in plan.zones:
        mine = of_zone == one.name
        if mine.any():
            daily[mine] = total * one.area / served * emission[mine] / emission[mine].sum()
    linear, reason = None, ""
    try:
        linear = linear_loading(
            design.site.bed.boundary,
            design.surface,
            cells,
            daily,
            stretch=2.0 * design.site.settings.spacing,
        )
    except InputError as problem:
        reason = str(problem)
    return GroundLoad(
        points,
        cells,
        area,
        emission,
        daily,
        zone,
        in_joined,
        lateral,
        loading(area, emission, daily),
        linear,
        reason,
        rated,
    )
