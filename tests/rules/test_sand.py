"""Sieve tests of a sand against the two gradations of the book.

ASTM C33's limits are those of general tabulations (secondary); those of 310 CMR 15.255(3) are from
memory and not confirmed. The sieve tests are made up.
"""

from __future__ import annotations

import pytest

from dripfield.bed.sieves import Gradation, faults, fineness_modulus, read_sieves, untested
from dripfield.rules import rule_book


def gradation(name: str) -> Gradation:
    limits = next(rule.gradation for rule in rule_book() if rule.set == name)
    assert limits is not None
    return limits


FINE_AGGREGATE, BED_FILL = gradation("astm-c33"), gradation("massachusetts-sand")
MIDDLE = {
    "3/8 in": 100, "No. 4": 97.5, "No. 8": 90, "No. 16": 67.5, "No. 30": 42.5, "No. 50": 17.5,
    "No. 100": 5, "No. 200": 1.5,
}  # fmt: skip


def test_a_sieve_test_within_the_limits() -> None:
    # hand-derived: the middle of every limit of ASTM C33 (general tabulations); retained
    # 2.5 + 10 + 32.5 + 57.5 + 82.5 + 95 = 280, so the fineness modulus is 2.80
    test = read_sieves(
        {"No. 4": 97.5, "No. 8": 90, "No. 16": 67.5, "No. 30": 42.5, "No. 50": 17.5, "No. 100": 5}
    )
    assert fineness_modulus(test) == pytest.approx(2.80)
    assert faults(test, FINE_AGGREGATE) == []
    assert untested(test, FINE_AGGREGATE) == ["3/8 in", "No. 200"]
    assert faults(test, BED_FILL) == []


def test_what_breaks_a_gradation_is_named() -> None:
    # hand-derived against the limits of ASTM C33; FM (4 + 18 + 64 + 74 + 96 + 96.2) / 100
    coarse = read_sieves(
        {"3/8": 100, "4": 96, "8": 82, "16": 36, "30": 26, "50": 4, "100": 3.8, "200": 3.5}
    )
    assert faults(coarse, FINE_AGGREGATE) == [
        "36 % pass No. 16, 50 to 85 % wanted",
        "4 % pass No. 50, 5 to 30 % wanted",
        "3.5 % pass No. 200, 0 to 3 % wanted",
        "46 % between No. 8 and No. 16, at most 45 %",
        "fineness modulus 3.52, 2.3 to 3.1 wanted",
    ]


def test_bed_fill_grades_only_what_passes_no_4() -> None:
    # 310 CMR 15.255(3), from memory: limits on the part passing No. 4, at most 45 % retained on it
    gravelly = read_sieves({"No. 4": 60, "No. 50": 5.4, "No. 100": 3, "No. 200": 3})
    assert faults(gravelly, BED_FILL) == ["9 % pass No. 50, 10 to 100 % wanted"]
    assert faults(read_sieves({"No. 4": 54, "No. 50": 10}), BED_FILL) == [
        "46 % retained on No. 4, at most 45 %"
    ]
    assert faults(read_sieves({"No. 4": 55, "No. 50": 5.5}), BED_FILL) == []


@pytest.mark.parametrize(
    ("sieve", "verdict"),
    [
        (MIDDLE, "pass"),
        (MIDDLE | {"No. 200": 3.0}, "pass"),
        (MIDDLE | {"No. 200": 3.1}, "fail"),
        ({"No. 4": 95.0}, "not proven"),  # kept so far, the rest not tested
        ({"No. 4": 94.9}, "fail"),  # broken, whatever the rest
        ({}, "not proven"),
    ],
)
def test_a_sieve_test_against_c33(findings, plane, row, sieve, verdict):
    bed = {"section": {"sieve": sieve}}
    got = findings(["astm-c33"], [row(0.0)], plane(), bed_table=bed)
    assert got["astm-c33-fine-aggregate"].verdict == verdict
    other = findings(["massachusetts-sand"], [row(0.0)], plane(), bed_table=bed)
    assert set(other) == {"massachusetts-sand-grading"}


def test_sand_without_a_section_is_not_proven(findings, plane, row):
    got = findings(["massachusetts-sand"], [row(0.0)], plane())["massachusetts-sand-grading"]
    assert (got.verdict, got.message) == (
        "not proven",
        "give the sieve test of the sand as [bed.section] sieve",
    )
