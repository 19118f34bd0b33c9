"""Water in tanks, heights, levels and flotation."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.hydraulics.tank_shape import TankShape, tank_shape, water
from dripfield.preparation.flotation import excavation_depth, flotation
from dripfield.preparation.heights import tank_heights
from dripfield.site.schema.preparation import TankTable

LYING = TankTable(name="pump tank", shape="horizontal cylinder", diameter=4.0, length=8.0)
BOX = TankTable(name="box", shape="rectangle", length=8.0, width=4.0, height=5.0)
STANDING = TankTable(name="basin", shape="vertical cylinder", diameter=3.0, height=6.0)


@pytest.mark.parametrize(
    ("table", "inches", "gallons"),
    [(LYING, 24, 376.0), (LYING, 30, 494.4), (BOX, 24, 478.8), (BOX, 30, 598.4)],
)
def test_gallons_by_depth(table: TankTable, inches: float, gallons: float) -> None:
    """Hand-derived: half of pi 4^2/4 x 8 ft3 x 7.48052 = 376.0, 4 x 8 x 2 ft3 = 478.8 gal."""
    volume = tank_shape(table).volume(inches / 12.0)
    assert water(volume, Unit.FOOT) == pytest.approx(gallons, abs=0.05)


@pytest.mark.parametrize("depth", [0.0, 0.3, 1.0, 2.0, 3.1, 4.0, 5.0])
def test_lying_cylinder_against_integration(depth: float) -> None:
    """SciPy's quadrature over chords of the circle."""
    top = min(depth, 4.0)
    area, _ = quad(lambda h: 2.0 * math.sqrt(max(0.0, 4.0 - (2.0 - h) ** 2)), 0.0, top)
    assert tank_shape(LYING).volume(depth) == pytest.approx(8.0 * area, abs=1e-6)


@pytest.mark.parametrize("table", [LYING, BOX, STANDING])
@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 1.0, 1.2])
def test_depth_of_a_volume_gives_the_volume_back(table: TankTable, share: float) -> None:
    shape = tank_shape(table)
    volume = shape.volume(shape.height) * share
    assert shape.volume(shape.depth_of(volume)) == pytest.approx(
        min(volume, shape.volume(shape.height))
    )


def test_litres_on_a_site_in_metres() -> None:
    """Hand-derived: pi/4 x 1 m2 x 1.5 m = 1178.1 L."""
    shape = TankShape("vertical cylinder", 2.0, 1.0, 1.0)
    assert water(shape.volume(1.5), Unit.METRE) == pytest.approx(1178.097, abs=1e-3)


def test_uplift_by_archimedes() -> None:
    """Published rule, hand-derived figure: 4.5 x 8.5 x 5 ft x 62.4 lb/ft3 = 11,934 lb."""
    table = TankTable(
        name="tank",
        shape="rectangle",
        length=8.0,
        width=4.0,
        height=4.5,
        wall=3.0,
        top=100.0,
        grade=100.0,
        weight=11_000.0,
    )
    found = flotation(table, Unit.FOOT)
    assert found is not None
    assert found.uplift == pytest.approx(11_934.0)
    assert found.finding.verdict == "fail"
    # hand-derived: 934 lb wanting / (62.4 lb/ft3 x 32 ft2) = 0.468 ft of water
    assert found.ballast_depth == pytest.approx(934.0 / 62.4 / 32.0)
    heavier = flotation(_with(table, weight=11_934.0), Unit.FOOT)
    assert heavier is not None
    assert heavier.finding.verdict == "pass"
    assert heavier.factor == pytest.approx(1.0)


def test_cover_counts_less_its_own_uplift_and_water_only_where_it_stands() -> None:
    """Hand-derived: 2 ft of 110 lb/ft3 over 38.25 ft2, of which 1 ft is wet."""
    table = TankTable(
        name="tank",
        shape="rectangle",
        length=8.0,
        width=4.0,
        height=4.5,
        wall=3.0,
        top=100.0,
        grade=102.0,
        ground_water=101.0,
        weight=10_000.0,
        soil_density=110.0,
    )
    found = flotation(table, Unit.FOOT)
    assert found is not None
    assert found.cover == pytest.approx(38.25 * (2.0 * 110.0 - 62.4))
    low = flotation(_with(table, ground_water=97.5), Unit.FOOT)
    assert low is not None
    assert low.uplift == pytest.approx(38.25 * 2.5 * 62.4)
    dry = flotation(_with(table, ground_water=90.0, weight=None), Unit.FOOT)
    assert dry is not None
    assert (dry.uplift, dry.finding.verdict) == (0.0, "pass")


def test_flotation_without_a_weight_is_not_proven_and_without_walls_left_out() -> None:
    table = _with(BOX, wall=3.0, top=100.0, grade=101.0)
    found = flotation(table, Unit.FOOT)
    assert found is not None
    assert found.finding.verdict == "not proven"
    assert flotation(BOX, Unit.FOOT) is None
    assert excavation_depth(table, Unit.FOOT) == pytest.approx(1.0 + 5.5)


