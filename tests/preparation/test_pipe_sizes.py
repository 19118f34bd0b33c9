"""Dimensions of pipe against a library's tables, and the insulation that goes on."""

from __future__ import annotations

import pytest
from fluids.piping import nearest_pipe

from dripfield.core.errors import InputError
from dripfield.preparation.pipe_sizes import (
    COPPER_TUBE,
    SCHEDULE_40,
    SDR_35,
    bore,
    coupling_fits,
    insulation_for,
    known_size,
    outside_diameter,
)

INCH = 0.0254


def inches(size: str) -> float:
    """``1-1/4 in`` as a number."""
    total = 0.0
    for part in size.removesuffix(" in").split("-"):
        top, _, under = part.partition("/")
        total += float(top) / float(under or 1)
    return total


@pytest.mark.parametrize("size", SCHEDULE_40)
def test_schedule_40_is_that_of_astm_d1785(size: str) -> None:
    """Published: ASTM D1785 as the library fluids tabulates it."""
    _, inside, outside, wall = nearest_pipe(NPS=inches(size), schedule="40D1785")
    assert SCHEDULE_40[size] == pytest.approx((outside / INCH, wall / INCH), abs=6e-4)
    assert bore(size) == pytest.approx(inside / INCH, abs=1.2e-3)


@pytest.mark.parametrize("size", COPPER_TUBE)
def test_copper_tube_is_an_eighth_over_its_name(size: str) -> None:
    """Published: ASTM B88, outside diameter = nominal + 1/8 in for all types."""
    assert COPPER_TUBE[size] == pytest.approx(inches(size) + 0.125)


@pytest.mark.parametrize("size", SDR_35)
def test_sewer_pipe_has_its_ratio(size: str) -> None:
    """Hand-derived: SDR 35 is outside diameter over wall, which is given to 0.001 in."""
    outside, wall = SDR_35[size]
    assert outside / wall == pytest.approx(35.0, abs=0.2)


@pytest.mark.parametrize(
    ("size", "label"),
    [
        ("1/2 in", "3/4 in"),
        ("3/4 in", "1 in"),
        ("1 in", "1-1/4 in"),
        ("1-1/4 in", "2 in"),
        ("1-1/2 in", "2 in"),
        ("2 in", "2-1/2 in"),
        ("3 in", "3-1/2 in"),
        ("4 in", "5 in"),
        ("6 in", None),
    ],
)
def test_smallest_copper_label_that_goes_on(size: str, label: str | None) -> None:
    """Hand-derived from ASTM D1785 and B88: 1-1/2 in copper is 0.035 in short for 1-1/4 in PVC."""
    fits = insulation_for(size)
    assert fits.copper_label == label
    assert fits.iron_pipe_label == size


def test_no_pipe_fits_insulation_of_its_own_copper_name() -> None:
    for size in SCHEDULE_40.keys() & COPPER_TUBE.keys():
        assert COPPER_TUBE[size] < outside_diameter(size)


def test_the_diameter_comes_first() -> None:
    assert insulation_for("1 in").text == (
        "for 1.315 in (33.4 mm) outside diameter: labelled 1-1/4 in for copper tube"
        " (1.375 in bore), or 1 in in iron-pipe size"
    )


def test_six_inch_sewer_pipe_is_not_six_inch_schedule_40() -> None:
    """Hand-derived: 6.625 against 6.275 in."""
    assert not coupling_fits("6 in", "SDR 35", "6 in")
    assert coupling_fits("6 in", "Schedule 40", "6 in")


@pytest.mark.parametrize("written", ["1-1/4 in", "1 1/4 in", '1-1/4"', "1-1/4in", " 1-1/4 "])
def test_sizes_are_known_however_written(written: str) -> None:
    assert known_size(written) == "1-1/4 in"


def test_an_unknown_size_is_refused() -> None:
    with pytest.raises(InputError) as refusal:
        known_size("1-3/4 in")
    assert str(refusal.value).startswith(
        "'1-3/4 in' is no size of Schedule 40 pipe in the table; the closest known is '"
    )
