"""Whether an empty tank floats in wet ground: Archimedes against weight and cover."""

from __future__ import annotations

from dataclasses import dataclass

from dripfield.core.units import Unit
from dripfield.hydraulics.tank_shape import tank_outside, tank_shape, water, water_unit
from dripfield.preparation.heights import Finding, Verdict
from dripfield.site.schema.preparation import TankTable

WATER_LB_PER_FT3 = 62.4
WATER_KG_PER_M3 = 1000.0


@dataclass(frozen=True)
class Flotation:
    """Forces on an empty tank, as weights.

    Attributes
    ----------
    displaced : float
        Volume of the tank below ground water [cubic site unit].
    uplift, weight, cover : float
        [lb or kg]; ``cover`` is the soil straight over the tank, less its own uplift below water.
    factor : float
        (weight + cover) / uplift; infinite where there is no uplift.
    ballast_depth : float or None
        Depth of water inside that makes up what is wanting [site unit]; None: not needed, or not
        enough even when full.
    finding : Finding
    """

    displaced: float
    uplift: float
    weight: float
    cover: float
    factor: float
    ballast_depth: float | None
    finding: Finding


def flotation(table: TankTable, unit: Unit) -> Flotation | None:
    """Weigh an empty tank against the water that it displaces.

    Ground water that nobody entered stands at finished grade, the worst there is. Cover counts only
    straight over the tank and only where its density is entered: friction of the soil beside it is
    left out, and so is the riser.

    Returns
    -------
    Flotation or None
        None where walls, the tank's top or both grade and ground water are not given.
    """
    outside = tank_outside(table, unit)
    level = table.grade if table.ground_water is None else table.ground_water
    if outside is None or table.top is None or level is None:
        return None
    if table.grade is not None:
        level = min(level, table.grade)  # water stands in the ground, not over it
    scale = 1.0 if unit.is_metric else unit.to_feet(1.0) ** 3
    density = WATER_KG_PER_M3 if unit.is_metric else WATER_LB_PER_FT3
    displaced = outside.volume(level - (table.top - outside.height))
    uplift = displaced * scale * density
    cover = _cover(table, outside.footprint * scale, level, density)
    weight = table.weight or 0.0
    factor = (weight + cover) / uplift if uplift > 0.0 else float("inf")
    wanting = uplift * table.flotation_factor - weight - cover
    inside = tank_shape(table)
    full = inside.volume(inside.height) * scale * density
    ballast = None
    if 0.0 < wanting <= full:
        ballast = inside.depth_of(wanting / scale / density)
    finding = _finding(table, unit, uplift, weight, cover, wanting, ballast)
    return Flotation(displaced, uplift, weight, cover, factor, ballast, finding)


def _cover(table: TankTable, footprint: float, level: float, density: float) -> float:
    """Weight of the soil straight over the tank; ``footprint`` in units that carry the density."""
    if table.soil_density is None or table.grade is None or table.top is None:
        return 0.0
    depth = max(0.0, table.grade - table.top)
    wet = min(depth, max(0.0, level - table.top))
    return footprint * (depth * table.soil_density - wet * density)


def _finding(
    table: TankTable,
    unit: Unit,
    uplift: float,
    weight: float,
    cover: float,
    wanting: float,
    ballast: float | None,
) -> Finding:
    what, word = "flotation of the empty tank", "kg" if unit.is_metric else "lb"
    ground = "finished grade, as no level is entered" if table.ground_water is None else "its level"
    text = f"{table.name}: uplift {uplift:,.0f} {word} with ground water at {ground}"
    if table.weight is None:
        if uplift == 0.0:
            return Finding(what, "pass", text)
        return Finding(what, "not proven", f"{text}; give the tank's weight")
    text += f"; against it {weight:,.0f} {word} of tank and {cover:,.0f} {word} of cover"
    verdict: Verdict = "pass" if wanting <= 1e-6 * max(1.0, uplift) else "fail"
    if verdict == "fail":
        if ballast is None:
            text += ": even full of water it is too light, it must be anchored"
        else:
            amount = water(tank_shape(table).volume(ballast), unit)
            text += (
                f": keep {ballast:.{unit.places}f} {unit.short} of water in it"
                f" ({amount:,.0f} {water_unit(unit)}), or anchor it"
            )
    return Finding(what, verdict, text)


def excavation_depth(table: TankTable, unit: Unit) -> float | None:
    """Depth of the dig for a tank, entered or from its heights; None where neither is known."""
    if table.excavation is not None:
        return table.excavation
    if table.grade is None or table.top is None:
        return None
    height = tank_shape(table).height + 2.0 * unit.from_small(table.wall or 0.0)
    return table.grade - table.top + height
