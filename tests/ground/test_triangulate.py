"""Triangulation against SciPy's (Qhull) and against the convex hull's area."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import ConvexHull, Delaunay

from dripfield.ground.triangles.triangulate import delaunay, twice_area


def _grid(nx: int, ny: int, turn: float = 0.0) -> np.ndarray:
    x, y = np.meshgrid(np.arange(nx, dtype=float), np.arange(ny, dtype=float))
    points = np.column_stack((x.ravel(), y.ravel())) * 10.0
    cos, sin = np.cos(turn), np.sin(turn)
    return points @ np.array([[cos, sin], [-sin, cos]])


RNG = np.random.default_rng(4)
ARC = np.linspace(0.0, 2.0, 60)
CASES = {
    "random": RNG.uniform(-80.0, 80.0, (500, 2)),
    "two decimals": np.round(RNG.uniform(-80.0, 80.0, (3000, 2)), 2),
    "grid": _grid(30, 20),
    "turned grid": _grid(40, 25, 0.3),
    "circle": 50.0 * np.column_stack((np.cos(3.0 * ARC), np.sin(3.0 * ARC))),
    "strip": np.column_stack((np.linspace(0.0, 1000.0, 200), RNG.uniform(0.0, 0.01, 200))),
    "hollow rim": np.vstack(
        [
            np.column_stack((ARC * 50.0 - 50.0, 1e-6 * (ARC - 1.0) ** 2)),
            RNG.uniform(20.0, 90.0, (30, 2)),
        ]
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_covers_the_convex_hull_with_counter_clockwise_triangles(name: str) -> None:
    points = CASES[name]
    triangles = delaunay(points)
    area = twice_area(points, triangles) / 2.0
    hull = ConvexHull(points).volume
    assert area.min() > 0.0
    assert area.sum() == pytest.approx(hull, rel=1e-9)
    assert len(np.unique(triangles)) == len(points)


@pytest.mark.parametrize("name", ["random", "two decimals", "grid"])
def test_same_number_of_triangles_as_qhull(name: str) -> None:
    assert len(delaunay(CASES[name])) == len(Delaunay(CASES[name]).simplices)


def test_same_triangles_as_qhull_in_general_position() -> None:
    points = CASES["random"]
    ours = {tuple(sorted(t)) for t in delaunay(points).tolist()}
    theirs = {tuple(sorted(t)) for t in Delaunay(points).simplices.tolist()}
    assert ours == theirs


def test_no_vertex_inside_a_circumcircle_of_a_grid() -> None:
    """The Delaunay rule itself, where four corners of every cell lie on one circle."""
    points = _grid(12, 9, 0.7)
    a, b, c = np.moveaxis(points[delaunay(points)], 1, 0)
    d = 2.0 * (a[:, 0] * (b - c)[:, 1] + b[:, 0] * (c - a)[:, 1] + c[:, 0] * (a - b)[:, 1])
    square = [(p**2).sum(axis=1) for p in (a, b, c)]
    x = sum(s * q[:, 1] for s, q in zip(square, (b - c, c - a, a - b), strict=True)) / d
    y = sum(s * -q[:, 0] for s, q in zip(square, (b - c, c - a, a - b), strict=True)) / d
    centre = np.column_stack((x, y))
    radius = np.hypot(*(a - centre).T)
    distance = np.hypot(*(points[None] - centre[:, None]).transpose(2, 0, 1))
    assert (distance > radius[:, None] - 1e-9).all()


def test_edges_become_sides_of_triangles() -> None:
    points = CASES["random"]
    corner = int(np.argmin(points.sum(axis=1)))
    other = int(np.argmax(points.sum(axis=1)))
    triangles = delaunay(points, np.array([[corner, other]]))
    sides = {
        tuple(sorted(s)) for t in triangles.tolist() for s in zip(t, t[1:] + t[:1], strict=True)
    }
    assert tuple(sorted((corner, other))) in sides
    assert twice_area(points, triangles).sum() / 2 == pytest.approx(ConvexHull(points).volume)


def test_points_on_one_line_make_no_triangles() -> None:
    assert len(delaunay(np.column_stack((np.arange(5) * 0.7, np.arange(5) * 0.3)))) == 0
