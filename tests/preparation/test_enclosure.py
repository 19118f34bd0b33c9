"""Blocks under an enclosure."""

from __future__ import annotations

import itertools

import pytest

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.preparation.enclosure import enclosure_heights, stack_of
from dripfield.site.schema.preparation import EnclosureTable


@pytest.mark.parametrize("height", [0.5, 1.5, 3.0, 7.3, 11.9, 17.0, 25.25])
@pytest.mark.parametrize("sizes", [[2.0, 4.0, 8.0], [1.625, 3.625, 7.625], [8.0]])
def test_stack_against_every_combination(height: float, sizes: list[float]) -> None:
    """Exhaustive: the fewest blocks within an inch, else the closest there is."""
    most = [range(int(height // size) + 2) for size in sizes]
    ways = [
        (sum(n * s for n, s in zip(counts, sizes, strict=True)), sum(counts))
        for counts in itertools.product(*most)
    ]
    near = [way for way in ways if abs(way[0] - height) <= 1.0 + 1e-9]
    stack = stack_of(height, sizes, 1.0)
    total = sum(size * count for size, count in stack)
    number = sum(count for _, count in stack)
    if near:
        assert abs(total - height) <= 1.0 + 1e-9
        assert number == min(count for _, count in near)
    else:
        assert abs(total - height) == pytest.approx(min(abs(way[0] - height) for way in ways))


def test_blocks_bring_the_lid_to_grade() -> None:
    """Hand-derived: 36 in of dig less 6 in of stone and 18 in of box leave 12 in: 8 + 4."""
    table = EnclosureTable(name="filter box", height=18.0, stands_on=97.0, grade=100.0, stone=6.0)
    found = enclosure_heights(table, Unit.FOOT)
    assert found.stack == pytest.approx(12.0)
    assert found.blocks == ((8.0, 1), (4.0, 1))
    assert found.within
    assert found.lid == pytest.approx(100.0)
    assert [need.quantity for need in found.needs] == [4, 4]


def test_stone_under_it_is_measured_where_its_base_is_given() -> None:
    """Hand-derived: 36 x 24 x 6 in is 3 ft3, a ninth of a cubic yard."""
    table = EnclosureTable(
        name="filter box",
        height=30.0,
        stands_on=97.0,
        grade=100.0,
        stone=6.0,
        length=36.0,
        width=24.0,
    )
    needs = enclosure_heights(table, Unit.FOOT).needs
    assert [(need.material, need.unit) for need in needs] == [("stone", "yd3")]
    assert needs[0].quantity == pytest.approx(1.0 / 9.0)


def test_metric_blocks() -> None:
    """Hand-derived: 0.9 m less 600 mm leave 300 mm: 200 + 100."""
    table = EnclosureTable(name="filter box", height=600.0, stands_on=9.1, grade=10.0)
    assert enclosure_heights(table, Unit.METRE).blocks == ((200.0, 1), (100.0, 1))


def test_too_tall_a_box_is_said() -> None:
    table = EnclosureTable(name="filter box", height=40.0, stands_on=97.0, grade=100.0)
    found = enclosure_heights(table, Unit.FOOT)
    assert not found.within
    assert found.text == (
        "filter box: no blocks; the lid ends 4.0 in over finished grade, not within an inch: dig"
        " 4.0 in deeper"
    )


def test_finished_grade_below_its_base_is_refused() -> None:
    table = EnclosureTable(name="filter box", height=18.0, stands_on=100.0, grade=99.5)
    with pytest.raises(InputError) as refusal:
        enclosure_heights(table, Unit.FOOT)
    assert str(refusal.value) == (
        "site.toml, "
        "[[enclosure]] grade: finished grade 99.50 ft lies below the base of the enclosure filter"
        " box, 100.00 ft without blocks; correct grade, stands_on or stone"
    )


def test_a_slip_of_a_digit_is_refused() -> None:
    table = EnclosureTable(name="filter box", height=18.0, stands_on=97.0, grade=1000.0)
    with pytest.raises(InputError, match=r"would stand on 10818 in of blocks; correct its elev"):
        enclosure_heights(table, Unit.FOOT)
