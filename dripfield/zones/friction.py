"""Head lost along a joined lateral while flushing: what its length costs in flow.

Only for deciding joins and pipe sizes; the finished network is solved elsewhere. Darcy-Weisbach
with f = 64/Re up to Re 2000 and the equation of Swamee and Jain (1976) from Re 4000, straight in
log Re between.
"""

from __future__ import annotations

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.zones.settings import ZoneSettings

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(12)


def gradient(flow: Floats, bore: float, settings: ZoneSettings) -> Floats:
    """Head lost per length in a full pipe, any shape [site unit per site unit].

    Parameters
    ----------
    flow : float array
        [site unit cubed per second]
    bore : float
        [site unit]
    settings : ZoneSettings
        For gravity, viscosity and roughness.

    Returns
    -------
    float array
        Of the shape of ``flow``.
    """
    velocity = np.abs(flow) / (0.25 * np.pi * bore**2)
    reynolds = np.maximum(velocity * bore / settings.viscosity, 1e-9)

    def turbulent(re: Floats | float) -> Floats:
        rough = settings.roughness / (3.7 * bore)
        return np.asarray(0.25 / np.log10(rough + 5.74 / np.asarray(re) ** 0.9) ** 2)

    share = np.clip(np.log(reynolds / 2000.0) / np.log(2.0), 0.0, 1.0)
    between = 0.032 ** (1.0 - share) * float(turbulent(4000.0)) ** share
    factor = np.where(
        reynolds <= 2000.0,
        64.0 / reynolds,
        np.where(reynolds >= 4000.0, turbulent(np.maximum(reynolds, 4000.0)), between),
    )
    return np.asarray(factor * velocity**2 / (2.0 * settings.gravity * bore))


def tubing_loss(length: Floats, far_flow: Floats, settings: ZoneSettings) -> Floats:
    """Head lost along tubing that emits evenly and passes ``far_flow`` at its end.

    Parameters
    ----------
    length, far_flow : float arrays of one shape
        [site unit], [site unit cubed per second]
    settings : ZoneSettings

    Returns
    -------
    float array
        [site unit]
    """
    length, far_flow = np.broadcast_arrays(length, far_flow)
    along = 0.5 * (_NODES + 1.0) * length[..., None]
    flow = far_flow[..., None] + settings.emitter_flow / settings.emitter_spacing * along
    lost = gradient(flow, settings.bore, settings) @ _WEIGHTS
    return np.asarray(0.5 * length * lost)


def far_end_flow(length: Floats, longest: float, settings: ZoneSettings) -> Floats:
    """Far-end flow of a joined lateral beside one of the longest length that just flushes.

    One supply and one return head act on all of them, so a short one takes more than it needs.

    Parameters
    ----------
    length : (k,) float array
        [site unit]
    longest : float
        Of the joined lateral that has the flush velocity at its end [site unit].
    settings : ZoneSettings

    Returns
    -------
    (k,) float array
        [site unit cubed per second]
    """
    length = np.maximum(np.asarray(length, dtype=float), 1e-6 * longest)
    head = float(tubing_loss(np.array(longest), np.array(settings.flush_flow), settings))
    low = np.full(length.shape, 1e-3 * settings.flush_flow)
    high = np.full(length.shape, 1e5 * settings.flush_flow)
    for _ in range(60):
        middle = np.sqrt(low * high)
        short = tubing_loss(length, middle, settings) < head
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.asarray(np.sqrt(low * high))
