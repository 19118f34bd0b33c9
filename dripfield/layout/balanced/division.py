"""How a bed is divided into panels: the search for the seams.

What a part of the bed would serve is guessed from the share of its cells that hold both tolerances
once its stripe field is solved. First every run of neighbouring strips is solved roughly, on a
coarse grid, and dynamic programming gives the best division for each number of panels. Then the
parts of the best of these are solved as they would be drawn and the search is repeated with what
was learnt, until no part of a division that may be best is known only roughly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.layout.balanced.panels import Panels
from dripfield.layout.balanced.seams import WHOLE, Part, Seam

_SPOILT = (1.7, 1.4)  # area lost for a share of cells out of tolerance, its linear and its square
# part: a bad cell spoils the laterals on both its sides, unless they are spoilt already
_SEAM = 1.16  # gaps: what a seam costs, with the short pieces dropped beside it
# these three figures are fitted to 192 measured layouts; measured anew by
# tests/benchmarks/fit_served.py half are guessed to within 0.007 of merit, 9 in 10 within 0.022
DOUBT = 0.012  # of the bed: divisions expected to be worth so much less are not looked at again
_SHIFT_OF = 12.0  # seams are moved by parts of the bed's width over this
_FAR, _NEAR = 0.5, 0.2  # parts of that: first far, then near
_MOVES = ((-1, -1), (1, 1), (-1, 1), (1, -1))  # of the top and the bottom of a seam
_LEAST = 0.02  # of the bed, left to a panel when its seams are moved


@dataclass(frozen=True)
class Division:
    """The seams that divide a bed into panels.

    Attributes
    ----------
    cuts : tuple of Seam
        From left to right, the ends of the bed first and last.
    served : float
        Share of the bed expected to be served within both tolerances.
    """

    cuts: tuple[Seam, ...]
    served: float

    @property
    def parts(self) -> list[Part]:
        """The panels, from left to right."""
        return [Part(*pair) for pair in pairwise(self.cuts)]


def served(share: Floats) -> Floats:
    """Share of an area that is served, by the share of its cells that hold both tolerances."""
    linear, square = _SPOILT
    bad = np.minimum(1.0 - share, linear / (2.0 * square))  # no more is lost once nothing is left
    return np.asarray(share > 0.0) * (1.0 - linear * bad + square * bad**2)


class Divider:
    """The search for the best division of one bed.

    Parameters
    ----------
    panels : Panels
    gap : float
        Width between the ends of laterals across a seam.
    gain : float
        Share of the bed that each further panel must serve.
    """

    def __init__(self, panels: Panels, gap: float, gain: float) -> None:
        self._panels, self._gap, self._gain = panels, gap, gain
        self._area = panels.seams.area_of(WHOLE)

    def whole(self) -> Division:
        """The bed in one panel."""
        return Division(WHOLE, float(self._served([WHOLE])[0]))

    def divisions(self, most: int, strips: int, step: float, lean: float = 0.0) -> list[Division]:
        """The best division into one panel, two, three …

        Parameters
        ----------
        most : int
            Greatest number of panels.
        strips : int
            Strips that panels are made of.
        step : float
            Node distance of the rough grids.
        lean : float
            How far to the right the seams run for each unit down.

        Returns
        -------
        list of Division
            In that order.
        """
        panels = self._panels
        cuts = panels.seams.even(strips, lean)
        pairs = [(i, j) for i in range(strips) for j in range(i + 1, strips + 1)]
        parts = {(i, j): Part(cuts[i], cuts[j]) for i, j in pairs}
        lost = np.array([self._lost(cut) for cut in cuts])
        value = np.full((strips + 1, strips + 1), -np.inf)
        every = list(parts.values())
        rough = self._sizes(every) * served(panels.rough_shares(every, step))
        for (i, j), total in zip(pairs, rough, strict=True):
            value[i, j] = total - lost[i]
        known: set[tuple[int, int]] = set()
        while True:
            found = best_divisions(value, most)
            worth = np.array([total for total, _ in found]) - self._gain * np.arange(len(found))
            likely = [ends for k, (_, ends) in enumerate(found) if worth[k] > worth.max() - DOUBT]
            new = {pair for ends in likely for pair in pairwise(ends)} - known
            if not new:
                break
            known |= new
            learnt = sorted(new)
            for (i, j), total in zip(learnt, self._served([parts[k] for k in learnt]), strict=True):
                value[i, j] = total - lost[i]
        return [Division(tuple(cuts[k] for k in ends), total) for total, ends in found]

    def moved(self, division: Division) -> Division:
        """A division with its seams shifted, one after the other, to where they gain most.

        Parameters
        ----------
        division : Division

        Returns
        -------
        Division
        """
        cuts = list(division.cuts)
        width = self._panels.seams.width / _SHIFT_OF
        for shift in (_FAR * width, _NEAR * width):
            for k in range(1, len(cuts) - 1):
                left, seam, right = cuts[k - 1 : k + 2]
                places = [seam]
                for top, bottom in _MOVES:
                    at = Seam(seam.top + top * shift, seam.bottom + bottom * shift)
                    if self._room(left, at) and self._room(at, right):
                        places.append(at)
                totals = self._served(
                    [Part(left, at) for at in places] + [Part(at, right) for at in places]
                ).reshape(2, -1).sum(axis=0) - [self._lost(at) for at in places]
                cuts[k] = places[int(np.argmax(totals))]
        moved = Division(tuple(cuts), 0.0)
        total = self._served(moved.parts).sum() - sum(self._lost(cut) for cut in cuts)
        return replace(moved, served=float(total))

    def _room(self, left: Seam, right: Seam) -> bool:
        """Whether two seams, in that order from top to bottom, keep enough of the bed between."""
        ordered = left.top < right.top and left.bottom < right.bottom
        return ordered and self._panels.seams.area_of(Part(left, right)) > _LEAST * self._area

    def _served(self, parts: list[Part]) -> Floats:
        """Share of the bed expected to be served in each part, by fields fine enough to draw."""
        return self._sizes(parts) * served(self._panels.shares(parts))

    def _sizes(self, parts: list[Part]) -> Floats:
        """Share of the bed that lies in each part."""
        return np.array([self._panels.seams.area_of(part) for part in parts]) / self._area

    def _lost(self, seam: Seam) -> float:
        """Share of the bed that a seam costs."""
        return _SEAM * self._gap * self._panels.seams.length(seam) / self._area


def best_divisions(value: Floats, most: int) -> list[tuple[float, list[int]]]:
    """The best way to part a row of strips into one part, two, three …

    Parameters
    ----------
    value : (strips + 1, strips + 1) float array
        What the part from strip i up to strip j is worth.
    most : int
        Greatest number of parts.

    Returns
    -------
    list of (float, list of int)
        For each number of parts the total, and where the parts begin and end.
    """
    last = len(value) - 1
    most = min(most, last)
    best = np.full((most + 1, last + 1), -np.inf)
    came = np.zeros((most + 1, last + 1), dtype=np.int64)
    best[0, 0] = 0.0
    found = []
    for count in range(1, most + 1):
        sums = best[count - 1][:, None] + value
        came[count], best[count] = sums.argmax(axis=0), sums.max(axis=0)
        ends, at = [last], last
        for k in range(count, 0, -1):
            at = int(came[k, at])
            ends.append(at)
        found.append((float(best[count, last]), ends[::-1]))
    return found
