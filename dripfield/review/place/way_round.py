"""Which way round a plan lies whose outline fits the bed in several ways."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.height_field import HeightField
from dripfield.core.similarity import Similarity
from dripfield.layout.model import Layout
from dripfield.review.model.limits import Limits
from dripfield.review.model.plan import Plan, name_key
from dripfield.review.place.outline_fit import OutlineFit
from dripfield.site.model import Site

FAR_BETTER = 0.35
"""A fit with this share of another's misfit is far better."""
_AS_GOOD = 1.25  # fits this much worse than the best are as good


@dataclass(frozen=True)
class WayRound:
    """Tells ways apart by the laterals, their names and their written elevations.

    Attributes
    ----------
    plan : Plan
        Every run drawn.
    site : Site
    layout : Layout
    ground : HeightField
    limits : Limits
    size : float
        Greatest extent of the bed [site unit].
    """

    plan: Plan
    site: Site
    layout: Layout
    ground: HeightField
    limits: Limits
    size: float

    def stray(self, move: Similarity) -> float:
        """Mean distance from the plan's runs to the nearest lateral, the runs being placed."""
        laterals = shapely.union_all([shapely.linestrings(one.xy) for one in self.layout.laterals])
        if laterals.is_empty:
            return 0.0
        shares = np.linspace(0.0, 1.0, 11)
        lines = np.array([shapely.linestrings(move.apply(drawn(run.xy))) for run in self.plan.runs])
        points = shapely.line_interpolate_point(lines[:, None], shares[None, :], normalized=True)
        return float(shapely.distance(points, laterals).mean())

    def choose(self, plain: list[OutlineFit], mirror: list[OutlineFit]) -> tuple[OutlineFit, str]:
        """The way round that fits best, and why it is not settled where it is not.

        Among several that fit as well, names and written elevations decide. Where they do not, the
        way whose laterals lie nearest is shown and settles nothing. A mirror image is chosen only
        when it fits far better.
        """
        small = 0.002 * self.size
        best = plain[0].rms
        if mirror[0].rms < FAR_BETTER * best and best > small:
            plain, best = mirror, mirror[0].rms
        good = [fit for fit in plain if fit.rms <= max(_AS_GOOD * best, best + small)]
        alike = [fit for fit in mirror if fit.rms <= best + small and fit not in good]
        chosen = self._settled(good)
        settled = chosen is not None
        if chosen is None:
            chosen = min(good, key=lambda fit: self.stray(fit.move))
        stray = self.stray(chosen.move)
        if stray > 0.25 * self.site.settings.spacing:
            for fit in alike:
                if self.stray(fit.move) < FAR_BETTER * stray:
                    chosen = fit
        if len(good) == 1 or settled:
            return chosen, ""
        return chosen, (
            f"which way round the plan lies is not known: its outline fits the bed in {len(good)} "
            "ways, and neither names nor elevations tell them apart; two common points would "
            "settle it"
        )

    def _settled(self, ways: list[OutlineFit]) -> OutlineFit | None:
        """The one way that the runs' elevations or names bear out, or None."""
        if len(ways) == 1:
            return ways[0]
        least = max(2.0 * self.limits.elevation.limit, 1e-9)
        for test, gain in ((self._off_level, least), (self._off_name, self.site.settings.spacing)):
            off = [test(fit.move) for fit in ways]
            if any(one is None for one in off):
                continue
            known = np.array(off, dtype=np.float64)
            order = np.argsort(known, kind="stable")
            first, second = known[order[:2]]
            if second - first > gain and first < 0.5 * second:
                return ways[int(order[0])]
        return None

    def _off_level(self, move: Similarity) -> float | None:
        """Median distance of written elevations from the ground, less what all have in common.

        A datum of its own does not count, only how the ground falls along the plan.
        """
        runs = [run for run in self.plan.runs if run.elevation is not None and run.xy is not None]
        if len(runs) < max(2.0, 0.5 * len(self.plan.runs)):
            return None
        middles = np.array([_middle_of(drawn(run.xy)) for run in runs])
        ground = self.ground.elevation(move.apply(middles))
        written = np.array([run.elevation for run in runs], dtype=np.float64)
        off = (written - ground)[np.isfinite(ground)]
        if len(off) < 2:
            return None
        return float(np.median(np.abs(off - np.median(off))))

    def _off_name(self, move: Similarity) -> float | None:
        """Mean distance of named runs from the laterals of their names."""
        lines = {name_key(one.name): one.xy for one in self.layout.laterals}
        pairs = [
            (drawn(run.xy), lines[name_key(run.name)])
            for run in self.plan.runs
            if run.named and name_key(run.name) in lines
        ]
        if len(pairs) < max(2.0, 0.5 * len(self.plan.runs)):
            return None
        middles = move.apply(np.array([_middle_of(xy) for xy, _ in pairs]))
        shift = middles[0]
        gaps = [
            shapely.linestrings(line - shift).distance(shapely.points(at - shift))
            for at, (_, line) in zip(middles, pairs, strict=True)
        ]
        return float(np.mean(gaps))


def drawn(xy: Floats | None) -> Floats:
    """The line of a run, which every run of a plan to be placed has."""
    assert xy is not None, "a plan is placed only when every run is drawn"
    return xy


def _middle_of(xy: Floats) -> Floats:
    """The point half way along a line (k, 2)."""
    shift = xy[0]
    middle = shapely.line_interpolate_point(shapely.linestrings(xy - shift), 0.5, normalized=True)
    return np.asarray(shapely.get_coordinates(middle)[0] + shift)
