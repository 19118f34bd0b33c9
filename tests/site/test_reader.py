"""Reading a site folder that is in order."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.site.reader import input_files, inside, layout_settings, read_site
from dripfield.site.schema.layout import LayoutTable
from dripfield.survey.read.site_survey import read_site_survey


def test_parts_of_a_site(folder: Path) -> None:
    site = read_site(str(folder))
    assert site.name == "Plane"
    assert site.unit is Unit.FOOT
    assert read_site_survey(site).xyz.shape == (64, 3)
    assert tuple(read_site_survey(site).xyz[0]) == (
        2000.0,
        5000.0,
        100.0,
    )  # easting first in memory
    # a rectangle of 100 by 60 ft: hand-derived
    assert site.bed.boundary.area == pytest.approx(6000.0)
    assert site.bed.boundary.bounds == (2020.0, 5020.0, 2120.0, 5080.0)
    assert site.bed.boundary.exterior.is_ccw
    assert site.bed.keepouts[0].area == pytest.approx(50.0)


def test_a_closed_ring_is_the_same_as_an_open_one(folder: Path) -> None:
    open_ring = read_site(folder).bed.boundary
    text = (folder / "bed.csv").read_text()
    (folder / "bed.csv").write_text(text + "5020,2020\n5020,2020\n")
    assert read_site(folder).bed.boundary.equals_exact(open_ring, 0.0)


@pytest.mark.parametrize(
    "text",
    [
        "\ufeffnorthing,easting\r\n5020,2020\r\n5020,2120\r\n5080,2120\r\n5080,2020\r\n",
        "Easting;Northing;corner\n2020;5020;a\n2120;5020;b\n2120;5080;c\n2020;5080;d\n",
        "# staked by eye\n\n Northing (ft) , Easting (ft) \n5020,2020\n\n5020,2120\n5080,2120\n"
        "5080,2020\n\n",
        "N\tE\n5.02e3\t2020\n5020\t2120\n5080\t2120\n5080\t2020",
    ],
    ids=["byte order mark and CRLF", "other order and semicolons", "comments and units", "tabs"],
)
def test_rings_as_people_write_them(folder: Path, text: str) -> None:
    expected = read_site(folder).bed.boundary
    (folder / "bed.csv").write_bytes(text.encode("utf-8"))
    assert read_site(folder).bed.boundary.equals(expected)


def test_decimal_commas(folder: Path) -> None:
    settings = (folder / "site.toml").read_text()
    (folder / "site.toml").write_text(settings.replace("[bed]", 'decimal = ","\n[bed]'))
    for name in ("survey.csv", "bed.csv", "rock.csv"):
        text = (folder / name).read_text().replace(",", ";").replace(".", ",")
        (folder / name).write_text(text)
    site = read_site(folder)
    assert read_site_survey(site).xyz[9].tolist() == [2020.0, 5020.0, 102.0]
    assert site.bed.boundary.area == pytest.approx(6000.0)


def test_state_plane_coordinates_keep_every_digit(folder: Path) -> None:
    corners = [(13251234.5678, 2500020.1234), (13251234.5678, 2500120.1234)]
    corners += [(13251294.5678, 2500120.1234), (13251294.5678, 2500020.1234)]
    rows = "".join(f"{n:.4f},{e:.4f}\n" for n, e in corners)
    (folder / "bed.csv").write_text("northing,easting\n" + rows)
    shots = [(13251200.0, 2500000.0), (13251200.0, 2500200.0), (13251350.0, 2500100.0)]
    (folder / "survey.csv").write_text(
        "point,northing,easting,elevation,description\n"
        + "".join(f"{i},{n},{e},{100 + i},GS\n" for i, (n, e) in enumerate(shots))
    )
    (folder / "site.toml").write_text(
        (folder / "site.toml").read_text().replace('["rock.csv"]', "[]")
    )
    ring = shapely.get_coordinates(read_site(folder).bed.boundary)
    assert {(n, e) for e, n in ring.tolist()} == set(corners)  # exact, not approximate


def test_setbacks_of_every_shape(folder: Path) -> None:
    (folder / "site.toml").write_text(
        (folder / "site.toml")
        .read_text()
        .replace(
            "[layout]",
            """\
