"""A whole field: from laterals to zones with pipe."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from fields import Plane, plain, rocky, settings

from dripfield.core.errors import InputError
from dripfield.zones.plan import plan_zones


@pytest.fixture(scope="module")
def rocky_design():
    laterals, bed, keepouts = rocky(24, 60.0, 3, 7)
    return (
        laterals,
        bed,
        keepouts,
        plan_zones(laterals, bed, Plane(), settings(250.0), keepouts=keepouts),
    )


def test_every_lateral_is_joined_once_and_never_climbs(rocky_design) -> None:
    laterals, bed, keepouts, design = rocky_design
    joined = [one for zone in design.plan.zones for one in zone.joined]
    assert sorted(n for one in joined for n in one.laterals) == sorted(it.name for it in laterals)
    level = {lateral.name: lateral.elevation for lateral in laterals}
    free = bed.difference(shapely.union_all(keepouts)).buffer(1e-6)
    for one in joined:
        heights = [level[name] for name in one.laterals]
        assert (np.diff(heights) <= 0.0).all()
        assert one.length <= 250.0 * (1 + 1e-9)
        xyz = np.concatenate([piece.xyz for piece in one.pieces])
        assert (np.diff(xyz[:, 2]) <= 1e-9).all()
        assert one.length == pytest.approx(one.tubing + one.blank)
        for before, after in zip(one.pieces, one.pieces[1:], strict=False):
            np.testing.assert_allclose(before.xyz[-1], after.xyz[0], atol=1e-9)
        for piece in one.pieces:
            if piece.lateral is None:
                assert len(piece.emitters) == 0
                assert free.covers(shapely.LineString(piece.xyz[:, :2]))
            else:
                assert len(piece.emitters) == int(piece.length / 2.0 + 1e-9)


def test_names_run_from_the_top_down(rocky_design) -> None:
    joined = [one for zone in rocky_design[3].plan.zones for one in zone.joined]
    assert [one.name for one in joined] == [f"J{i:02}" for i in range(1, len(joined) + 1)]
    tops = [one.supply_end[2] for one in joined]
    assert tops == sorted(tops, reverse=True)


def test_areas_are_the_bed_and_shares_follow_them(rocky_design) -> None:
    _, bed, keepouts, design = rocky_design
    free = bed.difference(shapely.union_all(keepouts))
    areas = {zone.name: zone.area for zone in design.plan.zones}
    assert sum(areas.values()) == pytest.approx(free.area, rel=1e-9)
    assert sum(design.shares.values()) == pytest.approx(1.0)
    for name, share in design.shares.items():
        assert share == pytest.approx(areas[name] / free.area)


def test_the_trade_covers_lengths_and_zones(rocky_design) -> None:
    design = rocky_design[3]
    rows = design.trade
    assert {row.zones for row in rows} >= {1, 2, 3}
    assert len({row.longest for row in rows}) >= 3
    assert sum(row.chosen and row.zones == 1 for row in rows) == 1
    for row in rows:
        assert row.dose_flow < row.flush_nominal <= row.flush_flow * (1 + 1e-6)
        assert row.head > 0.0
        assert row.connections == 2 * row.joined
        assert row.joints == len(rocky_design[0]) - row.joined
    for one, two in itertools.pairwise(rows):
        if one.joined == two.joined and one.longest == two.longest:
            assert two.dose_flow <= one.dose_flow + 1e-12
    # nominal flow of one zone by hand: every emitter, and every far end at 2 ft/s in 0.57 in
    row = next(row for row in rows if row.chosen and row.zones == 1)
    emitters = sum(one.emitters for zone in design.plan.zones for one in zone.joined)
    gallons = emitters * 0.6 / 60 + row.joined * 2.0 * 0.57**2 / 0.408498
    assert row.flush_nominal * 448.831 == pytest.approx(gallons, rel=1e-4)


def test_the_same_again(rocky_design) -> None:
    laterals, bed, keepouts, design = rocky_design
    again = plan_zones(laterals[::-1], bed, Plane(), settings(250.0), keepouts=keepouts)
    assert [j.laterals for z in again.plan.zones for j in z.joined] == [
        j.laterals for z in design.plan.zones for j in z.joined
    ]
    assert again.takeoff == design.takeoff
    assert again.faults == design.faults


def test_far_from_the_origin_it_is_the_same() -> None:
    from dataclasses import replace

    from shapely import affinity

    laterals, bed = plain(12, 60.0)
    near = plan_zones(laterals, bed, Plane(), settings(200.0))
    away = np.array([2_300_000.0, 780_000.0])

    class Moved(Plane):
        def elevation(self, xy):
            return super().elevation(np.asarray(xy) - away)

    moved = [replace(lateral, xy=lateral.xy + away) for lateral in laterals]
    far = plan_zones(moved, affinity.translate(bed, *away), Moved(), settings(200.0))
    assert [j.laterals for z in far.plan.zones for j in z.joined] == [
        j.laterals for z in near.plan.zones for j in z.joined
    ]
    assert [z.area for z in far.plan.zones] == pytest.approx([z.area for z in near.plan.zones])


@pytest.mark.parametrize("count", [1, 2, 3])
def test_as_many_zones_as_entered(count) -> None:
    laterals, bed = plain(12, 60.0)
    design = plan_zones(laterals, bed, Plane(), settings(125.0, count=count))
    assert [zone.name for zone in design.plan.zones] == [f"Z{i}" for i in range(1, count + 1)]
    assert {len(zone.joined) for zone in design.plan.zones} == {6 // count}


def test_one_lateral_is_a_field() -> None:
    laterals, bed = plain(1, 60.0)
    design = plan_zones(laterals, bed, Plane(), settings(125.0))
    assert [j.laterals for z in design.plan.zones for j in z.joined] == [("L01",)]
    assert design.plan.zones[0].area == pytest.approx(bed.area)


def test_nothing_to_join_is_refused() -> None:
    _, bed = plain(1, 60.0)
    with pytest.raises(InputError, match="there are no laterals to join"):
        plan_zones([], bed, Plane(), settings())


def test_more_flow_than_a_zone_may_have_is_a_fault() -> None:
    laterals, bed = plain(12, 60.0)
    given = settings(125.0, most_flow=1e-6)
    design = plan_zones(laterals, bed, Plane(), given)
    assert design.faults[0] == "one joined lateral alone doses more than most_flow"
