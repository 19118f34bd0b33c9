"""Design checks, start-up readings, faults and tables of a simulated field."""

from __future__ import annotations

import numpy as np
import pytest

from dripfield.hydraulics import tables
from dripfield.hydraulics.commissioning import expected_readings
from dripfield.hydraulics.design_checks import Asked, Limits, design_checks
from dripfield.hydraulics.faults import find_faults
from dripfield.hydraulics.simulate import simulate


def verdicts(plan, figures, limits=None):
    return {one.requirement: one for one in design_checks(simulate(plan, figures), limits)}


def test_a_sound_field_passes(field, us_figures):
    found = verdicts(field(step=0.5), us_figures(pressure_rating=70.0, height=2.5, longest=222.0))
    assert {one.verdict for one in found.values()} == {"pass"}
    assert "Z1 flush: velocity at every far end" in found


@pytest.mark.parametrize(
    ("plan", "figures", "requirement", "verdict", "where"),
    [
        ({"height": 95.0}, {}, "Z1 dose: least pressure at an emitter", "fail", "J06"),
        ({}, {"pressure_most": 40.0}, "Z1 dose: greatest pressure at an emitter", "fail", "J01"),
        (
            {},
            {"pressure_most": None},
            "Z1 dose: greatest pressure at an emitter",
            "not proven",
            "missing: [emitters] pressure_most",
        ),
        ({"height": 100.0}, {}, "Z1 flush: velocity at every far end", "fail", "J0"),
        ({}, {"most_flow": 6.0}, "Z1: flow while dosing", "fail", ""),
        ({"step": 2.0}, {"height": 8.0}, "Z1: difference of elevation of its emitters", "fail", ""),
        ({}, {"longest": 200.0}, "Z1: length of a joined lateral", "fail", "J01"),
        ({"height": 130.0}, {}, "Z1 dose: pump reaches its duty", "fail", "the pump cannot lift"),
        (
            {},
            {"other_loss": None},
            "Z1 dose: filter, valve and regulator counted",
            "not proven",
            "missing: [pump] other_loss",
        ),
        (
            {},
            {"level": 20.0},
            "no siphon: lowest emitter is not below the water in the tank when the pump stops",
            "fail",
            "",
        ),
        (
            {},
            {"pressure_rating": 40.0},
            "pressure at shut-off at the lowest emitter (no regulator counted)",
            "fail",
            "",
        ),
    ],
)
def test_what_is_wrong_is_named(field, us_figures, plan, figures, requirement, verdict, where):
    found = verdicts(field(**plan), us_figures(**figures))[requirement]
    assert found.verdict == verdict
    assert found.where.startswith(where)


def test_rules_only_where_asked(field, us_figures):
    figures = us_figures(exponent=0.5, pressure_nominal=20.0)
    plan = field(height=60.0, step=6.0)
    plain = verdicts(plan, figures)
    pair = "Z1 dose: difference between any two emitters, by pressure alone"
    assert pair not in plain
    limits = Limits(Asked(10.0, "a code"), Asked(8.0, "a code"), Asked(2.0, "a code"))
    asked = verdicts(plan, figures, limits)
    assert (asked[pair].verdict, asked[pair].source) == ("fail", "a code")
    p = simulate(plan, figures).get("Z1", "dose").pressure
    by_hand = 100.0 * (np.sqrt(p.max() / p.min()) - 1.0)
    assert float(asked[pair].value) == pytest.approx(by_hand, abs=0.01)
    assert asked["Z1 dose: velocity in pipe"].verdict == "pass"
    assert len(asked) == len(plain) + 4


def test_faults_by_what_the_meter_reads(field, us_figures):
    """Compensating emitters: what is blocked or shut takes its share from a dose, exactly."""
    figures = us_figures(other_loss=((30.0, 6.0),))
    simulation = simulate(field(), figures)
    dose = {one.fault: one for one in find_faults(simulation.get("Z1", "dose"), figures)}
    assert dose["none"].change == 0.0
    assert dose["J04 shut at both ends"].change == pytest.approx(-1.0 / 6.0)
    assert dose["a tenth of the emitters blocked"].change == pytest.approx(-66.0 / 666.0)
    assert dose["J04 shut at its supply end"].change == pytest.approx(0.0, abs=1e-9)
    cut = dose["J04 cut through halfway along"]
    assert cut.change > 1.0
    assert cut.pressure_in < dose["none"].pressure_in - 10.0
    flush = {one.fault: one for one in find_faults(simulation.get("Z1", "flush"), figures)}
    assert flush["filter blocked: its loss 4 times"].flow < flush["none"].flow
    assert flush["throttle left wide open"].flow > flush["none"].flow


def test_cut_line_balances(field, us_figures):
    """The flow at the meter is what the pump's curve gives at the head found: nothing is lost."""
    figures = us_figures()
    cut = find_faults(simulate(field(), figures).get("Z1", "dose"), figures)[1]
    assert cut.head == pytest.approx(120.0 - 0.0889 * cut.flow**2, abs=0.01)


def test_expected_readings(field, us_figures):
    simulation = simulate(field(step=0.5), us_figures())
    found = expected_readings(simulation)
    dose = [one for one in found if one.state == "dose"]
    assert dose[0].value == pytest.approx(6.66)
    assert (dose[0].least, dose[0].most) == pytest.approx((5.994, 7.326))
    where = [one.where for one in dose]
    assert where[:2] == ["meter", "pump"]
    assert {"J01 supply end", "J06 far end"} <= set(where)


def test_tables(field, us_figures, metric_figures):
    simulation = simulate(field(zones=2), us_figures())
    rows = tables.hydraulics_rows(simulation)
    assert len(rows) == 12
    assert all(len(row) == len(tables.HYDRAULICS) for row in rows)
    assert all(len(row) == len(tables.DUTY) for row in tables.duty_rows(simulation))
    assert all(len(row) == len(tables.ZONES) for row in tables.zone_rows(simulation))
    assert all(len(row) == len(tables.PIPES) for row in tables.pipe_rows(simulation))
    checks = tables.check_rows(design_checks(simulation))
    assert all(len(row) == len(tables.CHECKS) for row in checks)
    flush = dict(zip(tables.DUTY, tables.duty_rows(simulation)[1], strict=True))
    assert float(flush["throttle"]) > 0.0
    assert dict(zip(tables.HYDRAULICS, rows[0], strict=True))["emitter_unit"] == "gal/h"
