"""Bare ground, with areas worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon, box

from dripfield.core.units import Unit
from dripfield.layout.model import Lateral, Layout
from dripfield.measures.bare import bare_ground, bare_patches
from dripfield.measures.field import measure_layout, measure_merit
from dripfield.site.model import Bed
from dripfield.site.reader import layout_settings
from dripfield.site.schema.layout import LayoutTable

BED = Bed(box(0.0, 0.0, 42.0, 22.0))
SETTINGS = layout_settings(LayoutTable(spacing=2.0), Unit.FOOT)


class Ground:
    """Elevations by a function."""

    def __init__(self, height):
        self._height = height

    def elevation(self, xy):
        return self._height(*np.asarray(xy, dtype=float).T)

    def gradient(self, xy):
        x, y = np.asarray(xy, dtype=float).T
        a = 1e-4
        rise = self._height(x + a, y) - self._height(x - a, y)
        return np.column_stack((rise, self._height(x, y + a) - self._height(x, y - a))) / (2 * a)


def rows(skip=(), start=1.0, end=41.0) -> Layout:
    """Ten rows, 2 ft apart, less some."""
    laterals = tuple(
        Lateral(f"L{k:02d}", "A", np.array([(start, 20.0 - 2 * k), (end, 20.0 - 2 * k)]), 0.0)
        for k in range(10)
        if k not in skip
    )
    return Layout("straight", laterals, BED.boundary)


def test_a_full_bed_has_none():
    assert bare_ground(rows(), box(0.5, 1.0, 41.5, 21.0), SETTINGS) == ()


def test_rows_left_out_leave_their_strip_bare():
    """Rows at 10 and 8 left out: from 6 + 1.1 to 12 - 1.1 over the width of 41 ft."""
    (patch,) = bare_ground(rows(skip=(5, 6)), box(0.5, 1.0, 41.5, 21.0), SETTINGS)
    assert patch.area == pytest.approx(3.8 * 41.0, rel=2e-3)
    assert patch.bounds == pytest.approx((0.5, 7.1, 41.5, 10.9), abs=0.02)


def test_a_place_for_less_than_two_laterals_of_the_least_length_is_not_named():
    """Twice 5 ft at 2 ft on centre are 20 sq ft: 3.8 by 5 is less, 3.8 by 6 is not."""
    for wide, count in ((5.0, 0), (6.0, 1)):
        area = box(10.0, 1.0, 10.0 + wide, 21.0)
        assert len(bare_ground(rows(skip=(5, 6)), area, SETTINGS)) == count


def test_a_bed_without_laterals_is_bare_all_over():
    (patch,) = bare_ground(Layout("straight", (), BED.boundary), box(0, 0, 42, 22), SETTINGS)
    assert patch.area == pytest.approx(42.0 * 22.0, rel=1e-3)  # its corners rounded


@pytest.mark.parametrize(
    ("height", "reason"),
    [
        (lambda x, y: -0.01 * ((x - 21) ** 2 + (y - 9) ** 2), "round a top of the ground"),
        (lambda x, y: 0.01 * ((x - 21) ** 2 + (y - 9) ** 2), "round the bottom of a hollow"),
        (lambda x, y: 0.1 * y, "where lines of this method leave their spacing"),
        (lambda x, y: 0.01 * y + 0.3 * np.tanh(y - 9.0), "on a bank steeper than the rest"),
        (lambda x, y: 0.001 * y, "where the ground is level within the tolerance"),
        (lambda x, y: np.full_like(x, np.nan), "where the ground is not known"),
    ],
)
def test_reasons(height, reason):
    found = bare_patches(
        rows(skip=(5, 6), end=41.0), box(0.5, 1, 41.5, 21), Ground(height), SETTINGS
    )
    assert found[0].reason.startswith(reason)


def test_merit_and_measures_count_it():
    layout, ground = rows(skip=(4, 5, 6)), Ground(lambda x, y: 0.1 * y)
    merit = measure_merit(layout, ground, SETTINGS, BED)
    served = BED.open_area(0.5).area
    assert merit.bare * served == pytest.approx(5.8 * 41.0, rel=2e-3)
    assert merit.served_area == pytest.approx(served)
    measured = measure_layout(layout, ground, SETTINGS, BED)
    assert sum(one.area.area for one in measured.bare) == pytest.approx(5.8 * 41.0, rel=2e-3)
    assert isinstance(measured.bare[0].area, Polygon)
