"""A network as the text of an EPANET input file, the same text for the same network."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from dripfield.hydraulics.figures import Figures
from dripfield.hydraulics.network import OTHER, PUMP, THROTTLE, Network
from dripfield.hydraulics.quantities import relative_viscosity

_LEAST_POINTS = 4  # a curve of three points that starts at no flow is fitted by a power law
_LEAST_FALL = 1e-4  # of head between points of a pump's curve: level stretches are not accepted


def curve_points(curve: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Points of a curve with more on its straight lines, so that there are four at least.

    The first line is carried on to no flow, so that the solver can find its way; a pump that works
    there is not proven. Level stretches fall by a ten-thousandth of the unit of head, since a
    network file takes no pump whose head does not fall.
    """
    points = [(float(x), float(y)) for x, y in curve]
    if points[0][0] > 0.0:
        (x0, y0), (x1, y1) = points[:2]
        points.insert(0, (0.0, y0 + x0 * (y0 - y1) / (x1 - x0)))
    while len(points) < _LEAST_POINTS:
        widest = int(np.argmax(np.diff([x for x, _ in points])))
        (x0, y0), (x1, y1) = points[widest : widest + 2]
        points.insert(widest + 1, ((x0 + x1) / 2.0, (y0 + y1) / 2.0))
    for k in range(1, len(points)):
        points[k] = (points[k][0], min(points[k][1], points[k - 1][1] - _LEAST_FALL))
    return points


def inp_text(network: Network, figures: Figures) -> str:
    """Write a network as EPANET input.

    Parameters
    ----------
    network : Network
    figures : Figures
        Emitters and water temperature.

    Returns
    -------
    str
        Flows in gal/min with ft, in and psi, or in L/min with m, mm and kPa. Pressure-compensating
        emitters are pressure-driven demands, others are emitters without backflow.
    """
    metric, emitters = figures.q.metric, figures.emitters
    compensating = emitters.compensating
    n, pipes = network.junctions, network.pipes
    demand = np.zeros(len(network.ids))
    if compensating:
        demand[network.emitters] = network.rated
    # roughness in the file is in thousandths of a foot, or mm
    rough = pipes.roughness if metric else pipes.roughness / 12.0 * 1000.0
    ids, z = network.ids, network.xyz[:, 2].tolist()
    lines = ["[TITLE]", f"{network.zone} {network.state}", "", "[JUNCTIONS]"]
    lines += [
        f"{name} {height:.4f} {flow:.9g}"
        for name, height, flow in zip(ids[:n], z[:n], demand[:n].tolist(), strict=True)
    ]
    lines += ["", "[RESERVOIRS]"]
    lines += [f"{name} {height:.4f}" for name, height in zip(ids[n:], z[n:], strict=True)]
    lines += ["", "[PIPES]"]
    lines += [
        f"{name} {ids[a]} {ids[b]} {length:.4f} {bore:.4f} {height:.6g} {loss:.6g} "
        f"{'Closed' if shut else 'Open'}"
        for name, (a, b), length, bore, height, loss, shut in zip(
            pipes.ids,
            pipes.ends.tolist(),
            pipes.length.tolist(),
            pipes.bore.tolist(),
            rough.tolist(),
            pipes.loss.tolist(),
            pipes.shut.tolist(),
            strict=True,
        )
    ]
    a, b = network.pump
    lines += ["", "[PUMPS]", f"{PUMP} {ids[a]} {ids[b]} HEAD {PUMP}-curve", "", "[VALVES]"]
    widest = float(pipes.bore.max())
    if network.other:
        a, b = network.other
        lines.append(f"{OTHER} {ids[a]} {ids[b]} {widest:.4f} GPV {OTHER}-curve 0")
    if network.throttle:
        a, b = network.throttle
        setting = network.setting or 0.0
        lines.append(
            f"{THROTTLE} {ids[a]} {ids[b]} {network.throttle_bore:.4f} TCV {setting:.8g} 0"
        )
        if network.setting is None:
            lines += ["", "[STATUS]", f"{THROTTLE} Closed"]
    if not compensating:
        # the coefficient is for a pressure in psi or, whatever the pressures are told in, in m
        nominal = (emitters.pressure_nominal or 1.0) / (figures.q.pressures if metric else 1.0)
        factor = network.rated / nominal**emitters.exponent
        lines += ["", "[EMITTERS]"]
        lines += [
            f"{ids[node]} {each:.9g}"
            for node, each in zip(network.emitters.tolist(), factor.tolist(), strict=True)
            if each > 0.0
        ]
    lines += ["", "[CURVES]"]
    lines += [f"{PUMP}-curve {x:.6g} {y:.8g}" for x, y in curve_points(network.curve)]
    if network.other:
        lines += [f"{OTHER}-curve {x:.6g} {y:.8g}" for x, y in network.other_loss]
    lines += ["", "[OPTIONS]", f"UNITS {'LPM' if metric else 'GPM'}"]
    lines += [f"PRESSURE {'KPA' if metric else 'PSI'}", "HEADLOSS D-W"]
    lines += [f"VISCOSITY {relative_viscosity(figures.celsius):.6f}"]
    lines += ["TRIALS 200", "ACCURACY 0.00001", "UNBALANCED STOP"]
    lines += ["DEMAND MODEL PDA", "MINIMUM PRESSURE 0"]
    lines += [f"REQUIRED PRESSURE {required_pressure(figures):g}", "PRESSURE EXPONENT 0.5"]
    if not compensating:
        lines += [f"EMITTER EXPONENT {emitters.exponent:g}", "BACKFLOW ALLOWED NO"]
    lines += ["", "[TIMES]", "DURATION 0", "", "[REPORT]", "STATUS YES", "SUMMARY NO"]
    lines += ["", "[COORDINATES]"]
    lines += [
        f"{name} {x:.3f} {y:.3f}"
        for name, (x, y) in zip(ids, network.xyz[:, :2].tolist(), strict=True)
    ]
    return "\n".join([*lines, "", "[END]", ""])


def required_pressure(figures: Figures) -> float:
    """Pressure from which an emitter has its whole flow [psi or kPa]."""
    emitters = figures.emitters
    given = emitters.pressure_least or emitters.pressure_nominal
    return given if given is not None else 1.0
