"""Every refusal of a bed, word for word: what was found, where, and how to mend it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from bed_sites import write_shots, write_site

from dripfield.bed.check import check_bed, read_shots
from dripfield.core.arrays import Floats
from dripfield.core.errors import InputError
from dripfield.ground.ground import build_ground
from dripfield.sheets.bed.write import bed_report

LEVEL = 'grade = "plane"\nstrike = 0.0\ndip = 0.0\n'


def flat(x: Floats, y: Floats) -> Floats:
    return 100.0 + 0.0 * x


def tilted(x: Floats, y: Floats) -> Floats:
    return 100.0 - 0.1 * y + 0.001 * x


def refusal(folder: Path, section: str, height=flat, **more) -> str:
    def run() -> None:
        site = write_site(folder, section, height, **more)
        bed_report(site, build_ground(site).surface)

    with pytest.raises(InputError) as caught:
        run()
    return str(caught.value)


@pytest.mark.parametrize(
    ("section", "text"),
    [
        (
            "sand = -1.0\n" + LEVEL,
            "site.toml, [bed.section] sand: -1.0 was found; give a number at least 0",
        ),
        (
            f'{LEVEL}cover = [{{ name = "topsoil", depth = -0.5 }}]',
            "site.toml, [[bed.section.cover]] 1 depth: -0.5 was found; give a number at least 0",
        ),
        (
            f"{LEVEL}side_slope = 0.0",
            "site.toml, [bed.section] side_slope: 0.0 was found; give a number greater than 0",
        ),
        (
            f"sand = 1.0\ntubing_height = 0.75\n{LEVEL}"
            'cover = [{ name = "topsoil", depth = 0.5 }]',
            "site.toml, [bed.section] cover: layers cross: the cover is 0.5 deep and the tubing "
            "lies 0.75 over the top of sand, above the finished grade; give more cover, or a "
            "smaller tubing_height",
        ),
        (
            f"strip = 1.0\nstrip_to = 99.0\n{LEVEL}",
            "site.toml, [bed.section]: strip and strip_to are given together; keep the one that "
            "says how much comes out",
        ),
        (
            f"shoulder = 0.5\n{LEVEL}",
            "site.toml, [bed.section] shoulder: the shoulder reaches 0.5 beyond the tubing and the "
            "tubing keeps 1 from the bed's edge; give at least 1, or leave shoulder out for just "
            "that",
        ),
        (
            'grade = "plane"\nstrike = 0.0',
            'site.toml, [bed.section] grade: grade = "plane" needs dip; add dip',
        ),
        (
            'grade = "fit"',
            'site.toml, [bed.section] grade: grade = "fit" needs max_slope; add max_slope',
        ),
        (
            'grade = "follow"\nelevation = 100.0',
            'site.toml, [bed.section] elevation: elevation goes with grade = "plane" and the grade '
            'is "follow"; remove elevation or write grade = "plane"',
        ),
        (
            f"limiting = 98.0\nlimiting_surface = 'survey.csv'\n{LEVEL}",
            "site.toml, [bed.section]: limiting and limiting_surface are both given; keep the one "
            "that says where the limiting layer is",
        ),
        (
            f"separation = 2.0\n{LEVEL}",
            "site.toml, [bed.section] separation: a separation of 2 is asked for, but no limiting "
            "layer is given; add limiting (an elevation) or limiting_surface (a survey file), or "
            "remove separation",
        ),
        (
            f"{LEVEL}stake_spacing = 0.1",
            "site.toml, [bed.section] stake_spacing: a grid of 0.1 makes 120801 grade stakes; give "
            "a stake_spacing of at least 1",
        ),
        (
            f"sand = 1.0\n{LEVEL}sieve = {{ '3/8' = 100, 'No. 55' = 90 }}",
            "site.toml, [bed.section.sieve] 'No. 55': unknown sieve 'No. 55'; the closest known "
            "is 'No. 5'",
        ),
        (
            f"sand = 1.0\n{LEVEL}sieve = {{ '4' = 90, '8' = 95 }}",
            "site.toml, [bed.section.sieve] 'No. 8': 95 % pass No. 8 and only 90 % the coarser "
            "No. 4; give percent passing, not retained, by mass of the whole sample",
        ),
        (
            f"sand = 1.0\n{LEVEL}materials = [{{ name = 'sands', loose = 1.1 }}]",
            "site.toml, [[bed.section.materials]] name: the bed has no material 'sands'; the "
            "closest it has is 'sand'",
        ),
        (
            'grade = "flat"',
            "site.toml, [bed.section] grade: 'flat' was found; give one of \"fit\", "
            '"follow", "ground", "plane"',
        ),
    ],
)
def test_settings_that_cannot_be(tmp_path: Path, section: str, text: str) -> None:
    assert refusal(tmp_path, section) == text


def test_top_of_sand_below_the_stripped_ground(tmp_path: Path) -> None:
    assert refusal(tmp_path, f"strip = 0.5\n{LEVEL}elevation = 98.0", tilted) == (
        "site.toml, [bed.section]: layers cross: the top of sand lies 1.56 ft below the stripped "
        "ground at N 9000.0, E 5060.0; give a higher elevation, or leave it out, or write deepen = "
        "true to dig down to it"
    )


def test_tubing_below_the_stripped_ground(tmp_path: Path) -> None:
    section = f"sand = 0.5\ntubing_height = -1.0\n{LEVEL}elevation = 100.5"
    assert refusal(tmp_path, section, tilted) == (
        "site.toml, [bed.section]: layers cross: the tubing lies 0.56 ft below the stripped ground "
        "at N 9000.0, E 5060.0; give a higher elevation, or leave it out, or write deepen = true "
        "to dig down to it"
    )


def test_dig_below_the_limiting_layer(tmp_path: Path) -> None:
    section = f"strip = 2.0\nsand = 2.0\nlimiting = 97.0\n{LEVEL}"
    assert refusal(tmp_path, section, tilted) == (
        "site.toml, [bed.section]: the dig goes 1.00 ft below the limiting layer at N 9020.0, "
        "E 5000.0; strip less, raise the grade, or correct the limiting layer"
    )


def write_half_floor(folder: Path) -> None:
    folder.mkdir(exist_ok=True)
    rows = ((-30, -30), (30, -30), (30, 50), (-30, 50))
    lines = (f"{i},{9000 + y},{5000 + x},{98.5 + 0.001 * x}" for i, (x, y) in enumerate(rows, 1))
    (folder / "floor.csv").write_text("\n".join(lines) + "\n")


def test_floor_of_the_dig_that_is_not_surveyed(tmp_path: Path) -> None:
    write_half_floor(tmp_path)
    section = f'strip_to_surface = "floor.csv"\nsand = 1.0\n{LEVEL}'
    assert refusal(tmp_path, section) == (
        "floor.csv: the floor of the dig is not surveyed over 50% of the bed and its shoulder "
        "(600 ft2 about N 9010.0, E 5045.0); survey there too, or give a smaller bed or shoulder"
    )
    section = f'limiting_surface = "floor.csv"\nsand = 1.0\n{LEVEL}'
    assert refusal(tmp_path, section) == (
        "floor.csv: the limiting layer is not surveyed over 50% of the bed and its shoulder "
        "(600 ft2 about N 9010.0, E 5045.0); survey there too, or give a smaller bed or shoulder"
    )


def test_shoulder_beyond_the_survey(tmp_path: Path) -> None:
    assert refusal(tmp_path, f"shoulder = 13.0\nsand = 1.0\n{LEVEL}", around=10.0) == (
        "survey.csv: existing ground is not surveyed over 13% of the bed and its shoulder (496 ft2 "
        "about N 9010.0, E 4989.0); survey there too, or give a smaller bed or shoulder"
    )


def test_side_slopes_that_leave_the_survey_say_how_much_more_and_where(tmp_path: Path) -> None:
    # hand-derived: the survey ends 10 ft to the south at 99.90; the top at 104.20 has come down
    # 3.33 there and stands 0.97 high, and meets ground falling 0.01 away in 0.967 / 0.3233 = 2.99
    # round corners come down to the ground beyond them: along the south edge 60 + 2 x 8.15 are
    # open, along the north 60 + 2 x 6.07, along each side 20 + 8.05 + 6.3: 217 together
    def hill(x: Floats, y: Floats) -> Floats:
        return 100.0 + 0.01 * y

    assert refusal(tmp_path, f"sand = 4.0\n{LEVEL}", hill, around=10.0) == (
        "site.toml, [bed.section] side_slope: the side slopes do not meet the ground inside the "
        "surveyed area: at N 8990.0, E 4999.9 on its edge they are still 0.97 ft above the ground; "
        "survey at least 3 ft farther to the south along 217 ft of that edge, or give a "
        "smaller side_slope"
    )


def test_side_slopes_on_ground_as_steep_as_they_are(tmp_path: Path) -> None:
    def hill(x: Floats, y: Floats) -> Floats:
        return 100.0 - 0.35 * y

    text = refusal(tmp_path, f"sand = 1.0\n{LEVEL}", hill)
    assert text.startswith(
        "site.toml, [bed.section] side_slope: the side slopes do not meet the ground inside the "
        "surveyed area: at N 9060.0, "
    )
    assert text.endswith(
        " above the ground; survey farther to the north than the slope that is there, or give a "
        "smaller side_slope: the ground runs as steep as the face"
    )


def shots_refusal(folder: Path, change, **more) -> str:
    section = f"sand = 1.0\n{LEVEL}elevation = 101.0"
    site = write_site(folder, section, flat, **more)
    x, y = (part.ravel() for part in np.meshgrid(np.arange(2, 59, 8.0), np.arange(2, 19, 8.0)))
    shots = np.column_stack((5000.0 + x, 9000.0 + y, 101.0 + 0.02 * np.sin(x)))
    write_shots(folder / "asbuilt.csv", change(shots))
    with pytest.raises(InputError) as caught:
        check_bed(site, build_ground(site).surface, read_shots(site, folder / "asbuilt.csv"))
    return str(caught.value)


def test_shots_in_metres_on_a_site_in_feet(tmp_path: Path) -> None:
    assert shots_refusal(tmp_path, lambda shots: shots * 0.3048) == (
        "asbuilt.csv: the coordinates look like metres: 24 of 24 shots lie in the bed once "
        "multiplied by 3.2808, 0 as they are; export them in the site's unit, ft (international)"
    )


def test_shots_in_feet_on_a_site_in_metres(tmp_path: Path) -> None:
    assert shots_refusal(tmp_path, lambda shots: shots / 0.3048, units="m") == (
        "asbuilt.csv: the coordinates look like feet: 24 of 24 shots lie in the bed once "
        "multiplied by 0.3048, 0 as they are; export them in the site's unit, m"
    )


def test_shots_converted_twice(tmp_path: Path) -> None:
    assert shots_refusal(tmp_path, lambda shots: shots / 0.3048) == (
        "asbuilt.csv: the coordinates look converted to feet twice: 24 of 24 shots lie in the bed "
        "once multiplied by 0.3048, 0 as they are; export them in the site's unit, "
        "ft (international)"
    )


def test_elevations_alone_in_metres(tmp_path: Path) -> None:
    assert shots_refusal(tmp_path, lambda shots: shots * (1.0, 1.0, 0.3048)) == (
        "asbuilt.csv: the elevations look like metres: they are 70.2 off the design as they are "
        "and 0.00 off once multiplied by 3.2808; export them in the site's unit, "
        "ft (international)"
    )


def test_shots_with_columns_swapped(tmp_path: Path) -> None:
    assert shots_refusal(tmp_path, lambda shots: shots[:, (1, 0, 2)]) == (
        "asbuilt.csv: northing and easting look swapped: 24 of 24 shots lie in the bed once they "
        "are exchanged, 0 as they are; name the columns northing and easting in a header, in the "
        "file's order"
    )


def test_shots_of_another_place(tmp_path: Path) -> None:
    assert shots_refusal(tmp_path, lambda shots: shots + np.array((700.0, 0.0, 0.0))) == (
        "asbuilt.csv: none of the 24 shots lies in the bed; they lie about N 9010.0, E 5730.0 and "
        "the bed about N 9010.0, E 5030.0; give shots of this bed, in the site's coordinates"
    )
