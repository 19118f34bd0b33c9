"""Each rule about layout and bed just inside and outside its limit.

The limits are published, as the rule that is named cites them; layouts and what is measured on
them are hand-derived. What a text leaves open (a tolerance for level, a length to take a grade
over) is our own reading, as the rule's text in the book says.
"""

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
    assert got["alabama-spacing"].verdict == "pass"
    assert got["alabama-spacing"].message == (
        "laid out at 2.00 ft on centre, measured in plan, with 300.00 ft of tubing on slopes up to "
        "20%; the standard is 24 in (2.00 ft)"
    )
    assert got["alabama-spacing"].rule.citation == "Ala. Admin. Code r. 420-3-1-.62(2)(a)"
    assert got["alabama-spacing"].rule.status == "confirmed"
    assert got["alabama-steep-spacing"].verdict == "pass"
    assert got["alabama-steep-length"].verdict == "pass"
    assert got["alabama-level"].message == "all 3 laterals lie level within 0.10 ft"


def test_alabama_another_spacing_needs_approval(findings, plane, row):
    got = findings(["alabama"], rows(row, 2.5), plane(), layout={"spacing": 2.5})
    assert got["alabama-spacing"].verdict == "fail"
    assert got["alabama-spacing"].message.endswith(
        "the standard is 24 in (2.00 ft), another spacing needs approval"
    )


@pytest.mark.parametrize(("slope", "verdict"), [(0.2000, "pass"), (0.2001, "fail")])
def test_alabama_exactly_twenty_per_cent_is_not_steep(findings, plane, row, slope, verdict):
    got = findings(["alabama"], rows(row, 2.0, north=slope), plane(slope))
    assert got["alabama-steep-spacing"].verdict == verdict
    assert got["alabama-spacing"].verdict == "pass"


def test_alabama_steep_ground_laid_out_too_close(findings, plane, row):
    got = findings(["alabama"], rows(row, 2.0, north=0.25), plane(0.25))["alabama-steep-spacing"]
    assert got.message == (
        "300.00 ft of 300.00 ft of tubing lies on slopes over 20% (greatest 25.0%), laid out at "
        "2.00 ft on centre, 2.00 ft at the closest; at least 36 in (3.00 ft) is required there"
    )


@pytest.mark.parametrize(
    ("spacing", "verdict"), [(3.0, "pass"), (3.5, "pass"), (2.99, "fail"), (2.0, "fail")]
)
def test_alabama_at_least_three_feet_on_steep_ground(findings, plane, row, spacing, verdict):
    laterals = rows(row, spacing, north=0.25)
    got = findings(["alabama"], laterals, plane(0.25), layout={"spacing": spacing})
    assert got["alabama-steep-spacing"].verdict == verdict


def test_alabama_steep_gaps_may_miss_by_the_spacing_tolerance(findings, plane, row):
    def verdict(gap):
        laterals = rows(row, gap, north=0.25)
        got = findings(["alabama"], laterals, plane(0.25), layout={"spacing": 3.0})
        return got["alabama-steep-spacing"].verdict

    assert verdict(2.70) == "pass"
    assert verdict(2.69) == "fail"


@pytest.mark.parametrize(("area", "verdict"), [(600.0, "pass"), (601.0, "fail")])
def test_alabama_steep_ground_does_not_shorten_the_tubing(findings, plane, row, area, verdict):
    laterals, ground = rows(row, 3.0, north=0.25), plane(0.25)  # 300 ft
    layout = {"spacing": 3.0}
    got = findings(["alabama"], laterals, ground, layout=layout, rules={"absorption_area": area})
    assert got["alabama-steep-length"].verdict == verdict
    unsaid = findings(["alabama"], laterals, ground, layout=layout)["alabama-steep-length"]
    assert unsaid.verdict == "not proven"
    assert "[rules] absorption_area" in unsaid.message


