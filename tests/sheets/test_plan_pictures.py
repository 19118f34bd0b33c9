"""Six plans against kept pictures, so that none can rot unseen.

Fonts are those that matplotlib carries, with its own rasteriser. Both pictures are averaged over
three by three dots, since a release of the rasteriser may move an edge by a dot; then no dot may
differ by more than 90 of 255 and the mean by no more than 0.6. `plan_pictures.py` renews them.
"""

from __future__ import annotations

import numpy as np
import plan_pictures
import pytest
from scipy.ndimage import uniform_filter

MOST, MEAN = 90.0, 0.6  # of 255


def differences(one: np.ndarray, other: np.ndarray) -> tuple[float, float]:
    """Greatest and mean difference of two pictures, averaged over three by three dots."""
    off = np.abs(uniform_filter(one, 3) - uniform_filter(other, 3))
    return float(off.max()), float(off.mean())


@pytest.mark.parametrize("name", plan_pictures.NAMES)
def test_plan_looks_as_it_was_kept(name, tmp_path):
    drawn, kept = plan_pictures.picture(name), plan_pictures.kept(name)
    assert drawn.shape == kept.shape
    most, mean = differences(drawn, kept)
    if most > MOST or mean > MEAN:
        plan_pictures.save(tmp_path / f"{name}.png", drawn)
        plan_pictures.save(tmp_path / f"{name}_difference.png", 255.0 - np.abs(drawn - kept))
    assert (most <= MOST, mean <= MEAN) == (True, True), f"{most:.0f}, {mean:.2f}: see {tmp_path}"


def test_a_line_that_is_gone_is_noticed():
    """Hand-made: a dark line a dot wide across a white picture."""
    white = np.full((300, 400), 255.0)
    line = white.copy()
    line[100, 20:380] = 0.0
    most, mean = differences(line, white)
    assert most == pytest.approx(85.0)  # a third of 255
    assert mean > MEAN


def test_a_missing_lateral_is_noticed():
    drawn = plan_pictures.picture("plane")
    blank = drawn.copy()
    rows = np.flatnonzero((drawn < 160.0).mean(axis=1) > 0.5)  # laterals and the bed's edges
    blank[rows[3] - 1 : rows[3] + 2] = 255.0
    most, mean = differences(blank, drawn)
    assert most > MOST or mean > MEAN
