"""The ground keeps what was read of it, whatever is built on it."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from dripfield.core.errors import InputError
from dripfield.design.lay_out import lay_out
from dripfield.ground.ground import build_ground
from dripfield.survey.doubt.blunders import suspects
from dripfield.survey.doubt.no_reading import MARKS

_SPEC = importlib.util.spec_from_file_location(
    "bed_sites", Path(__file__).parents[1] / "bed" / "bed_sites.py"
)
assert _SPEC is not None
assert _SPEC.loader is not None
bed_sites = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(bed_sites)

SECTION = """strip = 0.5
sand = 1.0
grade = "plane"
strike = 90.0
dip = 0.02
elevation = 104.0
at = [9010.0, 5030.0]
cover = [{ name = "loam", depth = 0.5 }]"""


def height(x, y):
    return 100.0 + 0.02 * y + 0.0 * x


@pytest.mark.parametrize("section", [SECTION, 'sand = 0.5\ngrade = "ground"\ncover = []'])
def test_a_built_bed_hides_no_gap_in_the_survey(tmp_path: Path, section: str) -> None:
    """Shots within 18 ft of the bed's middle are taken away: the same gap with and without sand."""
    bed_sites.write_site(tmp_path / "site", section, height, step=5.0)
    lines = (tmp_path / "site/survey.csv").read_text().splitlines()
    kept = [
        line
        for line in lines[1:]
        if np.hypot(float(line.split(",")[1]) - 9010.0, float(line.split(",")[2]) - 5030.0) > 18.0
    ]
    (tmp_path / "site/survey.csv").write_text("\n".join([lines[0], *kept]) + "\n")
    from dripfield.site.reader import read_site

    site = read_site(tmp_path / "site")
    ground = build_ground(site)
    # hand-derived: reach is three spacings of 5 to 7.1 ft at most; a place 18 ft from any shot is
    # beyond 15 ft at least
    assert ground.coverage.sparse_area > 0.0
    assert lay_out(site, ground, "straight").ground.coverage is ground.coverage


@pytest.mark.parametrize("mark", [-99.0, -999.0, *(one for one in MARKS if one)])
def test_an_elevation_that_says_no_reading_is_never_laid_out(tmp_path: Path, mark: float) -> None:
    site = bed_sites.write_site(tmp_path / "site", SECTION, height)
    path = tmp_path / "site/survey.csv"
    lines = path.read_text().splitlines()
    cells = lines[20].split(",")
    cells[3] = f"{mark}"
    lines[20] = ",".join(cells)
    path.write_text("\n".join(lines) + "\n")
    with pytest.raises(InputError, match=r"is it a reading\?"):
        build_ground(site)


def test_one_list_says_what_no_reading_is(tmp_path: Path) -> None:
    """What is asked about when read is also what is doubted where it was kept."""
    site = bed_sites.write_site(tmp_path / "site", SECTION, height)
    path = tmp_path / "site/site.toml"
    path.write_text(path.read_text().replace("[survey]", '[survey]\nno_reading = "keep"'))
    survey = tmp_path / "site/survey.csv"
    lines = survey.read_text().splitlines()
    cells = lines[20].split(",")
    cells[3] = "-999"
    lines[20] = ",".join(cells)
    survey.write_text("\n".join(lines) + "\n")
    from dripfield.site.reader import read_site

    ground = build_ground(read_site(site.folder))
    assert [one.point for one in ground.suspects] == [cells[0]]
    assert suspects(ground.shots, site.unit) == list(ground.suspects)