def test_alabama_off_level_is_named_with_its_length(findings, plane, row):
    laterals = rows(row, 2.0)
    laterals[1] = row(-2.0, z=100.0, name="L02")  # set 0.2 ft high
    got = findings(["alabama"], laterals, plane())["alabama-level"]
    assert got.verdict == "fail"
    assert got.message == (
        "1 of 3 laterals leave level by more than 0.10 ft, over 100.00 ft of 300.00 ft: L02"
    )


def section(depth, tubing_height=0.0, **more):
    cover = [{"name": "loam", "depth": depth}]
    return {"section": {"cover": cover, "tubing_height": tubing_height} | more}


@pytest.mark.parametrize(
    ("inches", "verdict"), [(6.0, "pass"), (5.99, "fail"), (12.0, "pass"), (12.01, "fail")]
)
def test_alabama_cover(findings, plane, row, inches, verdict):
    got = findings(["alabama"], rows(row, 2.0), plane(), bed_table=section(inches / 12))
    assert got["alabama-cover"].verdict == verdict
    sunk = findings(["alabama"], rows(row, 2.0), plane(), bed_table=section(0.0, -inches / 12))
    assert sunk["alabama-cover"].verdict == verdict


def test_cover_without_a_section_is_not_proven(findings, plane, row):
    got = findings(["alabama"], rows(row, 2.0), plane())["alabama-cover"]
    assert got.verdict == "not proven"
    assert got.message == (
        "give [bed.section] with its cover; 6 in (0.50 ft) to 12 in (1.00 ft) is required"
    )


@pytest.mark.parametrize(
    ("height", "compensating", "verdict"),
    [
        (8.00, None, "pass"),
        (8.00, False, "pass"),
        (8.01, None, "not proven"),
        (8.01, False, "not proven"),  # one zone or several?
        (8.01, True, "pass"),  # the text says nothing of emitters that compensate
    ],
)
def test_alabama_height_of_all_laterals(findings, plane, row, height, compensating, verdict):
    laterals = [row(0.0), row(-80.0, z=100.0 - height, name="L02")]
    got = findings(["alabama"], laterals, plane(), system={"compensating": compensating})
    assert got["alabama-zone-height"].verdict == verdict


@pytest.mark.parametrize(("height", "verdict"), [(8.00, "pass"), (8.01, "fail")])
def test_alabama_height_within_a_zone(findings, plane, row, height, verdict):
    laterals = [row(0.0), row(-80.0, z=80.0, name="L02")]
    system = {"compensating": False, "zone_heights": (3.0, height)}
    got = findings(["alabama"], laterals, plane(), system=system)["alabama-zone-height"]
    assert got.verdict == verdict


@pytest.mark.parametrize(("spacing", "verdict"), [(2.0, "pass"), (1.0, "fail"), (3.0, "fail")])
def test_alabama_emitters(findings, plane, row, spacing, verdict):
    got = findings(["alabama"], rows(row, 2.0), plane(), emitters={"spacing": spacing})
    assert got["alabama-emitters"].verdict == verdict


# Texas -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("fall", "verdict"), [(1.00, "pass"), (1.01, "fail")])
def test_texas_one_foot_in_a_hundred(findings, plane, row, fall, verdict):
    got = findings(["texas-222"], [row(0.0)], plane(north=0.1, east=-fall / 100))["texas-222-grade"]
    assert got.verdict == verdict
    assert got.message.startswith(f"greatest grade along a line {fall:.2f}% over 25 ft of line")


def test_texas_grade_is_taken_over_stretches_not_over_the_whole_line(findings, cone):
    # a dip: falls 2 % for 50 ft, rises 2 % for 50 ft, its ends at one height
    lateral = Lateral("L01", "A", np.array(((-50.0, 0.0), (50.0, 0.0))), 100.5)
    got = findings(["texas-222"], [lateral], cone(0.02))["texas-222-grade"]
    assert got.verdict == "fail"
    assert got.message.endswith("at most 1%; 1 of 1 laterals exceed it: L01")


