"""A plane and a cone: every method gives the exact answer.

Parallel level lines of a plane are straight and evenly spaced, those of a cone are concentric
circles: level and evenly spaced at once. All expected figures here are hand-derived. A thousandth
of a foot is the bound throughout.
"""

from __future__ import annotations

import numpy as np
import pytest
from laying_out import (
    METHODS,
    STATE_PLANE,
    Cone,
    Plane,
    lay_on,
    lay_on_shots,
    rectangle,
    settings_of,
    shots_over,
)
from shapely import LineString

from dripfield.core.units import Unit

EXACT = 0.001  # ft
UNITS = (Unit.FOOT, Unit.SURVEY_FOOT, Unit.METRE)
ORIGINS = pytest.mark.parametrize("origin", [(0.0, 0.0), STATE_PLANE], ids=["near", "state plane"])
EVERY = pytest.mark.parametrize("method", METHODS)


def sampled(line: np.ndarray) -> np.ndarray:
    """Vertices and the middles of chords."""
    return np.concatenate((line, (line[1:] + line[:-1]) / 2.0))


def assert_level(layout, ground, exact=EXACT):
    for lateral in layout.laterals:
        off = ground.elevation(sampled(lateral.xy)) - lateral.elevation
        assert np.abs(off).max() <= exact, lateral.name


def assert_apart(places: list[np.ndarray], spacing: float, exact: float) -> np.ndarray:
    """Each lateral's places across the slope are one value; values are whole spacings apart."""
    for at in places:
        assert np.ptp(at) <= 2 * exact
    middle = np.sort([(at.min() + at.max()) / 2.0 for at in places])
    steps = np.diff(middle) / spacing
    assert np.abs(steps - np.round(steps)).max() * spacing <= exact
    assert np.round(steps).max() == 1
    return middle


def assert_on_plane(layout, ground, spacing, exact=EXACT):
    fall = -np.array((ground.east, ground.north)) / np.hypot(ground.east, ground.north)
    across = [(sampled(one.xy) - ground.origin) @ fall for one in layout.laterals]
    assert_apart(across, spacing, exact)
    assert_level(layout, ground, exact)
    assert set(layout.panels) == {"A"}
    assert {one.panel for one in layout.laterals} == {"A"}


def assert_on_cone(layout, ground, spacing, exact=EXACT):
    radius = [np.hypot(*(sampled(one.xy) - ground.origin).T) for one in layout.laterals]
    assert_apart(radius, spacing, exact)
    assert_level(layout, ground, exact)
    assert set(layout.panels) == {"A"}


@EVERY
@ORIGINS
@pytest.mark.parametrize("unit", UNITS)
def test_plane(method, origin, unit):
    size = unit.default(1.0, 0.3)
    ground = Plane(0.03, 0.08, origin)
    settings = settings_of(unit, min_length=unit.default(5.0, 1.5))
    bed = rectangle(100.0 * size, 60.0 * size, origin)
    layout = lay_on(ground, bed, settings, method)
    assert_on_plane(layout, ground, settings.spacing, EXACT * size)
    # across the slope the open area reaches (98 x 0.03 + 58 x 0.08) / 0.08544 = 88.7: 44 or 45
    # lines, of which the corners' shortest fall under the least length of 5
    assert len(layout.laterals) == 43


@EVERY
@pytest.mark.parametrize(
    ("depth", "count"),
    [
        (60.0, 30),  # 58 between the clearances: 29 spacings, a line on either edge
        (59.3, 29),  # 57.3: 28 spacings and a bit
        (61.9, 30),  # 59.9: nearly 30 spacings
        (3.9, 1),  # 1.9: no room for a second
        (4.1, 2),
    ],
)
def test_number_of_laterals_on_a_plane(method, depth, count):
    """Along the strike the count is the depth between clearances over the spacing, and one."""
    ground = Plane(0.0, 0.1)
    layout = lay_on(ground, rectangle(80.0, depth), settings_of(), method)
    assert len(layout.laterals) == count
    assert [one.name for one in layout.laterals] == [f"L{k:02d}" for k in range(1, count + 1)]
    for one in layout.laterals:
        assert LineString(one.xy).length == pytest.approx(78.0, abs=EXACT)
    assert_on_plane(layout, ground, 2.0) if count > 1 else assert_level(layout, ground)
    elevations = [one.elevation for one in layout.laterals]
    np.testing.assert_allclose(np.diff(elevations), -0.2, atol=1e-6)


