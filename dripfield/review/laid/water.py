"""What a record's shots say of the water: its laterals handed to the zones and the pump."""

from __future__ import annotations

import numpy as np

from dripfield.core.errors import InputError
from dripfield.design.model import Design
from dripfield.distribution.as_laid import (
    LaidLine,
    LaidWater,
    lacking_for_water,
    water_as_laid,
)
from dripfield.review.laid.record_result import Record
from dripfield.review.model.limits import Limits, LineVerdict


def record_water(
    design: Design, record: Record, limits: Limits
) -> tuple[LaidWater | None, tuple[str, ...]]:
    """Solve the field with its laterals where the shots found them.

    Parameters
    ----------
    design : Design
    record : Record
    limits : Limits
        For the depth of the shots below the elevations set.

    Returns
    -------
    water : LaidWater or None
        None where the site does not say enough of zones and pump.
    lines : tuple of str
        What is said of it; empty for a site that has none of it. It is apart from the record's
        verdict, which speaks of the laterals.
    """
    lacks = lacking_for_water(design)
    if lacks is None:
        return None, ()
    if lacks:
        return None, (f"water of what was laid: not proven: missing: {', '.join(lacks)}",)
    down = np.array([0.0, 0.0, limits.laid_depth])
    laid = [
        LaidLine(
            line.name, line.xyz + down, line.length_laid, line.verdict is not LineVerdict.NOT_PROVEN
        )
        for line in record.lines
        if line.lateral is not None and line.length_laid is not None
    ]
    try:
        water = water_as_laid(design, laid)
    except InputError as problem:
        return None, (f"water of what was laid: not proven: {problem}",)
    return water, () if water is None else tuple(water.lines())
