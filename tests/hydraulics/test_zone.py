"""Whole zones solved: by hand, by an independent march, in feet and in metres, and at fault."""

from __future__ import annotations

import dataclasses
import itertools
import re

import numpy as np
import pytest
from scipy.optimize import brentq

from dripfield.core.errors import InputError, NotSolved
from dripfield.core.units import Unit
from dripfield.hydraulics.build import build
from dripfield.hydraulics.figures import DesignFigures, EmitterFigures, PumpFigures, TubingFigures
from dripfield.hydraulics.inp import curve_points, inp_text
from dripfield.hydraulics.simulate import simulate
from dripfield.hydraulics.solver import solve
from dripfield.hydraulics.state import Unsolved
from dripfield.zones.model import JoinedLateral, Piece, ZonePlan

PSI_FT = 1.0 / 0.4333


def factor(reynolds, rough):
    """Friction factor: Hagen and Poiseuille, Dunlop's cubic (1991), Swamee and Jain (1976)."""
    if reynolds <= 2000.0:
        return 64.0 / max(reynolds, 1e-9)
    y2 = rough / 3.7 + 5.74 / reynolds**0.9
    if reynolds >= 4000.0:
        return 0.25 / np.log10(y2) ** 2
    y3 = -0.86859 * np.log(rough / 3.7 + 5.74 / 4000.0**0.9)
    fa = y3**-2
    fb = fa * (2.0 - 0.00514215 / (y2 * y3))
    r = reynolds / 2000.0
    x1, x2, x3 = 7.0 * fa - fb, 0.128 - 17.0 * fa + 2.5 * fb, -0.128 + 13.0 * fa - 2.0 * fb
    return x1 + r * (x2 + r * (x3 + r * (0.032 - 3.0 * fa + 0.5 * fb)))


def march(flows, lengths, bore=0.57, rough=5e-6, nu=1.1e-5):
    """Head lost along pipes one after another [gal/min, ft, in -> ft]."""
    d = bore / 12.0
    v = np.asarray(flows) / 448.831 / (np.pi / 4.0 * d**2)
    f = np.array([factor(one * d / nu, rough / d) for one in v])
    return np.sum(f * np.asarray(lengths) / d * v**2 / 64.348)


def one_lateral(field, length, height=18.0):
    """A field of one lateral whose first emitter is a whole spacing from the supply."""
    plan = field(count=1, length=length, height=height)
    zone = plan.zones[0]
    xyz = zone.joined[0].pieces[0].xyz
    piece = Piece("L01", xyz, np.arange(2.0, length + 0.5, 2.0))
    zone = dataclasses.replace(zone, joined=(JoinedLateral("J01", (piece,)),))
    return ZonePlan((zone,), plan.supply, plan.return_)


@pytest.mark.parametrize(
    ("length", "dose_flow", "dose_loss", "flush_flow", "flush_loss"),
    [
        (100.0, 0.500, 0.1633, 2.0907, 5.504),
        (200.0, 1.000, 1.3299, 2.5907, 13.833),
        (300.0, 1.500, 4.1758, 3.0907, 25.488),
        (400.0, 2.000, 9.2227, 3.5907, 40.953),
    ],
)
def test_one_lateral(field, us_figures, length, dose_flow, dose_loss, flush_flow, flush_loss):
    """Against a march of our own along the lateral, and what this solver gave (regression)."""
    # in the dose just over the least pressure, where the solver's emitters hardly overshoot
    states = {
        "dose": simulate(one_lateral(field, length, 82.0), us_figures()),
        "flush": simulate(one_lateral(field, length), us_figures()),
    }
    count = int(length / 2.0)
    emitted = 0.01 * np.arange(count, 0, -1)
    for state, flow, loss, end in (
        ("dose", dose_flow, dose_loss, 0.0),
        ("flush", flush_flow, flush_loss, 2.0 * 0.57**2 / 0.408498),
    ):
        lateral = states[state].get("Z1", state).laterals[0]
        lost = (lateral.pressure_in - lateral.pressure_out) * PSI_FT
        assert lateral.flow_in == pytest.approx(flow, abs=2e-3 if end else 2e-4)
        assert lost == pytest.approx(loss, rel=3e-3)
        by_hand = march(emitted + end, np.full(count, 2.0))
        assert lost == pytest.approx(by_hand, rel=3e-3)


