"""How fast the whole of ``layout`` is, from start to written files.

Run by hand: ``python tests/benchmarks/bench_command.py``. Each figure is a ratio within one run of
the processor's time: a big survey against scipy's Delaunay of a million shots, a house's site
against importing matplotlib, ezdxf, shapely and pyproj in a fresh interpreter. The command runs in
a process of its own, without layouts kept from earlier runs. Figures kept are in FIGURES.md.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from scipy.spatial import Delaunay

ROOT = Path(__file__).resolve().parents[2]
ACRES_5 = (660.0, 330.0)  # [ft]


def shots(count: int, size: tuple[float, float], wide: float) -> np.ndarray:
    """Jittered shots on a grid about a bed, ``wide`` times as long and as broad, errors of 0.02."""
    rng = np.random.default_rng(1)
    across = max(int(np.sqrt(count * size[0] / size[1])), 2)
    down = max(count // across, 2)
    x, y = np.meshgrid(np.linspace(-0.5, 0.5, across), np.linspace(-0.5, 0.5, down))
    x = (x + rng.uniform(-0.3, 0.3, x.shape) / across) * wide * size[0] + size[0] / 2.0
    y = (y + rng.uniform(-0.3, 0.3, y.shape) / down) * wide * size[1] + size[1] / 2.0
    z = 100.0 + 0.08 * y + 1.5 * np.sin(x / 90.0) * np.cos(y / 130.0)
    z = z + rng.normal(0.0, 0.02, z.shape)
    return np.column_stack((x.ravel() + 50_000.0, y.ravel() + 100_000.0, z.ravel()))


def write_site(folder: Path, xyz: np.ndarray, size: tuple[float, float]) -> None:
    """A rectangular bed at 2 ft with these shots."""
    folder.mkdir(parents=True)
    corners = ((0.0, 0.0), (size[0], 0.0), size, (0.0, size[1]))
    ring = "".join(f"{y + 100_000.0},{x + 50_000.0}\n" for x, y in corners)
    (folder / "bed.csv").write_text("northing,easting\n" + ring)
    rows = (f"{i},{y:.3f},{x:.3f},{z:.2f},GS\n" for i, (x, y, z) in enumerate(xyz.tolist(), 1))
    with (folder / "survey.csv").open("w") as stream:
        stream.write("point,northing,easting,elevation,description\n")
        stream.writelines(rows)
    (folder / "site.toml").write_text(
        '[site]\nname = "Bench"\nunits = "ft"\n[survey]\npoints = "survey.csv"\n'
        '[bed]\nboundary = "bed.csv"\n[layout]\nspacing = 2.0\n'
    )


def processor_time(words: Sequence[str]) -> tuple[float, float]:
    """Processor's time [s] of a python process, and the most memory of any child so far [GB]."""
    quiet = {"DRIPFIELD_KEEP": "0", "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, *words],
        check=True,
        cwd=ROOT,
        env={**os.environ, **quiet},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return spent, after.ru_maxrss / 1e6


def layout_time(folder: Path, xyz: np.ndarray, size: tuple[float, float]) -> tuple[float, float]:
    """Processor's time and memory of ``layout`` on a site made for it."""
    write_site(folder, xyz, size)
    words = ("-m", "dripfield", "layout", str(folder), "--out", str(folder / "out"))
    return processor_time(words)


def main(
    counts: Sequence[int] = (20_000, 200_000, 1_000_000),
    wide: Sequence[float] = (1.2, 3.0),
    size: tuple[float, float] = ACRES_5,
    delaunay: int = 1_000_000,
) -> None:
    """Print the ratios: a house's site first, then the big surveys, smallest first."""
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        imports = min(
            processor_time(("-c", "import matplotlib.figure, ezdxf, shapely, pyproj"))[0]
            for _ in range(3)
        )
        house = (60.0, 40.0)
        spent, memory = layout_time(home / "house", shots(200, house, 1.3), house)
        print(f"house: {spent:.2f} s, ratio {spent / imports:.2f} to imports, {memory:.2f} GB")
        xy = shots(delaunay, ACRES_5, 1.2)[:, :2]
        start = time.process_time()
        Delaunay(xy - xy.mean(axis=0))
        base = time.process_time() - start
        for count in counts:
            for times in wide:
                site = home / f"{count}_{times:g}"
                spent, memory = layout_time(site, shots(count, size, times), size)
                print(
                    f"{count:,} shots, {times:g} times the bed: {spent:.1f} s, "
                    f"ratio {spent / base:.2f} to Delaunay, {memory:.2f} GB"
                )


if __name__ == "__main__":
    main()
