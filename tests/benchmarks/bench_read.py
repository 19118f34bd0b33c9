"""How fast a survey is read and triangulated, and in how much memory a cloud is thinned.

Run by hand: ``python tests/benchmarks/bench_read.py``. A million points are read and triangulated
against scipy's Delaunay alone on the same points in the same run; ten million points are thinned
around a bed. The figures are printed, nothing is judged.
"""

from __future__ import annotations

import resource
import tempfile
import time
from pathlib import Path

import numpy as np
from scipy.spatial import Delaunay
from shapely import box

from dripfield.core.units import Unit
from dripfield.ground.triangles.tin import Surface
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.read.survey_file import read_survey


def write_points(path: Path, count: int) -> Path:
    """A PNEZD file with a header, points scattered at random."""
    rng = np.random.default_rng(1)
    side = np.sqrt(count) * 5.0
    places = rng.uniform(0.0, side, (count, 2)).round(3)
    heights = (100.0 + 3.0 * np.sin(places[:, 0] / 90.0)).round(3)
    with path.open("w") as stream:
        stream.write("point,northing,easting,elevation,description\n")
        for start in range(0, count, 100_000):
            rows = zip(
                range(start, count),
                places[start : start + 100_000].tolist(),
                heights[start : start + 100_000].tolist(),
                strict=False,
            )
            stream.writelines(f"{i},{n:.3f},{e:.3f},{z:.3f},GS\n" for i, (n, e), z in rows)
    return path


def read_and_triangulate(path: Path) -> tuple[float, float, float]:
    """Seconds to read, to triangulate, and scipy's to triangulate alone."""
    start = time.perf_counter()
    survey = read_survey(path, SurveyTable(points=path.name), Unit.FOOT)
    read = time.perf_counter()
    Surface.from_points(survey.xyz)
    done = time.perf_counter()
    Delaunay(survey.xyz[:, :2])
    return read - start, done - read, time.perf_counter() - done


def write_cloud(path: Path, count: int) -> Path:
    """A LAS file over a square, a fifth of its width the bed; two of three points are ground."""
    import laspy

    rng = np.random.default_rng(2)
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales = np.full(3, 0.001)
    with laspy.open(path, mode="w", header=header) as writer:
        for start in range(0, count, 500_000):
            n = min(500_000, count - start)
            points = laspy.ScaleAwarePointRecord.zeros(n, header=header)
            points.x, points.y = rng.uniform(0, 1000, (2, n))
            points.z = 100.0 + 0.02 * np.asarray(points.x)
            points.classification = np.where(rng.random(n) < 2 / 3, 2, 5).astype(np.uint8)
            writer.write_points(points)
    return path


def thin_cloud(path: Path, whole: bool) -> tuple[float, int]:
    """Seconds to thin a cloud to its bed, or to all of it, and shots kept."""
    start = time.perf_counter()
    bed = None if whole else box(400, 400, 600, 600)
    options = SurveyTable(points=path.name, cell=2.0)
    survey = read_survey(path, options, Unit.FOOT, around=bed)
    return time.perf_counter() - start, len(survey.xyz)


def peak_memory() -> float:
    """Largest memory that this process has held [GB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6


def main(points: int = 1_000_000, cloud: int = 10_000_000) -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        path = write_cloud(Path(folder) / "cloud.las", cloud)
        for whole in (False, True):  # first, while little memory is held
            seconds, kept = thin_cloud(path, whole)
            print(
                f"cloud of {cloud:,} points thinned to {kept:,} "
                f"({'no bed' if whole else 'a bed of a 25th'}): {seconds:.1f} s, peak memory "
                f"{peak_memory():.2f} GB"
            )
        read, triangulate, alone = read_and_triangulate(
            write_points(Path(folder) / "points.csv", points)
        )
        print(
            f"{points:,} points: read {read:.2f} s, triangulated {triangulate:.2f} s; scipy's "
            f"Delaunay alone {alone:.2f} s; ratio {(read + triangulate) / alone:.2f}"
        )


if __name__ == "__main__":
    main()
