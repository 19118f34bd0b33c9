"""A bed's levels: what they enclose, how they lie to each other, where they meet the ground."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from bed_sites import write_site

from dripfield.bed.design import BedDesign, design_bed, laying_surface
from dripfield.bed.volumes import volume_between, volume_of
from dripfield.core.arrays import Floats
from dripfield.ground.ground import build_ground

LEVEL = 'grade = "plane"\nstrike = 0.0\ndip = 0.0\n'
TOPSOIL = 'cover = [{ name = "topsoil", depth = 0.5 }]\n'


def flat(x: Floats, y: Floats) -> Floats:
    return 100.0 + 0.0 * x


def rolling(x: Floats, y: Floats) -> Floats:
    return 100.0 + 0.08 * y + 0.02 * x + 0.3 * np.sin(x / 9.0) * np.cos(y / 7.0)


def twisted(x: Floats, y: Floats) -> Floats:
    return 100.0 + 0.0025 * (x - 30.0) * (y - 10.0) - 0.03 * y + 0.3 * np.sin(x / 11.0)


def design(folder: Path, section: str, height=rolling, **more) -> BedDesign:
    site = write_site(folder, section, height, **more)
    return design_bed(site, build_ground(site).surface)


def test_raised_bed_on_level_ground_is_a_frustum(tmp_path: Path) -> None:
    # hand-derived: 20 x 60 top, 3:1 out, 2 ft deep: (1200 + 4 x 26 x 66 + 32 x 72) / 6 x 2 = 3,456
    bed = design(tmp_path, f"sand = 2.0\n{LEVEL}", flat)
    assert volume_of(bed.pieces, "stripped", "sand").fill == pytest.approx(3456.0, rel=1e-9)
    assert bed.footprint.area == pytest.approx(32.0 * 72.0, rel=1e-6)
    assert bed.grade.elevation(np.array(((5030.0, 9010.0),))) == pytest.approx(102.0)


def test_dig_with_sloped_sides_filled_back(tmp_path: Path) -> None:
    # hand-derived: 2 ft dug with sides of 1.5:1, filled to the ground: an upside-down frustum
    bed = design(tmp_path, f"strip = 2.0\nsand = 2.0\n{LEVEL}", flat)
    dug = 2.0 / 6.0 * (20 * 60 + 4 * 23 * 63 + 26 * 66)
    assert volume_of(bed.pieces, "ground", "stripped").cut == pytest.approx(dug, rel=1e-8)
    assert volume_of(bed.pieces, "stripped", "sand").fill == pytest.approx(dug, rel=1e-8)
    assert volume_of(bed.pieces, "ground", "finished").net == pytest.approx(0.0, abs=1e-5)
    wider = design(tmp_path, f"strip = 2.0\nsand = 2.0\ndig_beyond = 3.0\n{LEVEL}", flat)
    dug = 2.0 / 6.0 * (26 * 66 + 4 * 29 * 69 + 32 * 72)
    assert volume_of(wider.pieces, "ground", "stripped").cut == pytest.approx(dug, rel=1e-8)


def test_bed_cut_into_level_ground_has_back_slopes(tmp_path: Path) -> None:
    # hand-derived: the top 2 ft below the ground, sides rising 3:1 out of it
    section = f"{LEVEL}elevation = 98.0\ndeepen = true\n"
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
    assert laying_surface(site, ground) is ground
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
    bed = design(tmp_path, f"sand = 1.0\nside_slope = 2.0\n{LEVEL}", flat, ring=ring)

    def area(h: float) -> float:
        return (40.0 + 4.0 * h) ** 2 - 20.0**2

    expected = (area(0.0) + 4.0 * area(0.5) + area(1.0)) / 6.0
    assert volume_of(bed.pieces, "ground", "finished").fill == pytest.approx(expected, rel=1e-8)


def test_state_plane_coordinates_change_nothing(tmp_path: Path) -> None:
    section = f'strip = 0.5\nsand = 1.0\ngrade = "follow"\n{TOPSOIL}'
    near = design(tmp_path / "near", section)
    far = design(tmp_path / "far", section, at=(2_345_000.0, 6_789_000.0))
    one, two = (volume_of(bed.pieces, "ground", "finished").fill for bed in (near, far))
    assert one == pytest.approx(two, rel=1e-5)
