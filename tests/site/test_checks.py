"""Checks that need geometry, where the whole rendered error is not the point."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from dripfield.core.errors import InputError
from dripfield.ground.ground import build_ground
from dripfield.site.checks import bed_width
from dripfield.site.reader import read_site
from dripfield.survey.doubt.on_site import notes_on
from dripfield.survey.read.site_survey import read_site_survey

# A place in the area of EPSG:6559, NAD83(2011) / Oregon North (ft), false easting 2,500,000 m
# (EPSG registry): 122.9 degrees west, 45.5 degrees north or so.
NORTH, EAST = 680_000.0, 7_600_000.0


def write_site(
    folder: Path, crs: str | None, swap: tuple[str, ...] = (), header: bool = True
) -> None:
    """A site at that place, without keepouts; the files named in ``swap`` have columns swapped."""
    lines = ['[site]\nname = "A"\nunits = "ft"']
    lines += [f'crs = "{crs}"'] if crs else []
    lines += ['[survey]\npoints = "survey.csv"\n[bed]\nboundary = "bed.csv"\n[layout]\nspacing = 2']
    (folder / "site.toml").write_text("\n".join(lines))

    def pair(file: str, north: float, east: float) -> str:
        first, second = (NORTH + north, EAST + east)[:: -1 if file in swap else 1]
        return f"{first},{second}"

    rows = ["point,northing,easting,elevation,description"] * header
    rows += [
        f"{10 * i + j},{pair('survey.csv', 20 * i, 20 * j)},{100 + i},GS"
        for i in range(5)
        for j in range(7)
    ]
    (folder / "survey.csv").write_text("\n".join(rows))
    corners = [(10, 10), (10, 110), (70, 110), (70, 10)]
    rows = ["northing,easting", *(pair("bed.csv", n, e) for n, e in corners)]
    (folder / "bed.csv").write_text("\n".join(rows))


def refusal(folder: Path) -> str:
    with pytest.raises(InputError) as caught:
        build_ground(read_site(folder))
    return str(caught.value)


def said(folder: Path) -> tuple[str, ...]:
    """What is said of how the site and its survey go together."""
    site = read_site(folder)
    return notes_on(site, read_site_survey(site))


@pytest.mark.parametrize("header", [True, False])
@pytest.mark.parametrize("file", ["bed.csv", "survey.csv"])
def test_the_reference_system_tells_which_file_is_swapped(
    tmp_path: Path, file: str, header: bool
) -> None:
    write_site(tmp_path, "EPSG:6559", swap=(file,), header=header)
    assert refusal(tmp_path).startswith(f"{file}: northing and easting look swapped: ")


@pytest.mark.parametrize(("header", "blamed"), [(True, "bed.csv"), (False, "survey.csv")])
def test_without_a_reference_system_unnamed_columns_are_blamed(
    tmp_path: Path, header: bool, blamed: str
) -> None:
    for file in ("bed.csv", "survey.csv"):
        write_site(tmp_path, None, swap=(file,), header=header)
        assert refusal(tmp_path).startswith(f"{blamed}: northing and easting look swapped: ")


def test_everything_swapped_is_noticed_by_the_reference_system(tmp_path: Path) -> None:
    """Bed and survey agree, so nothing else can tell."""
    write_site(tmp_path, "EPSG:6559", swap=("bed.csv", "survey.csv"))
    assert said(tmp_path) == (
        "the survey lies outside the area where EPSG:6559 is used: "
        "check crs, or leave it out for local coordinates",
    )
    write_site(tmp_path, "EPSG:6559")
    assert said(tmp_path) == ()


@pytest.mark.parametrize("metres", [0.3048, 1200.0 / 3937.0])  # FR 85 62698; FR 24 5348
def test_a_bed_in_metres_far_from_the_origin(tmp_path: Path, metres: float) -> None:
    write_site(tmp_path, None)
    corners = [(10, 10), (10, 110), (70, 110), (70, 10)]
    rows = [f"{(NORTH + n) * metres:.4f},{(EAST + e) * metres:.4f}\n" for n, e in corners]
    (tmp_path / "bed.csv").write_text("northing,easting\n" + "".join(rows))
    assert refusal(tmp_path) == (
        "bed.csv: it and survey.csv look to be in different units: times 3.2808 the bed lies on "
        "the survey; write both in ft"
    )


def test_a_local_survey_in_metres_under_a_bed_in_feet(folder: Path) -> None:
    """Near the origin the two overlap; the extents tell."""
    shots = [
        f"{10 * i + j},{3.048 * i * 2},{3.048 * j * 2},{30 + i},GS"
        for i in range(4)
        for j in range(6)
    ]
    text = "point,northing,easting,elevation,description\n" + "\n".join(shots)
    (folder / "survey.csv").write_text(text)
    (folder / "bed.csv").write_text("northing,easting\n0,0\n0,100\n60,100\n60,0\n")
    (folder / "rock.csv").write_text("northing,easting\n20,20\n20,30\n30,30\n")
    assert refusal(folder) == (
        "bed.csv: it and survey.csv look to be in different units: times 0.3048 the bed lies on "
        "the survey; write both in ft"
    )


def test_a_bed_partly_beyond_its_survey_is_accepted(folder: Path) -> None:
    """That is a gap to be shown, not bad input."""
    (folder / "bed.csv").write_text(
        "northing,easting\n5020,2080\n5020,2280\n5080,2280\n5080,2080\n"
    )
    (folder / "site.toml").write_text(
        (folder / "site.toml").read_text().replace('["rock.csv"]', "[]")
    )
    assert build_ground(read_site(folder)).site.bed.boundary.area == pytest.approx(12000.0)


def test_a_keepout_beside_the_bed_is_accepted(folder: Path) -> None:
    (folder / "rock.csv").write_text("northing,easting\n5090,2020\n5090,2030\n5095,2025\n")
    assert len(build_ground(read_site(folder)).site.bed.keepouts) == 1


def test_width_of_a_bed_is_the_least_over_all_directions() -> None:
    rng = np.random.default_rng(5)
    for _ in range(50):
        hull = shapely.convex_hull(shapely.multipoints(rng.uniform(0, 100, (12, 2)) + 2e6))
        angles = np.radians(np.arange(0.0, 180.0, 0.25))
        across = np.column_stack((np.cos(angles), np.sin(angles)))
        widths = np.ptp((shapely.get_coordinates(hull) - 2e6) @ across.T, axis=0)
        # turned by a quarter of a degree at a time: never narrower, and nearly as narrow
        assert bed_width(hull) <= widths.min() + 1e-6
        assert bed_width(hull) >= widths.min() - 100 * np.sqrt(2) * np.radians(0.25)


def test_width_of_a_rectangle() -> None:
    assert bed_width(shapely.box(2e6, 7e5, 2e6 + 100, 7e5 + 60)) == pytest.approx(60.0, abs=1e-9)
