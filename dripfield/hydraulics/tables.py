"""Rows of the tables of a simulated plan, as text in the order of their columns."""

from __future__ import annotations

from dripfield.hydraulics.design_checks import Check
from dripfield.hydraulics.simulate import Simulation
from dripfield.hydraulics.times import nominal

HYDRAULICS = (
    "zone", "state", "joined", "flow_in", "flow_out", "pressure_in", "pressure_least",
    "pressure_most", "velocity_out", "emitter_least", "emitter_most", "flow_unit",
    "pressure_unit", "velocity_unit", "pressure_out", "emitter_unit",
)  # fmt: skip
DUTY = ("zone", "state", "flow", "head", "flow_unit", "head_unit", "throttle", "other_loss")
ZONES = (
    "zone", "joined", "tubing", "emitters", "area", "dose_flow", "flush_flow", "elevation_min",
    "elevation_max", "volume", "unit", "flow_unit", "volume_unit",
)  # fmt: skip
CHECKS = ("requirement", "source", "value", "limit", "unit", "verdict", "where")
PIPES = (
    "zone", "state", "pipe", "role", "size", "bore", "flow", "velocity", "head_lost", "bore_unit",
    "flow_unit", "velocity_unit", "head_unit",
)  # fmt: skip


def _shown(value: float | None, places: int) -> str:
    """A number with some decimals, no minus before nothing; empty for none."""
    if value is None:
        return ""
    text = f"{value:.{places}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def hydraulics_rows(simulation: Simulation) -> list[tuple[str, ...]]:
    """A row for each joined lateral in each solved state, in the order of :data:`HYDRAULICS`."""
    q = simulation.figures.q
    return [
        (
            state.zone, state.state, one.joined, _shown(one.flow_in, 4), _shown(one.flow_out, 4),
            _shown(one.pressure_in, 3), _shown(one.pressure_least, 3),
            _shown(one.pressure_most, 3), _shown(one.velocity_out, 4),
            _shown(one.emitter_least, 4), _shown(one.emitter_most, 4), q.flow, q.pressure,
            q.velocity, _shown(one.pressure_out, 3), q.emitter_flow,
        )
        for state in simulation.solved
        for one in state.laterals
    ]  # fmt: skip


def duty_rows(simulation: Simulation) -> list[tuple[str, ...]]:
    """A row for each solved state, in the order of :data:`DUTY`."""
    q = simulation.figures.q
    return [
        (
            state.zone, state.state, _shown(state.flow, 4), _shown(state.head, 3), q.flow, q.head,
            _shown(state.throttle, 3), _shown(state.other_loss, 3),
        )
        for state in simulation.solved
    ]  # fmt: skip


def zone_rows(simulation: Simulation) -> list[tuple[str, ...]]:
    """A row for each zone, in the order of :data:`ZONES`."""
    figures = simulation.figures
    q = figures.q
    rows: list[tuple[str, ...]] = []
    for zone in simulation.plan.zones:
        found = nominal(zone, figures)
        tubing = sum(lateral.tubing for lateral in zone.joined)
        rows.append(
            (
                zone.name, str(len(zone.joined)), _shown(tubing, 3), str(found.emitters),
                _shown(zone.area, 2), _shown(found.dose_flow, 4), _shown(found.flush_flow, 4),
                _shown(found.elevation_min, 3), _shown(found.elevation_max, 3),
                _shown(found.volume, 3), figures.unit.value, q.flow, q.volume,
            )
        )  # fmt: skip
    return rows


def pipe_rows(simulation: Simulation) -> list[tuple[str, ...]]:
    """A row for each pipe and each joined lateral's tubing, in the order of :data:`PIPES`."""
    q = simulation.figures.q
    return [
        (
            state.zone, state.state, pipe.name, pipe.role, pipe.size, _shown(pipe.bore, 3),
            _shown(pipe.flow, 3), _shown(pipe.velocity, 3), _shown(pipe.head_lost, 3), q.bore,
            q.flow, q.velocity, q.head,
        )
        for state in simulation.solved
        for pipe in state.pipes
    ]  # fmt: skip


def check_rows(checks: list[Check]) -> list[tuple[str, ...]]:
    """A row for each check, in the order of :data:`CHECKS`."""
    return [
        (one.requirement, one.source, one.value, one.limit, one.unit, one.verdict, one.where)
        for one in checks
    ]
