"""Friction, orifices and sloping laterals against printed tables and worksheets."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from fluids.friction import Swamee_Jain_1976
from fluids.piping import nearest_pipe

from dripfield.core.units import Unit
from dripfield.hydraulics.quantities import quantities, relative_viscosity, viscosity
from dripfield.hydraulics.simulate import simulate
from dripfield.hydraulics.solver import solve
from dripfield.hydraulics.state import emission_law

# Friction in Schedule 40 pipe, C = 150, ft per 100 ft: Nev. Admin. Code 444.8396(4), the rows up
# to 11 gal/min, and Ill. Admin. Code tit. 77, pt. 906, App. A, Exh. I (secondary copy), all rows
FRICTION = {
    1.0: "1 .07, 2 .28, 3 .60, 4 1.01, 5 1.52, 6 2.14, 7 2.89, 8 3.63, 9 4.57, 10 5.50",
    1.25: "2 .07, 3 .16, 4 .25, 5 .39, 6 .55, 7 .76, 8 .97, 9 1.21, 10 1.46, 11 1.77, 12 2.09, "
    "13 2.42, 14 2.74, 15 3.06, 16 3.49, 17 3.93, 18 4.37, 19 4.81, 20 5.23",
    1.5: "3 .07, 4 .12, 5 .18, 6 .25, 7 .36, 8 .46, 9 .58, 10 .70, 11 .84, 12 1.01, 13 1.17, "
    "14 1.33, 15 1.45, 16 1.65, 17 1.86, 18 2.07, 19 2.28, 20 2.46, 25 3.75, 30 5.22",
    2.0: "6 .07, 7 .10, 8 .14, 9 .17, 10 .21, 11 .25, 12 .30, 13 .35, 14 .39, 15 .44, 16 .50, "
    "17 .56, 18 .62, 19 .68, 20 .74, 25 1.10, 30 1.54, 35 2.05, 40 2.62, 45 3.27, 50 3.98",
    3.0: "15 .07, 16 .08, 17 .09, 18 .10, 19 .11, 20 .12, 25 .16, 30 .23, 35 .30, 40 .39, 45 .48, "
    "50 .58, 60 .81, 70 1.08, 80 1.38, 90 1.73, 100 2.09",
    4.0: "35 .07, 40 .09, 45 .12, 50 .16, 60 .21, 70 .28, 80 .37, 90 .46, 100 .55, 150 1.17",
    6.0: "100 .07, 150 .16, 200 .28, 250 .41, 300 .58, 350 .78, 400 .99, 450 1.22",
}

OPTIONS = (
    "[OPTIONS]\nUNITS GPM\nHEADLOSS {}\nACCURACY 0.00001\nTRIALS 200\n[TIMES]\nDURATION 0\n[END]\n"
)


def by_themselves(pipes, headloss="H-W", rough=150.0):
    """Head lost in pipes (length ft, bore in, flow gal/min) that each run from a reservoir."""
    lines = ["[JUNCTIONS]"]
    lines += [f"J{k} 0 {flow}" for k, (_, _, flow) in enumerate(pipes)]
    lines += ["[RESERVOIRS]", *(f"R{k} 500" for k in range(len(pipes))), "[PIPES]"]
    lines += [
        f"P{k} R{k} J{k} {length} {bore} {rough} 0" for k, (length, bore, _) in enumerate(pipes)
    ]
    found = solve("\n".join([*lines, OPTIONS.format(headloss)]))
    return 500.0 - found.head[: len(pipes)]


def test_friction_table_of_a_state_code():
    """0.02 ft or 6 %, since nine cells look interpolated, and half of the last printed digit."""
    cells = [
        (nominal, *map(float, cell.split()))
        for nominal, row in FRICTION.items()
        for cell in row.split(", ")
    ]
    bores = {n: nearest_pipe(NPS=n, schedule="40D1785")[1] / 0.0254 for n in FRICTION}
    lost = by_themselves([(100.0, bores[n], flow) for n, flow, _ in cells])
    printed = np.array([cell[2] for cell in cells])
    assert len(cells) > 100
    assert np.all(np.abs(lost - printed) <= np.maximum(0.02, 0.06 * printed) + 0.005)


@pytest.mark.parametrize("outlets", [1, 2, 3, 5, 10, 20, 50, 100])
def test_multiple_outlet_factor(outlets):
    """Christiansen 1942, exact sum for equal outlets: F = sum k^m / N^(m + 1), m = 1.852."""
    flow, step = 8.0, 100.0 / outlets
    lines = ["[JUNCTIONS]", *(f"J{k} 0 {flow / outlets}" for k in range(outlets))]
    lines += ["[RESERVOIRS]", "R 100", "[PIPES]"]
    lines += [
        f"P{k} {'R' if k == 0 else f'J{k - 1}'} J{k} {step} 1.049 150 0" for k in range(outlets)
    ]
    lost = 100.0 - solve("\n".join([*lines, OPTIONS.format("H-W")])).head[outlets - 1]
    whole = by_themselves([(100.0, 1.049, flow)])[0]
    k = np.arange(1, outlets + 1)
    assert lost / whole == pytest.approx((k**1.852).sum() / outlets**2.852, rel=1e-4)


def test_small_tubing_by_another_library():
    """Darcy-Weisbach beyond the transition with the factor of fluids (Swamee and Jain 1976)."""
    flows = np.array([0.9, 1.2, 1.591, 2.386])
    lost = by_themselves([(100.0, 0.57, q) for q in flows], "D-W", 0.005)
    d, nu = 0.57 / 12.0, 1.1e-5
    v = flows / 448.831 / (np.pi / 4.0 * d**2)
    f = np.array([Swamee_Jain_1976(Re=one * d / nu, eD=5e-6 / d) for one in v])
    np.testing.assert_allclose(lost, f * 100.0 / d * v**2 / 64.348, rtol=0.005)


def test_hazen_williams_would_be_unsafe_in_small_tubing():
    """Regression, computed once with this solver: C = 150 gives 0.63 to 0.88 of Darcy-Weisbach.

    Clear of the transition, where every formula says something else.
    """
    flows = [0.199, 0.795, 1.591, 2.386]
    pipes = [(100.0, 0.57, q) for q in flows]
    np.testing.assert_allclose(
        by_themselves(pipes) / by_themselves(pipes, "D-W", 0.005),
        [0.63, 0.76, 0.84, 0.88],
        atol=0.006,
    )


def orifice(figures, diameter):
    """Figures whose emitters are holes: 11.79 d^2 sqrt(h), gal/min (from memory), at 1 ft."""
    return figures(
        flow=60.0 * 11.79 * diameter**2,
        exponent=0.5,
        pressure_nominal=0.4333,
        pressure_least=0.1,
    )


@pytest.mark.parametrize(
    ("diameter", "printed"),
    [
        (3 / 8, [1.66, 2.34, 2.87, 3.31, 3.71]),
        (7 / 16, [2.26, 3.19, 3.91, 4.51, 5.04]),
        (1 / 2, [2.95, 4.17, 5.10, 5.89, 6.59]),
    ],
)
def test_orifice_table(us_figures, diameter, printed):
    """Nev. Admin. Code 444.8396(3): heads of 1 to 5 ft."""
    figures = orifice(us_figures, diameter)
    heads = np.arange(1.0, 6.0)
    found = emission_law(heads * 0.4333, np.full(5, figures.emitter_flow), figures)
    np.testing.assert_allclose(found, printed, atol=0.0101)


def test_discharge_table(us_figures):
    """N.J.A.C. 7:9A-9.7: a quarter inch hole at 2.5 to 5 ft, printed to two places."""
    figures = orifice(us_figures, 1 / 4)
    heads = np.array([2.5, 3.0, 3.5, 4.0, 4.5, 5.0])
    found = emission_law(heads * 0.4333, np.full(6, figures.emitter_flow), figures)
    np.testing.assert_allclose(found, [1.18, 1.28, 1.40, 1.47, 1.59, 1.65], rtol=0.02)


@pytest.mark.parametrize(("flow", "height"), [(1.10, 1.21), (1.15, 1.3225)])
def test_flow_against_height(us_figures, flow, height):
    """Kitsap County Health policy 18 (secondary copy): 10 % of flow is 21 % of height."""
    figures = orifice(us_figures, 0.25)
    low, high = emission_law(np.array([1.0, height]), np.ones(2), figures)
    assert high / low == pytest.approx(flow, rel=1e-9)


def test_laterals_on_two_levels(field, us_figures):
    """University of Minnesota worksheet (copy in a permit file): laterals at 5.0 and 3.9 ft.

    1.0 ft of head at the upper makes 2.1 ft at the lower; 3/16 in holes give 0.42 and 0.60 gal/min.
    """
    figures = orifice(us_figures, 3 / 16)
    pump = dataclasses.replace(figures.pump, curve=((0.0, 6.0001), (10.0, 6.0)))
    figures = dataclasses.replace(figures, pump=pump)
    figures = dataclasses.replace(figures, tubing=dataclasses.replace(figures.tubing, bore=4.0))
    plan = field(count=2, length=2.0, height=5.0, step=1.1, bore=6.0, supply_length=6.0)
    state = simulate(plan, figures).get("Z1", "dose")
    heads = state.pressure / 0.4333
    np.testing.assert_allclose(heads, [1.0, 2.1], atol=0.005)
    np.testing.assert_allclose(state.emission / 60.0, [0.42, 0.60], atol=0.006)


def test_viscosity_of_water():
    """Handbook tables of water, mm2/s at 5, 10, 20, 30 degC (from memory)."""
    found = [viscosity(t) * 1e6 for t in (5.0, 10.0, 20.0, 30.0)]
    np.testing.assert_allclose(found, [1.519, 1.307, 1.004, 0.801], atol=0.001)
    assert relative_viscosity(20.0) == pytest.approx(1.004e-6 / (1.1e-5 * 0.3048**2), rel=1e-3)


def test_velocity_and_content():
    """V = 0.408498 Q / d^2 and 4.0800 d^2 gal for 100 ft: a gallon is 231 cubic inches."""
    q = quantities(Unit.FOOT)
    assert q.velocity_of(10.0, 1.049) == pytest.approx(0.408498 * 10.0 / 1.049**2, rel=1e-5)
    assert q.volume_of(100.0, 0.57) == pytest.approx(1.3256, abs=5e-5)
    assert q.flow_at(2.0, 1.610) == pytest.approx(12.691, abs=5e-4)
