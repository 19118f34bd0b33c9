"""What comes out and what goes in, by material: in place, in the bank, loose, in trucks, in tonnes.

Soil that comes out is measured in the bank; what is placed is measured compacted, as it lies in
the bed. Factors are volumes for one volume in the bank, and they are the user's own: with none
given, nothing is converted.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass

from dripfield.bed.design import BedDesign
from dripfield.bed.volumes import Volume, volume_of
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.site.schema.materials import Density, Material

STRIPPED = "stripped soil"
TOTAL = "existing ground to finished grade"
CUBIC_YARD = 0.9144**3  # [m3]; 3 international feet a side
TONNE_OF = {  # tonnes in a cubic metre for one of the unit; pound 0.45359237 kg exactly
    "t/m3": 1.0,
    "kg/m3": 1e-3,
    "lb/ft3": 0.45359237e-3 / 0.3048**3,
    "ton/yd3": 2000.0 * 0.45359237e-3 / CUBIC_YARD,
}
TONNES = {"t": 1.0, "kg": 1e-3, "lb": 0.45359237e-3, "ton": 2000.0 * 0.45359237e-3}
SHORT_TON = 2000.0 * 0.45359237e-3  # [t]


@dataclass(frozen=True)
class MaterialVolume:
    """One row of the take-off; volumes in cubic site units, None where a factor is not given.

    Attributes
    ----------
    material, layer : str
        ``layer`` says which layer it is, as one material may be in several.
    volume : Volume
    bank, loose, compacted : float or None
    loads : int or None
        Truck loads, by loose volume and by weight as far as limits are given.
    tonnes : float or None
        Mass [t].
    """

    material: str
    layer: str
    volume: Volume
    bank: float | None = None
    loose: float | None = None
    compacted: float | None = None
    loads: int | None = None
    tonnes: float | None = None


def take_off(design: BedDesign) -> tuple[MaterialVolume, ...]:
    """Volumes of all that comes out and goes in, and of the whole from ground to finished grade.

    Returns
    -------
    tuple of MaterialVolume
        Stripped soil, the layers from the sand upward, the whole.

    Raises
    ------
    InputError
        Factors are given for a material that the bed does not have.
    """
    known = {material.name: material for material in design.section.materials}
    names = [STRIPPED, *(layer.material for layer in design.layers)]
    for name in known:
        if name not in names:
            closest = difflib.get_close_matches(name, names, n=1, cutoff=0.0)[0]
            raise input_error(
                f"the bed has no material {name!r}",
                f"the closest it has is {closest!r}",
                file="site.toml",
                field="[[bed.section.materials]] name",
            )
    unit = design.site.unit
    out = volume_of(design.pieces, "ground", "stripped")
    rows = [_row(STRIPPED, "dig", out, out.cut, "bank", known.get(STRIPPED), unit)]
    for number, layer in enumerate(design.layers):
        volume = volume_of(design.pieces_of(layer), layer.lower, layer.upper)
        where = f"cover {number}" if number else "bed"
        if layer.where == "beyond":
            where = "side slopes"
        rows.append(
            _row(
                layer.material,
                where,
                volume,
                volume.fill,
                "compacted",
                known.get(layer.material),
                unit,
            )
        )
    whole = volume_of(design.pieces, "ground", "finished")
    return (*rows, MaterialVolume(TOTAL, "all", whole))


def _row(
    name: str,
    layer: str,
    volume: Volume,
    amount: float,
    state: str,
    material: Material | None,
    unit: Unit,
) -> MaterialVolume:
    """Convert an amount known in one state by the factors there are."""
    states = in_states(amount, state, material)
    tonnes = weight_of(states, material, unit)
    return MaterialVolume(
        name,
        layer,
        volume,
        states.get("bank"),
        states.get("loose"),
        states.get("compacted"),
        truck_loads(states.get("loose"), tonnes, material, unit),
        tonnes,
    )


def in_states(amount: float, state: str, material: Material | None) -> dict[str, float]:
    """A volume in every state that the factors reach from the one it is known in.

    Parameters
    ----------
    amount : float
        Volume [any cubic unit].
    state : str
        ``bank``, ``loose`` or ``compacted``.
    material : Material or None
        ``loose`` and ``compacted`` are volumes for one in the bank.

    Returns
    -------
    dict of str to float
        Volumes by state, the known one first [the same unit].

    Examples
    --------
    >>> from dripfield.site.schema.bed_section import Material
    >>> sand = Material(name="sand", loose=1.11, compacted=0.95)
    >>> {k: round(v, 2) for k, v in in_states(100.0, "compacted", sand).items()}
    {'compacted': 100.0, 'bank': 105.26, 'loose': 116.84}
    """
    factors = {"bank": 1.0}
    if material is not None and material.loose is not None:
        factors["loose"] = material.loose
    if material is not None and material.compacted is not None:
        factors["compacted"] = material.compacted
    result = {state: amount}
    if state in factors:
        result |= {name: amount * f / factors[state] for name, f in factors.items()}
    return result


def cubic_yards(volume: float, unit: Unit) -> float:
    """A volume in cubic site units as cubic yards."""
    return volume * unit.metres**3 / CUBIC_YARD


def usual_volume(volume: float, unit: Unit) -> float:
    """A volume in cubic site units in the unit it is bought in: cubic metres or cubic yards."""
    return volume if unit.is_metric else cubic_yards(volume, unit)


def usual_volume_name(unit: Unit) -> str:
    """``m3`` for metres, ``yd3`` for feet."""
    return "m3" if unit.is_metric else "yd3"


def truck_loads(
    loose: float | None, tonnes: float | None, material: Material | None, unit: Unit
) -> int | None:
    """Truck loads of an amount: by volume, by weight, or as many as the tighter of the two asks.

    Parameters
    ----------
    loose : float or None
        Volume loose [cubic site unit].
    tonnes : float or None
        Its mass [t].
    material : Material or None
        With ``truck`` and ``truck_weight`` as far as they are given.
    unit : Unit

    Returns
    -------
    int or None
        None where neither limit is given, or one that is given cannot be applied for want of a
        factor or a density.
    """
    if material is None or (material.truck is None and material.truck_weight is None):
        return None
    wanted = []
    if material.truck is not None:
        if loose is None:
            return None
        load = material.truck.value * (CUBIC_YARD if material.truck.unit == "yd3" else 1.0)
        wanted.append(loose * unit.metres**3 / load)
    if material.truck_weight is not None:
        if tonnes is None:
            return None
        wanted.append(tonnes / (material.truck_weight.value * TONNES[material.truck_weight.unit]))
    return math.ceil(max(wanted) - 1e-9)


def weight_of(states: dict[str, float], material: Material | None, unit: Unit) -> float | None:
    """Mass of a volume known in several states [t]; None without a density that fits one.

    Parameters
    ----------
    states : dict of str to float
        Volume in each state known [cubic site unit].
    material : Material or None
    unit : Unit
        The site's.

    Returns
    -------
    float or None
        [t]
    """
    if material is None or material.density is None:
        return None
    volume = states.get(material.density_state)
    return None if volume is None else mass(volume, material.density, unit)


def mass(volume: float, density: Density, unit: Unit) -> float:
    """Tonnes of a volume in cubic site units at a density.

    Parameters
    ----------
    volume : float
        [cubic site unit]
    density : Density
        With a unit of its own.
    unit : Unit
        The site's.

    Returns
    -------
    float
        [t]
    """
    return volume * unit.metres**3 * density.value * TONNE_OF[density.unit]
