"""What is said of a record beside its figures: how it was made, and what it could not tell."""

from __future__ import annotations

import math
from collections.abc import Sequence

from dripfield.core.lines import line_length
from dripfield.review.laid.record_result import RecordLine
from dripfield.review.laid.ties import Tie
from dripfield.review.model.limits import Limits
from dripfield.review.read.shots import PRINTED_PLACE, LaidShot
from dripfield.site.model import Site
from dripfield.site.schema.review import ReferenceTable


def record_notes(
    site: Site, shots: Sequence[LaidShot], ties: Sequence[Tie], limits: Limits
) -> list[str]:
    """How the shots were matched, how well the ties fix.

    Parameters
    ----------
    site : Site
    shots : sequence of LaidShot
    ties : sequence of Tie
    limits : Limits

    Returns
    -------
    list of str
    """
    unit = site.unit.short
    named = sum(shot.how == "named" for shot in shots)
    nearest = sum(shot.how == "nearest" for shot in shots)
    notes = [f"{len(shots)} shots: {named} by name, {nearest} by the nearest lateral"]
    if limits.laid_depth:
        notes.append(f"shots were taken {limits.laid_depth:g} {unit} below the elevation set")
    if ties:
        notes.append(
            f"ties are horizontal; off by {limits.tie_error:g} {unit} each they still find "
            f"every point not marked weak within {limits.tie_accuracy:g} {unit} (WAC "
            "246-272A-0265(1) asks for half a foot unless the local officer says otherwise)"
        )
    weak = [tie for tie in ties if tie.weak]
    if weak:
        notes.append(
            f"{len(weak)} of {len(ties)} tied points are weak fixes: the ties cross too flat; "
            "choose references to either side of the field, or add a third"
        )
    return notes


def not_recorded(
    site: Site,
    lines: Sequence[RecordLine],
    shots: Sequence[LaidShot],
    references: Sequence[ReferenceTable],
    limits: Limits,
) -> list[str]:
    """What could not be checked or tied, and why.

    Parameters
    ----------
    site : Site
    lines : sequence of RecordLine
    shots : sequence of LaidShot
    references : sequence of ReferenceTable
        Permanent points that ties are measured from.
    limits : Limits

    Returns
    -------
    list of str
    """
    said = []
    if len(references) < 2:
        said.append(
            "ties: site.toml gives fewer than two permanent points under [[review.references]]"
        )
    said += [
        f"shot {shot.point} ({shot.description or 'no description'}): {shot.why}"
        for shot in shots
        if shot.why and shot.how == "none"
    ]
    cut_off = {
        line.name: line.length_laid - line_length(line.xyz[:, :2])
        for line in lines
        if line.length_laid is not None
    }
    bent = [name for name, length in cut_off.items() if length > limits.length.same]
    if bent:
        said.append(
            f"how {', '.join(bent)} bends between its shots, which are far apart: its length is "
            f"that of a line bent as designed, up to {max(cut_off.values()):.{site.unit.places}f} "
            f"{site.unit.short} more than straight from shot to shot"
        )
    alone = [
        line.name
        for line in lines
        if line.lateral is not None and len(line.xyz) > 1 and not math.isfinite(line.spacing_mean)
    ]
    printed = sum(PRINTED_PLACE in shot.description for shot in shots)
    if printed:
        said.append(
            f"place, length and spacing by {printed} of {len(shots)} shots: their northing and "
            "easting are those printed for the mark; only the height was measured"
        )
    if alone:
        said.append(f"spacing of {', '.join(alone)}: no neighbour was shot")
    return said
