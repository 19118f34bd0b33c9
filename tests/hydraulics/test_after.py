"""Evenness, times, levels, drainage and profiles in closed form."""

from __future__ import annotations

import math

import networkx
import numpy as np
import pytest

from dripfield.hydraulics.build import build
from dripfield.hydraulics.drainage import by_joined, drain, remedies, store_of
from dripfield.hydraulics.profile import at_rest, drain_back, share_above, summits, surge
from dripfield.hydraulics.simulate import simulate
from dripfield.hydraulics.times import dosing, nominal, transit, volumes, zone_shares
from dripfield.hydraulics.uniformity import emission_uniformity, uniformity
from dripfield.zones.model import Pipe, ZonePlan


def test_emission_uniformity():
    """100 (1 - 1.27 v / sqrt(n)) q_min / q_mean, worked out on paper."""
    assert emission_uniformity(0.05, 0.95) == pytest.approx(88.97, abs=0.005)
    assert emission_uniformity(0.03, 0.97) == pytest.approx(93.30, abs=0.005)
    assert emission_uniformity(0.05, 1.0, 4) == pytest.approx(96.825)


def test_variations_are_told_apart():
    found = uniformity(np.array([0.5, 0.6, 0.7]), 0.03)
    assert found.difference == pytest.approx(0.4)
    assert found.hydraulic == pytest.approx(math.sqrt(0.02 / 3.0) / 0.6)
    assert found.both == pytest.approx(math.hypot(found.hydraulic, 0.03))
    assert uniformity(np.array([0.0, 0.6])).difference == math.inf
    assert uniformity(np.full(9, 0.6)).hydraulic == 0.0


@pytest.mark.parametrize("count", [5, 10, 20])
def test_lowest_of_equal_laterals(field, us_figures, count):
    """V (1 + 1/2 + ... + 1/n), worked out on paper; the manifolds hold next to nothing here."""
    plan, figures = field(count=count, step=1.0, manifold_bore=1e-3), us_figures()
    store = store_of(build(plan, plan.zones[0], figures, "dose"), figures)
    found = drain(store)
    content = float(figures.q.volume_of(222.0, 0.57))
    got = np.bincount(store.owner, weights=found.received) / content
    harmonic = sum(1.0 / k for k in range(1, count + 1))
    assert got[-1] == pytest.approx(harmonic, rel=1e-5)
    assert got[0] == pytest.approx(1.0 / count, rel=1e-5)
    assert found.received.sum() == pytest.approx(count * content, rel=1e-5)
    dose = 4.0 * count * content
    ratio = by_joined(drain(store, dose), store, dose)
    assert ratio[-1] / ratio[0] == pytest.approx((4 + harmonic) / (4 + 1 / count), rel=1e-5)


def test_lowest_of_equal_laterals_by_head(field, us_figures):
    """Lateral k drains by those below: shares as roots of the heads, added up in loops here."""
    count = 6
    plan, figures = field(count=count, step=1.0, manifold_bore=1e-3), us_figures()
    store = store_of(build(plan, plan.zones[0], figures, "dose"), figures)
    content, half = float(figures.q.volume_of(222.0, 0.57)), 0.57 / 12.0 / 2.0
    wanted = [0.0] * count
    for k in range(count):
        weights = [(j - k + half) ** 0.5 for j in range(k, count)]
        for j in range(k, count):
            wanted[j] += weights[j - k] / sum(weights)
    found = drain(store, 0.0, "by head").received
    got = np.bincount(store.owner, weights=found) / content
    np.testing.assert_allclose(got, wanted, rtol=1e-3)
    assert found.sum() == pytest.approx(count * content, rel=1e-5)
    assert got[-1] > np.bincount(store.owner, weights=drain(store).received)[-1] / content


def test_remedies_are_measured(field, us_figures):
    plan, figures = field(count=12, step=1.0, manifold_bore=1e-3), us_figures()
    network = build(plan, plan.zones[0], figures, "dose")
    content = 12 * float(figures.q.volume_of(222.0, 0.57))
    found = {one.what: one.greatest_over_mean for one in remedies(network, figures, 4 * content)}

    def closed(n):
        return (4.0 + sum(1.0 / k for k in range(1, n + 1))) / 5.0

    assert found["as it is"] == pytest.approx(closed(12), rel=1e-4)
    assert found["2 zones, from the top down"] == pytest.approx(closed(6), rel=1e-4)
    assert found["3 zones, from the top down"] == pytest.approx(closed(4), rel=1e-4)
    assert found["a check valve at both ends of each joined lateral"] == pytest.approx(1.0)


def test_level_zone_drains_evenly(field, us_figures):
    plan, figures = field(manifold_bore=1e-3), us_figures()
    found = drain(store_of(build(plan, plan.zones[0], figures, "dose"), figures))
    np.testing.assert_allclose(found.received, found.received[0])
    assert found.stays == 0.0


