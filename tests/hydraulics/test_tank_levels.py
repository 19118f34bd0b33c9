"""Switch levels of a dosing tank, worked out on paper."""

from __future__ import annotations

import pytest

from dripfield.hydraulics.tank_levels import draw_down, switch_levels
from dripfield.hydraulics.tank_shape import TankShape

BOX = TankShape("rectangle", 5.0, 8.0, 4.0)  # 32 ft2: half a foot is 16 ft3, 119.69 gal
LYING = TankShape("horizontal cylinder", 4.0, 8.0, 4.0)
DOSE = 119.69 * 231.0 / 1728.0


def test_levels_that_nobody_entered_stand_as_low_as_they_may() -> None:
    found = switch_levels(BOX, {"pump cover": 1.0}, 4.0, DOSE)
    assert [one.name for one in found] == ["pump cover", "off", "on", "override", "alarm", "inlet"]
    least = [one.least for one in found[1:]]
    assert least == pytest.approx([1.0, 1.5, 2.0, 2.0, 2.0], abs=1e-3)
    assert [one.holds for one in found[1:5]] == [None] * 4
    assert found[5].holds


def test_levels_entered_are_held_against_what_must_be_below_them() -> None:
    entered = {"pump cover": 0.9, "off": 1.0, "on": 1.4, "override": 2.0, "alarm": 1.9}
    found = {one.name: one for one in switch_levels(BOX, entered, None, DOSE)}
    assert found["on"].least == pytest.approx(1.5, abs=1e-3)
    assert found["override"].least == pytest.approx(1.9, abs=1e-3)  # over the level entered
    assert {name: one.holds for name, one in found.items()} == {
        "pump cover": None, "off": True, "on": False, "override": True, "alarm": False,
    }  # fmt: skip


def test_a_tank_too_small_or_without_a_level_to_start_from_has_none() -> None:
    by_name = {one.name: one for one in switch_levels(BOX, {"off": 4.3}, None, DOSE)}
    assert by_name["on"].least == pytest.approx(4.8, abs=1e-3)
    assert by_name["override"].least is None
    assert by_name["alarm"].height is None
    assert [one.height for one in switch_levels(BOX, {}, None, DOSE)] == [None] * 4


def test_a_dose_draws_a_lying_tank_down_by_its_own_shape() -> None:
    """From half full, 376.0 gal, to 256.3 gal: 17.93 in (SciPy, brentq)."""
    down = draw_down(LYING, 2.0, DOSE)
    assert down is not None
    assert LYING.volume(2.0 - down) == pytest.approx(LYING.volume(2.0) - DOSE)
    assert 12.0 * down == pytest.approx(6.065, abs=0.001)
    assert draw_down(LYING, 0.5, DOSE) is None
    assert draw_down(BOX, 2.0, DOSE) == pytest.approx(0.5, abs=1e-3)
