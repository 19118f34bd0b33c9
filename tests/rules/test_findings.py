"""Each rule at its boundary: published limits, hand-derived layouts."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import box

from dripfield.core.errors import InputError
from dripfield.layout.model import Lateral


def rows(row, spacing, count=3, length=100.0, north=0.1):
    return [row(-spacing * i, length, name=f"L{i + 1:02d}", north=north) for i in range(count)]


# Alabama ---------------------------------------------------------------------------------------


def test_alabama_on_gentle_ground(findings, plane, row):
    got = findings(["alabama"], rows(row, 2.0), plane())
    assert got["alabama-spacing"].level == "ok"
    assert got["alabama-spacing"].message == (
        "laid out at 2.00 ft on centre, measured in plan, with 300.00 ft of tubing on slopes up to "
        "20%; the standard is 24 in (2.00 ft)"
    )
    assert got["alabama-spacing"].citation == "Ala. Admin. Code r. 420-3-1-.62(2)(a)"
    assert got["alabama-spacing"].status == "confirmed"
    assert got["alabama-steep-spacing"].level == "ok"
    assert got["alabama-steep-length"].level == "ok"
    assert got["alabama-level"].message == "all 3 laterals lie level within 0.10 ft"


def test_alabama_another_spacing_needs_approval(findings, plane, row):
    got = findings(["alabama"], rows(row, 2.5), plane(), layout={"spacing": 2.5})
    assert got["alabama-spacing"].level == "warning"
    assert got["alabama-spacing"].message.endswith(
        "the standard is 24 in (2.00 ft), another spacing needs approval"
    )


@pytest.mark.parametrize(("slope", "level"), [(0.2000, "ok"), (0.2001, "warning")])
def test_alabama_exactly_twenty_per_cent_is_not_steep(findings, plane, row, slope, level):
    got = findings(["alabama"], rows(row, 2.0, north=slope), plane(slope))
    assert got["alabama-steep-spacing"].level == level
    assert got["alabama-spacing"].level == "ok"


def test_alabama_steep_ground_laid_out_too_close(findings, plane, row):
    got = findings(["alabama"], rows(row, 2.0, north=0.25), plane(0.25))["alabama-steep-spacing"]
    assert got.message == (
        "300.00 ft of 300.00 ft of tubing lies on slopes over 20% (greatest 25.0%), laid out at "
        "2.00 ft on centre, 2.00 ft at the closest; at least 36 in (3.00 ft) is required there"
    )


@pytest.mark.parametrize(
    ("spacing", "level"), [(3.0, "ok"), (3.5, "ok"), (2.99, "warning"), (2.0, "warning")]
)
def test_alabama_at_least_three_feet_on_steep_ground(findings, plane, row, spacing, level):
    laterals = rows(row, spacing, north=0.25)
    got = findings(["alabama"], laterals, plane(0.25), layout={"spacing": spacing})
    assert got["alabama-steep-spacing"].level == level


def test_alabama_steep_gaps_may_miss_by_the_spacing_tolerance(findings, plane, row):
    def level(gap):
        laterals = rows(row, gap, north=0.25)
        got = findings(["alabama"], laterals, plane(0.25), layout={"spacing": 3.0})
        return got["alabama-steep-spacing"].level

    assert level(2.70) == "ok"
    assert level(2.69) == "warning"


@pytest.mark.parametrize(("area", "level"), [(600.0, "ok"), (601.0, "warning")])
def test_alabama_steep_ground_does_not_shorten_the_tubing(findings, plane, row, area, level):
    laterals, ground = rows(row, 3.0, north=0.25), plane(0.25)  # 300 ft
    layout = {"spacing": 3.0}
    got = findings(["alabama"], laterals, ground, layout=layout, rules={"absorption_area": area})
    assert got["alabama-steep-length"].level == level
    unsaid = findings(["alabama"], laterals, ground, layout=layout)["alabama-steep-length"]
    assert unsaid.level == "not checked"
    assert "[rules] absorption_area" in unsaid.message


def test_alabama_off_level_is_named_with_its_length(findings, plane, row):
    laterals = rows(row, 2.0)
    laterals[1] = row(-2.0, z=100.0, name="L02")  # set 0.2 ft high
    got = findings(["alabama"], laterals, plane())["alabama-level"]
    assert got.level == "warning"
    assert got.message == (
        "1 of 3 laterals leave level by more than 0.10 ft, over 100.00 ft of 300.00 ft: L02"
    )


def section(depth, tubing_height=0.0, **more):
    cover = [{"name": "loam", "depth": depth}]
    return {"section": {"cover": cover, "tubing_height": tubing_height} | more}


@pytest.mark.parametrize(
    ("inches", "level"), [(6.0, "ok"), (5.99, "warning"), (12.0, "ok"), (12.01, "warning")]
)
def test_alabama_cover(findings, plane, row, inches, level):
    got = findings(["alabama"], rows(row, 2.0), plane(), bed_table=section(inches / 12))
    assert got["alabama-cover"].level == level
    sunk = findings(["alabama"], rows(row, 2.0), plane(), bed_table=section(0.0, -inches / 12))
    assert sunk["alabama-cover"].level == level


def test_cover_without_a_section_is_not_checked(findings, plane, row):
    got = findings(["alabama"], rows(row, 2.0), plane())["alabama-cover"]
    assert got.level == "not checked"
    assert got.message == (
        "give [bed.section] with its cover; at least 6 in (0.50 ft) and at most 12 in (1.00 ft) is "
        "required"
    )


@pytest.mark.parametrize(("height", "level"), [(8.00, "ok"), (8.01, "not checked")])
def test_alabama_height_within_a_zone_depends_on_the_emitter_over_eight_feet(
    findings, plane, row, height, level
):
    laterals = [row(0.0), row(-80.0, z=100.0 - height, name="L02")]
    got = findings(["alabama"], laterals, plane())["alabama-zone-height"]
    assert got.level == level


@pytest.mark.parametrize(("spacing", "level"), [(2.0, "ok"), (1.0, "warning"), (3.0, "warning")])
def test_alabama_emitters(findings, plane, row, spacing, level):
    got = findings(["alabama"], rows(row, 2.0), plane(), emitters={"spacing": spacing})
    assert got["alabama-emitters"].level == level


# Texas -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("fall", "level"), [(1.00, "ok"), (1.01, "warning")])
def test_texas_one_foot_in_a_hundred(findings, plane, row, fall, level):
    got = findings(["texas"], [row(0.0)], plane(north=0.1, east=-fall / 100))["texas-grade"]
    assert got.level == level
    assert got.message.startswith(f"greatest grade along a line {fall:.2f}% over 25 ft of line")


def test_texas_grade_is_taken_over_stretches_not_over_the_whole_line(findings, cone):
    # a dip: falls 2 % for 50 ft, rises 2 % for 50 ft, its ends at one height
    lateral = Lateral("L01", "A", np.array(((-50.0, 0.0), (50.0, 0.0))), 100.5)
    got = findings(["texas"], [lateral], cone(0.02))["texas-grade"]
    assert got.level == "warning"
    assert got.message.endswith("at most 1%; 1 of 1 laterals exceed it: L01")


@pytest.mark.parametrize(
    ("spacing", "level"), [(1.0, "ok"), (3.0, "ok"), (0.99, "warning"), (3.01, "warning")]
)
def test_texas_centres(findings, plane, row, spacing, level):
    laterals = rows(row, spacing)
    got = findings(["texas"], laterals, plane(), layout={"spacing": spacing})
    assert got["texas-line-centres"].level == level
    emitters = findings(["texas"], laterals, plane(), emitters={"spacing": spacing})
    assert emitters["texas-emitters"].level == level


def test_texas_measured_gaps_count_as_well(findings, plane, row):
    laterals = rows(row, 3.2)
    got = findings(["texas"], laterals, plane(), layout={"spacing": 3.0})["texas-line-centres"]
    assert got.level == "warning"
    assert "laid out at 3.00 ft on centre, measured 3.20 ft to 3.20 ft" in got.message


@pytest.mark.parametrize(
    ("inches", "level"), [(6.0, "ok"), (5.99, "warning"), (48.0, "ok"), (48.1, "warning")]
)
def test_texas_depth(findings, plane, row, inches, level):
    got = findings(["texas"], rows(row, 2.0), plane(), bed_table=section(inches / 12))
    assert got["texas-depth"].level == level


# Virginia --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("length", "level"), [(249.0, "warning"), (250.0, "ok")])
def test_virginia_half_the_area(findings, plane, row, length, level):
    laterals = rows(row, 2.0, count=4, length=length)
    area = {"absorption_area": 2000.0}
    got = findings(["virginia"], laterals, plane(), rules=area)["virginia-length"]
    assert got.level == level
    assert f"{4 * length:.2f} ft of tubing; for the design's 2,000 ft2" in got.message


def test_virginia_without_a_design_area_takes_the_bed(findings, plane, row):
    laterals = rows(row, 2.0, count=4, length=249.0)
    got = findings(["virginia"], laterals, plane(), bed=box(0, 0, 50, 40))["virginia-length"]
    assert got.level == "warning"
    assert got.message == (
        "996.00 ft of tubing; for the bed's 2,000 ft2 needs at least 1000.00 ft, 4.00 ft more"
    )


@pytest.mark.parametrize(("metres", "level"), [(304.7, "warning"), (304.8, "ok")])
def test_virginia_in_metres(findings, plane, row, metres, level):
    # 2,000 ft2 and 1,000 ft of tubing, in metres
    area = {"absorption_area": 2000.0 * 0.3048**2}
    laterals = rows(row, 0.6, count=4, length=metres / 4)
    got = findings(["virginia"], laterals, plane(), units="m", rules=area)["virginia-length"]
    assert got.level == level


@pytest.mark.parametrize(
    ("inches", "level"), [(6.0, "ok"), (5.9, "warning"), (24.0, "ok"), (24.1, "warning")]
)
def test_virginia_emitters(findings, plane, row, inches, level):
    got = findings(["virginia"], rows(row, 2.0), plane(), emitters={"spacing": inches / 12})
    assert got["virginia-emitters"].level == level


def test_virginia_cover_has_no_greatest(findings, plane, row):
    got = findings(["virginia"], rows(row, 2.0), plane(), bed_table=section(5.0))
    assert got["virginia-cover"].level == "ok"


# Others ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("depth", "level"), [(2.0, "ok"), (1.99, "warning")])
def test_mississippi_shoulder(findings, plane, row, depth, level):
    table = section(0.5, shoulder=depth, side_slope=3.0)
    got = findings(["mississippi"], rows(row, 2.0), plane(), bed_table=table)
    assert got["mississippi-fill"].level == level
    steeper = section(0.5, shoulder=depth, side_slope=2.9)
    got = findings(["mississippi"], rows(row, 2.0), plane(), bed_table=steeper)
    assert got["mississippi-fill"].level == "warning"


@pytest.mark.parametrize(
    ("inches", "level"), [(4.0, "ok"), (3.9, "warning"), (6.0, "ok"), (6.1, "warning")]
)
def test_arkansas_cover(findings, plane, row, inches, level):
    got = findings(["arkansas"], rows(row, 2.0), plane(), bed_table=section(inches / 12))
    assert got["arkansas-cover"].level == level


@pytest.mark.parametrize(("length", "level"), [(80.0, "ok"), (79.9, "warning")])
def test_lake_county_twice_as_long_as_wide(findings, plane, row, length, level):
    got = findings(["lake-county-il"], rows(row, 2.0), plane(), bed=box(0, 0, 40, length))
    assert got["lake-county-shape"].level == level


def arcs(radii, slope):
    turn = np.linspace(0.0, 2.0, 400)
    return [
        Lateral(f"L{i + 1:02d}", "A", r * np.column_stack((np.cos(turn), np.sin(turn))),
                100.0 + slope * r)
        for i, r in enumerate(radii)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("radius", "level", "words"),
    [
        (49.9, "warning", "under 50 ft is never allowed"),
        (50.1, "warning", "where the absorption ratio is 5.0 or more it must be over 100 ft"),
        (99.9, "warning", "where the absorption ratio is 5.0 or more it must be over 100 ft"),
        (100.1, "ok", "ft radius, over 100 ft"),
    ],
)
def test_minnesota_swale(findings, cone, radius, level, words):
    got = findings(["minnesota"], arcs((radius + 2, radius), 0.1), cone(0.1))["minnesota-swale"]
    assert got.level == level
    assert got.message.startswith("L02 bends round a swale of ")
    assert got.message.endswith(words)


def test_minnesota_a_nose_is_no_swale_and_flat_ground_is_exempt(findings, cone):
    nose = findings(["minnesota"], arcs((30, 32), -0.1), cone(-0.1))["minnesota-swale"]
    assert nose.level == "ok"
    flat = findings(["minnesota"], arcs((32, 30), 0.0099), cone(0.0099))["minnesota-swale"]
    assert flat.level == "ok"


def test_minnesota_short_laterals_are_not_checked(findings, plane, row):
    got = findings(["minnesota"], [row(0.0, 49.0)], plane())["minnesota-swale"]
    assert got.level == "not checked"


@pytest.mark.parametrize(
    ("units", "flow", "level"),
    [("ft", 1.3, "ok"), ("ft", 1.31, "warning"), ("m", 4.92, "ok"), ("m", 4.93, "warning")],
)
def test_washington_emitter_rate(findings, plane, row, units, flow, level):
    emitters = {"spacing": 0.6, "flow": flow}
    got = findings(["washington"], rows(row, 2.0), plane(), units=units, emitters=emitters)
    assert got["washington-emitter-rate"].level == level


# All -------------------------------------------------------------------------------------------


def test_metric_messages_carry_both_units(findings, plane, row):
    got = findings(["alabama"], rows(row, 0.6), plane(), units="m")["alabama-spacing"]
    assert got.level == "warning"  # 0.600 m is not 24 in
    assert "laid out at 0.600 m" in got.message
    assert "24 in (0.610 m)" in got.message
    same = findings(["alabama"], rows(row, 0.61), plane(), units="m", layout={"spacing": 0.61})
    assert same["alabama-spacing"].level == "ok"


def test_two_survey_feet_are_two_feet(findings, plane, row):
    # 2 ftUS are 24.00005 in: the standard, and not over it
    emitters = {"spacing": 2.0}
    got = findings(
        ["alabama", "virginia"], rows(row, 2.0), plane(), units="ftUS", emitters=emitters
    )
    assert got["alabama-spacing"].level == "ok"
    assert got["alabama-emitters"].level == "ok"
    assert got["virginia-emitters"].level == "ok"


def test_a_rule_switched_off_is_not_reported(findings, plane, row):
    got = findings(["virginia"], rows(row, 2.0), plane(), rules={"off": ["virginia-cover"]})
    assert "virginia-cover" not in got
    assert "virginia-length" in got


def test_nothing_named_nothing_checked(findings, plane, row):
    assert findings([], rows(row, 2.0), plane()) == {}


def test_an_unknown_set_is_refused(findings, plane, row):
    with pytest.raises(InputError, match=r"unknown rule set 'utha'; the closest known is '"):
        findings(["utha"], rows(row, 2.0), plane())


def test_every_set_copes_with_an_empty_layout(findings, plane):
    from dripfield.rules import rule_book

    names = sorted({rule.set for rule in rule_book()})
    got = findings(names, [], plane())
    assert len(got) == len(rule_book())
    assert got["virginia-length"].level == "warning"
