"""What a laid-out site knows of its field: everything that preparing is worked out from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dripfield.bed.design import BedDesign, design_bed
from dripfield.bed.materials import STRIPPED, TOTAL, MaterialVolume, in_states, usual_volume_name
from dripfield.bed.materials import take_off as bed_volumes
from dripfield.bed.notes import deepest_dig
from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.core.units import Unit
from dripfield.design.model import Design
from dripfield.hydraulics.tank_shape import tank_shape
from dripfield.preparation.fittings import PipeRun, run_along
from dripfield.preparation.from_zones import Routed, nominal_size, routed_from_zones
from dripfield.preparation.gravity_return import ReturnProfile, return_profile
from dripfield.preparation.heights import Finding
from dripfield.preparation.site_needs import Bulk, Marks
from dripfield.preparation.takeoff import Field
from dripfield.preparation.tubing import LateralLength
from dripfield.site.model import Site
from dripfield.site.reader import inside
from dripfield.site.rings import read_route
from dripfield.site.schema.materials import Material
from dripfield.site.schema.preparation import PrepareTable, StockTable, TankTable
from dripfield.zones.model import Pipe, ZonePlan
from dripfield.zones.pipes import pipe_size


@dataclass(frozen=True)
class Line:
    """A pipe that comes or goes, followed along its way.

    Attributes
    ----------
    name, use : str
    xyz : (k, 3) float array
        In the order of flow [site unit].
    ground : (k,) float array
        Elevation of the ground over each vertex; NaN where it is not known [site unit].
    profile : ReturnProfile or None
        Of a line that must fall; None for one under pressure.
    """

    name: str
    use: str
    xyz: Floats
    ground: Floats
    profile: ReturnProfile | None


@dataclass(frozen=True)
class Known:
    """A field as preparing wants it.

    Attributes
    ----------
    field : Field
        Without tanks and enclosures, which the tables say.
    plan : ZonePlan or None
    lines : tuple of Line
    stock : tuple of StockTable
        How bulk materials come, as their trucks are entered with the bed.
    built : bool
        A bed of sand is built.
    rake_tolerance, frost_depth : float or None
        [site unit]
    digs : tuple of (str, float)
        Depths of the dig for the bed and of trenches [site unit].
    findings : tuple of Finding
        Of the lines.
    notes : tuple of str
        What is left out, and why.
    """

    field: Field
    plan: ZonePlan | None
    lines: tuple[Line, ...]
    stock: tuple[StockTable, ...]
    built: bool
    rake_tolerance: float | None
    frost_depth: float | None
    digs: tuple[tuple[str, float], ...]
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]


def known_of(
    design: Design, plan: ZonePlan | None, marks: Marks | None, *, why_no_zones: str = ""
) -> Known:
    """Gather what is known of a laid-out site.

    Parameters
    ----------
    design : Design
    plan : ZonePlan or None
        Joined laterals, manifolds and lines; None where they are not worked out.
    marks : Marks or None
        Of the field method.
    why_no_zones : str
        What is said where there is no plan.

    Returns
    -------
    Known

    Raises
    ------
    InputError
        A route or a bed section that cannot be.
    """
    site, unit = design.site, design.site.unit
    table = site.file.prepare or PrepareTable()
    frost = site.file.design.frost_depth if site.file.design else None
    notes = [why_no_zones] if plan is None and why_no_zones else []
    bed = design_bed(site, design.ground.surface) if site.file.bed.section else None
    finished = _finished(bed, design.ground.surface)
    routed = _routed(plan, unit, finished, frost)
    if routed is not None:
        notes += routed.notes
    inlet = _first_inlet(site.file.tank, unit)
    lines = [
        *_given_lines(site, finished, inlet),
        *_further_lines(site, table, finished, inlet),
    ]
    runs = [*(routed.runs if routed else _plain_runs(site, lines, frost))]
    runs += [
        _run(line, str(one.pipe), frost)
        for line, one in zip(lines[len(lines) - len(table.lines) :], table.lines, strict=True)
    ]
    rows = bed_volumes(bed) if bed else ()
    field = Field(
        laterals=tuple(
            LateralLength(lateral.name, lateral.panel, measure.length, lateral.elevation)
            for lateral, measure in design.laterals.values()
        ),
        joined=routed.joined if routed else None,
        runs=tuple(runs),
        valves=routed.valves if routed else 0,
        summits=routed.summits if routed else 0,
        bulk=tuple(
            Bulk(one.material, one.volume.fill, one.loose)
            for one in rows
            if one.material not in (STRIPPED, TOTAL) and one.volume.fill > 0.0
        ),
        graded_area=_graded_area(site, rows),
        marks=marks,
    )
    digs = [("bed", deepest_dig(bed))] if bed else []
    digs += [(f"trench of {one.name}", depth) for one in lines if (depth := _deepest(one)) > 0.0]
    section = site.file.bed.section
    return Known(
        field=field,
        plan=plan,
        lines=tuple(lines),
        stock=_trucks(section.materials, [one.material for one in field.bulk], unit)
        if section
        else (),
        built=bed is not None,
        rake_tolerance=bed.section.rake_tolerance if bed else None,
        frost_depth=frost,
        digs=tuple(digs),
        findings=tuple(
            Finding(found.what, found.verdict, f"{one.name}: {found.text}")
            for one in lines
            if one.profile is not None
            for found in one.profile.findings
        ),
        notes=tuple(notes),
    )


def inlet_of(tank: TankTable, unit: Unit) -> float | None:
    """Elevation of a tank's inlet, entered or from its top, wall and inside [site unit]."""
    if tank.inlet_elevation is not None:
        return tank.inlet_elevation
    if tank.top is None or tank.wall is None or tank.inlet is None:
        return None
    return tank.top - unit.from_small(tank.wall) - tank_shape(tank).height + tank.inlet


