"""Nominal pipe and what is lost in it."""

from __future__ import annotations

import numpy as np
import pytest
from fields import settings

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.zones.friction import far_end_flow, gradient, tubing_loss
from dripfield.zones.pipes import SCHEDULE_40, pipe_size, steps
from dripfield.zones.settings import bore_from, flow_from, flow_to

# outside diameter and least wall of PVC pipe, Schedule 40 [in]: ASTM D1785, tables 1 and 2, as in
# trade handbooks (from memory)
DIMENSIONS = {
    "1/2 in": (0.840, 0.109),
    "3/4 in": (1.050, 0.113),
    "1 in": (1.315, 0.133),
    "1-1/4 in": (1.660, 0.140),
    "1-1/2 in": (1.900, 0.145),
    "2 in": (2.375, 0.154),
    "2-1/2 in": (2.875, 0.203),
    "3 in": (3.500, 0.216),
    "4 in": (4.500, 0.237),
    "6 in": (6.625, 0.280),
}


def test_bores_are_outside_less_two_walls() -> None:
    assert {name: pytest.approx(od - 2 * wall) for name, (od, wall) in DIMENSIONS.items()} == (
        SCHEDULE_40
    )


@pytest.mark.parametrize("written", ["1-1/4 in", '1 1/4"', "1-1/4in", " 1-1/4 IN. ", "1-1/4"])
def test_sizes_may_be_written_in_several_ways(written) -> None:
    assert pipe_size(Unit.FOOT, written).size == "1-1/4 in"
    assert pipe_size(Unit.FOOT, written).bore == pytest.approx(1.380 / 12)
    assert pipe_size(Unit.METRE, written).bore == pytest.approx(1.380 * 0.0254)


def test_a_bore_may_be_entered_instead() -> None:
    assert pipe_size(Unit.METRE, bore=35.1).bore == pytest.approx(0.0351)
    assert pipe_size(Unit.FOOT, bore=1.2).size == ""


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (
            {"pipe": "1-3/4 in"},
            '"1-3/4 in" is not a Schedule 40 size that is known; write "1-1/2 in", the closest, or '
            "give the bore",
        ),
        (
            {"pipe": "fat"},
            '"fat" is not a Schedule 40 size that is known; write "',
        ),
        ({"bore": -1.0}, "a bore of -1 in is no pipe's; give it in inches"),
        ({}, 'a pipe has no size; give pipe = "1-1/4 in" or bore = 1.380, one of the two'),
        ({"pipe": "1 in", "bore": 1.0}, "a pipe has both a nominal size and a bore; give pipe"),
    ],
)
def test_other_sizes_are_refused(given, message) -> None:
    with pytest.raises(InputError) as refused:
        pipe_size(Unit.FOOT, **given)
    assert str(refused.value).startswith(message)


def test_steps_grow() -> None:
    bores = [size.bore for size in steps(Unit.FOOT)]
    assert bores == sorted(bores)
    assert len(bores) == 9


@pytest.mark.parametrize(
    ("length", "loss"), [(100.0, 5.504), (200.0, 13.833), (300.0, 25.488), (400.0, 40.953)]
)
def test_loss_while_flushing(length, loss) -> None:
    """EPANET 2.3.5, Darcy-Weisbach, smooth 0.57 in tubing at 1.1e-5 ft2/s, 0.6 gal/h every 2 ft."""
    given = settings(viscosity=1.1e-5, roughness=5e-6)
    got = tubing_loss(np.array(length), np.array(given.flush_flow), given)
    assert float(got) == pytest.approx(loss, rel=0.02)


def test_laminar_loss_is_that_of_poiseuille() -> None:
    """Published: h = 128 nu L Q / (pi g d^4)."""
    given = settings()
    flow = flow_from(Unit.FOOT, 0.1, "minute")
    expected = 128 * given.viscosity * flow / (np.pi * given.gravity * given.bore**4)
    assert float(gradient(np.array(flow), given.bore, given)) == pytest.approx(expected)


def test_far_ends_share_one_head() -> None:
    """Every length loses what the longest loses; the longest has just the flush velocity."""
    given = settings()
    lengths = np.array([17.0, 50.0, 150.0, 300.0])
    flow = far_end_flow(lengths, 300.0, given)
    lost = tubing_loss(lengths, flow, given)
    np.testing.assert_allclose(lost, lost[-1], rtol=1e-5)
    assert flow[-1] == pytest.approx(given.flush_flow, rel=1e-5)
    assert (np.diff(flow) < 0.0).all()


def test_price_of_length_is_convex() -> None:
    """What the pricing of joined laterals rests on."""
    grid = np.linspace(3.0, 300.0, 100)
    for flow in (0.0, 0.6, 2.0):
        given = settings(emitter_flow=flow_from(Unit.FOOT, flow, "hour"))
        price = far_end_flow(grid, 300.0, given)
        assert (np.diff(price) < 0.0).all()
        assert np.diff(price, 2).min() > -1e-6 * price[0]


def test_flows_convert_both_ways() -> None:
    """Published: 231 cubic inches to the US gallon; 449 gal/min to a cubic foot per second."""
    assert 1.0 / flow_from(Unit.FOOT, 1.0, "minute") == pytest.approx(448.83, abs=0.01)
    assert flow_to(Unit.METRE, 0.001, "minute") == pytest.approx(60.0)
    assert bore_from(Unit.METRE, 14.5) == pytest.approx(0.0145)