def test_transit_by_networkx(field, us_figures):
    """The slowest way through a flush, by the longest path of another library."""
    figures = us_figures()
    state = simulate(field(step=0.5), figures).get("Z1", "flush")
    found = transit(state, figures)
    network, flow = state.network, state.solution.flow
    graph = networkx.DiGraph()
    content = figures.q.volume_of(network.pipes.length, network.pipes.bore)
    for k, (a, b) in enumerate(network.pipes.ends.tolist()):
        if abs(flow[k]) > 1e-3:
            ends = (a, b) if flow[k] > 0 else (b, a)
            graph.add_edge(*ends, weight=content[k] / abs(flow[k]))
    graph.add_edge(*network.pump, weight=0.0)
    graph.add_edge(*network.throttle, weight=0.0)
    assert found.total == pytest.approx(networkx.dag_longest_path_length(graph), rel=1e-9)
    # 222 ft hold 2.94 gal, and 1.6 to 2.7 gal/min run through: 1.4 minutes (worked out on paper)
    flows = np.concatenate(([111], np.arange(110, -1, -1))) * 0.01 + 1.5907
    lengths = np.array([1.0, *[2.0] * 110, 1.0])
    minutes = np.sum(figures.q.volume_of(lengths, 0.57) / flows)
    assert found.laterals[0] == pytest.approx(minutes, rel=0.01)
    assert found.flush(2.0) == pytest.approx((2 * found.total, 2 * found.total * found.returned))


def test_dosing_of_a_day():
    """150 gal a day into 9.94 gal of tubing at 6.66 gal/min: three doses of 50 gal."""
    found = dosing(150.0, 9.94, 9.94, 6.66, drain_back=2.0)
    assert (found.doses, found.dose, found.pumped) == (3, 50.0, 52.0)
    assert found.multiple == pytest.approx(5.0302, abs=1e-4)
    assert found.run == pytest.approx((9.94 + 50.0) / 6.66)
    assert found.run + found.rest == pytest.approx(480.0)
    assert found.pressurised == pytest.approx(50.0 / 59.94)
    assert dosing(150.0, 9.94, 0.0, 6.66, doses=4).multiple == pytest.approx(3.77, abs=0.005)
    assert dosing(20.0, 9.94, 0.0, 6.66).doses == 1


def test_counting(field, us_figures):
    plan, figures = field(zones=2, step=1.0), us_figures()
    found = nominal(plan.zones[0], figures)
    assert (found.emitters, found.dose_flow) == (333, pytest.approx(3.33))
    assert found.flush_flow == pytest.approx(3.33 + 3 * 1.59072, abs=1e-4)
    assert found.elevation_max - found.elevation_min == pytest.approx(2.0)
    assert found.volume == pytest.approx(6.66 * 1.3256, abs=1e-3)
    assert volumes(plan, plan.zones[0], figures).supply == pytest.approx(1.2 * 10.576, abs=1e-3)
    assert zone_shares(plan) == {"Z1": 0.5, "Z2": 0.5}


def line_of(points, bore=1.610):
    return Pipe("p", np.asarray(points, dtype=float), bore / 12.0)


def drained(field, figures, pipes, inlet):
    plan = field(height=pipes[-1].xyz[-1, 2])
    shift = plan.zones[0].joined[0].supply_end - pipes[-1].xyz[-1]
    moved = tuple(Pipe(p.name, p.xyz + shift, p.bore) for p in pipes)
    plan = ZonePlan(plan.zones, moved, plan.return_)
    network = build(plan, plan.zones[0], figures, "dose")
    return drain_back(network, figures, inlet, "supply")


def test_drain_back_of_two_sizes(field, us_figures):
    """60 ft of 1-1/2 in and 80 ft of 1 in: 6.346 + 3.592 = 9.938 gal, worked out on paper."""
    pipes = (
        line_of([(0, 0, 0), (60, 0, 0.001)]),
        line_of([(60, 0, 0.001), (140, 0, 0.002)], 1.049),
    )
    assert drained(field, us_figures(), pipes, 0.0) == pytest.approx(9.938, abs=0.002)


def test_a_belly_keeps_its_water(field, us_figures):
    """Up to a summit at 10, down to 6, up to 14: the first rise and the part over 10 drain."""
    pipes = (line_of([(0, 0, 0), (100, 0, 10), (140, 0, 6), (220, 0, 14)]),)
    figures = us_figures()
    sloped = math.hypot(100, 10) + math.hypot(40, 4)
    by_hand = float(figures.q.volume_of(sloped, 1.610))
    assert drained(field, figures, pipes, 0.0) == pytest.approx(by_hand, rel=1e-9)
    # an inlet at 5 keeps the lower half of the first rise full
    by_hand -= float(figures.q.volume_of(math.hypot(50, 5), 1.610))
    assert drained(field, figures, pipes, 5.0) == pytest.approx(by_hand, rel=1e-9)
    assert share_above(3.0, 2.0, 0.0) == (0.0, 3.0)


def test_at_rest(field, us_figures):
    plan = field(step=1.0)
    found = at_rest(plan, us_figures())
    assert found.lowest == 13.0
    assert found.shut_off == pytest.approx((120.0 - 13.0) * 0.4333)
    assert (found.siphon, found.vacuum) == (-13.0, 5.0)
    assert at_rest(plan, us_figures(level=15.0)).siphon == 2.0
    assert at_rest(plan, us_figures(curve=((5.0, 90.0), (9.0, 50.0)))).shut_off is None


def test_summits_and_surge(us_figures):
    found = summits(line_of([(0, 0, 0), (1, 0, 2), (2, 0, 2), (3, 0, 1), (4, 0, 3)]).xyz)
    assert found[:, 2].tolist() == [2.0]
    # Joukowsky in 1-1/2 in Schedule 40: 20.8 psi for each ft/s, worked out on paper
    assert surge(1.0, 1.610, 0.145, us_figures(), 400 / 300) == pytest.approx(20.8, abs=0.05)