def test_a_metric_tank_floats_by_the_same_law() -> None:
    """Hand-derived: pi/4 x 1.2^2 x 1.6 m3 x 1000 kg/m3 = 1,809.6 kg."""
    table = TankTable(
        name="basin",
        shape="vertical cylinder",
        diameter=1.0,
        height=1.4,
        wall=100.0,
        top=10.0,
        grade=10.0,
        weight=500.0,
    )
    found = flotation(table, Unit.METRE)
    assert found is not None
    assert found.uplift == pytest.approx(1809.557, abs=1e-2)
    # 1,309.6 kg wanting, more than the 1,099.6 kg of water that it holds
    assert found.ballast_depth is None
    assert "must be anchored" in found.finding.text


@pytest.mark.parametrize(
    ("lid", "verdict", "add"),
    [(99.0, "fail", 12.0), (100.0 - 1 / 12, "pass", 0.0), (100.0 + 1 / 12, "pass", 0.0)],
)
def test_the_lid_ends_at_grade_within_an_inch(lid: float, verdict: str, add: float) -> None:
    found = tank_heights(_with(LYING, top=98.0, riser_top=lid, grade=100.0), Unit.FOOT)
    assert found.findings[0].verdict == verdict
    assert found.riser_to_add == pytest.approx(add)


def test_riser_sections_and_water_go_on_the_list() -> None:
    """Hand-derived: 18 in is 12 + 6; 376.0 gal at 6 gal/min takes 62.7 min."""
    table = _with(
        LYING,
        top=98.0,
        riser_top=98.5,
        grade=100.0,
        riser_sections=[6.0, 12.0],
        start_depth=2.0,
        hose_flow=6.0,
    )
    found = tank_heights(table, Unit.FOOT)
    assert {need.material: need.quantity for need in found.needs} == {
        "riser section, 12 in": 1,
        "riser section, 6 in": 1,
        "water to start up": pytest.approx(376.0, abs=0.05),
    }
    assert found.fill_minutes == pytest.approx(62.67, abs=0.01)


def test_levels_against_dose_and_flush() -> None:
    """Hand-derived: 8 x 4 ft x 7.48052 = 239.4 gal a foot."""
    table = _with(BOX, levels={"off": 1.0, "on": 2.0, "alarm": 3.0}, inlet=4.0)
    found = tank_heights(
        table, Unit.FOOT, dose=200.0, drained_back=39.0, flushed_back=240.0, daily_flow=450.0
    )
    assert [one.verdict for one in found.findings] == ["pass", "fail", "not proven"]
    assert [round(volume, 1) for _, _, volume in found.volumes] == [239.4, 478.8, 718.1, 957.5]
    bare = tank_heights(BOX, Unit.FOOT, dose=200.0, flushed_back=1.0)
    assert [one.verdict for one in bare.findings] == ["not proven", "not proven"]


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        (
            {"top": 98.0, "riser_top": 97.5},
            "site.toml, "
            "[[tank]] riser_top: the riser of pump tank ends at 97.50 ft, below the tank's top at"
            " 98.00 ft; correct riser_top or top",
        ),
        (
            {"start_depth": 4.5},
            "site.toml, "
            "[[tank]] start_depth: start_depth of pump tank is 4.5 ft and the tank is 4 ft deep"
            " inside; correct one of the two",
        ),
        (
            {"levels": {"on": 1.0, "off": 2.0}},
            "site.toml, "
            "[[tank]] levels: in pump tank the level 'on' at 1 ft is not over 'off' at 2 ft; from"
            " the floor up they are pump cover, off, on, override, alarm, inlet",
        ),
        (
            {"levels": {"high": 1.0}},
            "site.toml, "
            "[[tank]] levels: pump tank has a level 'high'; the levels are pump cover, off, on,"
            " override, alarm",
        ),
        (
            {"width": 4.0},
            "site.toml, "
            "[[tank]] width: the horizontal cylinder pump tank has no width; its dimensions are"
            " diameter, length",
        ),
        (
            {"diameter": None},
            "site.toml, "
            "[[tank]] diameter: the diameter of pump tank is missing; a horizontal cylinder needs"
            " diameter, length",
        ),
    ],
)
def test_tanks_that_cannot_be_are_refused(changes: dict[str, object], line: str) -> None:
    with pytest.raises(InputError) as refusal:
        tank_heights(_with(LYING, **changes), Unit.FOOT)
    assert str(refusal.value) == line


def test_a_slip_of_a_digit_in_an_elevation_is_refused() -> None:
    table = _with(LYING, top=98.0, grade=1000.0, riser_sections=[6.0])
    with pytest.raises(
        InputError, match=r"^site.toml, \[\[tank\]\] grade: pump tank ends 10,824 in from fin"
    ):
        tank_heights(table, Unit.FOOT)


def _with(table: TankTable, **changes: object) -> TankTable:
    fields = {name: getattr(table, name) for name in table.__struct_fields__}
    return TankTable(**{**fields, **changes})  # type: ignore[arg-type]