def test_march_alone(field, us_figures):
    """With the solver's own flows, overshoot included, march and solver agree to 0.2 %."""
    for length in (100.0, 200.0, 300.0, 400.0):
        network_state = simulate(one_lateral(field, length), us_figures()).get("Z1", "dose")
        pipes = network_state.network.pipes.of("tubing")
        flows = network_state.solution.flow[pipes]
        head = network_state.solution.head
        ends = network_state.network.pipes.ends[pipes]
        lost = head[ends[0, 0]] - head[ends[-1, 1]]
        by_hand = march(np.abs(flows), network_state.network.pipes.length[pipes])
        assert lost == pytest.approx(by_hand, rel=2e-3)


def test_whole_zone_by_hand(field, us_figures):
    """Six laterals of 222 ft, 18 ft over the pump, 120 ft of 1-1/2 in: worked by hand.

    Pump and friction in the supply line are brought together by root finding on the march above.
    """
    found = simulate(field(), us_figures())
    per_lateral = {"dose": 1.11, "flush": 1.11 + 2.0 * 0.57**2 / 0.408498}
    printed = {"dose": (6.660, 116.06, 42.32, 41.54), "flush": (16.204, 96.66, 33.19, 26.20)}
    for name, lateral_flow in per_lateral.items():
        flow = 6.0 * lateral_flow
        head = 120.0 - 0.0889 * flow**2
        manifold = (head - 18.0 - march([flow], [120.0], 1.610)) / PSI_FT
        state = found.get("Z1", name)
        assert state.flow == pytest.approx(flow, rel=2e-4)
        assert state.head == pytest.approx(head, abs=0.02)
        first = state.laterals[0]
        assert first.pressure_in == pytest.approx(manifold, abs=0.04)
        got = (state.flow, state.head, first.pressure_in, first.pressure_out)
        np.testing.assert_allclose(got, printed[name], atol=0.06)
    assert found.get("Z1", "flush").throttle > 0.0


def test_pressure_dependent_zone_by_hand(field, us_figures):
    """Emitters of exponent 0.5 at one pressure: pump and orifices meet by brentq."""
    figures = us_figures(exponent=0.5, pressure_nominal=20.0, bore=3.0)
    state = simulate(field(bore=4.0), figures).get("Z1", "dose")

    def spare(flow):
        head = 120.0 - 0.0889 * flow**2 - 18.0 - march([flow], [120.0], 4.0)
        return 6.66 * np.sqrt(head / PSI_FT / 20.0) - flow

    assert state.flow == pytest.approx(brentq(spare, 0.1, 30.0), rel=1e-3)
    assert state.emission.max() == pytest.approx(state.emission.min(), rel=1e-3)


def test_metres_and_feet_agree(field, us_figures, metric_figures):
    f, gal = 0.3048, 3.785411784
    shape = {"length": 222.0, "spacing": 2.0, "height": 90.0, "step": 1.0, "supply_length": 200.0}
    metres = {key: value * f for key, value in shape.items()}
    for changes, metric in (
        ({}, {}),
        ({"exponent": 0.5, "pressure_nominal": 20.0}, {"exponent": 0.5, "pressure_nominal": 137.9}),
        ({"other_loss": ((30.0, 9.0),)}, {"other_loss": ((30.0 * gal, 9.0 * f),)}),
        ({"loss": 0.2}, {"loss": 0.2}),
    ):
        us = simulate(field(**shape), us_figures(**changes))
        si = simulate(field(Unit.METRE, bore=1.610 * 25.4, **metres), metric_figures(**metric))
        for name in ("dose", "flush"):
            a, b = us.get("Z1", name), si.get("Z1", name)
            assert b.flow == pytest.approx(a.flow * gal, rel=1e-3)
            assert b.head == pytest.approx(a.head * f, rel=1e-3)
            np.testing.assert_allclose(b.pressure / 6.895, a.pressure, rtol=2e-3, atol=0.02)
            np.testing.assert_allclose(b.emission / gal, a.emission, rtol=2e-3, atol=6e-3)


