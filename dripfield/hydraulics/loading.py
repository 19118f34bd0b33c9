"""Loading of the ground that each emitter serves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import input_error


@dataclass(frozen=True)
class Loading:
    """Water on the ground, emitter by emitter.

    Attributes
    ----------
    rate : (k,) float array
        On the area of each emitter [gal/ft2/day or L/m2/day]; NaN where it serves none.
    mean : float
        All water over all area.
    variation : float
        Coefficient of variation of the rate, each area counted by its size.
    worst : (w,) int array
        The emitters of the greatest rates, greatest first.
    unserved : int
        Emitters that serve no area.
    """

    rate: Floats
    mean: float
    variation: float
    worst: Ints
    unserved: int


def loading(area: Floats, emission: Floats, daily: float | Floats, *, worst: int = 5) -> Loading:
    """Measure the loading of the areas that emitters serve.

    Parameters
    ----------
    area : (k,) float array
        Of the ground that each emitter serves [length unit squared].
    emission : (k,) float array
        Of each emitter, any unit: water is shared in proportion to it.
    daily : float or (k,) float array
        Water of a day that all emitters share, or of each emitter already [gal or L].
    worst : int
        How many of the worst places to name.

    Returns
    -------
    Loading

    Raises
    ------
    InputError
        No emitter serves any area.
    """
    area, emission = np.asarray(area, dtype=np.float64), np.asarray(emission, dtype=np.float64)
    given = np.asarray(daily, dtype=np.float64)
    if given.ndim == 0:
        given = given * emission / emission.sum()
    serves = area > 0.0
    if not serves.any():
        raise input_error("no emitter serves any area", "check the bed's outline")
    rate = np.full(len(area), np.nan)
    rate[serves] = given[serves] / area[serves]
    total = float(area[serves].sum())
    mean = float(given.sum()) / total
    spread = float(np.sqrt((area[serves] * (rate[serves] - mean) ** 2).sum() / total))
    order = np.argsort(-np.where(serves, rate, -np.inf), kind="stable")
    return Loading(
        rate, mean, spread / mean if mean > 0.0 else 0.0,
        order[: min(worst, int(serves.sum()))], int((~serves).sum()),
    )  # fmt: skip


def areas_of(polygons: Any) -> Floats:
    """Areas (k,) of the polygons (k,) that emitters serve; None serves nothing."""
    import shapely

    found = shapely.area(np.asarray(polygons, dtype=object))
    return np.where(np.isnan(found), 0.0, found)
