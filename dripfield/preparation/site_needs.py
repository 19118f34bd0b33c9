"""Stone, board, fill, seed, marks and the like in the take-off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dripfield.core.units import Unit
from dripfield.preparation.practice import ASSUMED, COMMON, Practice
from dripfield.preparation.stock import Need
from dripfield.site.schema.preparation import BoxTable


@dataclass(frozen=True)
class Bulk:
    """A material that is brought to the bed.

    Attributes
    ----------
    material : str
        "sand", "topsoil" ….
    in_place : float
        Volume as it lies in the bed [cubic site unit].
    loose : float or None
        Volume as it is delivered [cubic site unit]; None: no factor is given.
    """

    material: str
    in_place: float
    loose: float | None = None


@dataclass(frozen=True)
class Marks:
    """What the field method sets out.

    Attributes
    ----------
    flags, stakes : int
        Numbers of marks of each kind.
    painted : float
        Length of lines painted on the ground [site unit].
    """

    flags: int = 0
    stakes: int = 0
    painted: float = 0.0


def box_needs(boxes: Sequence[BoxTable], unit: Unit, frost: bool) -> tuple[Need, ...]:
    """Boxes, the stone under them, and the rigid foam over those that are insulated.

    Parameters
    ----------
    boxes : sequence of BoxTable
    unit : Unit
    frost : bool
        Whether the ground freezes: else no foam is needed.

    Returns
    -------
    tuple of Need
    """
    inch = unit.small
    needs = []
    for box in boxes:
        needs.append(Need(f"box, {box.name}", box.count, "each", f"{box.count} entered", "site"))
        depth = unit.default(6.0, 150.0) if box.stone is None else box.stone
        source = f"site, depth: {COMMON}" if box.stone is None else "site"
        if depth:
            length, width = (side + 2.0 * box.stone_beyond for side in (box.length, box.width))
            how = (
                f"{box.count} x {length:g} x {width:g} x {depth:g} {inch} under {box.name}"
                f" / {'1e9' if unit.is_metric else '46,656'}"
            )
            volume = box.count * length * width * depth / (1e9 if unit.is_metric else 46656.0)
            needs.append(Need("stone", volume, _cubic(unit), how, source))
        if box.insulated and frost:
            faces = box.length * box.width + 2.0 * (box.length + box.width) * box.height
            area = box.count * faces / (1e6 if unit.is_metric else 144.0)
            how = (
                f"{box.count} x top and sides of {box.length:g} x {box.width:g} x {box.height:g}"
                f" {inch}, {box.name}; sheets by area, lay out the cuts first"
            )
            needs.append(Need("rigid foam board", area, _square(unit), how, "site"))
    return tuple(needs)


def bulk_needs(bulk: Sequence[Bulk], unit: Unit) -> tuple[tuple[Need, ...], list[str]]:
    """Volumes to be brought, as delivered where a factor is given, else as they lie."""
    needs, notes = [], []
    for one in bulk:
        if one.in_place <= 0.0:
            continue
        place, how = volume_sold(one.in_place, unit), "as it lies in the bed"
        volume = place
        if one.loose is None:
            notes.append(
                f"{one.material}: no factor from in place to loose is given"
                " ([[bed.section.materials]]): ordered as it lies, which is too little"
            )
        else:
            volume = volume_sold(one.loose, unit)
            how = f"loose, {volume / place:.3f} x {place:,.1f} {_cubic(unit)} in place"
        material = f"fill, {one.material}"
        needs.append(Need(material, volume, _cubic(unit), f"{volume:,.1f} {how}", "bed"))
    return tuple(needs), notes


def finish_needs(area: float, practice: Practice) -> tuple[tuple[Need, ...], list[str]]:
    """Seed and straw mulch for the graded area [square site unit]."""
    finish, unit = practice.table.finish, practice.unit
    if finish is None:
        return (), ["[prepare] finish is not given: seed and mulch are left out"]
    needs = []
    if "seed" in finish:
        rate, weight = (0.025, "kg") if unit.is_metric else (0.005, "lb")
        how = f"{area:,.0f} {_square(unit)} graded x {rate:g} {weight}/{_square(unit)}"
        needs.append(Need("seed", area * rate, weight, how, f"bed, rate: {COMMON}"))
    if "mulch" in finish:
        per = 50.0 if unit.is_metric else 500.0
        how = f"{area:,.0f} {_square(unit)} graded / {per:g} {_square(unit)} to a bale"
        needs.append(Need("straw", area / per, "bale", how, f"bed, rate: {COMMON}"))
    return tuple(needs), []


def mark_needs(marks: Marks, practice: Practice) -> tuple[Need, ...]:
    """Flags, stakes and paint, with spares."""
    spare = 1.0 + practice.table.spare_marks
    counts = (("flag", marks.flags), ("stake", marks.stakes))
    needs = [
        Need(name, count * spare, "each", f"{count} marks x {spare:g} with spares", "field method")
        for name, count in counts
        if count
    ]
    if marks.painted:
        short = practice.unit.short
        how = f"{marks.painted:,.0f} {short} of lines painted through the marks"
        needs.append(Need("marking paint", marks.painted, short, how, f"field method, {ASSUMED}"))
    return tuple(needs)


def volume_sold(volume: float, unit: Unit) -> float:
    """Cubic site units as bulk material is sold: cubic yards, or cubic metres."""
    return volume if unit.is_metric else unit.to_feet(1.0) ** 3 * volume / 27.0


def _cubic(unit: Unit) -> str:
    return "m3" if unit.is_metric else "yd3"


def _square(unit: Unit) -> str:
    return "m2" if unit.is_metric else "ft2"