def test_rated_flow_in_range_and_balance(field, us_figures):
    """The solver's pressure-driven demands overshoot by half a percent at 60 psi; we report 0.6."""
    figures = us_figures(curve=((0.0, 180.0), (40.0, 150.0)))
    state = simulate(field(step=0.5), figures).get("Z1", "dose")
    assert state.pressure.max() > 55.0
    assert np.all(state.emission == 0.6)
    demand = state.solution.demand[state.network.emitters]
    assert 1.001 < demand.max() / 0.01 < 1.01
    assert state.flow == pytest.approx(6.66, rel=1e-12)
    assert sum(one.flow_out for one in state.laterals) == pytest.approx(0.0, abs=2e-3)
    assert sum(one.flow_in for one in state.laterals) == pytest.approx(state.flow, abs=2e-3)


def test_below_range_by_the_square_root(field, us_figures):
    state = simulate(field(height=97.0), us_figures()).get("Z1", "dose")
    assert 0.0 < state.pressure.min() < 10.0
    expected = 0.6 * np.sqrt(np.minimum(state.pressure / 10.0, 1.0))
    np.testing.assert_allclose(state.emission, expected, rtol=1e-12)
    demand = state.solution.demand[state.network.emitters] * 60.0
    np.testing.assert_allclose(demand, expected, rtol=5e-3)


def test_no_water_is_drawn_in(field, us_figures):
    """A pump of 15 ft below laterals that rise 30 ft: no emission above, a fault by name."""
    figures = us_figures(curve=((0.0, 15.0), (20.0, 14.0)), exponent=0.5, pressure_nominal=20.0)
    plan = field(count=1, height=1.0, fall=-30.0, supply_length=20.0)
    state = simulate(plan, figures).get("Z1", "dose")
    assert state.emission.min() == 0.0
    assert state.solution.demand[state.network.emitters].min() > -2e-5
    assert re.match(r"pressure below that of the air at \d+ places, worst -\d", state.faults[0])


@pytest.mark.parametrize(
    ("change", "state", "verdict", "reason"),
    [
        (
            {"curve": ((0.0, 15.0), (30.0, 10.0))},
            "dose",
            "fail",
            "the pump cannot lift the water: its head is below what is needed",
        ),
        (
            {"curve": ((0.0, 120.0), (5.0, 110.0))},
            "dose",
            "not proven",
            "the pump runs beyond the last point of its curve",
        ),
        (
            {"other_loss": ((7.0, 3.0), (10.0, 9.0))},
            "flush",
            "not proven",
            "the flow is beyond the last point of [pump] other_loss, at 16.20 gal/min",
        ),
        (
            {"curve": ((10.0, 120.0), (30.0, 40.0))},
            "dose",
            "not proven",
            "the pump runs beyond the ends of its curve, at 6.66 gal/min",
        ),
        ({"flush_velocity": None}, "flush", "not proven", "missing: [zones] flush_velocity"),
        ({"pressure_least": None}, "dose", "not proven", "missing: [emitters] pressure_least"),
    ],
)
def test_no_number_without_meaning(field, us_figures, change, state, verdict, reason):
    found = simulate(field(), us_figures(**change)).states["Z1", state]
    assert isinstance(found, Unsolved)
    assert (found.verdict, found.reason) == (verdict, reason)


