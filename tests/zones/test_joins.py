"""Joins of ends: what is feasible, and that no choice is better."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import shapely
from fields import plain, rocky, settings
from shapely import LineString

from dripfield.core.errors import InputError
from dripfield.zones.corridors import find_corridors
from dripfield.zones.field import make_field
from dripfield.zones.friction import far_end_flow
from dripfield.zones.greedy import next_line_down
from dripfield.zones.joining import choose_joins
from dripfield.zones.links import find_links
from dripfield.zones.partition import Partitioner
from dripfield.zones.pricing import Column, Tariff


def field_of(laterals, bed, keepouts=()):
    return make_field(laterals, bed, keepouts=keepouts, spacing=2.0, clearance=1.0)


def every_column(field, links, longest):
    """Every joined lateral that is no longer than allowed, by plain search."""
    found = []

    def follow(column):
        found.append(column)
        for link in np.nonzero(links.from_ == column.finish(links))[0]:
            more = links.length[link] + field.lengths[links.to[link] // 2]
            if column.length + more <= longest:
                follow(Column(column.start, (*column.links, int(link)), column.length + more))

    for end in range(2 * len(field.laterals)):
        if field.lengths[end // 2] <= longest:
            follow(Column(end, (), float(field.lengths[end // 2])))
    return found


def brute(field, links, tariff):
    """Least cost of a partition by trying all of them; crossing links not together."""
    by_first = {}
    for column in every_column(field, links, tariff.longest):
        mask = sum(1 << lateral for lateral in column.laterals(links))
        first = (mask & -mask).bit_length() - 1
        by_first.setdefault(first, []).append((mask, column, column.cost(links, tariff)))
    crossing = {frozenset(map(int, pair)) for pair in links.conflicts}
    watched = {link for pair in crossing for link in pair}

    @cache
    def least(covered, used):
        if covered == (1 << len(field.laterals)) - 1:
            return 0.0
        first = (~covered & -~covered).bit_length() - 1
        best = np.inf
        for mask, column, cost in by_first[first]:
            mine = frozenset(column.links) & watched
            clash = any(frozenset((a, b)) in crossing for a in mine for b in used | mine)
            if not mask & covered and not clash:
                best = min(best, cost + least(covered | mask, used | mine))
        return best

    return least(0, frozenset())


def count_only(field, longest):
    ends = np.zeros(2 * len(field.laterals))
    return Tariff(longest, np.array([0.0, longest]), np.ones(2), ends, ends, 0.0)


def priced(field, longest, rng):
    """Far-end flow, blank tubing, and random prices of ends."""
    given = settings(longest)
    grid = longest * np.linspace(0.02, 1.0, 80)
    price = far_end_flow(grid, longest, given) / given.flush_flow
    ends = 2 * len(field.laterals)
    start, finish = rng.uniform(0.0, 2.0, (2, ends)) * (rng.uniform(size=(2, ends)) < 0.5)
    return Tariff(longest, grid, price, start, finish, 0.02)


@pytest.mark.parametrize("seed", range(12))
def test_small_fields_against_all_partitions(seed) -> None:
    laterals, bed, keepouts = rocky(5 + seed % 4, 40.0, 1 + seed % 2, seed)
    field = field_of(laterals, bed, keepouts)
    assert len(field.laterals) <= 14
    longest = (90.0, 130.0, 200.0)[seed % 3]
    links = find_links(field, longest)
    tariffs = [
        (count_only(field, longest), True),
        (priced(field, longest, np.random.default_rng(seed)), False),
    ]
    for tariff, whole in tariffs:
        found = Partitioner(field.lengths, links).solve(tariff, whole_price=whole)
        best = brute(field, links, tariff)
        assert found.bound <= best + 1e-6
        assert found.cost == pytest.approx(best, abs=1e-6)
        used = [link for column in found.columns for link in column.links]
        assert not np.isin(links.conflicts, used).all(axis=1).any()
        covered = sorted(j for column in found.columns for j in column.laterals(links))
        assert covered == list(range(len(field.laterals)))


@pytest.mark.parametrize("seed", range(4))
def test_links_keep_clear(seed) -> None:
    laterals, bed, keepouts = rocky(25, 60.0, 6, seed)
    field = field_of(laterals, bed, keepouts)
    links = find_links(field, 200.0)
    assert len(links.from_) >= len(laterals)
    lines = [LineString(lateral.xy) for lateral in field.laterals]
    free = bed.difference(shapely.union_all(keepouts)).buffer(1e-6)
    for first, last, length, path in zip(
        links.from_, links.to, links.length, links.paths, strict=True
    ):
        wire = LineString(path)
        assert free.covers(wire)
        assert wire.length == pytest.approx(length, abs=1e-6)
        np.testing.assert_allclose(path[[0, -1]], field.ends[[first, last]])
        assert field.elevations[first // 2] >= field.elevations[last // 2]
        for number, line in enumerate(lines):
            if number in (first // 2, last // 2):
                assert not wire.crosses(line)
            else:
                assert wire.distance(line) > 0.15
    for one, two in links.conflicts:
        assert LineString(links.paths[one]).intersects(LineString(links.paths[two]))


def test_pieces_beside_a_rock_are_joined_round_it() -> None:
    """The two topmost pieces, and the two lowest, by tubing round the rock and not through it."""
    from shapely import box

    from dripfield.layout.model import Lateral

    rock = box(20.0, -7.8, 30.0, -1.2)
    laterals = []
    for i in range(7):
        y = -2.0 * i + 0.5
        spans = [(0.0, 18.9), (31.1, 50.0)] if -9.0 < y < -1.0 else [(0.0, 50.0)]
        for a, b in spans:
            name = f"L{len(laterals) + 1:02}"
            laterals.append(
                Lateral(name, "A", np.array([[a, y], [b, y]]), 100 + 0.1 * y - 1e-3 * a)
            )
    field = field_of(laterals, box(-1.0, -13.0, 51.0, 2.0), [rock])
    links = find_links(field, 300.0)
    names = [one.name for one in field.laterals]
    across = {
        (names[a // 2], names[b // 2])
        for a, b, path in zip(links.from_, links.to, links.paths, strict=True)
        if min(path[0][0], path[-1][0]) < 20.0 and max(path[0][0], path[-1][0]) > 30.0
    }
    assert across == {("L02", "L03"), ("L08", "L09")}
    wires = [LineString(path) for path in links.paths]
    assert not any(wire.intersects(rock) for wire in wires)


def test_greedy_and_best_on_plain_ground() -> None:
    """Hand-derived: ten laterals of 60 ft, 2 ft apart: three to 184 ft, so four joined laterals."""
    laterals, bed = plain(10, 60.0)
    field = field_of(laterals, bed)
    links = find_links(field, 184.01)
    assert len(next_line_down(field.lengths, links, 184.01)) == 4
    assert len(next_line_down(field.lengths, links, 183.9)) == 5
    found = Partitioner(field.lengths, links).solve(count_only(field, 183.9), whole_price=True)
    assert (found.cost, found.bound, found.proven) == (5.0, 5.0, True)


def test_greedy_is_never_better() -> None:
    worse = 0
    for seed in range(6):
        laterals, bed, keepouts = rocky(18, 60.0, 5, seed)
        field = field_of(laterals, bed, keepouts)
        links = find_links(field, 200.0)
        greedy = next_line_down(field.lengths, links, 200.0)
        found = Partitioner(field.lengths, links, greedy).solve(
            count_only(field, 200.0), whole_price=True
        )
        assert found.bound <= found.cost <= len(greedy)
        worse += found.cost < len(greedy)
    assert worse >= 3


def report_of(laterals, bed, given, keepouts=()):
    field = field_of(laterals, bed, keepouts)
    links = find_links(field, given.longest)
    return choose_joins(field, links, find_corridors(field, 0.5), given), field, links


def test_balance_is_worth_more_than_the_least_count() -> None:
    """12 laterals of 60 ft: 4 + 4 + 4, not the 5 + 5 + 2 that the length would allow."""
    laterals, bed = plain(12, 60.0)
    report, _, _ = report_of(laterals, bed, settings(310.0))
    lengths = sorted(column.length for column in report.chosen.columns)
    assert report.at_least == 3
    assert lengths == pytest.approx([246.0] * 3)


def test_returns_land_on_one_side() -> None:
    """Even numbers of laterals lead back to the supply's side, or odd ones all across."""
    laterals, bed = plain(20, 98.0)
    report, _field, links = report_of(laterals, bed, settings(300.0))
    sides = {(column.start % 2, column.finish(links) % 2) for column in report.chosen.columns}
    back = report.chosen.sides.return_[0]
    assert len(sides) == 1 or back == "both"


