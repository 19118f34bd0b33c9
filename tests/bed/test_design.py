"""A bed's levels: what they enclose, how they lie to each other, where they meet the ground."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from bed_sites import write_site

from dripfield.bed.design import BedDesign, design_bed, laying_surface
from dripfield.bed.materials import take_off
from dripfield.bed.remarks import bed_remarks
from dripfield.bed.toe import finished_surface, grade_lines
from dripfield.bed.volumes import volume_between, volume_of
from dripfield.core.arrays import Floats
from dripfield.core.errors import InputError
from dripfield.ground.ground import build_ground
from dripfield.site.reader import read_site

LEVEL = 'grade = "plane"\nstrike = 0.0\ndip = 0.0\n'
TOPSOIL = 'cover = [{ name = "topsoil", depth = 0.5 }]\n'


def flat(x: Floats, y: Floats) -> Floats:
    return 100.0 + 0.0 * x


def rolling(x: Floats, y: Floats) -> Floats:
    return 100.0 + 0.08 * y + 0.02 * x + 0.3 * np.sin(x / 9.0) * np.cos(y / 7.0)


def gently(x: Floats, y: Floats) -> Floats:
    return 100.4 - 0.02 * (x - 30.0) + 0.03 * (y - 10.0) + 0.2 * np.sin(x / 11.0)


def twisted(x: Floats, y: Floats) -> Floats:
    return 100.0 + 0.0025 * (x - 30.0) * (y - 10.0) - 0.03 * y + 0.3 * np.sin(x / 11.0)


def design(folder: Path, section: str, height=rolling, **more) -> BedDesign:
    site = write_site(folder, section, height, **more)
    return design_bed(site, build_ground(site).surface)


def test_raised_bed_on_level_ground_is_a_frustum(tmp_path: Path) -> None:
    # hand-derived: 20 x 60 top, 3:1 out, 2 ft deep: (1200 + 4 x 26 x 66 + 32 x 72) / 6 x 2 = 3,456
    bed = design(tmp_path, f'sand = 2.0\ncorner = "hip"\n{LEVEL}', flat)
    assert volume_of(bed.pieces, "stripped", "sand").fill == pytest.approx(3456.0, rel=1e-9)
    assert bed.footprint.area == pytest.approx(32.0 * 72.0, rel=1e-6)
    assert bed.grade.elevation(np.array(((5030.0, 9010.0),))) == pytest.approx(102.0)


def test_dig_with_sloped_sides_filled_back(tmp_path: Path) -> None:
    # hand-derived: 2 ft dug with sides of 1.5:1, filled to the ground: an upside-down frustum
    hip = f'strip = 2.0\nsand = 2.0\ncorner = "hip"\n{LEVEL}'
    bed = design(tmp_path, hip, flat)
    dug = 2.0 / 6.0 * (20 * 60 + 4 * 23 * 63 + 26 * 66)
    assert volume_of(bed.pieces, "ground", "stripped").cut == pytest.approx(dug, rel=1e-8)
    assert volume_of(bed.pieces, "stripped", "sand").fill == pytest.approx(dug, rel=1e-8)
    assert volume_of(bed.pieces, "ground", "finished").net == pytest.approx(0.0, abs=1e-5)
    wider = design(tmp_path, f"dig_beyond = 3.0\n{hip}", flat)
    dug = 2.0 / 6.0 * (26 * 66 + 4 * 29 * 69 + 32 * 72)
    assert volume_of(wider.pieces, "ground", "stripped").cut == pytest.approx(dug, rel=1e-8)
    # with round corners: wedges 160 x 3 x 2 / 2 along the sides and a cone pi (1.5 h)^2 h / 3
    bed = design(tmp_path, hip.replace("hip", "round"), flat)
    dug = 2400.0 + 480.0 + np.pi * 9.0 * 2.0 / 3.0
    assert volume_of(bed.pieces, "ground", "stripped").cut == pytest.approx(dug, rel=2e-5)
    assert bed.daylight.area == pytest.approx(1200.0, rel=1e-6)


def test_strip_goes_out_to_the_daylight_line(tmp_path: Path) -> None:
    # hand-derived: 0.5 ft off all of the 32 x 72 ft that the frustum covers
    bed = design(tmp_path, f'strip = 0.5\nsand = 2.5\ncorner = "hip"\n{LEVEL}', flat)
    assert volume_of(bed.pieces, "ground", "stripped").cut == pytest.approx(1152.0, rel=1e-9)
    assert volume_of(bed.pieces, "stripped", "sand").fill == pytest.approx(4608.0, rel=1e-9)
    assert volume_of(bed.pieces, "ground", "finished").fill == pytest.approx(3456.0, rel=1e-9)


def test_bed_cut_into_level_ground_has_back_slopes(tmp_path: Path) -> None:
    # hand-derived: the top 2 ft below the ground, sides rising 3:1 out of it
    section = f'{LEVEL}elevation = 98.0\ndeepen = true\ncorner = "hip"\n'
    bed = design(tmp_path, section, flat)
    assert volume_of(bed.pieces, "ground", "finished").cut == pytest.approx(3456.0, rel=1e-9)
    assert volume_of(bed.pieces, "ground", "stripped").cut == pytest.approx(3456.0, rel=1e-9)


@pytest.mark.parametrize(
    ("section", "height"),
    [
        (f'strip = 0.5\nsand = 1.0\ngrade = "follow"\nshoulder = 3.0\n{TOPSOIL}', rolling),
        (f"strip = 0.4\nsand = 0.8\n{LEVEL}elevation = 100.0\ndeepen = true\n{TOPSOIL}", twisted),
        (f'strip_to = 99.5\nsand = 0.7\ngrade = "fit"\nmax_slope = 0.05\n{TOPSOIL}', rolling),
    ],
)
def test_what_goes_in_and_comes_out_balances(tmp_path: Path, section: str, height) -> None:
    bed = design(tmp_path, section, height)
    out = volume_of(bed.pieces, "ground", "stripped").cut
    in_ = sum(volume_of(bed.pieces, layer.lower, layer.upper).fill for layer in bed.layers)
    whole = volume_of(bed.pieces, "ground", "finished")
    assert whole.net == pytest.approx(in_ - out, rel=1e-9, abs=1e-6)
    levels = ["stripped", *(layer.upper for layer in bed.layers)]
    z = [bed.pieces.levels[name] for name in levels]
    for low, high in pairwise(z):
        assert (high - low).min() > -1e-8
    assert (bed.pieces.levels["ground"] - bed.pieces.levels["stripped"]).min() > -1e-8
    assert bed.pieces.areas.sum() == pytest.approx(bed.footprint.area, rel=1e-5)
    # the same volumes between the surfaces, by the overlay of their own triangles
    surfaces = bed.surfaces
    again = volume_between(surfaces["ground"], surfaces["finished"])
    assert again.net == pytest.approx(whole.net, rel=1e-5)


def test_side_slopes_fall_and_rise_at_their_slope_and_end_on_the_ground(tmp_path: Path) -> None:
    section = f"strip = 0.4\nsand = 0.8\n{LEVEL}elevation = 99.6\ndeepen = true\n{TOPSOIL}"
    bed = design(tmp_path, section, twisted)
    finished, ground = bed.surfaces["finished"], build_ground(bed.site).surface
    rim = shapely.get_coordinates(bed.footprint.exterior.segmentize(0.5))
    on_rim = finished.elevation(rim)
    seen = ~np.isnan(on_rim)
    assert seen.mean() > 0.3
    assert on_rim[seen] == pytest.approx(ground.elevation(rim)[seen], abs=2e-3)
    outside = bed.pieces.where(~shapely.contains_xy(bed.inner, bed.pieces.centres))
    z = outside.levels
    moved = np.abs(z["finished"] - z["ground"]).max(axis=1) > 1e-6
    slope = finished.slope(outside.centres[moved])
    # the edge is level, so every face stands at 3:1, in fill and in cut
    assert slope == pytest.approx(np.full(moved.sum(), 1.0 / 3.0), abs=1e-4)
    lift = (z["finished"] - z["ground"])[moved]
    assert lift.max() > 0.3
    assert lift.min() < -0.3


def test_stripping_down_to_an_elevation_and_to_a_surface(tmp_path: Path) -> None:
    sloping = 'strip_to = 99.0\nsand = 1.0\ngrade = "plane"\nstrike = 90.0\ndip = 0.0\n'

    def hill(x: Floats, y: Floats) -> Floats:
        return 99.0 + 0.05 * (y - 10.0)

    bed = design(tmp_path, sloping, hill)
    inside = bed.inside.levels
    assert inside["stripped"] == pytest.approx(np.minimum(inside["ground"], 99.0), abs=1e-9)
    # hand-derived: over half of the bed a wedge 10 ft wide and up to 0.5 ft deep comes out
    assert volume_of(bed.inside, "ground", "stripped").cut == pytest.approx(0.5 * 10 * 0.5 * 60)
    rows = [f"{i},{9000 + y},{5000 + x},{98.5 + 0.01 * x}" for i, (x, y) in
            enumerate(((-30, -30), (90, -30), (90, 50), (-30, 50)), 1)]  # fmt: skip
    tmp_path.joinpath("floor.csv").write_text("\n".join(rows) + "\n")
    bed = design(tmp_path, 'strip_to_surface = "floor.csv"\nsand = 1.0\ngrade = "follow"', hill)
    floor = 98.5 + 0.01 * (bed.inside.xy[..., 0] - 5000.0)
    expected = np.minimum(bed.inside.levels["ground"], floor)
    assert bed.inside.levels["stripped"] == pytest.approx(expected, abs=1e-8)


def test_least_sand_is_kept_and_just_reached(tmp_path: Path) -> None:
    for number, grade in enumerate(
        ('"follow"', '"fit"\nmax_slope = 0.1', '"plane"\nstrike = 90\ndip = 0.05')
    ):
        section = f"strip = 0.5\nsand = 1.0\ntubing_height = -0.2\n{TOPSOIL}grade = {grade}\n"
        bed = design(tmp_path / str(number), section)
        assert bed.sand_under_tubing().min() == pytest.approx(1.0, abs=1e-8)
        assert bed.cover_depth == pytest.approx(0.7)


def test_laterals_lie_on_the_top_of_sand(tmp_path: Path) -> None:
    site = write_site(
        tmp_path, f"strip = 0.5\nsand = 1.0\n{LEVEL}dip = 0.04".replace("dip = 0.0\n", ""), rolling
    )
    ground = build_ground(site).surface
    bed = design_bed(site, ground)
    laid_on = laying_surface(site, ground)
    xy = shapely.get_coordinates(site.bed.open_area(1.0).segmentize(2.0))
    assert laid_on.elevation(xy) == pytest.approx(bed.surfaces["sand"].elevation(xy), abs=1e-7)
    assert laid_on.outline.contains(site.bed.boundary)
    raised = f'{TOPSOIL}sand = 1.0\ntubing_height = 0.25\ngrade = "follow"'
    bed = design(tmp_path, raised)
    tubing = bed.surfaces["tubing"]
    assert tubing.elevation(xy) == pytest.approx(bed.grade.elevation(xy) + 0.25, abs=1e-7)


def test_tubing_in_the_ground_as_it_is(tmp_path: Path) -> None:
    site = write_site(tmp_path, 'grade = "ground"\ntubing_height = -0.67', rolling)
    ground = build_ground(site).surface
    assert laying_surface(site, ground).surface is ground
    bed = design_bed(site, ground)
    assert bed.footprint.equals(bed.inner)
    assert volume_of(bed.pieces, "ground", "finished").area == pytest.approx(1200.0)
    assert volume_of(bed.pieces, "ground", "finished").net == 0.0
    assert bed.cover_depth == pytest.approx(0.67)
    xy = np.array(((5020.0, 9010.0), (5041.3, 9004.4)))
    assert bed.surfaces["tubing"].elevation(xy) == pytest.approx(ground.elevation(xy) - 0.67)


def test_shoulder_is_counted_from_the_tubing(tmp_path: Path) -> None:
    bed = design(tmp_path, f"sand = 1.0\nshoulder = 4.0\n{LEVEL}", flat)
    # tubing keeps 1 ft from the edge, so the shoulder's edge lies 3 ft outside the ring
    assert bed.inner.bounds == pytest.approx((4997.0, 8997.0, 5063.0, 9023.0))
    assert bed.tubing_area.distance(bed.inner.exterior) == pytest.approx(4.0)


def test_bed_with_an_inward_corner(tmp_path: Path) -> None:
    # hand-derived: an L of 40 x 40 less 20 x 20, 1 ft high, 2:1 sides; the mitred offsets at depth
    # h are an L whose outer sides grow by 4h and whose notch shrinks by 2h on two sides
    ring = ((0.0, 0.0), (40.0, 0.0), (40.0, 20.0), (20.0, 20.0), (20.0, 40.0), (0.0, 40.0))
    section = f'sand = 1.0\nside_slope = 2.0\ncorner = "hip"\n{LEVEL}'
    bed = design(tmp_path, section, flat, ring=ring)

    def area(h: float) -> float:
        return (40.0 + 4.0 * h) ** 2 - 20.0**2

    expected = (area(0.0) + 4.0 * area(0.5) + area(1.0)) / 6.0
    assert volume_of(bed.pieces, "ground", "finished").fill == pytest.approx(expected, rel=1e-8)
    # round: five outward corners of a quarter turn, each a quarter of a cone less than its hip
    round_ = design(tmp_path, section.replace("hip", "round"), flat, ring=ring)
    less = 5.0 * (4.0 / 3.0 - np.pi * 4.0 / 12.0)
    assert volume_of(round_.pieces, "ground", "finished").fill == pytest.approx(
        expected - less, rel=1e-5
    )


def test_tilted_bed_has_faces_of_the_true_slope(tmp_path: Path) -> None:
    # hand-derived: bed and ground fall 10 %, the bed 1 ft up. Square to a side that falls 0.1 along
    # itself, a face of 1/3 falls sqrt(1/9 - 0.01) = 0.318: it meets ground falling 0.1 along the
    # side too after 1 / 0.318 = 3.145 ft, not 3
    bed = design(
        tmp_path, 'sand = 1.0\ngrade = "plane"\nstrike = 90\ndip = 0.1', lambda x, y: 100 + 0.1 * y
    )
    away = 1.0 / np.sqrt(1.0 / 9.0 - 0.01)
    across = shapely.LineString(((4900.0, 9010.0), (5160.0, 9010.0)))
    low, _, high, _ = bed.daylight.intersection(across).bounds
    assert (low, high) == pytest.approx((5000.0 - away, 5060.0 + away), abs=1e-3)
    # down the slope the face closes on the ground by 1/3 - 0.1, up it by 1/3 + 0.1
    down = shapely.LineString(((5030.0, 8900.0), (5030.0, 9100.0)))
    _, low, _, high = bed.daylight.intersection(down).bounds
    expected = (9000.0 - 1.0 / (1.0 / 3.0 - 0.1), 9020.0 + 1.0 / (1.0 / 3.0 + 0.1))
    assert (low, high) == pytest.approx(expected, abs=1e-3)
    outside = bed.beyond.surface("finished")
    assert outside.slope(bed.beyond.centres) == pytest.approx(
        np.full(len(bed.beyond), 1.0 / 3.0), abs=1e-4
    )


@pytest.mark.parametrize("corner", ["round", "hip"])
def test_volume_is_that_of_a_dense_grid(tmp_path: Path, corner: str) -> None:
    # the definition on a grid of 0.1 ft, by the rule of midpoints, against the exact overlay
    section = f"sand = 1.2\n{LEVEL}elevation = 101.0\ndeepen = true\ncorner = '{corner}'\n"
    bed = design(tmp_path, section.replace("dip = 0.0", "dip = 0.05"), gently, around=60.0)
    ground = build_ground(bed.site).surface
    low, high = np.array(bed.daylight.bounds).reshape(2, 2)
    x, y = (np.arange(low[k] - 1.0, high[k] + 1.0, 0.1) + 0.05 for k in (0, 1))
    xy = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    z = ground.elevation(xy)
    near = xy - (5000.0, 9000.0)
    # the plane falls 0.05 to the east from 101.0 at the middle: it climbs along the long sides
    corners = np.array(((0, 0), (60, 0), (60, 20), (0, 20)), dtype=float)
    ring = np.column_stack((corners, 101.0 - 0.05 * (corners[:, 0] - 30.0)))
    fall, rise = np.full(len(xy), -np.inf), np.full(len(xy), np.inf)
    inside = ((near >= 0.0) & (near <= (60.0, 20.0))).all(axis=1)
    if corner == "round":
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            for q in a + np.linspace(0.0, 1.0, 150)[:, None] * (b - a):
                away = np.hypot(*(near - q[:2]).T)
                fall = np.maximum(fall, q[2] - away / 3.0)
                rise = np.minimum(rise, q[2] + away / 3.0)
    else:  # outside a convex ring the planes of its sides, each the true slope: the lowest of them
        fall, rise = np.full(len(xy), np.inf), np.full(len(xy), -np.inf)
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            along = (b - a)[:2] / np.hypot(*(b - a)[:2])
            out = (near - a[:2]) @ np.array((along[1], -along[0]))
            base = a[2] + (near - a[:2]) @ along * (b - a)[2] / np.hypot(*(b - a)[:2])
            climb = (b - a)[2] / np.hypot(*(b - a)[:2])
            fall = np.minimum(fall, base - out * np.sqrt(1.0 / 9.0 - climb**2))
            rise = np.maximum(rise, base + out * np.sqrt(1.0 / 9.0 - climb**2))
    finished = np.clip(z, fall, rise)
    finished[inside] = (101.0 - 0.05 * (near[:, 0] - 30.0))[inside]
    part = shapely.contains_xy(bed.daylight, xy)  # the ground passes a face again far off
    lift = (finished - z)[part]
    exact = volume_of(bed.pieces, "ground", "finished")
    assert lift[lift > 0].sum() * 0.01 == pytest.approx(exact.fill, rel=2e-3)
    assert -lift[lift < 0].sum() * 0.01 == pytest.approx(exact.cut, rel=2e-3, abs=0.2)


def write_keepout(folder: Path, size: float) -> None:
    folder.mkdir(exist_ok=True)
    low, high = 10.0 - 0.5 * size, 10.0 + 0.5 * size
    ring = ((low, 20 + low), (low, 20 + high), (high, 20 + high), (high, 20 + low))
    rows = [f"{9000 + n},{5000 + e}" for n, e in ring]
    folder.joinpath("rock.csv").write_text("\n".join(("northing,easting", *rows)) + "\n")


def with_keepout(folder: Path, size: float, section: str) -> BedDesign:
    write_keepout(folder, size)
    write_site(folder, section, flat)
    text = (folder / "site.toml").read_text()
    text = text.replace('boundary = "bed.csv"', 'boundary = "bed.csv"\nkeepouts = ["rock.csv"]')
    (folder / "site.toml").write_text(text)
    site = read_site(folder)
    return design_bed(site, build_ground(site).surface)


def test_keepout_is_kept_with_slopes_of_its_own_or_graded_over(tmp_path: Path) -> None:
    # hand-derived: a bed 1 ft up with a hole of 10 x 10 that the slopes of 3:1 close to 4 x 4: of
    # a prism 1 ft high over it (100 + 4 x 49 + 16) / 6 = 52 ft3 stay open
    section = f"sand = 1.0\n{LEVEL}"
    whole = design(tmp_path / "whole", section, flat)
    fill = volume_of(whole.pieces, "ground", "finished").fill
    kept = with_keepout(tmp_path / "kept", 10.0, section)
    assert volume_of(kept.pieces, "ground", "finished").fill == pytest.approx(fill - 52.0, rel=1e-6)
    assert kept.daylight.area == pytest.approx(whole.daylight.area - 16.0, rel=1e-6)
    assert bed_remarks(kept) == (
        "keepout 1 is kept, with slopes of its own: 16% of it stays as it is",
    )
    over = with_keepout(tmp_path / "over", 10.0, f'keepouts = "graded over"\n{section}')
    assert volume_of(over.pieces, "ground", "finished").fill == pytest.approx(fill, rel=1e-9)
    assert bed_remarks(over) == ("keepout 1 is graded over: filled or cut like the bed round it",)
    with pytest.raises(InputError) as caught:
        with_keepout(tmp_path / "small", 5.0, section)
    assert str(caught.value) == (
        "site.toml, [bed.section] keepouts: keepout 1 about N 9010.0, E 5030.0 is buried: the "
        "slopes round it close over it; draw its ring larger by the run of the slopes, or write "
        'keepouts = "graded over"'
    )


def test_shoulder_as_steep_as_its_face_is_refused(tmp_path: Path) -> None:
    # hand-derived: an edge that climbs 0.35 along itself, against faces of 1/3
    with pytest.raises(InputError) as caught:
        design(
            tmp_path,
            'sand = 1.0\ngrade = "plane"\nstrike = 90\ndip = 0.35',
            lambda x, y: 100 + 0.35 * y,
        )
    assert str(caught.value) == (
        "site.toml, [bed.section] side_slope: the shoulder's edge climbs at 35% about N 9010.0, "
        "E 5060.0, no less than the faces, 1 in 3; give a smaller side_slope, below 2.85, or a "
        "flatter grade"
    )


def test_side_slopes_of_another_material(tmp_path: Path) -> None:
    # hand-derived: inside 20 x 60 x 2 of sand; beyond it the frustum's other 1,056 ft3
    bed = design(
        tmp_path, f'sand = 2.0\ncorner = "hip"\nside_material = "common fill"\n{LEVEL}', flat
    )
    rows = {row.material: row.volume.fill for row in take_off(bed)}
    assert rows["sand"] == pytest.approx(2400.0, rel=1e-9)
    assert rows["common fill"] == pytest.approx(1056.0, rel=1e-9)


def test_toe_shoulder_and_surface_of_the_finished_grade(tmp_path: Path) -> None:
    section = f'strip = 0.5\nsand = 1.0\ngrade = "follow"\nshoulder = 3.0\n{TOPSOIL}'
    bed = design(tmp_path, section)
    ground = build_ground(bed.site).surface
    surface = finished_surface(bed)
    exact = volume_of(bed.pieces, "ground", "finished")
    assert volume_between(ground, surface).fill == pytest.approx(exact.fill, rel=1e-6)
    assert surface.outline.symmetric_difference(bed.daylight).area < 0.05
    edges = np.sort(surface.triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    assert np.unique(edges, axis=0, return_counts=True)[1].max() == 2  # corner to corner
    toe, shoulder = grade_lines(bed, ground, 10.0)
    assert (toe.kind, shoulder.kind) == ("toe", "shoulder")
    assert toe.xyz[:, 2] == pytest.approx(ground.elevation(toe.xyz[:, :2]), abs=1e-9)
    ring = shapely.LinearRing(toe.xyz[:, :2])
    assert shapely.hausdorff_distance(ring, bed.daylight.exterior) < 0.021
    steps = np.hypot(*np.diff(toe.xyz[:, :2], axis=0).T)
    assert steps.max() < 10.0 + 1e-9
    grade = bed.grade.elevation(shoulder.xyz[:, :2]) + 0.5
    assert shoulder.xyz[:, 2] == pytest.approx(grade, abs=1e-3)


def test_state_plane_coordinates_change_nothing(tmp_path: Path) -> None:
    section = f'strip = 0.5\nsand = 1.0\ngrade = "follow"\n{TOPSOIL}'
    near = design(tmp_path / "near", section)
    far = design(tmp_path / "far", section, at=(2_345_000.0, 6_789_000.0))
    one, two = (volume_of(bed.pieces, "ground", "finished").fill for bed in (near, far))
    assert one == pytest.approx(two, rel=1e-5)
