"""Earth balance: what is stripped and can be used again against what is wanted."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass

from dripfield.bed.design import BedDesign
from dripfield.bed.materials import (
    STRIPPED,
    TOTAL,
    MaterialVolume,
    in_states,
    truck_loads,
    weight_of,
)
from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.site.schema.materials import Material


@dataclass(frozen=True)
class BalanceRow:
    """One material; volumes in cubic site units, None where a factor is not given.

    Attributes
    ----------
    material : str
    wanted : float
        In place, compacted; of stripped soil what comes out, in the bank.
    from_site : float
        What stripped soil gives of it, in place; of stripped soil what is used again, in the bank.
    rest : float
        Still to bring, in place; of stripped soil to take away, in the bank.
    waste : float
        Ordered over that, in place.
    to_order : float
        ``rest`` and waste together.
    loose : float or None
        That, loose: as it lies in a truck.
    tonnes : float or None
    loads : int or None
        Truck loads, by volume and by weight.
    """

    material: str
    wanted: float
    from_site: float
    rest: float
    waste: float
    to_order: float
    loose: float | None
    tonnes: float | None
    loads: int | None


def earth_balance(design: BedDesign, rows: tuple[MaterialVolume, ...]) -> tuple[BalanceRow, ...]:
    """Set what is stripped against what is wanted.

    Parameters
    ----------
    design : BedDesign
    rows : tuple of MaterialVolume
        From :func:`dripfield.bed.materials.take_off`.

    Returns
    -------
    tuple of BalanceRow
        Stripped soil first, then each material that goes in, its layers together.

    Raises
    ------
    InputError
        ``reuse`` names a material that the bed does not have.

    Notes
    -----
    The share of stripped soil that is fit serves the materials of ``reuse`` in turn. A volume of it
    in the bank fills ``compacted`` of it in place, or, with no factor given, its own.
    """
    section, unit = design.section, design.site.unit
    known = {material.name: material for material in section.materials}
    wanted: dict[str, float] = {}
    for row in rows:
        if row.material not in (STRIPPED, TOTAL):
            wanted[row.material] = wanted.get(row.material, 0.0) + row.volume.fill
    for name in section.reuse:
        if name not in wanted:
            closest = difflib.get_close_matches(name, wanted, n=1, cutoff=0.0)[0]
            raise input_error(
                f"stripped soil is to serve as {name!r}, which the bed does not have",
                f"the closest it has is {closest!r}",
                file="site.toml",
                field="[bed.section] reuse",
            )
    out = next(row.volume.cut for row in rows if row.material == STRIPPED)
    soil = known.get(STRIPPED)
    packs = 1.0 if soil is None or soil.compacted is None else soil.compacted
    fit = out * section.reuse_share
    served: dict[str, float] = {}
    for name in dict.fromkeys(section.reuse):
        served[name] = min(wanted[name], fit * packs)
        fit -= served[name] / packs
    used = sum(served.values()) / packs
    result = [_row(STRIPPED, out, used, "bank", known, unit)]
    result += [
        _row(name, volume, served.get(name, 0.0), "compacted", known, unit)
        for name, volume in wanted.items()
    ]
    return tuple(result)


def _row(
    name: str,
    wanted: float,
    from_site: float,
    state: str,
    known: Mapping[str, Material],
    unit: Unit,
) -> BalanceRow:
    material = known.get(name)
    rest = max(wanted - from_site, 0.0)
    waste = 0.0 if material is None or state == "bank" else material.waste * rest
    states = in_states(rest + waste, state, material)
    tonnes = weight_of(states, material, unit)
    return BalanceRow(
        name,
        wanted,
        from_site,
        rest,
        waste,
        rest + waste,
        states.get("loose"),
        tonnes,
        truck_loads(states.get("loose"), tonnes, material, unit),
    )
