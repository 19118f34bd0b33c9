"""Shots that disagree with their neighbours, or look like a slip of the pen or the rod.

Nothing is removed: a suspect stays in the surface until the site file excludes it by number.

A disagreement is a run of one or more shots, consecutive in the file, that stand off the surface of
the shots around them by one same amount: a single misread shot is a run of one, a wrong rod height
a longer run. For every run the offset that best explains the residuals of all local fits is found
together with its standard error; the run that explains most is taken first, its offset removed, and
the search repeated, so that one blunder does not throw suspicion on its neighbours. A few single
shots that together explain more than a run are believed before it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.core.units import Unit
from dripfield.survey.doubt.clean import plan_tolerance
from dripfield.survey.doubt.local_fit import LEAST_SHOTS
from dripfield.survey.doubt.no_reading import MARKS
from dripfield.survey.doubt.run_search import LEAST_RUN, RunSearch
from dripfield.survey.shots import Survey

_MOST_FOUND = 50
_FAR = 3.0  # times the spread of the middle half, beyond which a value lies apart


@dataclass(frozen=True)
class Suspect:
    """One shot that is doubted.

    Attributes
    ----------
    shot : int
        Number in the survey, from 0.
    point : str
        The surveyor's name for it.
    row : int
        Row in the survey's file.
    place : (float, float)
        Easting and northing [site unit].
    residual : float
        How far it stands above its neighbours [site unit]; NaN where that is not the doubt.
    reason : str
    """

    shot: int
    point: str
    row: int
    place: tuple[float, float]
    residual: float
    reason: str


def suspects(survey: Survey, unit: Unit, near: Bools | None = None) -> list[Suspect]:
    """List the shots that are doubted, in the order of the file.

    Parameters
    ----------
    survey : Survey
        Distinct shots [unit].
    unit : Unit
        Sets the least disagreement worth a word: 0.10 ft or 0.03 m.
    near : (n,) bool array, optional
        The shots that are held against their neighbours; all by default.

    Returns
    -------
    list of Suspect
        A shot at a vertex of a breakline is none for standing off its neighbours: there the ground
        breaks.
    """
    found = _repeated_names(survey, unit)
    slips = _no_readings(survey)
    slips |= _swapped(survey, np.array(sorted(slips), dtype=np.int64))
    for shot, reason in slips.items():
        found.setdefault(shot, (np.nan, reason))
    sound = np.ones(len(survey.xyz), dtype=bool) if near is None else near.copy()
    sound[list(slips)] = False
    on_lines = _on_breaklines(survey, unit)
    for shot, value, reason in _disagreements(survey, np.flatnonzero(sound), unit):
        if not on_lines[shot]:
            found.setdefault(shot, (value, reason))
    return [
        Suspect(
            i,
            survey.names[i],
            int(survey.rows[i]),
            (float(survey.xyz[i, 0]), float(survey.xyz[i, 1])),
            residual,
            reason,
        )
        for i, (residual, reason) in sorted(found.items())
    ]


def _on_breaklines(survey: Survey, unit: Unit) -> Bools:
    """Shots at the place of a breakline's vertex."""
    on = np.zeros(len(survey.xyz), dtype=np.bool_)
    if not survey.breaklines or not len(survey.xyz):
        return on
    from scipy.spatial import cKDTree

    vertices = np.vstack(survey.breaklines)[:, :2]
    apart, _ = cKDTree(vertices).query(survey.xyz[:, :2])
    return np.asarray(apart <= plan_tolerance(unit))


def _repeated_names(survey: Survey, unit: Unit) -> dict[int, tuple[float, str]]:
    """Shots that share a number with another of a different place or elevation."""
    if len(set(survey.names)) == len(survey.names):
        return {}
    places: dict[str, list[int]] = {}
    for i, name in enumerate(survey.names):
        places.setdefault(name, []).append(i)
    found = {}
    for name, shots in places.items():
        if not name or len(shots) < 2:
            continue
        rows = ", ".join(str(survey.rows[i]) for i in shots)
        z = survey.xyz[shots, 2]
        reason = (
            f"point number {name} is used {len(shots)} times (rows {rows}), elevations "
            f"{z.min():.{unit.places}f} to {z.max():.{unit.places}f}"
        )
        found.update(dict.fromkeys(shots, (np.nan, reason)))
    return found


def _apart(values: Floats) -> Bools:
    """Values far outside the middle half of all."""
    low, high = np.percentile(values, (25.0, 75.0))
    spread = max(_FAR * (high - low), 1e-9 * max(abs(low), abs(high)))
    return np.asarray((values < low - spread) | (values > high + spread))


def _no_readings(survey: Survey) -> dict[int, str]:
    """Shots whose elevation is a number that instruments write for none."""
    z = survey.xyz[:, 2]
    if len(z) < 4:
        return {}
    doubted = np.isin(z, MARKS) & _apart(z)
    return {int(i): f"elevation {z[i]:g} looks like no reading" for i in np.flatnonzero(doubted)}


def _swapped(survey: Survey, skip: Ints) -> dict[int, str]:
    """Shots far from all others that two of their numbers exchanged would bring among them."""
    xyz = survey.xyz
    if len(xyz) < LEAST_SHOTS:
        return {}
    away = np.column_stack([_apart(column) for column in xyz.T])
    away[skip] = False
    home = xyz[~away.any(axis=1)]
    if not len(home):
        return {}
    low, high = home.min(axis=0), home.max(axis=0)
    margin = 0.1 * (high - low) + 1e-9
    found = {}
    for i in np.flatnonzero(away.any(axis=1)):
        for (a, b), what in {
            (0, 1): "northing and easting",
            (0, 2): "easting and elevation",
            (1, 2): "northing and elevation",
        }.items():
            other = xyz[i].copy()
            other[[a, b]] = other[[b, a]]
            if ((other >= low - margin) & (other <= high + margin)).all():
                found[int(i)] = f"{what} look swapped"
    return found


def _disagreements(survey: Survey, sound: Ints, unit: Unit) -> list[tuple[int, float, str]]:
    """Shots (number, offset, reason) that stand off their neighbours, runs as single shots."""
    if len(sound) < LEAST_SHOTS:
        return []
    search = RunSearch(survey.xyz[sound], least=unit.default(0.10, 0.03))
    found = []
    for _ in range(_MOST_FOUND):
        run = search.take()
        if run is None:
            break
        first, stop, offset = run
        shots = sound[first:stop]
        if stop - first >= LEAST_RUN and _own_kind(survey, shots):
            continue
        side = "above" if offset > 0.0 else "below"
        amount = f"{abs(offset):.{unit.places}f} {unit.short} {side}"
        if stop - first < LEAST_RUN:
            reason = f"stands {amount} the surface of the shots around it"
        else:
            reason = (
                f"{stop - first} consecutive shots, {survey.names[shots[0]]} to "
                f"{survey.names[shots[-1]]}, stand {amount} the surface of the others: "
                "rod height, or a step in the ground along them?"
            )
        found += [(int(shot), offset, reason) for shot in shots]
    return found


def _own_kind(survey: Survey, shots: Ints) -> bool:
    """True when the shots share a description that no other shot has: a feature, not a slip."""
    kinds = {survey.descriptions[i] for i in shots}
    if len(kinds) != 1 or kinds == {""}:
        return False
    return survey.descriptions.count(kinds.pop()) == len(shots)
