"""The search for runs of consecutive shots that stand off their surroundings by one same amount.

With R the scaled residual matrix, z the elevations and u the indicator of a run, the least-squares
offset is (Ru)'(Rz) / |Ru|^2 and it lowers the sum of squares by (Ru)'(Rz) times the offset. Both
come from running totals, of R'Rz along the file and of R'R along its diagonals, so that time and
memory grow with the number of shots. What a run that is taken out changes is worked out again, and
nothing else.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.survey.doubt.local_fit import residual_matrix, robust_deviation

LEAST_RUN = 3  # shots in a run that is put down to the rod; two are two single shots
_CLEAR = 6.0  # standard errors by which a single shot must stand off
_CLEAR_RUN = 8.0  # and a run, of which there are many more to choose from
_LONGEST = 200  # shots in a run, or a third of a shorter file
_CHUNK = 4096  # first shots of runs searched at once
_LOCAL = 40  # neighbours whose residuals say how rough the ground is here
_ALL = 20_000  # shots up to which that is asked at each one
_THIN = 10  # and of more shots at least at one of so many
_FEW = 3  # single shots that together explain more than a run does are believed before it
_SAME_SCALE = 1e-3  # relative change of a residual's scale that is none


class RunSearch:
    """Finds the run of consecutive shots whose common offset explains the residuals best.

    Parameters
    ----------
    xyz : (n, 3) float array
        Distinct shots, at least :data:`dripfield.survey.doubt.local_fit.LEAST_SHOTS`.
    least : float
        Least offset worth a word [same unit].
    """

    def __init__(self, xyz: Floats, least: float) -> None:
        n = len(xyz)
        self._least = least
        self._z = xyz[:, 2] - xyz[:, 2].mean()
        self._residuals = residual_matrix(xyz[:, :2])
        self._around = _Around(xyz[:, :2])
        self._longest = max(min(_LONGEST, (n + 1) // 3), LEAST_RUN)
        self._taken = np.zeros(n, dtype=bool)
        self._in_run = self._taken.copy()
        self._stale = False
        self._scale = np.full(n, np.nan)
        self._found: list[tuple[float, int, int, float] | None] = [None] * (-(-n // _CHUNK))
        self._open = np.ones(len(self._found), dtype=bool)
        self._weigh()

    def _weigh(self) -> None:
        """Scale each residual by the scatter of those around it, as the elevations now stand."""
        residual = self._residuals @ self._z
        rough = self._around.deviation(residual)
        # no rod on natural ground is truer than a fifth of the least disagreement
        scale = np.maximum(np.maximum(rough, robust_deviation(residual)), self._least / 5.0)
        self._stale = False
        changed = ~(np.abs(scale - self._scale) <= _SAME_SCALE * self._scale)
        if not changed.any():
            return
        self._scale = np.where(changed, scale, self._scale)
        self._matrix = self._residuals.copy()
        self._matrix.data /= np.repeat(self._scale, np.diff(self._matrix.indptr))
        self._turned = self._matrix.T.tocsr()
        self._square = np.bincount(
            self._matrix.indices, self._matrix.data**2, minlength=len(self._z)
        )
        self._pull = self._turned @ (self._matrix @ self._z)
        self._reopen(np.unique(self._matrix[np.flatnonzero(changed)].indices))

    def _reopen(self, shots: Ints) -> None:
        """Forget what was found of runs that hold or begin near one of these shots."""
        self._open[shots // _CHUNK] = True
        self._open[np.maximum(shots - self._longest, 0) // _CHUNK] = True

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
            shots, response = self._response(first, stop)
            self._pull[shots] -= offset * response
            self._reopen(shots)
            self._stale = True
        return run

    def _response(self, first: int, stop: int) -> tuple[Ints, Floats]:
        """R'Ru of a run: the shots where it is not zero, and its values there."""
        part = slice(self._turned.indptr[first], self._turned.indptr[stop])
        rows, at = np.unique(self._turned.indices[part], return_inverse=True)
        push = np.bincount(at, self._turned.data[part])
        near = self._matrix[rows]
        shots, at = np.unique(near.indices, return_inverse=True)
        pull = np.bincount(at, near.data * np.repeat(push, np.diff(near.indptr)))
        return shots.astype(np.int64), np.asarray(pull, dtype=np.float64)

    def _best(self) -> tuple[int, int, float] | None:
        """The run that explains most and stands off clearly, or the shot where a few do better."""
        for chunk in np.flatnonzero(self._open).tolist():
            self._found[chunk] = self._clearest(chunk * _CHUNK)
        self._open[:] = False
        found = max((one for one in self._found if one), key=lambda one: one[0], default=None)
        if found is None:
            return None
        gain, first, stop = found[:3]
        few = min(stop - first - 1, _FEW)
        if few and self._explained_by(few) > gain:
            found = self._clearest_shot() or found
        return found[1:]

    def _explained_by(self, count: int) -> float:
        """What so many single shots, one after the other, would take off the sum of squares."""
        pull, total = self._pull.copy(), 0.0
        for _ in range(count):
            gain = pull * pull / self._square
            at = int(np.where(self._taken, -1.0, gain).argmax())
            total += float(gain[at])
            shots, response = self._response(at, at + 1)
            pull[shots] -= pull[at] / self._square[at] * response
        return total

    def _clearest_shot(self) -> tuple[float, int, int, float] | None:
        """Gain and extent of the single shot, not yet taken, that stands off most clearly."""
        offset = self._pull / self._square
        gain = self._pull * offset
        clear = (gain > _CLEAR**2) & ~self._taken & (np.abs(offset) > self._least)
        if not clear.any():
            return None
        at = int(np.where(clear, gain, -1.0).argmax())
        return float(gain[at]), at, at + 1, float(offset[at])

    def _clearest(self, start: int) -> tuple[float, int, int, float] | None:
        """Gain, first, stop and offset of the clearest run that begins in a chunk, or None."""
        n, longest = len(self._z), self._longest
        count = min(_CHUNK, n - start)
        stop = min(start + count + longest, n)
        band = self._band(start, stop)
        pull = np.concatenate(([0.0], np.cumsum(self._pull[start:stop])))
        used = np.concatenate(([0], np.cumsum(self._in_run[start:stop])))
        below = np.zeros(stop - start)  # the part of R'R above the diagonal in the last column
        information = band[0].copy()
        best: tuple[float, int, int, float] | None = None
        for length in range(1, longest + 1):
            room = min(count, stop - start - length + 1)
            if room <= 0:
                break
            push = pull[length : length + room] - pull[:room]
            bound = (_CLEAR if length == 1 else _CLEAR_RUN) ** 2
            clear = push * push > bound * information[:room]
            if (length == 1 or length >= LEAST_RUN) and clear.any():
                at = np.flatnonzero(clear)
                at = at[(used[at + length] == used[at]) & (information[at] > 0.0)]
                offset = push[at] / information[at]
                at, offset = at[big := np.abs(offset) > self._least], offset[big]
                if len(at):
                    gain = push[at] * offset
                    top = int(gain.argmax())
                    if best is None or gain[top] > best[0]:
                        first = start + int(at[top])
                        best = float(gain[top]), first, first + length, float(offset[top])
            if length == longest or length >= stop - start:
                break
            below = below[1:] + band[length, : len(below) - 1]
            information = information[:-1] + band[0, length:] + 2.0 * below
        return best

    def _band(self, start: int, stop: int) -> Floats:
        """Diagonals of R'R from the main one upwards, (longest, stop - start), of these rows."""
        square = (self._turned[start:stop] @ self._matrix).tocoo()
        ahead = square.col - square.row - start
        kept = (ahead >= 0) & (ahead < self._longest)
        band = np.zeros((self._longest, stop - start))
        band[ahead[kept], square.row[kept]] = square.data[kept]
        return band


class _Around:
    """The shots around each shot, or around one shot of several where there are very many."""

    def __init__(self, xy: Floats) -> None:
        from scipy.spatial import cKDTree

        near = xy - xy.mean(axis=0)
        thin = min(-(-len(xy) // _ALL), _THIN)
        asked = near[::thin]
        self._around: Ints = cKDTree(near).query(asked, k=min(_LOCAL, len(xy)))[1]
        self._nearest: Any = slice(None) if thin == 1 else cKDTree(asked).query(near)[1]

    def deviation(self, residual: Floats) -> Floats:
        """Robust standard deviation (n,) of the residuals (n,) around each shot."""
        rough = 1.4826 * np.median(np.abs(residual)[self._around], axis=1)
        return np.asarray(rough[self._nearest], dtype=np.float64)
