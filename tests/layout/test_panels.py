"""The parts of a bed: how good each is, and its lines."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from laying_out import Hill, Plane, rectangle, terrain_on
from shapely import LineString

from dripfield.layout.balanced.panels import Panels
from dripfield.layout.balanced.seams import LEFT, RIGHT, WHOLE, Part, Seam, Seams
from dripfield.layout.balanced.stripes import Tolerances

BED = rectangle(90.0, 50.0)
WANT = Tolerances(spacing=2.0, level=0.1, fraction=0.1, wave_along=10.0, wave_across=10.0)
TWIST = Hill(lambda x, y: 100 + (0.07 + 0.07 * x / 90.0) * y)
STEEPER = Hill(lambda x, y: 100 + (0.05 + 0.2 * x / 90.0) * y)
ROUGH_STEP = 4.0


def panels_on(ground, bed=BED, along_slope=False, narrowest=0.0) -> Panels:
    terrain = terrain_on(ground, bed)
    area = terrain.frame.geometry_to_local(bed)
    return Panels(terrain, area, Seams(area), WANT, along_slope, narrowest)


def halves(panels: Panels) -> list[Part]:
    return [Part(*pair) for pair in pairwise(panels.seams.even(2))]


def lines_of(panels: Panels, part: Part) -> tuple[list[np.ndarray], object]:
    piece = panels.area.intersection(panels.seams.between(part))
    return panels.lines(part, piece, 5.0, 3.0), piece


def off_level(panels: Panels, ground, line: np.ndarray) -> float:
    """Half the range of the elevations along a line."""
    return float(np.ptp(ground.elevation(panels.terrain.frame.to_site(line)))) / 2.0


# shares


@pytest.mark.parametrize("fine", [False, True])
def test_all_of_a_plane_holds_both_tolerances(fine):
    panels = panels_on(Plane(0.02, 0.1))
    parts = [WHOLE, *halves(panels)]
    shares = panels.shares(parts) if fine else panels.rough_shares(parts, ROUGH_STEP)
    np.testing.assert_allclose(shares, 1.0, atol=0.01)


@pytest.mark.parametrize("fine", [False, True])
def test_a_twist_is_better_in_parts(fine):
    """Slopes of 0.07 to 0.14: twice the range that lines of one family can follow."""
    panels = panels_on(TWIST)
    parts = [WHOLE, *halves(panels)]
    shares = panels.shares(parts) if fine else panels.rough_shares(parts, ROUGH_STEP)
    assert shares[1:].min() > shares[0] + 0.1
    assert shares[0] > 0.2


def test_a_part_too_narrow_to_lay_is_worth_nothing_roughly():
    """Parts of 6 and 84 ft, where a panel must be 8 ft wide."""
    panels = panels_on(Plane(0.0, 0.1), narrowest=8.0)
    seam = Seam(*[panels.seams.places[:, 0].min() + 6.0] * 2)
    narrow, wide = panels.rough_shares([Part(LEFT, seam), Part(seam, RIGHT)], ROUGH_STEP)
    assert narrow == 0.0
    assert wide > 0.99


@pytest.mark.parametrize("width", [0.0, 0.4])
def test_a_part_without_a_node_holds_nothing(width):
    """Beyond the bed or narrower than the nodes are apart."""
    panels = panels_on(Plane(0.0, 0.1))
    left = float(panels.area.bounds[0])
    sliver = Part(LEFT, Seam(left - 3.0, left - 3.0))
    if width:
        inner = left + 0.31 * (panels.area.bounds[2] - left)
        sliver = Part(Seam(inner, inner), Seam(inner + width, inner + width))
    shares = panels.shares([sliver, WHOLE])
    assert 0.0 <= shares[0] <= 1.0
    assert shares[1] > 0.99


def test_shares_come_in_the_order_asked_whatever_was_solved_before():
    """Parts solved together share a size of grid, which may lie half a cell elsewhere."""
    panels, again = panels_on(STEEPER), panels_on(STEEPER)
    left, right = halves(panels)
    thirds = [Part(*pair) for pair in pairwise(panels.seams.even(3))]
    asked = [right, WHOLE, left, *thirds, right]
    one_by_one = [float(again.shares([part])[0]) for part in asked]
    assert np.diff(np.unique(one_by_one)).max() > 0.1
    panels.shares([left, thirds[1]])
    np.testing.assert_allclose(panels.shares(asked), one_by_one, atol=0.04)
    roughly = [float(again.rough_shares([part], ROUGH_STEP)[0]) for part in asked]
    np.testing.assert_allclose(panels.rough_shares(asked, ROUGH_STEP), roughly, atol=0.05)


# lines


@pytest.mark.parametrize("part", ["whole", "left"])
def test_lines_on_a_plane_fill_the_part_level_and_evenly(part):
    """25 rows of 2 ft in 50; in the half as long. Fall lines lean 1 in 5 against the bed."""
    ground = Plane(0.02, 0.1)
    panels = panels_on(ground)
    lines, piece = lines_of(panels, WHOLE if part == "whole" else halves(panels)[0])
    tubing = sum(shapely.length(shapely.linestrings(line)) for line in lines)
    assert tubing == pytest.approx(piece.area / 2.0, rel=0.05)
    for line in lines:
        assert piece.buffer(0.01).contains(LineString(line))
        assert off_level(panels, ground, line) < WANT.level
    u, v = piece.centroid.coords[0]
    middle = LineString([(u, v - 60.0), (u, v + 60.0)])
    at = shapely.intersection([shapely.linestrings(line) for line in lines], middle)
    gaps = np.diff(np.sort(shapely.get_y(at[~shapely.is_empty(at)])))
    assert 1.8 < gaps.min() <= gaps.max() < 2.2
    assert gaps.mean() == pytest.approx(2.0, abs=0.05)


def test_spacing_along_the_slope():
    """5-12-13 triangle: 2 ft along the slope are 24/13 ft in plan; the rim is free."""
    panels = panels_on(Plane(0.0, 5.0 / 12.0), along_slope=True)
    lines, _ = lines_of(panels, WHOLE)
    rows = np.sort([line[:, 1].mean() for line in lines])
    assert np.median(np.diff(rows)) == pytest.approx(24.0 / 13.0, abs=0.03)


def test_each_panel_is_laid_along_its_own_strike():
    """Level lines run at 17 degrees one way in the west, at 17 the other in the east."""
    ground = Hill(lambda x, y: 100 + 0.1 * y + 0.03 * np.abs(x - 45.0))
    panels = panels_on(ground)
    for part in halves(panels):
        lines, _ = lines_of(panels, part)
        long = [line for line in lines if len(line) > 1 and np.ptp(line[:, 0]) > 20.0]
        assert len(long) > 12
        turned = [np.degrees(np.arctan2(*(line[-1] - line[0])[::-1])) % 180.0 for line in long]
        away = np.minimum(turned, 180.0 - np.array(turned))
        assert np.median(away) == pytest.approx(np.degrees(np.arctan(0.3)), abs=2.0)


def test_a_part_is_drawn_once():
    panels = panels_on(Plane(0.02, 0.1))
    first, _ = lines_of(panels, WHOLE)
    again, _ = lines_of(panels, WHOLE)
    assert again is first
