"""Manifolds: where they lie, what flows in them, what size they are, what they take to build."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from fields import Plane, plain, rocky, settings
from shapely import LineString, Point, box

from dripfield.core.units import Unit
from dripfield.zones.fittings import takeoff
from dripfield.zones.model import Manifold, Pipe
from dripfield.zones.pipes import pipe_size
from dripfield.zones.plan import Route, plan_zones


def design(laterals, bed, given, **more):
    return plan_zones(laterals, bed, Plane(), given, **more)


def manifolds(found):
    return [m for zone in found.plan.zones for m in (zone.supply, zone.return_) if m is not None]


def check(found, laterals, keepouts=()):
    for manifold in manifolds(found):
        wires = [LineString(pipe.xyz[:, :2]) for pipe in manifold.pipes]
        for wire in wires:
            for lateral in laterals:
                line = LineString(lateral.xy)
                if wire.intersects(line):  # only where it is tapped: at an end
                    touch = wire.intersection(line)
                    assert touch.distance(shapely.MultiPoint(lateral.xy[[0, -1]])) < 0.05
                    assert touch.length < 0.05
            assert all(not wire.intersects(rock.buffer(-1e-4)) for rock in keepouts)
        parents = [b if manifold.side == "supply" else a for a, b in manifold.ends]
        assert sorted(parents) == list(range(1, len(manifold.nodes)))  # a tree: one pipe to a node
        for pipe, (first, last) in zip(manifold.pipes, manifold.ends, strict=True):
            np.testing.assert_allclose(pipe.xyz[0], manifold.nodes[first], atol=1e-6)
            np.testing.assert_allclose(pipe.xyz[-1], manifold.nodes[last], atol=1e-6)
    for zone in found.plan.zones:
        for joined in zone.joined:
            for manifold, end in ((zone.supply, "supply_end"), (zone.return_, "return_end")):
                at = manifold.nodes[manifold.taps[joined.name]]
                np.testing.assert_allclose(at, getattr(joined, end), atol=1e-6)


@pytest.mark.parametrize("seed", [0, 2])
def test_pipe_keeps_clear_and_reaches_every_end(seed) -> None:
    laterals, bed, keepouts = rocky(20, 60.0, 3, seed)
    found = design(laterals, bed, settings(250.0), keepouts=keepouts)
    if not any("no pipe reaches" in fault for fault in found.faults):
        check(found, laterals, keepouts)


def test_from_the_line_that_arrives() -> None:
    laterals, bed = plain(20, 60.0)
    size = pipe_size(Unit.FOOT, "1-1/2 in")
    supply = Route(np.array([[-40.0, -60.0, 90.0], [-5.0, -45.0, 95.0]]), size)
    back = Route(np.array([[-6.0, -44.0, 95.0], [-40.0, -61.0, 90.0]]), size)
    found = design(laterals, bed, settings(250.0), supply=supply, return_=back)
    check(found, laterals)
    for zone in found.plan.zones:
        np.testing.assert_allclose(zone.supply.nodes[0], supply.xyz[-1])
        np.testing.assert_allclose(zone.return_.nodes[0], back.xyz[0])
    assert [pipe.name for pipe in (*found.plan.supply, *found.plan.return_)] == ["supply", "return"]


def test_sizes_step_down_and_keep_velocity() -> None:
    laterals, bed = plain(40, 90.0)
    given = settings(190.0, count=1)
    found = design(laterals, bed, given)
    for manifold in manifolds(found):
        into = {
            (b if manifold.side == "supply" else a): pipe.bore
            for pipe, (a, b) in zip(manifold.pipes, manifold.ends, strict=True)
        }
        for pipe, (a, b) in zip(manifold.pipes, manifold.ends, strict=True):
            up = a if manifold.side == "supply" else b
            assert up == 0 or pipe.bore <= into[up] + 1e-12
        # all far ends pass the root's pipes: 20 equal ones, and their emission in the supply
        count = len(found.plan.zones[0].joined)
        flow = count * given.flush_flow
        if manifold.side == "supply":
            flow += sum(j.emitters for j in found.plan.zones[0].joined) * given.emitter_flow
        roots = [bore for node, bore in into.items() if 0 in manifold.ends[node - 1]]
        area = sum(0.25 * np.pi * bore**2 for bore in roots)
        assert flow / area <= given.velocity_most * 1.001
        assert len(set(into.values())) >= 3


def test_a_size_may_be_entered() -> None:
    laterals, bed = plain(12, 60.0)
    given = settings(250.0, manifold=pipe_size(Unit.FOOT, "1-1/4 in"))
    sizes = {p.size for m in manifolds(design(laterals, bed, given)) for p in m.pipes}
    assert sizes == {"1-1/4 in"}


def test_setbacks_are_avoided_or_said() -> None:
    """A setback beside the left ends sends the feed to the right; one all round cannot be kept."""
    laterals, bed = plain(12, 60.0)
    beside = box(-30.0, -60.0, -0.1, 30.0)
    found = design(laterals, bed, settings(130.0), kept_clear=beside)
    assert found.joins.chosen.sides.supply == ("right",)
    assert found.faults == ()
    around = bed.buffer(30.0).difference(box(0, -22, 60, 0))
    found = design(laterals, bed, settings(130.0), kept_clear=around)
    assert any("lies within a setback" in fault for fault in found.faults)


def test_takeoff_counts_by_hand() -> None:
    """A trunk of 1 in that turns square, a branch of 3/4 in, two taps.

    By hand: 10 + 10 of 1 in, 5 + 5 of 3/4 in; one bend of 90, one tee, a reducer at the tee for
    each of the two smaller pipes, two adapters.
    """
    big, small = pipe_size(Unit.FOOT, "1 in"), pipe_size(Unit.FOOT, "3/4 in")
    at = np.array([[0, 0, 0], [10, 10, 0], [15, 10, 0], [10, 15, 0]], dtype=float)
    pipes = (
        Pipe("a", np.array([[0.0, 0, 0], [10, 0, 0], [10, 10, 0]]), big.bore, big.size),
        Pipe("b", at[[1, 2]], small.bore, small.size),
        Pipe("c", at[[1, 3]], small.bore, small.size),
    )
    manifold = Manifold("Z1", "supply", at, pipes, ((0, 1), (1, 2), (1, 3)), {"J01": 2, "J02": 3})
    found = takeoff([manifold])
    assert found.pipe == {"1 in": 20.0, "3/4 in": 10.0}
    assert found.fittings == {
        ("bend 90", "1 in"): 1,
        ("tee", "1 in"): 1,
        ("reducer", "1 in x 3/4 in"): 2,
        ("adapter to tubing", "3/4 in"): 2,
    }


@pytest.mark.parametrize(
    ("turn", "bends"),
    [
        (5.0, {}),
        (22.5, {"bend 22.5": 1}),
        (50.0, {"bend 45": 1}),
        (85.0, {"bend 90": 1}),
        (135.0, {"bend 90": 1, "bend 45": 1}),
    ],
)
def test_bends_by_angle(turn, bends) -> None:
    way = np.radians(turn)
    xyz = np.array([[0.0, 0, 0], [10, 0, 0], [10 + 10 * np.cos(way), 10 * np.sin(way), 0]])
    found = takeoff([], [Pipe("supply", xyz, 0.1, "1 in")])
    assert {item: number for (item, _), number in found.fittings.items()} == bends


def test_nodes_are_near_the_bed() -> None:
    laterals, bed = plain(12, 60.0)
    for manifold in manifolds(design(laterals, bed, settings(130.0))):
        assert max(bed.distance(Point(node[:2])) for node in manifold.nodes) < 4.0
