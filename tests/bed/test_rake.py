"""Grade stakes: where they stand, the heights at them, the rod readings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from bed_sites import write_site

from dripfield.bed.design import design_bed
from dripfield.bed.rake import GradeStakes, grade_stakes
from dripfield.ground.ground import build_ground
from dripfield.sheets.bed.readings import rod_readings
from dripfield.sheets.bed.tables import stake_mark
from dripfield.site.model import Site

SECTION = """\
sand = 1.0
deepen = true
grade = "plane"
strike = 270.0
dip = 0.05
elevation = 823.50
stake_spacing = 5.0
cover = [{ name = "topsoil", depth = 0.5 }]
"""
BENCHMARK = '[benchmark]\nname = "Rock"\nelevation = 820.00\n[crew]\nbacksight = 8.42\n'


def staked(folder: Path, section: str = SECTION, more: str = "") -> tuple[Site, GradeStakes]:
    site = write_site(folder, section, lambda x, y: 823.0 - 0.05 * y, more=more)
    return site, grade_stakes(design_bed(site, build_ground(site).surface), site.unit)


def test_stakes_stand_on_a_grid_down_and_across_the_slope(tmp_path: Path) -> None:
    _, stakes = staked(tmp_path)
    assert stakes.spacing == 5.0
    offset = (stakes.xy - (5030.0, 9010.0)) / 5.0
    assert offset == pytest.approx(np.round(offset), abs=1e-6)
    assert shapely.intersects_xy(shapely.box(5000, 9000, 5060, 9020), stakes.xy).all()
    assert len(set(stakes.names)) == len(stakes.names)
    # the ground falls to the north, so row A is the southernmost
    rows = [name[0] for name in stakes.names]
    heights = [stakes.levels["sand"][[r == row for r in rows]].mean() for row in "ABC"]
    assert heights[0] > heights[1] > heights[2]


def test_heights_are_those_of_the_surfaces(tmp_path: Path) -> None:
    _, stakes = staked(tmp_path)
    y = stakes.xy[:, 1] - 9000.0
    ground = 823.0 - 0.05 * y
    # strike 270: facing west the plane falls to the right, north
    assert stakes.levels["sand"] == pytest.approx(823.50 - 0.05 * (y - 10.0), abs=1e-6)
    assert stakes.levels["ground"] == pytest.approx(ground, abs=1e-6)
    assert stakes.levels["finished"] == pytest.approx(stakes.levels["sand"] + 0.5)
    assert stakes.above_ground("sand") == pytest.approx(stakes.levels["sand"] - ground)


def test_rod_readings_are_height_of_instrument_less_the_level(tmp_path: Path) -> None:
    # published: 820.00 + 8.42 = 828.42 (textbook differential levelling, BM Rock)
    site, stakes = staked(tmp_path, more=BENCHMARK)
    readings = rod_readings(site, stakes)
    assert [setup.height for setup in readings.setups] == pytest.approx([828.42])
    assert readings.rod_sand == pytest.approx(828.42 - stakes.levels["sand"])
    assert readings.rod_finished == pytest.approx(828.42 - stakes.levels["finished"])
    assert set(readings.setup_sand) == {1}


def test_no_benchmark_no_readings(tmp_path: Path) -> None:
    assert rod_readings(*staked(tmp_path)) is None


def test_stakes_are_marked_as_they_are_driven() -> None:
    assert stake_mark(0.718, 2) == "F 0.72"
    assert stake_mark(-0.35, 2) == "C 0.35"
    assert stake_mark(-0.001, 2) == "GRADE"
