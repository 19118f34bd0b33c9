"""How good the layout methods are on the benchmark's beds, and how long they take.

Run by hand: ``python tests/benchmarks/bench_layout.py [--figure FILE] [names]``. Every bed of
``beds.py`` (or those named) is laid out by ``offset``, ``contour`` and ``balanced`` as the program
would, measured on the triangles of the shots and, for ``balanced``, on the ground behind them too.
Times are CPU times as parts of what importing matplotlib takes in a fresh interpreter of the same
run. The figures are printed, nothing is judged.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))  # also when run by a test

from beds import BenchBed, all_beds, growing_beds

from dripfield.design.choose import choose_layout
from dripfield.ground.laying import LayingSurface
from dripfield.ground.triangles.tin import Surface
from dripfield.layout.model import Layout
from dripfield.measures.field import Measured, measure_layout

METHODS = ("offset", "contour", "balanced")


@dataclass(frozen=True)
class TrueGround:
    """The ground behind the shots, for the measures."""

    bed: BenchBed

    def elevation(self, xy: np.ndarray) -> np.ndarray:
        return self.bed.truth(xy)

    def gradient(self, xy: np.ndarray) -> np.ndarray:
        a = 1e-3
        return np.column_stack(
            [
                (self.bed.truth(xy + way) - self.bed.truth(xy - way)) / (2 * a)
                for way in (np.array((a, 0.0)), np.array((0.0, a)))
            ]
        )


@dataclass(frozen=True)
class Result:
    """One bed by one method: as measured on the triangles and on the ground behind them."""

    layout: Layout
    measured: Measured
    truth: Measured
    seconds: float


def run(bed: BenchBed, method: str) -> Result:
    """Lay out a bed and measure it."""
    site = bed.site(method=method)
    surface = Surface.from_points(bed.shots)
    start = time.process_time()
    layout = choose_layout(site, LayingSurface(surface, site.settings.smoothing))
    seconds = time.process_time() - start
    return Result(
        layout,
        measure_layout(layout, surface, site.settings, site.bed),
        measure_layout(layout, TrueGround(bed), site.settings, site.bed),
        seconds,
    )


def importing_matplotlib() -> float:
    """CPU seconds that matplotlib's pyplot takes to import, without the interpreter's own start."""

    def taken(code: str) -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-c", code], check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    bare, full = (
        min(taken(code) for _ in range(3)) for code in ("pass", "import matplotlib.pyplot")
    )
    return full - bare


def figures(got: Measured) -> tuple[float, float, float]:
    """Merit, share level, share evenly spaced."""
    return got.merit, got.share_level, got.share_spaced


def print_table(beds: Sequence[BenchBed], results: dict[str, dict[str, Result]], unit: float):
    """The table of merits and shares, then the means and the least."""
    print(f"{'':22}" + "".join(f"{method:>30}" for method in METHODS) + "   truth: balanced")
    one = f"{'merit level spaced  pan. lat.':>30}"
    print(f"{'bed':22}{one * len(METHODS)}{'merit level':>14}{'time':>7}")
    for bed in beds:
        row = f"{bed.name:22}"
        for method in METHODS:
            got = results[bed.name][method].measured
            row += "{:>8.3f} {:5.2f} {:6.2f}".format(*figures(got))
            row += f"{got.panels:5d}{len(got.laterals):4d}"
        best = results[bed.name]["balanced"]
        row += f"{best.truth.merit:8.3f} {best.truth.share_level:5.2f}{best.seconds / unit:7.2f}"
        print(row)
    for name, over in (("mean", np.mean), ("least", np.min)):
        row = f"{name:22}"
        for method in METHODS:
            of_all = [figures(results[bed.name][method].measured) for bed in beds]
            row += "{:>8.3f} {:5.2f} {:6.2f}".format(*over(of_all, axis=0)) + 9 * " "
        of_all = [figures(results[bed.name]["balanced"].truth) for bed in beds]
        print(row + "{:8.3f} {:5.2f}".format(*over(of_all, axis=0)[:2]))


def print_totals(beds: Sequence[BenchBed], results: dict[str, dict[str, Result]], unit: float):
    """Panels, beds where a plain method is better, times."""
    best = [results[bed.name]["balanced"] for bed in beds]
    panels = [one.measured.panels for one in best]
    plain = [max(results[bed.name][m].measured.merit for m in METHODS[:2]) for bed in beds]
    below = [
        f"{bed.name} (by {other - one.measured.merit:.4f})"
        for bed, one, other in zip(beds, best, plain, strict=True)
        if one.measured.merit < other
    ]
    took = np.array([one.seconds for one in best]) / unit
    print(
        f"{len(beds)} beds; panels by balanced: mean {np.mean(panels):.2f}, most {max(panels)}; "
        f"balanced below the better of offset and contour: {', '.join(below) or 'nowhere'}"
    )
    print(
        f"balanced takes {took.mean():.2f} times the import of matplotlib ({unit:.2f} s CPU) on "
        f"average, {took.max():.2f} at most"
    )


def print_growth(unit: float) -> None:
    """Time by area on beds of one kind of ground."""
    beds = growing_beds()
    area = np.array([bed.boundary.area for bed in beds])
    for method in METHODS:
        took = np.array([run(bed, method).seconds for bed in beds]) / unit
        parts = [
            f"{bed.name} ft {time:.2f} ({1000.0 * time / size:.3f} a 1,000 sq ft)"
            for bed, time, size in zip(beds, took, area, strict=True)
        ]
        power = np.polyfit(np.log(area), np.log(took), 1)[0]
        print(f"{method}, of the import: {'; '.join(parts)}; grows with area to the {power:.2f}")


def draw(beds: Sequence[BenchBed], results: dict[str, dict[str, Result]], path: Path) -> None:
    """Small multiples of the balanced layouts: panels shaded, parts out of tolerance marked."""
    from matplotlib.collections import LineCollection
    from matplotlib.figure import Figure

    columns = min(6, len(beds))
    rows = -(-len(beds) // columns)
    figure = Figure(figsize=(3.6 * columns, 2.9 * rows), layout="constrained")
    for axes in figure.subplots(rows, columns, squeeze=False).ravel()[len(beds) :]:
        axes.set_axis_off()
    for axes, bed in zip(figure.axes, beds, strict=False):
        result = results[bed.name]["balanced"]
        for number, panel in enumerate(result.layout.panels.values()):
            for part in getattr(panel, "geoms", [panel]):
                axes.fill(*part.exterior.xy, color=("0.94", "0.84")[number % 2], linewidth=0)
                for hole in part.interiors:
                    axes.fill(*hole.xy, color="white", linewidth=0)
        for ring in (bed.boundary, *bed.keepouts):
            axes.plot(*ring.exterior.xy, color="black", linewidth=0.8)
        axes.add_collection(
            LineCollection(
                [one.xy for one in result.layout.laterals], colors="0.35", linewidths=0.5
            )
        )
        for flag, colour, width in (("level", "#0072b2", 2.2), ("spaced", "#d55e00", 1.1)):
            missed = [
                np.stack((one.xy[:-1], one.xy[1:]), axis=1)[~getattr(one, flag)[1:]]
                for one in result.measured.laterals
            ]
            axes.add_collection(
                LineCollection(np.concatenate(missed), colors=colour, linewidths=width)
            )
        plain = max(results[bed.name][m].measured.merit for m in METHODS[:2])
        axes.set_title(
            f"{bed.name}\n{result.measured.merit:.3f}, {result.measured.panels} panels "
            f"(plain methods {plain:.3f})",
            fontsize=8,
        )
        axes.set_aspect("equal")
        axes.set_axis_off()
    figure.suptitle(
        "balanced: merit and panels; panels shaded; blue: out of level, orange: out of spacing",
        fontsize=11,
    )
    figure.savefig(path, dpi=110)


def main(names: Sequence[str] = (), figure: str | None = None, growth: bool = True) -> None:
    """Print the table; draw the beds if asked; print how time grows."""
    beds = [bed for bed in all_beds() if not names or bed.name in names]
    if not beds:
        raise SystemExit(f"no such bed; there are: {', '.join(b.name for b in all_beds())}")
    unit = importing_matplotlib()
    run(beds[0], "balanced")  # what is imported lazily is imported before the clock runs
    results = {bed.name: {method: run(bed, method) for method in METHODS} for bed in beds}
    print_table(beds, results, unit)
    print_totals(beds, results, unit)
    if figure:
        draw(beds, results, Path(figure))
    if growth:
        print_growth(unit)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("names", nargs="*", help="beds to lay out (all, unless named)")
    parser.add_argument("--figure", help="draw the balanced layouts into this file")
    asked = parser.parse_args()
    main(asked.names, asked.figure)
