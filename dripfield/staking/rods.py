"""Rod readings that check the marks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.staking.levelling import Levelling
from dripfield.staking.model import FieldMark


def own_ground(rows: Sequence[FieldMark]) -> Floats:
    """Elevations (n,) of the marks' own ground; where it is not known, what the lateral is set to.

    [site unit]
    """
    return np.array(
        [row.elevation if np.isfinite(row.elevation) else row.set_elevation for row in rows]
    )


def with_rods(rows: Sequence[FieldMark], levelling: Levelling) -> tuple[FieldMark, ...]:
    """The marks with the reading that checks each, and the set-up it is read from.

    Parameters
    ----------
    rows : sequence of FieldMark
    levelling : Levelling
        Planned for the marks' own ground among others; without set-ups the marks have no readings.

    Returns
    -------
    tuple of FieldMark
        ``elevation`` is the mark's own ground, and where that is not known what its lateral is set
        to.
    """
    read = []
    for row, height in zip(rows, own_ground(rows).tolist(), strict=True):
        setup = levelling.of(height)
        read.append(
            replace(
                row,
                elevation=height,
                rod=levelling.reading(height),
                setup=0 if setup is None else setup.number,
            )
        )
    return tuple(read)
