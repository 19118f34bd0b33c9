"""The throttle at the return's end: as far shut as the slowest far end allows."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import NotSolved
from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.inp import inp_text
from dripfield.hydraulics.network import THROTTLE, Network
from dripfield.hydraulics.solver import Session, Solution, solve

_MOST_SETTING = 1e9  # loss coefficient that shuts the valve, for all that matters
_LEAST_SETTING = 1e-3
_FINE = 1e-5  # of the logarithm of the setting
_FURTHER = 1e-4  # share by which it is opened where the velocity is a last digit short


def end_velocities(network: Network, flow: Floats, figures: Figures) -> Floats:
    """Velocity at the far end of each joined lateral, negative where water comes back.

    Parameters
    ----------
    network : Network
    flow : (m,) float array
        In all links [gal/min or L/min].
    figures : Figures

    Returns
    -------
    (j,) float array
        [length / s].
    """
    last = network.last
    return figures.q.velocity_of(flow[last], network.pipes.bore[last])


def throttled(network: Network, figures: Figures) -> tuple[Network, str, Solution]:
    """Shut the throttle of a flush until the slowest far end just has the flush velocity.

    Parameters
    ----------
    network : Network
        Of a flush, with a throttle.
    figures : Figures
        With a flush velocity.

    Returns
    -------
    tuple of Network, str and Solution
        The same with the setting found (0, open, where the flush velocity is not reached at all),
        its file and what the solver says of that file.

    Raises
    ------
    NotSolved
        The solver fails.
    """
    asked = figures.design.flush_velocity
    if asked is None or network.throttle is None or network.setting is None:
        raise NotSolved("no flush velocity or no return line")
    setting = _setting(network, figures, asked)
    while True:
        network = replace(network, setting=setting)
        text = inp_text(network, figures)
        solution = solve(text)
        reached = float(np.min(end_velocities(network, solution.flow, figures)))
        if setting == 0.0 or reached >= asked:
            return network, text, solution
        # the solver's own last digits: a little further open
        setting = float(f"{setting * (1.0 - _FURTHER):.7g}") if setting > _LEAST_SETTING else 0.0


def _setting(network: Network, figures: Figures, asked: float) -> float:
    """Loss coefficient at which the slowest far end has the velocity asked for."""
    from scipy.optimize import brentq

    with Session(inp_text(replace(network, setting=0.0), figures)) as session:

        def spare(setting: float) -> float:
            session.set_throttle(THROTTLE, setting)
            found = end_velocities(network, session.run().flow, figures)
            return float(np.min(found)) - asked

        if spare(0.0) <= 0.0 or spare(_LEAST_SETTING) <= 0.0:
            return 0.0
        low, high = _LEAST_SETTING, 1.0
        while spare(high) > 0.0:
            low, high = high, high * 8.0
            if high > _MOST_SETTING:
                return low
        found = brentq(
            lambda power: spare(math.exp(power)), math.log(low), math.log(high), xtol=_FINE
        )
    return float(f"{math.exp(found - 2.0 * _FINE):.7g}")