def _first_inlet(tanks: Sequence[TankTable], unit: Unit) -> float | None:
    """The inlet of the first tank that has one: what comes back enters where flow begins."""
    return next((inlet for one in tanks if (inlet := inlet_of(one, unit)) is not None), None)


def _finished(bed: BedDesign | None, ground: HeightField) -> HeightField:
    """Finished grade where a bed is built, with the ground around it."""
    return ground if bed is None else _Over(bed.pieces.surface("finished"), ground)


@dataclass(frozen=True)
class _Over:
    """One height field where it is known, and another elsewhere."""

    upper: HeightField
    lower: HeightField

    def elevation(self, xy: Floats) -> Floats:
        """Elevations (k,) at plan points (k, 2)."""
        found = self.upper.elevation(xy)
        return np.where(np.isfinite(found), found, self.lower.elevation(xy))

    def gradient(self, xy: Floats) -> Floats:
        """Rise per unit of easting and northing, (k, 2)."""
        found = self.upper.gradient(xy)
        return np.where(np.isfinite(found), found, self.lower.gradient(xy))


def _routed(
    plan: ZonePlan | None, unit: Unit, finished: HeightField, frost_depth: float | None
) -> Routed | None:
    if plan is None:
        return None
    return routed_from_zones(plan, unit, ground=finished.elevation, frost_depth=frost_depth)


def _given_lines(site: Site, finished: HeightField, inlet: float | None) -> list[Line]:
    """Supply and return as the site gives them; the return must fall to the tank."""
    lines = []
    for name, table in (("supply", site.file.supply), ("return", site.file.return_)):
        if table is None or table.route is None:
            continue
        path = inside(site.folder, table.route, f"[{name}] route")
        xyz = read_route(path, site.unit, site.file.survey.decimal)
        lines.append(_line(name, name, xyz, finished, site.unit, inlet))
    return lines


def _further_lines(
    site: Site, table: PrepareTable, finished: HeightField, inlet: float | None
) -> list[Line]:
    lines = []
    for number, one in enumerate(table.lines, 1):
        path = inside(site.folder, one.route, f"[[prepare.lines]] {number} route")
        xyz = read_route(path, site.unit, site.file.survey.decimal)
        lines.append(_line(one.name, one.use, xyz, finished, site.unit, inlet))
    return lines


def _line(
    name: str, use: str, xyz: Floats, finished: HeightField, unit: Unit, inlet: float | None
) -> Line:
    falls = use in ("return", "gravity return")
    profile = return_profile(xyz, unit, inlet=inlet) if falls else None
    return Line(name, use, xyz, finished.elevation(xyz[:, :2]), profile)


def _run(line: Line, size: str, frost_depth: float | None) -> PipeRun:
    known = frost_depth is not None and bool(np.isfinite(line.ground).all())
    return run_along(
        line.name,
        line.use,
        size,
        line.xyz,
        ground=line.ground if known else None,
        frost_depth=frost_depth if known else None,
    )


def _plain_runs(site: Site, lines: Sequence[Line], frost: float | None) -> list[PipeRun]:
    """Supply and return without zones: what their routes and sizes say by themselves."""
    tables = {"supply": site.file.supply, "return": site.file.return_}
    runs = []
    for line in lines:
        given = tables.get(line.use)
        if given is None or (given.pipe is None and given.bore is None):
            continue
        size = pipe_size(site.unit, given.pipe, given.bore, field=f"[{line.use}] pipe")
        name = nominal_size(Pipe(line.name, line.xyz, size.bore, size.size), site.unit)
        if name is not None:
            runs.append(_run(line, name, frost))
    return runs


def _deepest(line: Line) -> float:
    """Deepest that the pipe lies under the ground; 0 where the ground is not known."""
    depth = line.ground - line.xyz[:, 2]
    return float(np.nanmax(depth)) if np.isfinite(depth).any() else 0.0


def _graded_area(site: Site, rows: Sequence[MaterialVolume]) -> float:
    """Plan area of finished grade, or of the bed where nothing is built [square site unit]."""
    whole = next((one.volume.area for one in rows if one.material == TOTAL), None)
    if whole is not None:
        return whole
    area = site.bed.boundary.area
    taken = sum(one.intersection(site.bed.boundary).area for one in site.bed.keepouts)
    return float(area - taken)


def _trucks(
    materials: Sequence[Material], brought: Sequence[str], unit: Unit
) -> tuple[StockTable, ...]:
    """Truck loads of what is brought, as the bed's materials have them."""
    stock = []
    for one in materials:
        loose = "loose" in in_states(1.0, "compacted", one)
        if one.truck is None or one.name not in brought or not loose:
            continue
        size = one.truck.value
        if one.truck.unit != usual_volume_name(unit):
            size *= 0.9144**3 if unit.is_metric else 1.0 / 0.9144**3
        sold = f"{one.truck.value:g} {one.truck.unit} truck load"
        stock.append(StockTable(material=f"fill, {one.name}", size=size, sold_as=sold, waste=0.0))
    return tuple(stock)
