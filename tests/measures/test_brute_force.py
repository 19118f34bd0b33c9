"""The vectorised search against a slow one written with shapely's own predicates, point by point.

The slow one knows the definitions only: a ray cast square to the line on either side (what lies
in line within the tolerance is no neighbour), and the nearest point of every other line.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point
from shapely.ops import nearest_points

from dripfield.layout.model import Lateral
from dripfield.measures import measure_laterals, neighbours
from dripfield.measures.laterals import by_level_tolerance
from dripfield.measures.neighbours import REACH, pairs_near
from dripfield.measures.sampling import sample

SPACING, TOLERANCE = 2.0, 0.10


class Flat:
    def elevation(self, xy):
        return np.zeros(len(xy))

    def gradient(self, xy):
        return np.zeros((len(xy), 2))


@st.composite
def wavy_laterals(draw):
    """Wavy lines at random offsets, of two panels, turned as a whole."""
    some = st.floats(0.0, 1.0)
    laterals = []
    level = 0.0
    turn = draw(st.floats(0.0, 2 * np.pi))
    c, s = np.cos(turn), np.sin(turn)
    for number in range(draw(st.integers(2, 4))):
        level -= 1.2 + 2.0 * draw(some)
        begin, length = 8.0 * draw(some), 4.0 + 10.0 * draw(some)
        x = np.linspace(begin, begin + length, draw(st.integers(2, 15)))
        y = level + 0.7 * draw(some) * np.sin(x / 2.0 + 6.0 * draw(some))
        xy = np.column_stack((c * x - s * y, s * x + c * y))
        laterals.append(Lateral(f"L{number + 1:02d}", draw(st.sampled_from("AB")), xy, 0.0))
    return laterals


def ray_gap(line: LineString, at: float, step: float, side: int, others: list[LineString]):
    before, after = line.interpolate(at - 4 * step), line.interpolate(at + 4 * step)
    along = np.array((after.x - before.x, after.y - before.y))
    along /= np.hypot(*along)
    here = line.interpolate(at)
    way = side * SPACING * np.array((-along[1], along[0]))
    foot = np.array((here.x, here.y))
    ray = LineString((foot + TOLERANCE * way, foot + 1.75 * way))
    found = [here.distance(ray.intersection(other)) for other in others if ray.intersects(other)]
    return min(found, default=np.nan)


def direction(line: LineString, at: float) -> np.ndarray:
    a = line.interpolate(max(at - 1e-4, 0.0))
    b = line.interpolate(min(at + 1e-4, line.length))
    d = np.array((b.x - a.x, b.y - a.y))
    return d / np.hypot(*d)


def is_trespass(here: Point, along: np.ndarray, other: LineString) -> bool:
    if here.distance(other) >= SPACING * (1 - TOLERANCE):
        return False
    place = nearest_points(here, other)[1]
    station = other.project(place)
    step = np.array((place.x - here.x, place.y - here.y))
    aside = [abs(d[0] * step[1] - d[1] * step[0]) for d in (along, direction(other, station))]
    in_line = max(aside) <= SPACING * TOLERANCE
    at_end = min(station, other.length - station) < 1e-6
    return not (at_end and in_line)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(wavy_laterals())
def test_gaps_and_flags_agree_with_a_point_by_point_search(laterals):
    measures = measure_laterals(
        laterals, Flat(), spacing=SPACING, level_tolerance=0.1, spacing_tolerance=TOLERANCE
    )
    lines = [LineString(one.xy) for one in laterals]
    for number, got in enumerate(measures):
        line = lines[number]
        assert got.length == pytest.approx(line.length, abs=1e-9)
        step = float(got.station[1])
        same = [
            lines[i]
            for i, one in enumerate(laterals)
            if i != number and one.panel == laterals[number].panel
        ]
        elsewhere = lines[:number] + lines[number + 1 :]
        for k in range(4, len(got.station) - 4, 3):
            at = float(got.station[k])
            here = line.interpolate(at)
            np.testing.assert_allclose(got.xy[k], (here.x, here.y), atol=1e-9)
            left = ray_gap(line, at, step, 1, same)
            right = ray_gap(line, at, step, -1, same)
            np.testing.assert_allclose(got.gap_left[k], left, atol=1e-6)
            np.testing.assert_allclose(got.gap_right[k], right, atol=1e-6)
            a, b = got.xy[k - 4], got.xy[k + 4]
            along = (b - a) / np.hypot(*(b - a))
            fits = all(
                np.isnan(gap) or abs(gap - SPACING) <= SPACING * TOLERANCE for gap in (left, right)
            )
            clear = not any(is_trespass(here, along, other) for other in elsewhere)
            assert got.spaced[k] == (fits and clear)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(wavy_laterals(), st.randoms(use_true_random=False))
def test_order_and_direction_of_drawing_do_not_matter(laterals, random):
    options = {"spacing": SPACING, "level_tolerance": 0.1, "spacing_tolerance": TOLERANCE}
    plain = {one.name: one for one in measure_laterals(laterals, Flat(), **options)}
    changed = [
        Lateral(one.name, one.panel, one.xy[::-1] if random.random() < 0.5 else one.xy, 0.0)
        for one in laterals
    ]
    random.shuffle(changed)
    for drawn, got in zip(changed, measure_laterals(changed, Flat(), **options), strict=True):
        want = plain[drawn.name]
        turned = not np.allclose(got.xy[0], want.xy[0])
        left, right = want.gap_left, want.gap_right
        if turned:
            left, right = right[::-1], left[::-1]
        np.testing.assert_allclose(got.gap_left, left, atol=1e-6)
        np.testing.assert_allclose(got.gap_right, right, atol=1e-6)
        assert got.length_spaced == pytest.approx(want.length_spaced, abs=1e-6)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(wavy_laterals(), st.floats(0.3, 3.0))
def test_every_pair_that_is_near_is_among_those_looked_at(laterals, limit):
    """Each sample against each segment: met by a normal on either side, or too near."""
    samples = sample([one.xy for one in laterals], SPACING / 4.0)
    number, segment = np.concatenate(pairs_near(samples, SPACING, limit), axis=1)
    looked_at = np.zeros((len(samples.xy), len(samples.segments)), dtype=bool)
    looked_at[number, segment] = True
    reach = REACH * SPACING * samples.normal
    rays = shapely.linestrings(np.stack((samples.xy - reach, samples.xy + reach), axis=1))
    pieces = shapely.linestrings(samples.segments)
    met = shapely.intersects(rays[:, None], pieces)
    near = shapely.distance(shapely.points(samples.xy)[:, None], pieces) <= limit
    assert met.any()
    assert looked_at[met | near].all()


def test_few_pairs_are_looked_at_that_are_not_near():
    """Forty rows 2 ft apart at 30 degrees, a segment to a foot: 3.5 ft on either side are near."""
    turn = np.radians(30.0)
    x = np.linspace(0.0, 60.0, 61)
    rows = [np.column_stack((x, np.full(61, 2.0 * k))) for k in range(40)]
    turned = [xy @ [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]] for xy in rows]
    samples = sample(turned, 1.0)
    blocks = pairs_near(samples, SPACING, SPACING * (1.0 - TOLERANCE))
    number, segment = np.concatenate(blocks, axis=1)
    # of each sample's own row and three others, those within 1.8 ft along: five segments at most
    assert len(number) <= 5 * 4 * len(samples.xy)
    assert len(np.unique(number * len(samples.segments) + segment)) == len(number)


FIGURES = (
    *("length", "length_level", "length_spaced", "length_both"),
    *("elevation_min", "elevation_max", "spacing_min", "spacing_max", "level_ok", "spacing_ok"),
    *("gap_left", "gap_right", "level", "spaced"),
)


def assert_same(ones, others):
    for one, other in zip(ones, others, strict=True):
        for name in FIGURES:
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name), err_msg=name)


@pytest.mark.parametrize("measured", ["plan", "slope"])
@settings(max_examples=25, deadline=None, derandomize=True)
@given(laterals=wavy_laterals())
def test_blocks_of_any_size_give_the_same_figures(measured, laterals):
    """Blocks are for the processor's memory alone; five samples each cut every line many times."""
    options = {
        "spacing": SPACING,
        "level_tolerance": 0.1,
        "spacing_tolerance": TOLERANCE,
        "spacing_measured": measured,
    }
    whole = measure_laterals(laterals, Wavy(), **options)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(neighbours, "_BLOCK", 5)
        assert_same(measure_laterals(laterals, Wavy(), **options), whole)


class Wavy(Flat):
    def elevation(self, xy):
        return 0.15 * np.sin(xy[:, 0]) + 0.1 * xy[:, 1]


@settings(max_examples=25, deadline=None, derandomize=True)
@given(laterals=wavy_laterals(), wider=st.floats(0.0, 2.0))
def test_another_level_tolerance_is_judged_as_if_measured_anew(laterals, wider):
    options = {"spacing": SPACING, "spacing_tolerance": TOLERANCE}
    measured = measure_laterals(laterals, Wavy(), level_tolerance=0.1, **options)
    anew = measure_laterals(laterals, Wavy(), level_tolerance=wider, **options)
    assert_same(by_level_tolerance(measured, wider), anew)
