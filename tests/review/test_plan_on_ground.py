"""A plan judged on the surveyed ground by itself, and the answer that follows."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from shapely import LineString, get_coordinates

from dripfield.review.judge.compare import compare_plan
from dripfield.review.model.limits import LineVerdict
from dripfield.review.model.plan import Plan, PlanRun, StatedTotals

Plane = Callable[..., SimpleNamespace]
FALL = 0.08  # of the plane, to the south


def plan_of(world: SimpleNamespace, change=lambda i, xy: xy, **more) -> Plan:
    """The layout drawn again, each line changed by its number."""
    runs = []
    for i, one in enumerate(world.layout.laterals):
        xy = change(i, one.xy.copy())
        if xy is not None:
            runs.append(PlanRun(one.name, xy))
    return Plan(Path("plan.dxf"), tuple(runs), boundary=world.site.bed.boundary, **more)


def test_the_same_measures_as_a_layout(plane: Plane) -> None:
    """On a plane a run along the contour is level; one that falls 2.00 north to south along its
    length has ground 0.16 apart, 0.08 either way of the middle (by hand)."""
    world = plane()

    def tilt(i: int, xy: np.ndarray) -> np.ndarray:
        if i == 8:
            xy[-1, 1] -= 2.0
        return xy

    found = compare_plan(world.design, plan_of(world, tilt), world.limits)
    ground = {line.name: line.ground for line in found.lines if line.run is not None}
    assert ground["L05"].level_off == pytest.approx(0.0, abs=1e-6)
    assert ground["L09"].level_off == pytest.approx(0.08, abs=1e-4)
    assert ground["L05"].spacing_min == pytest.approx(2.0, abs=1e-6)
    assert ground["L09"].word == "misses spacing"  # level within 0.10, but beside L10 at its end
    assert ground["L01"].word == "holds"
    assert found.verdict.word == "fail"


def test_level_is_missed_past_the_tolerance(plane: Plane) -> None:
    """All runs tilted as one: 3.00 over their length is 0.24 of ground, 0.12 either way."""
    world = plane()

    def tilt(i: int, xy: np.ndarray) -> np.ndarray:
        slope = 3.0 / 90.0
        return xy - np.column_stack((np.zeros(2), slope * (xy[:, 0] - xy[0, 0])))

    found = compare_plan(world.design, plan_of(world, tilt), world.limits)
    long = next(line for line in found.lines if line.name == "L10")
    length = float(np.ptp(long.run.xy[:, 0]))
    assert long.ground.level_off == pytest.approx(0.5 * FALL * 3.0 / 90.0 * length, abs=1e-4)
    assert long.ground.word in ("misses level", "misses both")
    assert any("not level on the surveyed ground" in text for text in found.verdict.reasons)


def between(world: SimpleNamespace) -> Plan:
    """A layout of its own: laterals half way between those laid out, and within the clearance."""
    area = world.site.bed.boundary.buffer(-1.0)
    x0, y0, x1, y1 = area.bounds
    runs = []
    for north in np.arange(y1 - 1.3, y0, -2.0):
        line = area.intersection(LineString([(x0 - 1.0, north), (x1 + 1.0, north)]))
        if line.length >= 5.0:
            runs.append(PlanRun(f"R{len(runs) + 1}", get_coordinates(line)))
    return Plan(Path("plan.dxf"), tuple(runs), boundary=world.site.bed.boundary)


def test_a_good_plan_that_is_another_layout_passes(plane: Plane) -> None:
    world = plane()
    found = compare_plan(world.design, between(world), world.limits)
    assert any(not line.verdict.is_yes for line in found.lines)
    assert {line.ground.word for line in found.lines if line.run is not None} == {"holds"}
    assert found.verdict.word == "pass", found.verdict.reasons
    assert found.verdict.reasons[0].startswith("a layout of its own that holds")


def test_too_little_tubing_is_no_layout_of_its_own(plane: Plane) -> None:
    world = plane()
    plan = between(world)
    short = Plan(plan.source, plan.runs[2:], boundary=plan.boundary)
    found = compare_plan(world.design, short, world.limits)
    assert found.verdict.word == "fail"
    assert any(text.startswith("tubing ") for text in found.verdict.reasons)


def test_setbacks_judge_the_plan_s_own_distances(plane: Plane) -> None:
    world = plane()
    found = compare_plan(world.design, plan_of(world, lambda i, xy: xy - (0.0, 1.0)), world.limits)
    (edge,) = (one for one in found.setbacks if one.feature == "bed edge")
    assert edge.distance == pytest.approx(1.0, abs=1e-6)
    assert edge.plan_distance < 0.75
    assert edge.verdict is LineVerdict.DIFFERS
    assert found.verdict.word == "fail"
    worst = min(line.ground.setback_least for line in found.lines if line.run is not None)
    assert worst == pytest.approx(edge.plan_distance - 1.0, abs=1e-6)


def test_spacing_is_named_as_the_common_cause(plane: Plane) -> None:
    world = plane()
    plan = Plan(
        Path("plan.dxf"),
        tuple(
            PlanRun(f"R{i}", np.array([(1_500_010.0, y), (1_500_080.0, y)]))
            for i, y in enumerate(np.arange(600_030.0, 600_003.0, -2.5))
        ),
    )
    found = compare_plan(world.design, plan, world.limits)
    assert found.verdict.word == "fail"
    assert found.verdict.reasons[0] == "spacing 2.50 on the plan against 2.00 (drawn)"
    middle = next(line for line in found.lines if line.name == "R3")
    assert middle.ground.spacing_min == pytest.approx(2.5, abs=1e-6)
    assert middle.ground.word == "misses spacing"


def test_double_spacing_is_not_taken_for_no_neighbour(plane: Plane) -> None:
    world = plane()
    found = compare_plan(
        world.design, plan_of(world, lambda i, xy: xy if i % 2 else None), world.limits
    )
    run = next(line for line in found.lines if line.name == "L06")
    assert run.ground.spacing_min == pytest.approx(4.0, abs=1e-6)
    assert run.ground.word == "misses spacing"


def test_elevations_of_another_benchmark_are_named(plane: Plane) -> None:
    world = plane()
    runs = tuple(
        PlanRun(one.name, one.xy, elevation=one.elevation + 0.3) for one in world.layout.laterals
    )
    found = compare_plan(world.design, Plan(Path("plan.dxf"), runs), world.limits)
    assert found.verdict.word == "fail"
    assert found.verdict.reasons[0].startswith(
        "the plan's elevations are 0.30 ft higher than the layout's (median)"
    )


def test_a_layout_that_misses_a_tolerance_passes_its_own_drawing(plane: Plane) -> None:
    """The tolerance is made smaller than any line can keep."""
    world = plane()
    settings = dataclasses.replace(world.site.settings, spacing_tolerance=1e-9)
    site = dataclasses.replace(world.site, settings=settings)
    ground = dataclasses.replace(world.design.ground, site=site)
    design = dataclasses.replace(world.design, ground=ground)
    found = compare_plan(design, plan_of(world), world.limits)
    assert {line.verdict for line in found.lines} == {LineVerdict.CONFORMS}
    assert found.verdict.word == "pass"


def test_off_the_survey_is_not_known(plane: Plane) -> None:
    world = plane()
    away = tuple(
        PlanRun(f"R{i}", np.array([(1_500_010.0, y), (1_500_080.0, y)]))
        for i, y in enumerate((600_100.0, 600_098.0))
    )
    found = compare_plan(world.design, Plan(Path("plan.dxf"), away), world.limits)
    assert {line.ground.word for line in found.lines if line.run is not None} == {"not known"}
    assert found.verdict.word != "pass"


@pytest.mark.parametrize(
    ("share", "word"), [(1.0, "not proven"), (0.9, "fail"), (1.1, "not proven")]
)
def test_totals_alone(plane: Plane, share: float, word: str) -> None:
    """As much tubing as laid out proves nothing of where it lies; less is a no."""
    world = plane()
    total = sum(one.length for one in world.measured.laterals)
    plan = Plan(Path("plan.csv"), (), totals=StatedTotals(length=share * total))
    found = compare_plan(world.design, plan, world.limits)
    assert found.verdict.word == word
    assert {line.verdict for line in found.lines} == {LineVerdict.NOT_READ}


def test_a_table_without_lines_or_elevations_is_not_proven(plane: Plane) -> None:
    world = plane()
    runs = tuple(
        PlanRun(one.name, length=float(np.ptp(one.xy[:, 0]))) for one in world.layout.laterals
    )
    found = compare_plan(world.design, Plan(Path("plan.csv"), runs), world.limits)
    assert {line.verdict for line in found.lines} == {LineVerdict.CONFORMS}
    assert found.verdict.word == "not proven"


def test_a_reason_that_passes_is_no_reason_to_fail(plane: Plane) -> None:
    """L03 0.08 high within its limit of 0.10, and 3.00 too long: the length alone is told."""
    world = plane()
    runs = []
    for one in world.layout.laterals:
        own = float(np.ptp(one.xy[:, 0])) + 3.0 * (one.name == "L03")
        high = 0.08 * (one.name == "L03")
        runs.append(PlanRun(one.name, length=own, elevation=one.elevation + high))
    found = compare_plan(world.design, Plan(Path("plan.csv"), tuple(runs)), world.limits)
    (line,) = (line for line in found.lines if line.verdict is LineVerdict.DIFFERS)
    assert len(line.reasons) == 1
    assert line.reasons[0].startswith("length ")
