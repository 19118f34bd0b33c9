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
from typing import Any

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.core.units import Unit
from dripfield.survey.doubt.clean import plan_tolerance
from dripfield.survey.doubt.local_fit import LEAST_SHOTS, residual_matrix, robust_deviation
from dripfield.survey.doubt.no_reading import MARKS
from dripfield.survey.shots import Survey

_CLEAR = 6.0  # standard errors by which a single shot must stand off
_CLEAR_RUN = 8.0  # and a run, of which there are many more to choose from
_LEAST_RUN = 3  # shots in a run that is put down to the rod; two are two single shots
_WINDOW = 600  # shots searched for runs at once; a longer file overlaps windows by half
_LOCAL = 40  # neighbours whose residuals say how rough the ground is here
_FEW = 3  # single shots that together explain more than a run does are believed before it
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


def suspects(survey: Survey, unit: Unit) -> list[Suspect]:
    """List the shots that are doubted, in the order of the file.

    Parameters
    ----------
    survey : Survey
        Distinct shots [unit].
    unit : Unit
        Sets the least disagreement worth a word: 0.10 ft or 0.03 m.

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
    sound = np.array([i for i in range(len(survey.xyz)) if i not in slips], dtype=np.int64)
    on_lines = _on_breaklines(survey, unit)
    for shot, value, reason in _disagreements(survey, sound, unit):
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
    search = _RunSearch(survey.xyz[sound], least=unit.default(0.10, 0.03))
    found = []
    for _ in range(_MOST_FOUND):
        run = search.take()
        if run is None:
            break
        first, stop, offset = run
        shots = sound[first:stop]
        if stop - first >= _LEAST_RUN and _own_kind(survey, shots):
            continue
        side = "above" if offset > 0.0 else "below"
        amount = f"{abs(offset):.{unit.places}f} {unit.short} {side}"
        if stop - first < _LEAST_RUN:
            reason = f"stands {amount} the surface of the shots around it"
        else:
            reason = (
                f"{stop - first} consecutive shots, {survey.names[shots[0]]} to "
                f"{survey.names[shots[-1]]}, stand {amount} the surface of the others: "
                "rod height?"
            )
        found += [(int(shot), offset, reason) for shot in shots]
    return found


def _own_kind(survey: Survey, shots: Ints) -> bool:
    """True when the shots share a description that no other shot has: a feature, not a slip."""
    kinds = {survey.descriptions[i] for i in shots}
    if len(kinds) != 1 or kinds == {""}:
        return False
    return survey.descriptions.count(kinds.pop()) == len(shots)


class _RunSearch:
    """Finds the run of consecutive shots whose common offset explains the residuals best.

    With R the scaled residual matrix, z the elevations and u the indicator of a run, the
    least-squares offset is (Ru)'(Rz) / |Ru|^2 and it lowers the sum of squares by (Ru)'(Rz) times
    the offset. Both are sums over blocks of R'R and of R'Rz, so running totals give them for every
    run at once.
    """

    def __init__(self, xyz: Floats, least: float) -> None:
        self._least = least
        self._xy = xyz[:, :2]
        self._z = xyz[:, 2] - xyz[:, 2].mean()
        self._residuals, _ = residual_matrix(self._xy)
        self._taken = np.zeros(len(xyz), dtype=bool)
        self._in_run = self._taken.copy()
        self._stale = False
        self._weigh()

    def _weigh(self) -> None:
        """Scale each residual by the scatter of those around it, as the elevations now stand."""
        residual = self._residuals @ self._z
        rough = _local_deviation(self._xy, residual)
        # no rod on natural ground is truer than a fifth of the least disagreement
        scale = np.maximum(np.maximum(rough, robust_deviation(residual)), self._least / 5.0)
        self._matrix = self._residuals.multiply((1.0 / scale)[:, None]).tocsr()
        square = (self._matrix.T @ self._matrix).tocsr()
        n, half = len(self._z), _WINDOW // 2
        self._windows = [
            (start, _block_sums(square[start : start + _WINDOW, start : start + _WINDOW]))
            for start in range(0, max(n - half, 1), half)
        ]
        self._stale = False

    def take(self) -> tuple[int, int, float] | None:
        """The next run (first, stop, offset), its offset removed; None when none stands off.

        When none does, the scatter is worked out again without the runs taken, which may have
        hidden lesser ones, and the search goes on.
        """
        run = self._best()
        if run is None and self._stale:
            self._weigh()
            run = self._best()
        if run is not None:
            first, stop, offset = run
            self._z[first:stop] -= offset
            self._taken[first:stop] = True
            self._in_run[first:stop] |= stop - first > 1
            self._stale = True
        return run

    def _best(self) -> tuple[int, int, float] | None:
        """The run that explains most and stands off clearly, or the shot where a few do better."""
        found = self._clearest(runs=True)
        if found is None:
            return None
        gain, first, stop = found[:3]
        few = min(stop - first - 1, _FEW)
        if few and self._explained_by(few) > gain:
            found = self._clearest(runs=False) or found
        return found[1:]

    def _explained_by(self, count: int) -> float:
        """What so many single shots, one after the other, would take off the sum of squares."""
        square = np.asarray(self._matrix.multiply(self._matrix).sum(axis=0)).ravel()
        z, total = self._z.copy(), 0.0
        for _ in range(count):
            pull = self._matrix.T @ (self._matrix @ z)
            gain = pull * pull / square
            at = int(np.where(self._taken, -1.0, gain).argmax())
            total += float(gain[at])
            z[at] -= pull[at] / square[at]
        return total

    def _clearest(self, runs: bool) -> tuple[float, int, int, float] | None:
        """Gain and extent of what explains most and stands off clearly, single shots alone unless
        ``runs`` are asked for too."""
        pull = self._matrix.T @ (self._matrix @ self._z)
        best: tuple[float, int, int, float] | None = None
        for start, information in self._windows:
            size = len(information)
            sums = np.concatenate(([0.0], np.cumsum(pull[start : start + size - 1])))
            push = sums[None, :] - sums[:, None]
            offset = push / np.where(information > 0.0, information, np.inf)
            length = np.arange(size)[None, :] - np.arange(size)[:, None]
            single = length == 1
            longer = (length >= _LEAST_RUN) & (length <= max(size // 3, _LEAST_RUN))
            taken = self._in_run if runs else self._taken  # shots taken singly may lie in a run
            used = np.concatenate(([0], np.cumsum(taken[start : start + size - 1])))
            free = used[None, :] == used[:, None]
            gain = push * offset
            clear = (single & (gain > _CLEAR**2)) | (longer & (gain > _CLEAR_RUN**2))
            clear &= (single | runs) & free & (np.abs(offset) > self._least)
            if not clear.any():
                continue
            at = int(np.where(clear, gain, -1.0).argmax())
            i, j = divmod(at, size)
            if best is None or gain[i, j] > best[0]:
                best = float(gain[i, j]), start + i, start + j, float(offset[i, j])
        return best


def _local_deviation(xy: Floats, residual: Floats) -> Floats:
    """Robust standard deviation (n,) of the residuals around each shot."""
    from scipy.spatial import cKDTree

    count = min(_LOCAL, len(xy))
    around = cKDTree(xy - xy.mean(axis=0)).query(xy - xy.mean(axis=0), k=count)[1]
    return np.asarray(1.4826 * np.median(np.abs(residual[around]), axis=1))


def _block_sums(square: Any) -> Floats:
    """Sum of the block of rows and columns i to j - 1 of a sparse matrix, for every i < j."""
    dense = square.toarray()
    size = len(dense) + 1
    total = np.zeros((size, size))
    total[1:, 1:] = dense.cumsum(axis=0).cumsum(axis=1)
    own = np.diagonal(total)
    return np.asarray(own[None, :] + own[:, None] - total - total.T)
