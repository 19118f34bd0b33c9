"""How fast surfaces are made, asked and smoothed.

Run by hand: ``python tests/benchmarks/bench_surface.py``. Each figure is a ratio within one run:
the triangulation against scipy's Delaunay on the same points, queries and level lines against
matplotlib's on the same triangles, everything else against importing matplotlib in a fresh
interpreter. The figures are printed, nothing is judged. On a machine that is busy otherwise the
smoothing of thousands of shots suffers most: the threads of its linear algebra wait for each other.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from matplotlib.tri import LinearTriInterpolator, Triangulation
from scipy.spatial import Delaunay

from dripfield.core.units import Unit
from dripfield.ground.build import survey_surface
from dripfield.ground.leave_one_out import leave_one_out
from dripfield.ground.levels.interval import levels_between
from dripfield.ground.levels.lines import level_lines
from dripfield.ground.smoothing.smooth import smooth_ground
from dripfield.ground.triangles.tin import Surface
from dripfield.ground.triangles.triangulate import delaunay
from dripfield.survey.doubt.blunders import suspects
from dripfield.survey.doubt.clean import clean
from dripfield.survey.shots import Survey


def shots(count: int) -> np.ndarray:
    """Rolling ground over 160 x 100 for 200 shots, growing with their number, errors of 0.02."""
    rng = np.random.default_rng(1)
    size = np.array((160.0, 100.0)) * np.sqrt(count / 200.0)
    xy = rng.uniform(0.0, 1.0, (count, 2)) * size + (2_100_000.0, 730_000.0)
    waves = np.sin(xy[:, 0] / 30.0) * np.cos(xy[:, 1] / 35.0)
    return np.column_stack((xy, 100.0 + waves + rng.normal(0.0, 0.02, count)))


def survey(xyz: np.ndarray) -> Survey:
    """The shots as a reader hands them over."""
    n = len(xyz)
    return Survey(xyz, tuple(map(str, range(n))), ("GS",) * n, np.arange(n), Path("survey.csv"))


def seconds(work: Callable[[], object], times: int) -> float:
    """The least of several times."""
    best = np.inf
    for _ in range(times):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return float(best)


def importing_matplotlib() -> float:
    """Seconds that matplotlib's pyplot takes to import, without the interpreter's own start."""
    bare, full = (
        seconds(lambda code=code: subprocess.run([sys.executable, "-c", code], check=True), 3)
        for code in ("pass", "import matplotlib.pyplot")
    )
    return full - bare


def triangulation(count: int) -> None:
    """A million points against scipy, the same number of triangles."""
    xy = shots(count)[:, :2] - (2_100_000.0, 730_000.0)
    start = time.perf_counter()
    ours = len(delaunay(xy))
    middle = time.perf_counter()
    theirs = len(Delaunay(xy).simplices)
    alone = time.perf_counter() - middle
    print(
        f"{count:,} points triangulated in {middle - start:.2f} s ({ours:,} triangles); scipy's "
        f"Delaunay {alone:.2f} s ({theirs:,}); ratio {(middle - start) / alone:.2f}"
    )


def asking(count: int, queries: int) -> None:
    """Queries and level lines against matplotlib's on the same triangles."""
    surface = Surface.from_points(shots(count))
    low, high = surface.vertices[:, :2].min(axis=0), surface.vertices[:, :2].max(axis=0)
    places = np.random.default_rng(2).uniform(low, high, (queries, 2))
    near = surface.vertices[:, :2] - low
    mesh = Triangulation(*near.T, surface.triangles)
    z = surface.vertices[:, 2]
    surface.elevation(places)
    theirs = LinearTriInterpolator(mesh, z)
    theirs(*(places - low).T)
    one = seconds(lambda: surface.elevation(places), 5)
    two = seconds(lambda: theirs(*(places - low).T), 5)
    print(
        f"{count:,} shots, {queries:,} elevations in {one * 1e3:.1f} ms; matplotlib's interpolator "
        f"{two * 1e3:.1f} ms; ratio {one / two:.2f}"
    )
    levels, _ = levels_between(float(z.min()), float(z.max()), 0.1)
    axes = Figure().add_subplot()
    one = seconds(lambda: level_lines(surface, levels), 3)
    two = seconds(lambda: axes.tricontour(mesh, z, levels=levels), 3)
    print(
        f"{count:,} shots, {len(levels)} levels traced in {one * 1e3:.1f} ms; matplotlib's "
        f"contourer {two * 1e3:.1f} ms; ratio {one / two:.2f}"
    )


def checking(count: int, importing: float) -> None:
    """The work on a survey against importing matplotlib."""
    raw = survey(shots(count))
    cleaned = clean(raw, Unit.FOOT)
    surface = survey_surface(cleaned, Unit.FOOT)
    for what, work in (
        ("cleaned and triangulated", lambda: survey_surface(clean(raw, Unit.FOOT), Unit.FOOT)),
        ("smoothed", lambda: smooth_ground(surface, 0.05)),
        ("leave-one-out", lambda: leave_one_out(surface)),
        ("searched for blunders", lambda: suspects(cleaned, Unit.FOOT)),
    ):
        took = seconds(work, 3)
        print(
            f"{count:,} shots {what} in {took * 1e3:.1f} ms; importing matplotlib "
            f"{importing * 1e3:.0f} ms; ratio {took / importing:.3f}"
        )


def main(many: int = 1_000_000, few: tuple[int, ...] = (200, 5000), queries: int = 20_000) -> None:
    """Print the figures."""
    triangulation(many)
    importing = importing_matplotlib()
    for count in few:
        asking(count, queries)
        checking(count, importing)


if __name__ == "__main__":
    main()
