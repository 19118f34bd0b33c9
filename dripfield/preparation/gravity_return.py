"""The profile of a gravity return: fall of each stretch, bellies that hold water, its end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.lines import leg_lengths, stations_along
from dripfield.core.units import Unit
from dripfield.preparation.heights import Finding

LEAST_FALL = 0.01  # 1 %, about 1/8 in a foot: common practice, no source
_FLAT = 1e-9


@dataclass(frozen=True)
class ReturnProfile:
    """A return line as it falls to the tank.

    Attributes
    ----------
    station, elevation : (k,) float array
        Of its vertices in plan, from the field [site unit].
    fall : (k - 1,) float array
        Of each stretch, as a ratio; negative where it rises.
    flat : tuple of int
        Stretches that fall less than is wanted.
    bellies : tuple of (float, float, float)
        Where water stands: from and to which station, and how deep at most [site unit].
    total : float
        From first to last vertex, positive down [site unit].
    findings : tuple of Finding
    """

    station: Floats
    elevation: Floats
    fall: Floats
    flat: tuple[int, ...]
    bellies: tuple[tuple[float, float, float], ...]
    total: float
    findings: tuple[Finding, ...]


def return_profile(
    xyz: Floats, unit: Unit, *, inlet: float | None = None, least_fall: float = LEAST_FALL
) -> ReturnProfile:
    """Follow a return line down to the tank.

    Parameters
    ----------
    xyz : (k, 3) float array
        Inverts from the field to the tank [site unit].
    unit : Unit
    inlet : float, optional
        Elevation of the tank's inlet [site unit].
    least_fall : float
        Wanted of every stretch, as a ratio.

    Returns
    -------
    ReturnProfile
    """
    step = leg_lengths(xyz)
    keep = np.concatenate(([True], (step > _FLAT) | (np.abs(np.diff(xyz[:, 2])) > _FLAT)))
    xyz = xyz[keep]
    step = leg_lengths(xyz)
    station = stations_along(xyz)
    elevation = np.asarray(xyz[:, 2], dtype=float)
    drop = -np.diff(elevation)
    with np.errstate(divide="ignore", invalid="ignore"):
        fall = np.where(step > _FLAT, drop / step, np.where(drop > 0.0, np.inf, -np.inf))
    flat = tuple(int(i) for i in np.flatnonzero(fall < least_fall - 1e-9))
    bellies = _bellies(station, elevation)
    total = float(elevation[0] - elevation[-1])
    findings = [
        _fall(station, fall, flat, least_fall, unit),
        _held(bellies, unit),
        _end(float(elevation[-1]), inlet, unit),
    ]
    return ReturnProfile(station, elevation, fall, flat, bellies, total, tuple(findings))


def _bellies(station: Floats, elevation: Floats) -> tuple[tuple[float, float, float], ...]:
    """Stretches below the highest point still to be passed on the way down."""
    ahead = np.maximum.accumulate(elevation[::-1])[::-1]
    depth = ahead - elevation
    found = []
    i, count = 0, len(elevation)
    while i < count:
        if depth[i] <= 1e-6:
            i += 1
            continue
        j = i
        while j < count and depth[j] > 1e-6:
            j += 1
        start = station[i]
        if i > 0:  # where the pipe comes down past the level of the summit ahead
            above, below = elevation[i - 1], elevation[i]
            share = (above - ahead[i]) / (above - below) if above > below else 1.0
            start = station[i - 1] + max(0.0, share) * (station[i] - station[i - 1])
        found.append((float(start), float(station[min(j, count - 1)]), float(depth[i:j].max())))
        i = j
    return tuple(found)


def _fall(
    station: Floats, fall: Floats, flat: tuple[int, ...], least: float, unit: Unit
) -> Finding:
    what = "fall of the return"
    if not len(fall):
        return Finding(what, "not proven", "the return has no length")
    text = f"least {float(fall.min()):.2%}, {least:.2%} wanted (common practice, no source)"
    if not flat:
        return Finding(what, "pass", text)
    where = ", ".join(
        f"{station[i]:.0f} to {station[i + 1]:.0f} {unit.short} at {fall[i]:.2%}" for i in flat[:3]
    )
    more = f" and {len(flat) - 3} more" if len(flat) > 3 else ""
    return Finding(what, "fail", f"{text}; too flat or rising from {where}{more}")


def _held(bellies: tuple[tuple[float, float, float], ...], unit: Unit) -> Finding:
    what = "bellies of the return"
    if not bellies:
        return Finding(what, "pass", "none: it drains")
    places = unit.places
    where = ", ".join(
        f"{a:.0f} to {b:.0f} {unit.short}, {deep:.{places}f} {unit.short} deep"
        for a, b, deep in bellies[:3]
    )
    return Finding(what, "fail", f"water stands, and can freeze, from {where}")


def _end(elevation: float, inlet: float | None, unit: Unit) -> Finding:
    what = "end of the return over the tank's inlet"
    places, short = unit.places, unit.short
    if inlet is None:
        return Finding(what, "not proven", "give the tank's inlet_elevation")
    over = elevation - inlet
    word = "over" if over >= 0.0 else "below"
    text = f"it ends {abs(over):.{places}f} {short} {word} the inlet at {inlet:.{places}f} {short}"
    return Finding(what, "pass" if over >= -1e-9 else "fail", text)