@pytest.mark.parametrize(
    ("spacing", "verdict"), [(1.0, "pass"), (3.0, "pass"), (0.99, "fail"), (3.01, "fail")]
)
def test_texas_centres(findings, plane, row, spacing, verdict):
    laterals = rows(row, spacing)
    got = findings(["texas-222"], laterals, plane(), layout={"spacing": spacing})
    assert got["texas-222-line-centres"].verdict == verdict
    emitters = findings(["texas-222"], laterals, plane(), emitters={"spacing": spacing})
    assert emitters["texas-222-emitters"].verdict == verdict


def test_texas_measured_gaps_count_as_well(findings, plane, row):
    laterals = rows(row, 3.2)
    got = findings(["texas-222"], laterals, plane(), layout={"spacing": 3.0})[
        "texas-222-line-centres"
    ]
    assert got.verdict == "fail"
    assert "laid out at 3.00 ft on centre, measured 3.20 ft to 3.20 ft" in got.message


@pytest.mark.parametrize(
    ("inches", "verdict"), [(6.0, "pass"), (5.99, "fail"), (48.0, "pass"), (48.1, "fail")]
)
def test_texas_depth(findings, plane, row, inches, verdict):
    got = findings(["texas-222"], rows(row, 2.0), plane(), bed_table=section(inches / 12))
    assert got["texas-222-depth"].verdict == verdict


# Virginia --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("length", "verdict"), [(249.0, "fail"), (250.0, "pass")])
def test_virginia_half_the_area(findings, plane, row, length, verdict):
    laterals = rows(row, 2.0, count=4, length=length)
    area = {"absorption_area": 2000.0}
    got = findings(["virginia"], laterals, plane(), rules=area)["virginia-length"]
    assert got.verdict == verdict
    assert f"{4 * length:.2f} ft of tubing; for the design's 2,000 ft2" in got.message


def test_virginia_without_the_minimum_absorption_area_is_not_proven(findings, plane, row):
    # the bed's own area is not the soil absorption area that the rule speaks of
    laterals = rows(row, 2.0, count=4, length=249.0)
    got = findings(["virginia"], laterals, plane(), bed=box(0, 0, 50, 40))["virginia-length"]
    assert got.verdict == "not proven"
    assert got.message == (
        "996.00 ft of tubing: give the least area that the design calls for as [rules] "
        "absorption_area, at which the rule takes it"
    )


@pytest.mark.parametrize(("metres", "verdict"), [(304.7, "fail"), (304.8, "pass")])
def test_virginia_in_metres(findings, plane, row, metres, verdict):
    # 2,000 ft2 and 1,000 ft of tubing, in metres
    area = {"absorption_area": 2000.0 * 0.3048**2}
    laterals = rows(row, 0.6, count=4, length=metres / 4)
    got = findings(["virginia"], laterals, plane(), units="m", rules=area)["virginia-length"]
    assert got.verdict == verdict


@pytest.mark.parametrize(
    ("inches", "verdict"), [(6.0, "pass"), (5.9, "fail"), (24.0, "pass"), (24.1, "fail")]
)
def test_virginia_emitters(findings, plane, row, inches, verdict):
    got = findings(["virginia"], rows(row, 2.0), plane(), emitters={"spacing": inches / 12})
    assert got["virginia-emitters"].verdict == verdict


def test_virginia_cover_has_no_greatest(findings, plane, row):
    got = findings(["virginia"], rows(row, 2.0), plane(), bed_table=section(5.0))
    assert got["virginia-cover"].verdict == "pass"


# Others ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("depth", "verdict"), [(2.0, "pass"), (1.99, "fail")])
def test_mississippi_shoulder(findings, plane, row, depth, verdict):
    table = section(0.5, shoulder=depth, side_slope=3.0)
    got = findings(["mississippi"], rows(row, 2.0), plane(), bed_table=table)
    assert got["mississippi-fill"].verdict == verdict
    steeper = section(0.5, shoulder=depth, side_slope=2.9)
    got = findings(["mississippi"], rows(row, 2.0), plane(), bed_table=steeper)
    assert got["mississippi-fill"].verdict == "fail"


