"""The fall of a return."""

from __future__ import annotations

import numpy as np
import pytest

from dripfield.core.units import Unit
from dripfield.preparation.gravity_return import return_profile


def line(*points: tuple[float, float]) -> np.ndarray:
    """A line along the easting by station and elevation."""
    return np.array([(x, 0.0, z) for x, z in points])


def test_a_line_that_falls_all_the_way() -> None:
    """Hand-derived: 2 % and 1 %."""
    profile = return_profile(line((0, 100), (50, 99), (150, 98)), Unit.FOOT, inlet=97.9)
    assert profile.fall == pytest.approx([0.02, 0.01])
    assert [one.verdict for one in profile.findings] == ["pass", "pass", "pass"]
    assert profile.total == pytest.approx(2.0)


def test_a_belly_holds_water_from_the_height_of_the_summit_behind_it() -> None:
    """Hand-derived: down to 97 at 60, up to 98 at 80: 98 is passed at 40, a third before 60."""
    profile = return_profile(line((0, 100), (60, 97), (80, 98), (120, 96)), Unit.FOOT)
    ((start, end, deep),) = profile.bellies
    assert (start, end, deep) == pytest.approx((40.0, 80.0, 1.0))
    assert [one.verdict for one in profile.findings] == ["fail", "fail", "not proven"]
    assert profile.flat == (1,)


def test_a_rise_from_the_start_and_an_end_below_the_inlet() -> None:
    profile = return_profile(line((0, 97), (20, 98), (40, 96)), Unit.FOOT, inlet=96.5)
    assert profile.bellies == ((0.0, 20.0, 1.0),)
    assert profile.findings[2].verdict == "fail"
    assert profile.findings[2].text == "it ends 0.50 ft below the inlet at 96.50 ft"


def test_a_drop_straight_down_is_no_fault() -> None:
    profile = return_profile(line((0, 100), (50, 99), (50, 97), (50, 97), (90, 96)), Unit.FOOT)
    assert profile.flat == ()
    assert profile.bellies == ()