def test_the_side_of_the_feed_can_be_given() -> None:
    laterals, bed = plain(12, 60.0)
    for number, feed in enumerate(("left", "right")):
        report, _, _ = report_of(laterals, bed, settings(250.0, feed=feed))
        assert report.chosen.sides.supply == (feed,)
        assert {column.start % 2 for column in report.chosen.columns} == {number}


def test_a_lateral_that_is_too_long_is_named() -> None:
    laterals, bed = plain(5, 98.0)
    with pytest.raises(InputError) as refused:
        report_of(laterals, bed, settings(90.0))
    assert str(refused.value) == (
        "longest: L01 (98.0) and 4 more are longer than a joined lateral may be (90); set "
        "max_length under [layout] or a greater longest under [zones]"
    )


def test_many_pieces_stay_bounded_by_work() -> None:
    laterals, bed, keepouts = rocky(50, 60.0, 14, 3)
    assert 70 <= len(laterals) <= 130
    report, field, _ = report_of(laterals, bed, settings(300.0), keepouts)
    assert report.at_least <= report.fewest
    assert report.greedy_shut or report.fewest <= report.greedy
    assert report.at_least >= np.ceil(field.lengths.sum() / 300.0)
    for option in report.options:
        assert max(column.length for column in option.columns) <= option.longest * (1 + 1e-9)