def test_missing_tables_are_named(field, us_figures):
    figures = dataclasses.replace(us_figures(), pump=None, tubing=None)
    plan = dataclasses.replace(field(), supply=(), return_=())
    found = simulate(plan, figures).states["Z1", "flush"]
    keys = "[tubing] bore, [pump] curve, [supply] route, [return] route"
    assert found.reason == f"missing: {keys}"


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: PumpFigures(((0.0, 100.0), (10.0, 101.0)), 0.0),
            "[pump] curve: the head rises from 100 to 101 between the flows 0 and 10; give flow "
            "and head of each point, in the order of flow, the head falling",
        ),
        (
            lambda: PumpFigures(((0.0, 100.0), (0.0, 90.0)), 0.0),
            "[pump] curve: the flow 0 stands after 0; give the points in the order of flow, each "
            "flow once",
        ),
        (
            lambda: EmitterFigures(2.0, 0.6, 60.0, 10.0),
            "[emitters] pressure_least: 60 is above pressure_most, 10; give the range from its "
            "least to its greatest pressure",
        ),
        (
            lambda: EmitterFigures(2.0, 0.6, exponent=0.02),
            "[emitters] exponent: exponent is 0.02; give 0 for pressure-compensating, or 0.05 to 1",
        ),
        (
            lambda: EmitterFigures(2.0, 0.6, exponent=0.5),
            "[emitters] pressure_nominal: exponent is 0.5 and pressure_nominal is missing; give "
            "the pressure at which the emitter has its flow; it is on the tubing's sheet",
        ),
        (lambda: TubingFigures(0.0), "[tubing] bore: it is 0; give a number above zero"),
        (
            lambda: DesignFigures(flush_velocity=-1.0),
            "[zones] flush_velocity: it is -1; give a number above zero",
        ),
    ],
)
def test_figures_that_cannot_be(make, message):
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        make()


def test_solver_failure_is_no_number():
    text = "[JUNCTIONS]\nJ 0 1\n[RESERVOIRS]\nR 10\n[PIPES]\nP R X 1 1 1 0\n[END]\n"
    with pytest.raises(NotSolved, match="the solver does not take the network"):
        solve(text)
    text = (
        "[JUNCTIONS]\nJ 0 1\nK 0 1\n[RESERVOIRS]\nR 10\n[PIPES]\nP R J 1 1 100 0\nS J K 1 1 100 0 "
        "Closed\n[OPTIONS]\nUNITS GPM\n[REPORT]\nSTATUS YES\n[END]\n"
    )
    with pytest.raises(NotSolved, match=r"cut off|did not converge|below that of the air"):
        solve(text)


def sections(text):
    """Rows of each section of a network file."""
    found, rows = {}, []
    for row in text.splitlines():
        if row.startswith("["):
            rows = found.setdefault(row, [])
        elif row:
            rows.append(row.split())
    return found


def test_network_file(field, us_figures):
    """Read with nothing of ours: options, one junction an emitter, tubing by name and direction."""
    plan = field(step=0.5, outlet=1.5)
    figures = us_figures(other_loss=((30.0, 9.0),), curve=((0.0, 120.0), (30.0, 40.0)), level=1.0)
    simulation = simulate(plan, figures)
    assert list(simulation.networks) == ["Z1_dose.inp", "Z1_flush.inp"]
    for name, text in simulation.networks.items():
        part = sections(text)
        options = {" ".join(row[:-1]): row[-1] for row in part["[OPTIONS]"]}
        assert options["HEADLOSS"] == "D-W"
        assert options["DEMAND MODEL"] == "PDA"
        assert options["MINIMUM PRESSURE"] == "0"
        assert options["REQUIRED PRESSURE"] == "10"
        assert options["PRESSURE EXPONENT"] == "0.5"
        demands = [float(row[2]) for row in part["[JUNCTIONS]"]]
        assert sorted(demands)[-666:] == [0.01] * 666
        assert sum(d > 0.0 for d in demands) == 666
        assert {row[1] for row in part["[RESERVOIRS]"]} == {"1.0000", "1.5000"}
        assert sum(row[0] == "pump-curve" for row in part["[CURVES]"]) >= 4
        for lateral in plan.zones[0].joined:
            rows = [row for row in part["[PIPES]"] if row[0].startswith(lateral.name + "_")]
            assert sum(float(row[3]) for row in rows) == pytest.approx(222.0, abs=0.01)
            assert all(a[2] == b[1] for a, b in itertools.pairwise(rows))
        assert ("[STATUS]" in part) == (name == "Z1_dose.inp")
        assert [row[4] for row in part["[VALVES]"]] == ["GPV", "TCV"]
    assert simulate(plan, figures).networks == simulation.networks
    rates = us_figures(exponent=0.5, pressure_nominal=20.0)
    text = inp_text(build(plan, plan.zones[0], rates, "dose"), rates)
    part = sections(text)
    assert len(part["[EMITTERS]"]) == 666
    assert float(part["[EMITTERS]"][0][1]) == pytest.approx(0.01 / np.sqrt(20.0))
    assert ["BACKFLOW", "ALLOWED", "NO"] in part["[OPTIONS]"]


