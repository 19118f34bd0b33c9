"""Rod readings that check the marks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from dripfield.staking.model import FieldMark
from dripfield.staking.rod import plan_setups, rod_reading

if TYPE_CHECKING:
    from dripfield.site.model import Site
    from dripfield.staking.field_settings import FieldSettings

_MARGIN = 0.02  # of the rod: readings keep so far from its ends


def with_rods(
    rows: Sequence[FieldMark], site: Site, settings: FieldSettings
) -> tuple[FieldMark, ...]:
    """The marks with the reading that checks each, and the set-up it is read from.

    Parameters
    ----------
    rows : sequence of FieldMark
    site : Site
        Its benchmark; without one the marks have no readings.
    settings : FieldSettings
        ``rod_length`` and ``backsight``.

    Returns
    -------
    tuple of FieldMark
        ``elevation`` is the mark's own ground, and where that is not known what its lateral is set
        to.

    Raises
    ------
    InputError
        The backsight puts every mark off the rod.
    """
    known = [
        row if np.isfinite(row.elevation) else replace(row, elevation=row.set_elevation)
        for row in rows
    ]
    mark = site.file.benchmark
    if mark is None or not known:
        return tuple(known)
    places = site.unit.places
    heights = np.array([row.elevation for row in known])
    targets, which = np.unique(np.round(heights, places), return_inverse=True)
    setups = plan_setups(
        targets,
        mark.elevation,
        settings.rod_length,
        name=mark.name,
        backsight=settings.backsight,
        margin=_MARGIN * settings.rod_length,
        unit=site.unit,
    )
    of_target = {int(t): setup for setup in setups for t in setup.targets}
    read = []
    for row, t in zip(known, which, strict=True):
        setup = of_target[int(t)]
        reading = round(float(rod_reading(setup.height, row.elevation)), places)
        read.append(replace(row, rod=reading, setup=setup.number))
    return tuple(read)
