"""What a bed's sheets say beside the rules: keepouts, frost, settling, grain sizes of the sand."""

from __future__ import annotations

from dripfield.bed.design import BedDesign
from dripfield.bed.frost import frost_cover
from dripfield.bed.keepouts import left_alone
from dripfield.bed.sieves import grain_sizes, read_sieves


def bed_remarks(design: BedDesign) -> tuple[str, ...]:
    """Sentences without a full stop, in the order of the work."""
    return (*_keepouts(design), *_sand(design), *_frost(design))


def _keepouts(design: BedDesign) -> list[str]:
    section = design.section
    remarks = []
    for number, share in enumerate(left_alone(design.site, design.daylight), 1):
        if section.keepouts == "graded over":
            remarks.append(f"keepout {number} is graded over: filled or cut like the bed round it")
        elif share < 1.0 - 1e-6:
            remarks.append(
                f"keepout {number} is kept, with slopes of its own: {share:.0%} of it stays as it "
                "is"
            )
        else:
            remarks.append(f"keepout {number} is kept as it is")
    return remarks


def _sand(design: BedDesign) -> list[str]:
    if not design.section.sieve:
        return []
    return [f"sand as tested: {grain_sizes(read_sieves(design.section.sieve)).words()}"]


def _frost(design: BedDesign) -> list[str]:
    section, unit = design.section, design.site.unit
    cover = frost_cover(section)
    if cover is not None:
        return [cover.words(unit)]
    if section.settlement:
        left = section.cover_depth * (1.0 - section.settlement)
        return [
            f"cover over the tubing {section.cover_depth:.{unit.places}f} {unit.short} as placed, "
            f"{left:.{unit.places}f} once settled"
        ]
    return []