def test_curves_get_points_on_their_lines():
    straight = [(0.0, 120.0), (7.5, 100.0), (15.0, 80.0), (30.0, 40.0)]
    np.testing.assert_allclose(curve_points([(0.0, 120.0), (30.0, 40.0)]), straight)
    np.testing.assert_allclose(curve_points([(15.0, 80.0), (30.0, 40.0)])[0], (0.0, 120.0))
    flat = curve_points([(0.0, 50.0), (5.0, 50.0), (9.0, 50.0), (10.0, 20.0)])
    assert np.all(np.diff([y for _, y in flat]) < 0.0)


def test_two_zones_share_the_lines(field, us_figures):
    found = simulate(field(zones=2, step=1.0), us_figures())
    assert [state.zone for state in found.solved] == ["Z1", "Z1", "Z2", "Z2"]
    for zone in ("Z1", "Z2"):
        assert found.get(zone, "dose").flow == pytest.approx(3.33, rel=1e-9)
        ends = [one.velocity_out for one in found.get(zone, "flush").laterals]
        assert min(ends) == pytest.approx(2.0, rel=1e-3)
        assert min(ends) >= 2.0


def test_blank_tubing_and_loss_at_emitters(field, us_figures):
    """A raised loop is solved at its own height; each emitter's loss is so many velocity heads."""
    plan = field(count=1, length=100.0)
    zone = plan.zones[0]
    first = zone.joined[0].pieces[0]
    x, z = 100.0, 18.0
    blank = Piece(None, np.array([[x, 0, z], [x + 1, 0, z + 2], [x + 3, 0, z - 1]]), np.empty(0))
    second = Piece("L02", first.xyz + np.array([103.0, 0.0, -1.0]), first.emitters)
    joined = JoinedLateral("J01", (first, blank, second))
    manifold = zone.return_
    moved = dataclasses.replace(manifold, nodes=second.xyz[-1:])
    zone = dataclasses.replace(zone, joined=(joined,), return_=moved)
    plan = ZonePlan((zone,), plan.supply, plan.return_)
    network = build(plan, zone, us_figures(), "dose")
    heights = network.xyz[network.pipes.ends[network.pipes.of("tubing"), 1], 2]
    assert heights.max() == 20.0
    assert joined.blank == pytest.approx(3.0)
    assert any("straight pipe" in note for note in network.notes)
    drop = []
    for loss in (0.0, 0.5):
        state = simulate(plan, us_figures(loss=loss)).get("Z1", "flush")
        drop.append((state.laterals[0].pressure_in - state.laterals[0].pressure_out) * PSI_FT)
    ends = 2.0 * 0.57**2 / 0.408498
    v = 0.408498 * (ends + 0.01 * np.arange(100)) / 0.57**2
    assert drop[1] - drop[0] == pytest.approx(0.5 * np.sum(v**2) / 64.348, rel=5e-3)