[[bed.setbacks]]
name = "Well"
points = "well.csv"
distance = 50

[[bed.setbacks]]
name = "Property line"
points = "line.csv"
distance = 10
shape = "line"
source = "county code"

[[bed.setbacks]]
name = "House"
points = "rock.csv"
distance = 5
shape = "ring"

[layout]""",
        )
    )
    (folder / "well.csv").write_text("northing,easting\n5130,2070\n")
    (folder / "line.csv").write_text("northing,easting\n5020,2010\n5080,2010\n")
    well, line, house = read_site(folder).bed.setbacks
    assert (well.name, well.feature.geom_type, well.distance) == ("Well", "MultiPoint", 50.0)
    assert (line.feature.length, line.source) == (60.0, "county code")
    assert house.feature.area == pytest.approx(50.0)


# the defaults are the project's own (common practice, no source)
@pytest.mark.parametrize(
    ("unit", "expected"),
    [
        (Unit.FOOT, (1.5, 0.10, 5.0, 2.0, 0.05, 25.0)),
        (Unit.SURVEY_FOOT, (1.5, 0.10, 5.0, 2.0, 0.05, 25.0)),
        (Unit.METRE, (1.5, 0.03, 1.5, 0.6, 0.015, 7.5)),
    ],
)
def test_defaults_are_round_in_the_unit(unit: Unit, expected: tuple[float, ...]) -> None:
    settings = layout_settings(LayoutTable(spacing=3.0), unit)
    assert expected == (
        settings.edge_clearance,
        settings.level_tolerance,
        settings.min_length,
        settings.bend_radius,
        settings.smoothing,
        settings.stake_interval,
    )


def test_a_zero_given_is_not_a_default() -> None:
    table = LayoutTable(spacing=3.0, edge_clearance=0.0, min_length=0.0, smoothing=0.0)
    settings = layout_settings(table, Unit.FOOT)
    assert (settings.edge_clearance, settings.min_length, settings.smoothing) == (0.0, 0.0, 0.0)


def test_dates_may_stand_without_quotes(folder: Path) -> None:
    settings = (folder / "site.toml").read_text()
    (folder / "site.toml").write_text(
        settings.replace("[survey]", "survey_date = 2026-05-14\n[survey]")
    )
    assert read_site(folder).file.site.survey_date == "2026-05-14"


def test_a_link_inside_the_folder_is_followed(folder: Path) -> None:
    (folder / "data").mkdir()
    (folder / "bed.csv").rename(folder / "data" / "ring.csv")
    (folder / "bed.csv").symlink_to(folder / "data" / "ring.csv")
    assert read_site(folder).bed.boundary.area == pytest.approx(6000.0)


@pytest.mark.parametrize("name", ["../other/bed.csv", "/etc/hostname", "a/../../b", "link.csv"])
def test_a_path_never_leaves_the_folder(folder: Path, name: str) -> None:
    outside = folder.parent / "outside.csv"
    outside.write_text("northing,easting\n")
    (folder / "link.csv").symlink_to(outside)
    with pytest.raises(InputError) as caught:
        inside(folder, name, "[bed] boundary")
    assert str(caught.value) == (
        f"site.toml, [bed] boundary: {name!r} leaves the site folder; "
        "copy the file into the site folder and name it there"
    )


def test_input_files_are_those_that_the_settings_name(folder: Path) -> None:
    (folder / "laterals.csv").write_text("an output of an earlier run\n")
    names = [path.name for path in input_files(read_site(folder))]
    assert names == ["site.toml", "survey.csv", "bed.csv", "rock.csv"]


def test_the_site_of_the_same_ground_in_metres(folder: Path) -> None:
    """The US survey foot and the metre change nothing but the unit: no coordinate is converted."""
    in_feet = read_site(folder)
    for unit in ("ftUS", "m"):
        settings = (folder / "site.toml").read_text()
        (folder / "site.toml").write_text(settings.replace('units = "ft"', f'units = "{unit}"'))
        site = read_site(folder)
        assert site.unit.value == unit
        np.testing.assert_array_equal(read_site_survey(site).xyz, read_site_survey(in_feet).xyz)
        (folder / "site.toml").write_text(settings)
