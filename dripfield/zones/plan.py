"""A layout's laterals into joined laterals, zones, manifolds and lines: the one entry point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.height_field import HeightField
from dripfield.layout.model import Lateral
from dripfield.zones.air import AirRelease, air_releases
from dripfield.zones.areas import emitter_points, served_areas
from dripfield.zones.assemble import joined_laterals
from dripfield.zones.corridors import find_corridors
from dripfield.zones.division import Division, Limits, choose_division
from dripfield.zones.emitters import emitter_stations
from dripfield.zones.field import Field, make_field
from dripfield.zones.fittings import Takeoff, takeoff
from dripfield.zones.joining import JoinReport, choose_joins, one_zone_flow
from dripfield.zones.leading import lead_manifolds
from dripfield.zones.links import Links, find_links
from dripfield.zones.model import JoinedLateral, Pipe, Zone, ZonePlan
from dripfield.zones.pipes import PipeSize
from dripfield.zones.pricing import Column
from dripfield.zones.routes import check_route
from dripfield.zones.settings import ZoneSettings
from dripfield.zones.trade import TradeRow, main_panel, trade_table


@dataclass(frozen=True)
class Route:
    """A line to the field or back as the site gives it.

    Attributes
    ----------
    xyz : (k, 3) float array
        Vertices in the order of flow: the supply from the pump to the field, the return from the
        field to the tank [site unit].
    size : PipeSize
    """

    xyz: Floats
    size: PipeSize


@dataclass(frozen=True)
class ZoneDesign:
    """The zones with all that is to be said of how they were chosen.

    Attributes
    ----------
    plan : ZonePlan
    joins : JoinReport
    division : Division
    shares : dict of str to float
        Of the daily volume, by zone: as its area, so that every square foot gets the same.
    trade : tuple of TradeRow
    air : tuple of AirRelease
    takeoff : Takeoff
    faults : tuple of str
        What does not hold: limits missed, ends that no pipe reaches, pipe within a setback.
    """

    plan: ZonePlan
    joins: JoinReport
    division: Division
    shares: dict[str, float]
    trade: tuple[TradeRow, ...]
    air: tuple[AirRelease, ...]
    takeoff: Takeoff
    faults: tuple[str, ...]


def plan_zones(
    laterals: Sequence[Lateral],
    bed: Polygon,
    ground: HeightField,
    settings: ZoneSettings,
    *,
    keepouts: Sequence[Polygon] = (),
    kept_clear: Polygon | MultiPolygon | None = None,
    supply: Route | None = None,
    return_: Route | None = None,
    tank: Floats | None = None,
    near: float | None = None,
) -> ZoneDesign:
    """Join the laterals of a layout, divide them into zones and lead pipe to them.

    Parameters
    ----------
    laterals : sequence of Lateral
    bed : Polygon
    ground : HeightField
        For the elevations of manifolds.
    settings : ZoneSettings
    keepouts : sequence of Polygon
    kept_clear : Polygon, MultiPolygon or None
        Ground within setbacks, which manifolds avoid.
    supply, return_ : Route or None
        Lines to the field and back; None: the manifolds start at the field.
    tank : (2,) float array or None
        Where both lines begin, if it is known.
    near : float or None
        How far from the bed and the tank a line may end [site unit]; None: 30 ft, 10 m.

    Returns
    -------
    ZoneDesign

    Raises
    ------
    InputError
        No laterals, one that is too long by itself, or a line that leads elsewhere.
    """
    if not laterals:
        raise input_error("there are no laterals to join", "lay out the bed first", field="zones")
    field = make_field(
        laterals,
        bed,
        keepouts=keepouts,
        kept_clear=kept_clear,
        spacing=settings.spacing,
        clearance=settings.clearance,
    )
    near = settings.unit.default(30.0, 10.0) if near is None else near
    if supply is not None:
        check_route(supply.xyz, "supply", bed, field.laterals, near, tank)
    if return_ is not None:
        check_route(return_.xyz[::-1], "return", bed, field.laterals, near, tank)

    links = find_links(field, settings.longest)
    places = [
        route for route in (_field_end(supply, -1), _field_end(return_, 0)) if route is not None
    ]
    corridors = find_corridors(
        field, _first_lane(settings), np.array(places)[:, :2] if places else None
    )
    total = len(corridors.nodes)
    rows = iter(range(total - len(places), total))
    routes = (
        next(rows) if supply is not None else None,
        next(rows) if return_ is not None else None,
    )

    def flush(columns: tuple[Column, ...]) -> float:
        made = joined_laterals(field, links, columns, settings.emitter_spacing)
        _, groups = _divide(field, links, made, settings)
        lengths = [np.array([one.length for one in group]) for group in groups]
        return len(groups) * max(one_zone_flow(each, settings) for each in lengths)

    report = choose_joins(field, links, corridors, settings, routes, flush)
    made = joined_laterals(field, links, report.chosen.columns, settings.emitter_spacing)
    division, groups = _divide(field, links, made, settings)
    emission = _emission(field, settings)
    trade = trade_table(field, links, report, emission, settings)

    zones = _zones(field, groups)
    zones, faults = lead_manifolds(
        field,
        ground,
        zones,
        settings,
        (
            supply.xyz[-1] if supply is not None else None,
            return_.xyz[0] if return_ is not None else None,
        ),
        _first_lane(settings),
    )
    plan = ZonePlan(
        zones,
        (Pipe("supply", supply.xyz, supply.size.bore, supply.size.size),) if supply else (),
        (Pipe("return", return_.xyz, return_.size.bore, return_.size.size),) if return_ else (),
        _notes(report, division),
    )
    area = sum(zone.area for zone in zones)
    manifolds = [m for zone in zones for m in (zone.supply, zone.return_) if m is not None]
    return ZoneDesign(
        plan,
        report,
        division,
        {zone.name: zone.area / area for zone in zones},
        trade,
        air_releases(plan),
        takeoff(manifolds, (*plan.supply, *plan.return_)),
        (*division.misses, *faults),
    )


def _field_end(route: Route | None, vertex: int) -> Floats | None:
    return None if route is None else np.asarray(route.xyz[vertex], dtype=float)


def _first_lane(settings: ZoneSettings) -> float:
    """From the ends of laterals to the innermost manifold [site unit]."""
    return max(0.5 * settings.clearance, 0.25 * settings.spacing)


def _emission(field: Field, settings: ZoneSettings) -> Floats:
    spacing = settings.emitter_spacing
    counts = [len(emitter_stations(float(length), spacing)) for length in field.lengths]
    return np.array(counts) * settings.emitter_flow


def _divide(
    field: Field,
    links: Links,
    made: Sequence[tuple[JoinedLateral, object]],
    settings: ZoneSettings,
) -> tuple[Division, list[list[JoinedLateral]]]:
    """Zones of equal dosing flow (equal tubing where the flow is not known)."""
    joined = [one for one, _ in made]
    number = {lateral.name: i for i, lateral in enumerate(field.laterals)}
    members = [[number[name] for name in one.laterals] for one in joined]
    levels = field.elevations
    if settings.emitter_flow > 0.0:
        flows = np.array([one.emitters * settings.emitter_flow for one in joined])
    else:
        flows = np.array([one.tubing for one in joined])
    known = settings.emitter_flow > 0.0
    limits = Limits(
        settings.most_flow if settings.most_flow is not None and known else np.inf,
        settings.height if settings.height is not None else np.inf,
        settings.most_joined if settings.most_joined is not None else np.inf,
    )
    division = choose_division(
        flows,
        np.array([levels[group].max() for group in members]),
        np.array([levels[group].min() for group in members]),
        limits,
        [main_panel(field, group) for group in members],
        settings.count,
    )
    groups = [[joined[i] for i in sorted(group)] for group in division.groups]
    groups.sort(key=lambda group: group[0].name)
    return division, groups


def _zones(field: Field, groups: list[list[JoinedLateral]]) -> tuple[Zone, ...]:
    points = [emitter_points(one) for group in groups for one in group]
    areas = served_areas(np.concatenate(points), field.free)
    zones, first = [], 0
    for i, group in enumerate(groups, 1):
        last = first + sum(one.emitters for one in group)
        zones.append(Zone(f"Z{i}", tuple(group), float(areas[first:last].sum())))
        first = last
    return tuple(zones)


def _notes(report: JoinReport, division: Division) -> tuple[str, ...]:
    found, zones = len(report.chosen.columns), len(division.groups)
    count = f"{found} joined laterals, at least {report.at_least}"
    if report.greedy != found:
        count += f" ({report.greedy} by taking the next line down)"
    return (count, report.reason, f"{zones} zone{'s' if zones > 1 else ''}: {division.reason}")
