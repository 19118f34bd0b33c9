"""How even the emission is: by pressure alone, by the making of the emitters, and both."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats


@dataclass(frozen=True)
class Uniformity:
    """Figures of the emitters of a zone.

    Attributes
    ----------
    mean, least, most : float
        Emission [gal/h or L/h].
    difference : float
        Greatest difference between any two emitters by pressure alone, a share of the lesser one;
        infinite where one gives nothing.
    hydraulic : float
        Coefficient of variation by pressure alone.
    maker : float or None
        The maker's coefficient of variation.
    both : float or None
        Of the two together.
    emission_uniformity : float or None
        [percent].
    """

    mean: float
    least: float
    most: float
    difference: float
    hydraulic: float
    maker: float | None
    both: float | None
    emission_uniformity: float | None


def emission_uniformity(variation: float, least_over_mean: float, emitters: int = 1) -> float:
    """Emission uniformity of a design [percent].

    Parameters
    ----------
    variation : float
        The maker's coefficient of variation, a fraction.
    least_over_mean : float
        Least emission by pressure over the mean emission.
    emitters : int
        How many emitters serve one place.

    Returns
    -------
    float
        100 (1 - 1.27 v / sqrt(n)) q_min / q_mean: Keller and Karmeli, Trans. ASAE 17 (1974), also
        in ASABE EP405 (from memory).
    """
    return 100.0 * (1.0 - 1.27 * variation / math.sqrt(emitters)) * least_over_mean


def uniformity(emission: Floats, variation: float | None = None) -> Uniformity:
    """Measure how even the emission (k,) of a zone is, each emitter's by pressure alone.

    The two variations are taken as independent, so their squares add. "No more than 10 percent
    between any two emitters" can hold for the pressure only: of a thousand emitters with a maker's
    variation of 0.03 two differ by some 19 percent by chance.
    """
    q = np.asarray(emission, dtype=np.float64)
    mean, least, most = float(q.mean()), float(q.min()), float(q.max())
    hydraulic = float(q.std() / mean) if mean > 0.0 else math.inf
    both = None if variation is None else math.hypot(hydraulic, variation)
    even = None
    if variation is not None and mean > 0.0:
        even = emission_uniformity(variation, least / mean)
    difference = most / least - 1.0 if least > 0.0 else math.inf
    return Uniformity(mean, least, most, difference, hydraulic, variation, both, even)
