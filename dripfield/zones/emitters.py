"""Where the emitters of a lateral lie."""

from __future__ import annotations

import numpy as np

from dripfield.core.arrays import Floats


def emitter_stations(length: float, spacing: float) -> Floats:
    """Stations of the emitters of a lateral: as many as whole spacings fit in it, centred.

    A length that holds a whole number of spacings but for rounding holds that number.

    Parameters
    ----------
    length, spacing : float
        [site unit]

    Returns
    -------
    (m,) float array
        From the lateral's first vertex [site unit].
    """
    count = int(np.floor(length / spacing * (1.0 + 1e-12) + 1e-9))
    first = 0.5 * (length - (count - 1) * spacing)
    return np.asarray(first + spacing * np.arange(count))


def points_along(xy: Floats, stations: Floats) -> Floats:
    """Points (m, 2) of a line (k, 2) at stations (m,) along it [site unit]."""
    step = np.hypot(*np.diff(xy, axis=0).T)
    along = np.concatenate(([0.0], np.cumsum(step)))
    columns = [np.interp(stations, along, xy[:, axis]) for axis in (0, 1)]
    return np.column_stack(columns)
