"""What a zone plan says to the take-off."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from dripfield.core.arrays import Floats
from dripfield.core.units import Unit
from dripfield.preparation.fittings import count_fittings
from dripfield.preparation.from_zones import nominal_size, routed_from_zones
from dripfield.zones.model import JoinedLateral, Manifold, Piece, Pipe, Zone, ZonePlan

NONE = np.empty(0)


def pipe(name: str, *xyz: tuple[float, float, float], size: str = "", bore: float = 0.0) -> Pipe:
    return Pipe(name, np.array(xyz, dtype=float), bore, size)


def joined(name: str, y: float) -> JoinedLateral:
    """Two laterals of 40 with a blank of 3 between."""

    def row(x: float, to: float) -> Floats:
        return np.array([[x, y, 100.0], [to, y, 100.0]])

    return JoinedLateral(
        name,
        (
            Piece("L1", row(0, 40), NONE),
            Piece(None, row(40, 43), NONE),
            Piece("L2", row(43, 83), NONE),
        ),
    )


def manifold(side: str) -> Manifold:
    """Three taps down a straight line: 0 where it is fed, then 1 and 2."""
    nodes = np.array([[0, 0, 100], [0, -2, 99.8], [0, -4, 99.6]], dtype=float)
    pipes = (
        pipe("m1", *nodes[:2].tolist(), size="1-1/4 in"),
        pipe("m2", *nodes[1:].tolist(), size="1 in"),
    )
    return Manifold("Z1", side, nodes, pipes, ((0, 1), (1, 2)), {"J01": 0, "J02": 1, "J03": 2})


@pytest.fixture
def plan() -> ZonePlan:
    zone = Zone(
        "Z1",
        tuple(joined(f"J0{i}", -2.0 * i) for i in (1, 2, 3)),
        500.0,
        manifold("supply"),
        manifold("return"),
    )
    supply = (
        pipe("s1", (-50, 0, 97), (-20, 0, 97), size="1-1/2 in"),
        pipe("s2", (-20, 0, 97), (-20, 20, 97), (0, 20, 97), size="1-1/4 in"),
    )
    return ZonePlan((zone,), supply)


def test_manifold_with_three_taps(plan: ZonePlan) -> None:
    """Hand-derived, for each manifold: tees where it is fed and at the middle tap; a reducer there
    from 1-1/4 to 1 in; an elbow with a reducer to 3/4 in at its end; a union where it is fed."""
    runs = routed_from_zones(plan, Unit.FOOT).runs
    count = count_fittings([run for run in runs if run.use == "supply manifold"])
    assert dict(count) == {
        "tee, Schedule 40, 1-1/4 in x 1-1/4 in x 3/4 in": 2,
        "reducer, Schedule 40, 1-1/4 in x 1 in": 1,
        "bend 90°, Schedule 40, 1 in": 1,
        "reducer, Schedule 40, 1 in x 3/4 in": 1,
        "union, Schedule 40, 1-1/4 in": 1,
    }


def test_supply_turns_within_and_between_pipes(plan: ZonePlan) -> None:
    """Hand-derived: a right angle where s1 meets s2, another within s2, and a reducer."""
    runs = routed_from_zones(plan, Unit.FOOT).runs
    count = count_fittings([run for run in runs if run.use == "supply"])
    assert dict(count) == {
        "bend 90°, Schedule 40, 1-1/4 in": 2,
        "reducer, Schedule 40, 1-1/2 in x 1-1/4 in": 1,
    }


def test_joining_tubing_and_connections(plan: ZonePlan) -> None:
    routed = routed_from_zones(plan, Unit.FOOT)
    assert [(one.blanks, one.connections) for one in routed.joined] == [((3.0,), 2)] * 3
    assert (routed.valves, routed.summits) == (1, 2)
    assert routed.notes == ("no return is routed: its pipe and fittings are left out",)


def test_frost_by_the_ground_over_the_line(plan: ZonePlan) -> None:
    ground: Callable[[Floats], Floats] = lambda xy: np.full(len(xy), 100.0)  # noqa: E731
    runs = routed_from_zones(plan, Unit.FOOT, ground=ground, frost_depth=4.0).runs
    assert [run.shallow for run in runs if run.use == "supply"] == pytest.approx([30.0, 40.0])
    unknown = routed_from_zones(plan, Unit.FOOT, frost_depth=4.0).runs
    assert {run.shallow for run in unknown} == {None}


def test_size_of_a_bore_that_was_entered() -> None:
    """Published: ASTM D1785, 1.610 in inside 1-1/2 in; 40.9 mm is the same."""
    assert nominal_size(pipe("a", (0, 0, 0), (1, 0, 0), bore=1.610 / 12), Unit.FOOT) == "1-1/2 in"
    assert nominal_size(pipe("a", (0, 0, 0), (1, 0, 0), bore=0.0409), Unit.METRE) == "1-1/2 in"
    assert nominal_size(pipe("a", (0, 0, 0), (1, 0, 0), bore=0.0500), Unit.METRE) is None


def test_a_plan_without_manifolds_says_so(plan: ZonePlan) -> None:
    bare = ZonePlan((Zone("Z1", plan.zones[0].joined, 500.0),))
    routed = routed_from_zones(bare, Unit.FOOT)
    assert routed.runs == ()
    assert "manifolds of Z1 are not routed and left out" in routed.notes