@pytest.mark.parametrize(("length", "verdict"), [(80.0, "pass"), (79.9, "fail")])
def test_lake_county_twice_as_long_as_wide(findings, plane, row, length, verdict):
    got = findings(["lake-county-il"], rows(row, 2.0), plane(), bed=box(0, 0, 40, length))
    assert got["lake-county-shape"].verdict == verdict


def arcs(radii, slope):
    turn = np.linspace(0.0, 2.0, 400)
    return [
        Lateral(f"L{i + 1:02d}", "A", r * np.column_stack((np.cos(turn), np.sin(turn))),
                100.0 + slope * r)
        for i, r in enumerate(radii)
    ]  # fmt: skip


@pytest.mark.parametrize("slope", [0.1, 0.005])  # the text names no slope for this
@pytest.mark.parametrize(("radius", "verdict"), [(49.9, "fail"), (50.1, "pass")])
def test_minnesota_never_under_fifty_feet(findings, cone, radius, verdict, slope):
    got = findings(["minnesota"], arcs((radius + 2, radius), slope), cone(slope))
    assert got["minnesota-swale-never"].verdict == verdict
    assert got["minnesota-swale-never"].message.startswith("L02 bends round a swale of ")


@pytest.mark.parametrize(
    ("radius", "slope", "ratio", "verdict"),
    [
        (99.9, 0.0101, 5.0, "fail"),
        (99.9, 0.0101, 4.99, "pass"),
        (99.9, 0.0101, None, "not proven"),
        (100.1, 0.0101, 5.0, "pass"),
        (100.1, 0.0101, None, "pass"),
        (99.9, 0.0099, 5.0, "pass"),
        (99.9, 0.0099, None, "pass"),
    ],
)
def test_minnesota_a_hundred_feet_on_a_slope_with_a_high_ratio(
    findings, cone, radius, slope, ratio, verdict
):
    laterals = arcs((radius + 2, radius), slope)
    got = findings(["minnesota"], laterals, cone(slope), system={"absorption_ratio": ratio})
    assert got["minnesota-swale"].verdict == verdict


def test_minnesota_a_nose_is_no_swale(findings, cone):
    nose = findings(["minnesota"], arcs((30, 32), -0.1), cone(-0.1))
    assert nose["minnesota-swale-never"].verdict == "pass"
    assert nose["minnesota-swale"].message == (
        "no swale under the 1 lowest laterals on slopes of 1% and more"
    )


def test_minnesota_short_laterals_are_not_proven(findings, plane, row):
    got = findings(["minnesota"], [row(0.0, 49.0)], plane())["minnesota-swale"]
    assert got.verdict == "not proven"


# All -------------------------------------------------------------------------------------------


def test_metric_messages_carry_both_units(findings, plane, row):
    got = findings(["alabama"], rows(row, 0.6), plane(), units="m")["alabama-spacing"]
    assert got.verdict == "fail"  # 0.600 m is not 24 in
    assert "laid out at 0.600 m" in got.message
    assert "24 in (0.610 m)" in got.message
    same = findings(["alabama"], rows(row, 0.61), plane(), units="m", layout={"spacing": 0.61})
    assert same["alabama-spacing"].verdict == "pass"


def test_two_survey_feet_are_two_feet(findings, plane, row):
    # 2 ftUS are 24.00005 in: the standard, and not over it
    emitters = {"spacing": 2.0}
    got = findings(
        ["alabama", "virginia"], rows(row, 2.0), plane(), units="ftUS", emitters=emitters
    )
    assert got["alabama-spacing"].verdict == "pass"
    assert got["alabama-emitters"].verdict == "pass"
    assert got["virginia-emitters"].verdict == "pass"


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
    assert got["virginia-length"].verdict == "not proven"
