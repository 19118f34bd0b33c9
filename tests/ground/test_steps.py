"""Steps that cross a bed, on grounds in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import box

from dripfield.ground.steps import step_note, steps_in
from dripfield.ground.triangles.tin import Surface

BED = box(0.0, 0.0, 120.0, 70.0)


def surface(height, step: float = 6.0) -> Surface:
    rng = np.random.default_rng(2)
    x, y = np.meshgrid(np.arange(-12, 133, step), np.arange(-12, 83, step))
    x, y = (at + rng.uniform(-0.2, 0.2, at.shape) * step for at in (x, y))
    return Surface.from_points(np.column_stack((x.ravel(), y.ravel(), height(x, y).ravel())))


def test_a_wall_across_the_bed_is_found_with_its_place_and_drop():
    (step,) = steps_in(surface(lambda x, y: 0.08 * y + 3.4 * (y > 33)), BED, 6.0, 0.1)
    assert step.drop == pytest.approx(3.4, abs=0.8)  # with the slope's own fall over the strip
    assert sorted(step.ends[:, 0]) == pytest.approx([0.0, 120.0], abs=8.0)
    assert step.ends[:, 1] == pytest.approx([33.0, 33.0], abs=4.0)
    note = step_note(step, "ft")
    assert "crosses the bed from northing 3" in note
    assert "enter a ring round it as a keepout" in note


@pytest.mark.parametrize(
    "height",
    [
        lambda x, y: 0.08 * y,
        lambda x, y: 0.10 * y - 0.0010 * (x - 60.0) ** 2,
        lambda x, y: 0.05 * y + 0.0009 * y**2,
        lambda x, y: 0.12 * y + 0.9 * np.sin(2 * np.pi * y / 80.0),
        lambda x, y: 0.08 * y + 0.3 * (y > 33),  # less than five tolerances
        lambda x, y: np.zeros_like(x),
    ],
    ids=["plane", "nose", "steepening", "benched", "low", "flat"],
)
def test_ground_without_a_step_has_none(height):
    assert steps_in(surface(height), BED, 6.0, 0.1) == ()


def test_a_wall_beside_the_bed_is_none_of_it():
    assert steps_in(surface(lambda x, y: 0.08 * y + 3.4 * (y > 77)), BED, 6.0, 0.1) == ()
