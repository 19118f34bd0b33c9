"""Lines to the field and back: profile, what drains, where air gathers."""

from __future__ import annotations

import numpy as np
import pytest
from fields import Plane, plain
from shapely import box

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.zones.air import air_releases
from dripfield.zones.model import Manifold, Pipe, Zone, ZonePlan
from dripfield.zones.pipes import pipe_size
from dripfield.zones.routes import (
    check_route,
    drained_volume,
    drains,
    profile,
    turning_points,
)
from dripfield.zones.settings import GALLON


def line(*elevations, step=10.0):
    return np.array([[step * i, 0.0, z] for i, z in enumerate(elevations)], dtype=float)


def test_a_line_that_falls_steadily_drains_whole() -> None:
    """60 ft of 1-1/2 in and 80 ft of 1 in: 6.346 + 3.592 = 9.938 gal by 4.0800 d^2 gal/100 ft.

    231 cubic inches to the gallon (NIST Handbook 44, from memory).
    """
    xyz = np.array([[0.0, 0, 0], [60.0, 0, 1e-6], [140.0, 0, 2e-6]])
    bores = np.array([pipe_size(Unit.FOOT, size).bore for size in ("1-1/2 in", "1 in")])
    gallon = GALLON / 0.3048**3
    assert drained_volume(xyz, bores) / gallon == pytest.approx(9.938, abs=0.001)
    assert drained_volume(xyz[:2], bores[:1]) / gallon == pytest.approx(6.346, abs=0.001)


def test_only_what_lies_above_every_lower_summit_drains() -> None:
    """By hand: up to 4 drains; the belly to 1 keeps its water until the line is back at 4."""
    bounds, kinds = drains(line(0, 4, 1, 7))
    np.testing.assert_allclose(bounds, [0, 10, 20, 25, 30])
    assert kinds.tolist() == [True, False, False, True]
    area = np.pi * 0.1**2 / 4
    flat = drained_volume(line(0, 1e-9, 2e-9), np.array([0.1, 0.1]))
    assert flat == pytest.approx(20 * area)


@pytest.mark.parametrize(
    ("levels", "tops", "bellies"),
    [
        ((0, 1, 2, 3), (3,), ()),
        ((0, 2, 1, 3), (1, 3), (2,)),
        ((0, 2, 2, 1, 1, 3), (1, 5), (3,)),
        ((3, 1, 2), (0, 2), (1,)),
        ((1, 1, 1), (), ()),
    ],
)
def test_tops_and_bellies(levels, tops, bellies) -> None:
    assert turning_points(np.array(levels, dtype=float)) == (tops, bellies)


def test_cover_against_frost() -> None:
    """Ground is 100 + y / 10; by hand the cover is 1 and 3, less than 2 over the first half."""
    xyz = np.array([[0.0, 0, 99], [0.0, 10, 98]])
    found = profile(xyz, Plane(), 2.0)
    np.testing.assert_allclose(found.cover, [1.0, 3.0])
    assert found.too_shallow == ((0.0, pytest.approx(5.0)),)
    assert not found.falls_back
    assert profile(xyz[::-1], Plane(), 0.5).too_shallow == ()
    assert profile(line(0, 1, 2)).falls_back
    assert profile(line(0, 1, 2)).not_known == 20.0


def refusal(xyz, **more):
    laterals, _ = plain(5, 60.0)
    bed = box(-1.0, -10.0, 61.0, 1.0)
    with pytest.raises(InputError) as refused:
        check_route(np.asarray(xyz, dtype=float), "supply", bed, tuple(laterals), 30.0, **more)
    return str(refused.value)


def test_routes_that_lead_elsewhere_are_refused() -> None:
    far, near = [-100.0, 0, 0], [-5.0, 0, 0]
    assert refusal([near, far]) == (
        "route: the supply line ends 99.0 from the bed (its other end is nearer: is it the wrong "
        "way round?); let it end within 30 of the bed"
    )
    assert refusal([far]).startswith("route: the supply line has fewer than two points")
    assert refusal([far, near], tank=np.array([0.0, 90.0])) == (
        "route: the supply line is 134.5 from the tank where it is nearest the pump; let it begin "
        "within 30 of the tank"
    )
    assert refusal([far, [30.0, -1, 0], [30.0, -5, 0]]) == (
        "route: the supply line crosses L02 and 1 more; lead it round the laterals"
    )


def plan_of(nodes, ends, taps, lines=()):
    nodes = np.array(nodes, dtype=float)
    pipes = tuple(Pipe(f"p{i}", nodes[list(pair)], 0.1) for i, pair in enumerate(ends))
    manifold = Manifold("Z1", "supply", nodes, pipes, tuple(ends), taps)
    return ZonePlan((Zone("Z1", (), 1.0, manifold),), tuple(lines))


def test_air_at_every_top() -> None:
    """A manifold that falls from its second node, and rises again by more than its bore."""
    nodes = [[0, 0, 5], [10, 0, 8], [20, 0, 4], [30, 0, 6], [40, 0, 5.5], [10, 1, 8.5]]
    ends = [(0, 1), (1, 2), (2, 3), (3, 4), (1, 5)]
    found = air_releases(plan_of(nodes, ends, {"J01": 5, "J02": 4}))
    assert [tuple(one.xyz) for one in found] == [(10, 0, 8), (30, 0, 6)]
    assert found[0].protects.startswith("top of Z1: lets air in when the pump stops")
    assert found[1].protects.startswith("local top of Z1's supply manifold")


def test_a_rise_of_less_than_the_bore_holds_no_air() -> None:
    nodes = [[0, 0, 5], [10, 0, 8], [20, 0, 7.0], [30, 0, 7.05], [40, 0, 6]]
    ends = [(0, 1), (1, 2), (2, 3), (3, 4)]
    assert len(air_releases(plan_of(nodes, ends, {}))) == 1


def test_air_on_the_supply_line() -> None:
    supply = Pipe("supply", line(0, 3, 1, 5), 0.1)
    nodes = [[30, 0, 5], [40, 0, 8]]
    found = air_releases(plan_of(nodes, [(0, 1)], {}, [supply]))
    assert [(one.line, one.xyz[2]) for one in found] == [
        ("supply line", 3.0),
        ("supply manifold", 8.0),
    ]
