"""Shots on the raked bed: differences, zones to rake, laterals, pass and fail."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from bed_sites import write_shots, write_site

from dripfield.bed.check import BedCheck, check_bed, read_shots, with_laterals
from dripfield.bed.check_verdict import judge, shown_over
from dripfield.bed.design import design_bed
from dripfield.bed.shot_cover import cover_of, enough_shots
from dripfield.core.arrays import Floats
from dripfield.core.units import Unit
from dripfield.ground.ground import build_ground
from dripfield.layout.model import Lateral, Layout
from dripfield.sheets.bed.check_map import hundredths
from dripfield.site.model import Site

SECTION = """\
sand = 1.0
deepen = true
grade = "plane"
strike = 90.0
dip = 0.02
elevation = 100.0
rake_tolerance = 0.05
cover = [{ name = "topsoil", depth = 0.5 }]
"""


def site_in(folder: Path, section: str = SECTION) -> Site:
    return write_site(folder, section, lambda x, y: 99.0 + 0.02 * (y - 10.0))


def grid(step: float = 2.0) -> Floats:
    """Shots all over the bed, on its design plane."""
    x, y = (
        part.ravel() for part in np.meshgrid(np.arange(0, 60.1, step), np.arange(0, 20.1, step))
    )
    return np.column_stack((5000.0 + x, 9000.0 + y, 100.0 + 0.02 * (y - 10.0)))


def check(folder: Path, shots: Floats, site: Site | None = None, level: str = "sand") -> BedCheck:
    site = site or site_in(folder)
    write_shots(folder / "raked.csv", shots)
    return check_bed(
        site, build_ground(site).surface, read_shots(site, folder / "raked.csv"), level
    )


def word(result: BedCheck) -> str:
    return judge(result, Unit.FOOT).word


def test_bed_on_its_design_passes(tmp_path: Path) -> None:
    result = check(tmp_path, grid())
    assert word(result) == "pass"
    assert result.share_within == 1.0
    assert result.rms == pytest.approx(0.0, abs=1e-9)
    assert result.covered == pytest.approx(1.0)
    assert result.zones == ()
    assert judge(result, Unit.FOOT).reasons == ("all 341 shots lie within 0.05 ft of the design",)


def test_figures_of_known_differences(tmp_path: Path) -> None:
    # hand-derived: four shots +0.03, -0.04, +0.06, 0: rms sqrt(0.0061 / 4), 3 of 4 within 0.05
    shots = grid()[[45, 110, 200, 290]]
    shots[:, 2] += (0.03, -0.04, 0.06, 0.0)
    result = check(tmp_path, shots)
    assert result.difference == pytest.approx((0.03, -0.04, 0.06, 0.0), abs=1e-9)
    assert result.ok.tolist() == [True, True, False, True]
    assert result.rms == pytest.approx(np.sqrt(0.0061 / 4.0))
    assert result.mean == pytest.approx(0.0125)
    assert result.share_within == 0.75
    assert result.worst == 2
    answer = judge(result, Unit.FOOT)
    assert answer.word == "fail"  # what is off is off, however little was shot
    assert answer.reasons[0] == (
        "3 of 4 shots lie within 0.05 ft of the design; the worst, 3, is 0.06 ft high"
    )
    loose = site_in(tmp_path / "loose", SECTION + "rake_share = 0.75\n")
    assert word(check(tmp_path / "loose", shots, loose)) == "not proven"


def test_shot_just_at_the_tolerance_is_within(tmp_path: Path) -> None:
    shots = grid()
    shots[100, 2] += 0.05
    assert word(check(tmp_path, shots)) == "pass"
    shots[100, 2] += 0.0002
    answer = judge(check(tmp_path, shots), Unit.FOOT)
    assert answer.word == "fail"
    # one more decimal where two would show 0.05 against 0.05
    assert answer.reasons[0].endswith("the worst, 101, is 0.0502 ft high")
    assert (shown_over(0.0502, 0.05, 2), shown_over(0.07, 0.05, 2)) == ("0.0502", "0.07")
    assert shown_over(0.0549, 0.05, 2) == "0.055"


@pytest.mark.parametrize(
    "kept",
    [
        lambda x, y: (x == 30.0) & (y == 10.0),  # one shot
        lambda x, y: (x + y <= 3.0) & (x * y == 0.0),  # three in a corner
        lambda x, y: x <= 30.0,  # half of the bed
        lambda x, y: y <= 10.0,
        lambda x, y: np.hypot(x - 40.0, y - 10.0) > 8.0,  # a hole in the middle
        lambda x, y: (x % 6.0 == 0.0) & (y % 6.0 == 0.0),  # a grid too wide
    ],
)
def test_too_little_shot_is_not_proven(tmp_path: Path, kept) -> None:
    shots = grid(1.0 if kept(np.array((1.0,)), np.array((0.0,))).any() else 2.0)
    shots = shots[kept(shots[:, 0] - 5000.0, shots[:, 1] - 9000.0)]
    assert len(shots)
    answer = judge(check(tmp_path, shots), Unit.FOOT)
    assert answer.word == "not proven"
    assert answer.reasons
    assert answer.measure_more
    # and with the places asked for it is enough
    asked = np.array([(p.easting, p.northing) for p in answer.measure_more])
    more = np.column_stack((asked, 100.0 + 0.02 * (asked[:, 1] - 9010.0)))
    assert word(check(tmp_path, np.vstack((shots, more)))) == "pass"


@pytest.mark.parametrize("units", ["ft", "m"])
@pytest.mark.parametrize("shift", [(0.1, 0.1), (1.5, 1.0), (2.9, 2.9), (0.1, 2.9)])
@pytest.mark.parametrize("turn", [0.0, 20.0, 45.0])
def test_a_rake_grid_over_the_whole_bed_is_enough(
    tmp_path: Path, units: str, shift: tuple[float, float], turn: float
) -> None:
    # 3 ft (1 m) between shots, in any direction, with any distance of the first row from the edge
    step = 3.0 if units == "ft" else 1.0
    ring = ((0.0, 0.0), (60.0, 0.0), (60.0, 20.0), (0.0, 20.0))
    area = np.array(ring) * (1.0 if units == "ft" else 0.3)
    enough = enough_shots(None, Unit(units))
    u, v = np.meshgrid(np.arange(-90.0, 90.0, step), np.arange(-90.0, 90.0, step))
    points = np.column_stack((u.ravel(), v.ravel())) + np.array(shift) * step / 3.0
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    points = points @ np.array(((c, s), (-s, c)))
    bed = shapely.Polygon(area)
    cover = cover_of(points[shapely.contains_xy(bed, points)], bed, enough)
    assert len(cover.wanted) == 0
    assert cover.within_reach >= enough.share
    assert cover.area_a_shot <= enough.area


def test_no_shot_may_be_off_by_more_than_the_worst_allowed(tmp_path: Path) -> None:
    shots = grid()
    site = site_in(tmp_path, SECTION + "rake_share = 0.95\n")
    shots[100, 2] += 0.15  # left out: three times the tolerance of 0.05
    assert word(check(tmp_path, shots, site)) == "pass"
    shots[100, 2] += 0.001
    answer = judge(check(tmp_path, shots, site), Unit.FOOT)
    assert answer.reasons == (
        "the worst shot, 101, is 0.151 ft high: none may be off by more than 0.15 ft",
    )
    wide = site_in(tmp_path / "wide", SECTION + "rake_share = 0.95\nrake_worst = 0.2\n")
    assert word(check(tmp_path / "wide", shots, wide)) == "pass"


def test_two_shots_at_one_place(tmp_path: Path) -> None:
    shots = grid()
    twice = np.vstack((shots, shots[50] + (0.0, 0.0, 0.04)))
    result = check(tmp_path, twice)
    assert word(result) == "pass"
    assert len(result.places.xyz) == 341
    twice[-1, 2] += 0.02
    answer = judge(check(tmp_path, twice), Unit.FOOT)
    assert answer.word == "not proven"
    assert answer.reasons == (
        "shots 51 and 342 at one place are 0.06 ft apart in height: neither counts",
    )
    (place,) = answer.measure_more
    assert (place.easting, place.northing) == pytest.approx(tuple(shots[50, :2]))


def test_one_cause_is_named(tmp_path: Path) -> None:
    # hand-derived: all 1.00 high but one blunder of 5 ft, which sets neither shift nor tilt
    shots = grid()
    shots[:, 2] += 1.0
    shots[7, 2] += 5.0
    answer = judge(check(tmp_path, shots), Unit.FOOT)
    assert answer.word == "fail"
    assert answer.reasons[-1] == (
        "340 of 341 within 0.05 ft once 1.00 ft is taken off: benchmark, or shots on the finished "
        "grade (cover 0.50)?"
    )
    tilted = grid()
    tilted[:, 2] += 0.2 + 0.01 * (tilted[:, 0] - 5030.0)
    tilted[7, 2] += 5.0
    answer = judge(check(tmp_path, tilted), Unit.FOOT)
    assert answer.reasons[-1] == (
        "340 of 341 within 0.05 ft once a tilt of 1.00 % up to the east and 0.20 ft high in the "
        "middle are taken off: an instrument out of level, or another plane than the design's?"
    )
    few = grid()
    few[:40, 2] += 1.0
    assert check(tmp_path, few).cause is None


def test_zones_that_chords_make_say_so(tmp_path: Path) -> None:
    # a crowned design shot at its edges only: the lines between the shots pass under the crown
    section = SECTION.replace('"plane"', '"follow"').replace("strike = 90.0\ndip = 0.02\n", "")
    section = section.replace("elevation = 100.0\n", "rise = 1.0\nsmoothing = 4.0\n")
    site = write_site(tmp_path, section, lambda x, y: 99.0 - 0.004 * (y - 10.0) ** 2, step=5.0)
    x = np.arange(0.5, 60.0, 2.0)
    edges = [np.column_stack((5000.0 + x, np.full_like(x, 9000.0 + y))) for y in (0.5, 19.5)]
    xy = np.concatenate(edges)
    design = design_bed(site, build_ground(site).surface).inside.surface("sand")
    shots = np.column_stack((xy, design.elevation(xy)))
    result = check(tmp_path, shots, site)
    assert result.zones
    assert all(zone.chord > 15.0 for zone in result.zones)
    answer = judge(result, Unit.FOOT)
    assert answer.word == "not proven"
    assert any("drawn by lines between shots" in place.why for place in answer.measure_more)


def test_hump_is_found_with_its_volume(tmp_path: Path) -> None:
    # hand-derived: one shot 0.30 high in a grid of 2 ft; within its triangles the hump is a pyramid
    # of base A and volume A h / 3; above 0.05 stands the part scaled by (0.25/0.30)
    shots = grid()
    middle = int(np.argmin(np.hypot(shots[:, 0] - 5030.0, shots[:, 1] - 9010.0)))
    shots[middle, 2] += 0.30
    result = check(tmp_path, shots)
    (zone,) = result.zones
    assert zone.high
    assert zone.worst == pytest.approx(0.30)
    assert zone.worst_xy == pytest.approx((5030.0, 9010.0))
    base = result.volume.cut * 3.0 / 0.30
    triangles = base / 2.0  # of 2 ft2 each, as many as meet at the shot
    assert triangles == pytest.approx(round(triangles), rel=1e-6)
    assert 4 <= round(triangles) <= 8
    share = 0.25 / 0.30
    assert zone.area.area == pytest.approx(base * share**2, rel=1e-4)
    pyramid = base * share**2 * (0.05 + 0.25 / 3.0)
    assert zone.volume == pytest.approx(pyramid, rel=1e-6)
    assert result.volume.fill == pytest.approx(0.0, abs=1e-6)


def test_highs_and_lows_are_apart(tmp_path: Path) -> None:
    shots = grid()
    x = shots[:, 0] - 5000.0
    shots[:, 2] += np.where(x < 20.0, 0.10, np.where(x > 40.0, -0.20, 0.0))
    result = check(tmp_path, shots)
    low, high = result.zones
    assert (low.name, low.high, low.worst) == ("Z1", False, pytest.approx(-0.20))
    assert (high.name, high.high, high.worst) == ("Z2", True, pytest.approx(0.10))
    # hand-derived: 20 ft wide; the ramp of 2 ft between shots adds its own part
    assert result.volume.fill == pytest.approx(20.0 * (18.0 * 0.20 + 2.0 * 0.10), rel=1e-6)
    assert result.volume.cut == pytest.approx(20.0 * (18.0 * 0.10 + 2.0 * 0.05), rel=1e-6)


def test_shots_outside_the_bed_are_not_judged(tmp_path: Path) -> None:
    shots = np.vstack((grid(), (4990.0, 9010.0, 55.0)))
    result = check(tmp_path, shots)
    assert word(result) == "pass"
    assert not result.inside[-1]
    assert np.isnan(result.difference[-1])


def test_finished_grade_and_stripped_ground_can_be_checked(tmp_path: Path) -> None:
    above, below = grid(), grid()
    above[:, 2] += 0.5
    below[:, 2] -= 1.0
    assert word(check(tmp_path, above, level="finished")) == "pass"
    assert word(check(tmp_path, below, level="stripped")) == "pass"
    assert word(check(tmp_path, above, level="sand")) == "fail"


def test_site_without_a_section_is_checked_against_its_ground(tmp_path: Path) -> None:
    site = site_in(tmp_path)
    text = (tmp_path / "site.toml").read_text()
    before, after = text.index("[bed.section]"), text.index("[layout]")
    (tmp_path / "site.toml").write_text(text[:before] + text[after:])
    from dripfield.site.reader import read_site

    site = read_site(tmp_path)
    shots = grid()
    shots[:, 2] -= 1.0
    assert word(check(tmp_path, shots, site)) == "pass"


def test_laterals_on_the_bed_as_raked(tmp_path: Path) -> None:
    # hand-derived: a tilt of 0.01 along the bed lifts one end of a 40 ft lateral 0.40 over the
    # other: 0.20 off its middle; raised as a whole it stays level
    site = site_in(tmp_path)
    line = np.array(((5010.0, 9010.0), (5050.0, 9010.0)))
    layout = Layout("contour", (Lateral("L01", "A", line, 100.0),), site.bed.boundary)
    shots = grid()
    shots[:, 2] += 0.30
    (raised,) = with_laterals(check(tmp_path, shots), layout, 0.10).laterals
    assert raised.level_ok
    assert raised.raked == pytest.approx(100.30)
    assert raised.covered == pytest.approx(1.0)
    shots[:, 2] += 0.01 * (shots[:, 0] - 5000.0)
    (tilted,) = with_laterals(check(tmp_path, shots), layout, 0.10).laterals
    assert not tilted.level_ok
    assert tilted.departure == pytest.approx(0.20)
    west = shots[shots[:, 0] < 5031.0]
    (half,) = with_laterals(check(tmp_path, west), layout, 0.25).laterals
    assert half.covered == pytest.approx(0.5)
    assert half.level_ok


def test_two_shots_are_judged_without_a_map(tmp_path: Path) -> None:
    result = check(tmp_path, grid()[[40, 41]])
    assert word(result) == "not proven"
    assert result.built is None
    assert result.covered == 0.0


def test_hundredths_as_a_crew_says_them() -> None:
    assert hundredths(0.073, Unit.FOOT) == "+7"
    assert hundredths(-0.124, Unit.SURVEY_FOOT) == "-12"
    assert hundredths(0.001, Unit.FOOT) == "0"
    assert hundredths(0.012, Unit.METRE) == "+12"
