"""Design checks: what is asked, by whom, what was found, and whether it holds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.profile import at_rest
from dripfield.hydraulics.simulate import STATES, Simulation
from dripfield.hydraulics.state import Unsolved, ZoneState
from dripfield.hydraulics.times import nominal
from dripfield.hydraulics.uniformity import uniformity

Verdict = Literal["pass", "fail", "not proven"]

_ENTERED = "entered by the user"
_PHYSICS = "physics"
_ROUNDING = 1e-6  # a figure exactly at a limit passes


@dataclass(frozen=True)
class Asked:
    """A limit that a rule set, named by the site, or the user asks for.

    Attributes
    ----------
    limit : float
    source : str
        Its citation.
    """

    limit: float
    source: str


@dataclass(frozen=True)
class Limits:
    """Further limits; None: nobody asks for one, and there is no check of it.

    Attributes
    ----------
    difference : Asked or None
        Most between any two emitters of a zone while dosing, by pressure alone [percent].
    velocity_most : Asked or None
        In any pipe of lines and manifolds [length / s].
    scour : Asked or None
        Least in the supply line while flushing [length / s].
    """

    difference: Asked | None = None
    velocity_most: Asked | None = None
    scour: Asked | None = None


@dataclass(frozen=True)
class Check:
    """One design check.

    Attributes
    ----------
    requirement, source : str
    value : str
        What was found; empty where nothing was.
    limit, unit : str
    verdict : {"pass", "fail", "not proven"}
    where : str
        The worst place, or what is missing.
    """

    requirement: str
    source: str
    value: str
    limit: str
    unit: str
    verdict: Verdict
    where: str = ""


def design_checks(simulation: Simulation, limits: Limits | None = None) -> list[Check]:
    """Hold a simulated plan against what its figures and further limits ask for.

    Returns
    -------
    list of Check
        Zone by zone, then the field. What needs a figure that is missing is ``not proven`` and
        names its key.
    """
    checks: list[Check] = []
    for zone in simulation.plan.zones:
        for name in STATES:
            state = simulation.states[zone.name, name]
            if isinstance(state, Unsolved):
                checks.append(
                    Check(
                        f"{zone.name} {name}: pump reaches its duty", _ENTERED, "", "", "",
                        state.verdict, state.reason,
                    )
                )  # fmt: skip
            else:
                checks += _of_state(state, simulation.figures, limits or Limits())
        checks += _of_zone(simulation, zone.name)
    return checks + list(_of_field(simulation))


def _most(
    requirement: str, source: str, value: float | None, limit: float | None, unit: str,
    where: str, missing: str,
) -> Check:  # fmt: skip
    """A check of a value that may not be above a limit."""
    return _held(requirement, source, value, limit, unit, where, missing, most=True)


def _held(
    requirement: str, source: str, value: float | None, limit: float | None, unit: str,
    where: str, missing: str, *, most: bool,
) -> Check:  # fmt: skip
    shown = "" if value is None else f"{value:.3g}" if abs(value) < 1.0 else f"{value:.2f}"
    bound = "" if limit is None else f"{'at most' if most else 'at least'} {limit:g}"
    if value is None or limit is None or not np.isfinite(value):
        verdict: Verdict = "not proven"
        if value is not None and not np.isfinite(value) and limit is not None:
            verdict = "fail"
        return Check(requirement, source, shown, bound, unit, verdict, missing or where)
    slack = _ROUNDING * max(abs(limit), 1e-9)
    holds = value <= limit + slack if most else value >= limit - slack
    return Check(requirement, source, shown, bound, unit, "pass" if holds else "fail", where)


def _of_state(state: ZoneState, figures: Figures, limits: Limits) -> Iterator[Check]:
    """Checks of one solved state."""
    q, emitters = figures.q, figures.emitters
    at = f"{state.zone} {state.state}"
    pump = figures.pump
    yield Check(
        f"{at}: pump works within its curve", _ENTERED, f"{state.flow:.2f} at {state.head:.1f}",
        f"{pump.curve[0][0]:g} to {pump.curve[-1][0]:g}" if pump else "", q.flow, "pass",
    )  # fmt: skip
    if pump is not None and pump.other_loss is None:
        yield Check(
            f"{at}: filter, valve and regulator counted", _ENTERED, "none counted", "", q.head,
            "not proven", "missing: [pump] other_loss; it is on their own sheets",
        )  # fmt: skip
    yield Check(
        f"{at}: no pressure below that of the air", _PHYSICS, "; ".join(state.faults) or "none",
        "none", q.pressure, "fail" if state.faults else "pass",
        state.faults[0] if state.faults else "",
    )  # fmt: skip
    low, high = int(np.argmin(state.pressure)), int(np.argmax(state.pressure))
    if state.state == "dose" or emitters.pressure_most is not None:
        yield _most(
            f"{at}: greatest pressure at an emitter", _ENTERED, float(state.pressure[high]),
            emitters.pressure_most, q.pressure, state.where(high),
            "missing: [emitters] pressure_most; it is on the tubing's sheet"
            if emitters.pressure_most is None else "",
        )  # fmt: skip
    if state.state == "dose":
        yield _held(
            f"{at}: least pressure at an emitter", _ENTERED, float(state.pressure[low]),
            emitters.pressure_least, q.pressure, state.where(low),
            "missing: [emitters] pressure_least; it is on the tubing's sheet"
            if emitters.pressure_least is None else "", most=False,
        )  # fmt: skip
        even = uniformity(state.emission, emitters.variation)
        least = int(np.argmin(state.emission))
        if limits.difference is not None:
            yield _most(
                f"{at}: difference between any two emitters, by pressure alone",
                limits.difference.source, 100.0 * even.difference, limits.difference.limit, "%",
                state.where(least), "",
            )  # fmt: skip
    else:
        ends = [
            one.velocity_out if one.flow_out >= 0.0 else -one.velocity_out for one in state.laterals
        ]
        slowest = int(np.argmin(ends))
        yield _held(
            f"{at}: velocity at every far end", _ENTERED, ends[slowest],
            figures.design.flush_velocity, q.velocity, state.laterals[slowest].joined,
            "missing: [zones] flush_velocity" if figures.design.flush_velocity is None else "",
            most=False,
        )  # fmt: skip
    lines = [pipe for pipe in state.pipes if pipe.role != "tubing"]
    if lines and limits.velocity_most is not None:
        fast = max(lines, key=lambda pipe: pipe.velocity)
        yield _most(
            f"{at}: velocity in pipe", limits.velocity_most.source, fast.velocity,
            limits.velocity_most.limit, q.velocity, fast.name, "",
        )  # fmt: skip
    supply = [pipe for pipe in lines if pipe.role == "supply"]
    if supply and state.state == "flush" and limits.scour is not None:
        slow = min(supply, key=lambda pipe: pipe.velocity)
        yield _held(
            f"{at}: supply line is scoured (dosing runs below this as a rule)",
            limits.scour.source, slow.velocity, limits.scour.limit, q.velocity, slow.name, "",
            most=False,
        )  # fmt: skip


def _of_zone(simulation: Simulation, name: str) -> Iterator[Check]:
    """Checks of a zone by what it is."""
    figures = simulation.figures
    zone = next(zone for zone in simulation.plan.zones if zone.name == name)
    counted, design, q = nominal(zone, figures), figures.design, figures.q
    if design.most_flow is not None:
        yield _most(
            f"{name}: flow while dosing", _ENTERED, counted.dose_flow, design.most_flow, q.flow,
            "", "",
        )  # fmt: skip
    if design.height is not None:
        yield _most(
            f"{name}: difference of elevation of its emitters", _ENTERED,
            counted.elevation_max - counted.elevation_min, design.height, q.length, "", "",
        )  # fmt: skip
    if design.longest is not None:
        longest = max(zone.joined, key=lambda lateral: lateral.length)
        yield _most(
            f"{name}: length of a joined lateral", _ENTERED, longest.length, design.longest,
            q.length, longest.name, "",
        )  # fmt: skip


def _of_field(simulation: Simulation) -> Iterator[Check]:
    """Checks of the whole field at rest."""
    figures = simulation.figures
    q, still = figures.q, at_rest(simulation.plan, figures)
    rating = figures.tubing.pressure_rating if figures.tubing else None
    needs = []
    if figures.pump is None:
        needs.append("[pump] curve")
    elif still is not None and still.shut_off is None:
        needs.append("a point of [pump] curve at no flow")
    if rating is None:
        needs.append("[tubing] pressure_rating; it is on the tubing's sheet")
    yield _most(
        "pressure at shut-off at the lowest emitter (no regulator counted)", _ENTERED,
        still.shut_off if still else None, rating, q.pressure, "",
        "missing: " + ", ".join(needs) if needs else "",
    )  # fmt: skip
    yield _most(
        "no siphon: lowest emitter is not below the water in the tank when the pump stops",
        _PHYSICS, still.siphon if still else None, 0.0, q.length, "",
        "" if still else "missing: [pump] level",
    )  # fmt: skip
