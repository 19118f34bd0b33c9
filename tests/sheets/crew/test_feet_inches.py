"""Lengths as crews read them."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dripfield.core.feet_inches import both, decimal, feet_inches
from dripfield.core.units import Unit


@pytest.mark.parametrize(
    ("feet", "text"),
    [  # hand-derived: a foot is 12 inches of 8 eighths
        (0.0, "0'-0\""),
        (5.375, "5'-4 1/2\""),
        (4.42, "4'-5\""),
        (8.42, "8'-5\""),
        (1 / 96, "0'-0 1/8\""),
        (1 / 192, "0'-0 1/8\""),
        (3 / 192, "0'-0 1/4\""),
        (5.999, "6'-0\""),
        (11.99, "11'-11 7/8\""),
        (-0.5, "-0'-6\""),
        (-0.001, "0'-0\""),
        (math.nan, ""),
    ],
)
def test_feet_inches_eighths(feet: float, text: str) -> None:
    assert feet_inches(feet) == text


@given(st.integers(0, 100_000))
def test_every_whole_eighth_reads_back(eighths: int) -> None:
    """Against exact fractions from the standard library."""
    text = feet_inches(eighths / 96)
    feet, inches = text.rstrip('"').split("'-")
    value = Fraction(feet) + sum((Fraction(part) for part in inches.split()), Fraction(0)) / 12
    assert value == Fraction(eighths, 96)


def test_decimals_follow_the_unit() -> None:
    assert decimal(4.4167, Unit.FOOT) == "4.42"
    assert decimal(1.63749, Unit.METRE) == "1.637"
    assert decimal(-0.001, Unit.FOOT) == "0.00"
    assert decimal(math.nan, Unit.FOOT) == ""
    assert both(4.42, Unit.SURVEY_FOOT) == "4.42  4'-5\""
    assert both(1.5, Unit.METRE) == "1.500"