@EVERY
@ORIGINS
def test_plane_through_a_surveyed_surface(method, origin):
    """The shots carry no noise; the surface is triangulated and smoothed as in any run."""
    ground = Plane(-0.05, 0.07, origin)
    bed = rectangle(80.0, 50.0, origin)
    shots = shots_over(ground, bed, 9.0)
    layout, measured = lay_on_shots(shots, bed, method)
    assert_on_plane(layout, ground, 2.0)
    assert measured.share_both == 1.0
    assert measured.panels == 1


@pytest.mark.parametrize("method", METHODS[1:])
@ORIGINS
@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("side", ["nose", "hollow"])
def test_cone(method, origin, unit, side):
    size = unit.default(1.0, 0.3)
    apex = (origin[0] + 50.0 * size, origin[1] + 130.0 * size)
    ground = Cone(0.1 if side == "nose" else -0.1, apex)
    settings = settings_of(unit)
    bed = rectangle(100.0 * size, 70.0 * size, origin)
    layout = lay_on(ground, bed, settings, method)
    assert_on_cone(layout, ground, settings.spacing, EXACT * size)


@pytest.mark.parametrize("method", METHODS[1:])
def test_number_of_circles_on_a_cone(method):
    """A bed about the line of fall: the open area lies between 61 and 98.98 from the apex.

    Nearest point of the area: 61 straight down. Farthest: its far corners, at 89 down and 49 to
    the side, hypot(89, 49) = 101.6. The outermost lines are corner pieces that may be too short;
    between 61 and 89 every circle runs through the middle: 28 / 2 + 1 = 15 of them, or 14 when the
    start lies between.
    """
    ground = Cone(0.1, (50.0, 150.0))
    layout = lay_on(ground, rectangle(100.0, 30.0, (0.0, 60.0)), settings_of(), method)
    middle = LineString([(50.0, 0.0), (50.0, 150.0)])
    crossing = [one for one in layout.laterals if LineString(one.xy).intersects(middle)]
    assert len(crossing) in (14, 15)
    whole = sorted(np.hypot(*(one.xy - ground.origin).T).mean() for one in crossing)
    np.testing.assert_allclose(np.diff(whole), 2.0, atol=EXACT)


@EVERY
def test_spacing_along_the_slope_of_a_plane(method):
    """2 ft along a slope of 1 in 4 is 2 / hypot(1, 1/4) = 1.9403 ft in plan."""
    ground = Plane(0.0, 0.25)
    settings = settings_of(spacing_measured="slope")
    layout = lay_on(ground, rectangle(60.0, 40.0), settings, method)
    plan = 2.0 / np.hypot(1.0, 0.25)
    assert plan == pytest.approx(1.9403, abs=5e-5)
    assert_on_plane(layout, ground, plan)
    # 38 between the clearances: 38 / 1.9403 = 19.58 spacings
    assert len(layout.laterals) == 20
    for upper, lower in zip(layout.laterals[:-1], layout.laterals[1:], strict=True):
        away = np.hypot(upper.xy[0, 1] - lower.xy[0, 1], upper.elevation - lower.elevation)
        assert away == pytest.approx(2.0, abs=EXACT)


@pytest.mark.parametrize("method", METHODS[1:])
def test_spacing_along_the_slope_of_a_cone(method):
    ground = Cone(0.2, (40.0, 120.0))
    settings = settings_of(spacing_measured="slope")
    layout = lay_on(ground, rectangle(80.0, 50.0), settings, method)
    assert_on_cone(layout, ground, 2.0 / np.hypot(1.0, 0.2))


def test_a_bearing_turns_straight_lines_and_nothing_else():
    """Bearing 60 degrees: direction (sin 60, cos 60), by the definition of a bearing."""
    layout = lay_on(Plane(), rectangle(60.0, 40.0), settings_of(bearing=60.0), "straight")
    for one in layout.laterals:
        way = np.abs((one.xy[-1] - one.xy[0]) / np.hypot(*(one.xy[-1] - one.xy[0])))
        np.testing.assert_allclose(way, (np.sqrt(0.75), 0.5), atol=1e-9)
