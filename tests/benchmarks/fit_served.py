"""Fit the three figures by which the search for seams guesses what a division would serve.

Run by hand: ``python tests/benchmarks/fit_served.py [names]``. Every bed of ``beds.py`` (or those
named) is divided into one panel, two … six; each division is drawn, laid and measured. What is left
of merit when the area lost at seams is taken off is then fitted, by least absolute departures, by

    sum over panels of size x (1 - linear bad + square bad^2) - seam x gap x length of seams / area

with ``bad`` the share of a panel's cells out of tolerance. The figures in use are in
``dripfield/layout/balanced/division.py``; they were fitted to 192 layouts of an earlier set of
beds and an earlier engine, which are not kept, so this run gives figures near them, not the same.
Printed are both, and how far each stands off the layouts measured here. Nothing is judged.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).parent))  # also when run by a test

from beds import BenchBed, all_beds

from dripfield.core.threads import one_thread
from dripfield.design.candidates import candidates
from dripfield.design.lay_bed import laying_area
from dripfield.ground.laying import LayingSurface
from dripfield.ground.triangles.tin import Surface
from dripfield.layout.balanced.balanced import Balanced
from dripfield.layout.balanced.division import _SEAM, _SPOILT, Divider
from dripfield.measures.field import measure_merit

IN_USE = (*_SPOILT, _SEAM)


@dataclass(frozen=True)
class Measured:
    """A division as laid: sizes and shares of its panels, what its seams cost at one gap, merit."""

    sizes: np.ndarray
    shares: np.ndarray
    seams: float
    merit: float


def measured_divisions(bed: BenchBed) -> list[Measured]:
    """Every division of a bed into one panel up to six, laid and measured in full."""
    site = bed.site()
    settings = site.settings
    surface = LayingSurface(Surface.from_points(bed.shots), settings.smoothing)
    area, _ = laying_area(site, surface)
    ground = surface.smoothed or surface
    laid = candidates(ground, area, settings, "balanced", surveyed=surface)
    balanced = Balanced(laid._terrain, laid._local, laid._area, settings)
    gap = settings.spacing * (1.0 - settings.spacing_tolerance)
    seams = balanced._panels.seams
    divider = Divider(balanced._panels, gap, settings.panel_gain)
    found = []
    for division in balanced.divisions:
        merit = measure_merit(
            balanced._laid(division), surface, settings, site.bed, quick=False
        ).merit
        found.append(
            Measured(
                divider._sizes(division.parts),
                balanced._panels.shares(division.parts),
                gap * sum(seams.length(cut) for cut in division.cuts) / divider._area,
                merit,
            )
        )
    return found


def guessed(one: Measured, figures: tuple[float, float, float]) -> float:
    """What a division is expected to serve by given figures."""
    linear, square, seam = figures
    bad = np.minimum(1.0 - one.shares, linear / (2.0 * max(square, 1e-9)))
    good = (one.shares > 0.0) * (1.0 - linear * bad + square * bad**2)
    return float((one.sizes * good).sum() - seam * one.seams)


def off(found: list[Measured], figures: tuple[float, float, float]) -> np.ndarray:
    """Departures of the guess from the merit, less what they have in common.

    What every division of a bed loses alike at the bed's edge does not matter to a choice among
    them, so the median is taken off.
    """
    apart = np.array([guessed(one, figures) - one.merit for one in found])
    return apart - np.median(apart)


def fit(found: list[Measured]) -> tuple[float, float, float]:
    """The figures of least absolute departure."""
    best = minimize(
        lambda figures: np.abs(off(found, tuple(figures))).sum(), IN_USE, method="Nelder-Mead"
    )
    linear, square, seam = best.x
    return float(linear), float(square), float(seam)


def main(names: list[str]) -> None:
    """Measure, fit and print."""
    beds = [bed for bed in all_beds() if not names or bed.name in names]
    found = []
    with one_thread():
        for bed in beds:
            found += measured_divisions(bed)
    for what, figures in (("in use", IN_USE), ("fitted", fit(found))):
        apart = np.abs(off(found, figures))
        print(
            "{}: linear {:.2f}, square {:.2f}, seam {:.2f}; ".format(what, *figures)
            + f"median off {np.median(apart):.4f}, 9 in 10 within {np.percentile(apart, 90):.4f} "
            f"of merit, {len(found)} layouts of {len(beds)} beds"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
