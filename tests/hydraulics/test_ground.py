"""Loading of the ground: exact on a plane and on a cone."""

from __future__ import annotations

import re

import numpy as np
import pytest
import shapely

from dripfield.core.errors import InputError
from dripfield.hydraulics.flow_paths import linear_loading
from dripfield.hydraulics.loading import areas_of, loading


class Plane:
    """Falls to the south."""

    def __init__(self, fall=0.1):
        self.fall = fall

    def gradient(self, xy):
        return np.tile((0.0, self.fall), (len(xy), 1))


class Cone:
    """Falls to the origin, so that water gathers, or away from it where ``fall`` is negative."""

    def __init__(self, fall=0.1):
        self.fall = fall

    def gradient(self, xy):
        return self.fall * xy / np.hypot(*xy.T)[:, None]


def sector(inner, outer, start, end, count=201):
    at = np.linspace(start, end, count)
    arc = np.column_stack((np.cos(at), np.sin(at)))
    return shapely.Polygon(np.vstack((inner * arc, outer * arc[::-1])))


def test_plane():
    """Q / W, worked out on paper, whatever the cells: here squares of 5 ft."""
    bed = shapely.box(1e6, 0, 1e6 + 100, 30)
    cells = np.array(
        [
            shapely.box(1e6 + x, y, 1e6 + x + 5, y + 5)
            for x in range(0, 100, 5)
            for y in range(0, 30, 5)
        ],
        dtype=object,
    )
    found = linear_loading(bed, Plane(), cells, np.full(len(cells), 2.0), stretch=4.0)
    np.testing.assert_allclose(found.rate, 240.0 / 100.0, rtol=1e-3)
    assert found.width.sum() == pytest.approx(100.0)
    assert found.missed == pytest.approx(0.0, abs=1e-3)
    np.testing.assert_allclose(found.xy[:, 1], 0.0, atol=1e-9)


@pytest.mark.parametrize(("fall", "edge"), [(0.1, 40.0), (-0.1, 100.0)])
def test_cone(fall, edge):
    """Q / (angle x radius of the lower edge), worked out on paper."""
    bed = sector(40.0, 100.0, 0.0, 1.0)
    cells = np.array(
        [
            sector(r, r + 5.0, a, a + 0.05, 11)
            for r in np.arange(40.0, 100.0, 5.0)
            for a in np.arange(20) * 0.05
        ],
        dtype=object,
    )
    daily = 0.25 * areas_of(cells)
    found = linear_loading(bed, Cone(fall), cells, daily, stretch=4.0)
    np.testing.assert_allclose(found.rate, daily.sum() / edge, rtol=3e-3)
    assert found.mean == pytest.approx(daily.sum() / edge, rel=1e-3)


def test_level_ground_has_no_lower_edge():
    bed = shapely.box(0, 0, 10, 10)
    message = (
        "the bed has no lower edge: its ground is level or not known along all of it; "
        "survey the ground along the bed's lower edge"
    )
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        linear_loading(bed, Plane(0.0), np.array([bed], dtype=object), np.ones(1), stretch=1.0)


def test_loading():
    """Two halves of one flow on 4 and 2 ft2, worked out on paper."""
    found = loading(np.array([4.0, 2.0, 0.0]), np.array([0.6, 0.6, 0.0]), 12.0, worst=2)
    np.testing.assert_allclose(found.rate[:2], [1.5, 3.0])
    assert np.isnan(found.rate[2])
    assert found.mean == pytest.approx(2.0)
    assert found.variation == pytest.approx(np.sqrt((4 * 0.25 + 2 * 1.0) / 6.0) / 2.0)
    assert found.worst.tolist() == [1, 0]
    assert found.unserved == 1
    even = loading(np.full(5, 4.0), np.full(5, 0.6), 10.0)
    assert even.variation == pytest.approx(0.0)
