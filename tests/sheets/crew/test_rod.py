"""Rod readings and set-ups of the laser."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.staking.rod import (
    height_of_instrument,
    on_rod,
    plan_setups,
    rod_reading,
)


def test_textbook_levelling() -> None:
    """Published: the usual worked example of differential levelling (bench mark "Rock")."""
    height = height_of_instrument(820.00, 8.42)
    assert height == pytest.approx(828.42, abs=1e-9)
    # a foresight of 1.20 gives 827.22, so 1.20 is the reading to look for at 827.22
    assert rod_reading(height, 827.22) == pytest.approx(1.20, abs=1e-9)


def test_second_published_example() -> None:
    """Published (examination style): 520.50 + 4.25 = 524.75; 6.80 on the rod is 517.95."""
    height = height_of_instrument(520.50, 4.25)
    assert height == pytest.approx(524.75, abs=1e-9)
    assert rod_reading(height, 517.95) == pytest.approx(6.80, abs=1e-9)


def test_target_above_the_beam_cannot_be_read() -> None:
    """Hand-derived: from 828.42, elevation 824.00 reads 4.42; 829.00 would read -0.58."""
    readings = rod_reading(828.42, np.array([824.00, 829.00, 815.00]))
    assert readings == pytest.approx([4.42, -0.58, 13.42], abs=1e-9)
    assert on_rod(828.42, np.array([824.0, 829.0, 815.0]), 13.0).tolist() == [True, False, False]


def test_one_setup_reads_a_bed_that_falls_less_than_the_rod() -> None:
    elevations = np.array([101.0, 100.5, 100.0, 99.5])
    (setup,) = plan_setups(elevations, 102.0, 13.0, name="BM 1")
    assert setup.mark == "BM 1"
    assert setup.targets.tolist() == [0, 1, 2, 3]
    assert setup.height == pytest.approx(setup.mark_elevation + setup.backsight)
    # hand-derived: the highest point is the benchmark at 102, the lowest reading 13 from 99.5
    assert setup.reach == pytest.approx((102.0, 112.5))


def test_given_backsight_fixes_the_first_setup_and_the_rest_is_turned_to() -> None:
    """Hand-derived: the beam at 105 reads 92 to 105; 110 needs a set-up above, 85 one below."""
    elevations = np.array([110.0, 104.0, 93.0, 85.0])
    setups = plan_setups(elevations, 100.0, 13.0, backsight=5.0)
    assert [s.targets.tolist() for s in setups] == [[1, 2], [3], [0]]
    assert [s.before for s in setups] == [None, 1, 1]
    assert setups[0].height == 105.0
    for setup in setups[1:]:
        assert setup.foresight == pytest.approx(105.0 - setup.mark_elevation)
        assert 0.0 <= setup.foresight <= 13.0


def test_a_far_benchmark_is_bridged_by_setups_that_read_nothing_else() -> None:
    setups = plan_setups(np.array([50.0, 49.0]), 100.0, 13.0)
    assert [len(s.targets) for s in setups[:-1]] == [0] * (len(setups) - 1)
    assert setups[-1].targets.tolist() == [0, 1]
    _check_chain(setups, np.array([50.0, 49.0]), 13.0)


def _check_chain(setups: tuple, elevations: np.ndarray, rod: float) -> None:
    """Every reading that the sheet prints must be on the rod, and the sums must close."""
    by_number = {s.number: s for s in setups}
    for setup in setups:
        assert on_rod(setup.height, elevations[setup.targets], rod).all()
        assert on_rod(setup.height, np.array([setup.mark_elevation]), rod).all()
        assert setup.height == pytest.approx(setup.mark_elevation + setup.backsight, abs=1e-9)
        assert setup.reach[0] - 1e-6 <= setup.height <= setup.reach[1] + 1e-6
        if setup.before is not None:
            before = by_number[setup.before]
            assert before.number < setup.number
            assert before.height - setup.foresight == pytest.approx(setup.mark_elevation, abs=1e-9)
            assert on_rod(before.height, np.array([setup.mark_elevation]), rod).all()


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.floats(0.0, 60.0), min_size=1, max_size=8),
    st.floats(0.0, 60.0),
    st.one_of(st.none(), st.floats(0.0, 13.0)),
)
def test_every_elevation_is_read_once_and_the_chain_closes(
    heights: list[float], benchmark: float, backsight: float | None
) -> None:
    elevations = np.array(heights)
    if backsight is not None and not on_rod(benchmark + backsight, elevations, 13.0).any():
        with pytest.raises(InputError):
            plan_setups(elevations, benchmark, 13.0, backsight=backsight)
        return
    setups = plan_setups(elevations, benchmark, 13.0, backsight=backsight)
    read = np.concatenate([s.targets for s in setups])
    assert sorted(read.tolist()) == list(range(len(elevations)))
    _check_chain(setups, elevations, 13.0)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 40), min_size=1, max_size=7, unique=True))
def test_fewest_setups_by_trying_every_grouping(heights: list[int]) -> None:
    """Against exhaustive search: cut the elevations, with the benchmark at the top, everywhere."""
    elevations = np.array(sorted(heights, reverse=True), dtype=float)
    n = len(elevations)

    def groupings() -> itertools.chain:
        cuts = (itertools.combinations(range(1, n), k) for k in range(n))
        return itertools.chain.from_iterable(cuts)

    fewest = min(
        len(cut) + 1
        for cut in groupings()
        if all(np.ptp(part) <= 13.0 for part in np.split(elevations, cut))
    )
    setups = plan_setups(elevations, float(elevations[0]), 13.0)
    assert sum(len(s.targets) > 0 for s in setups) == fewest


def test_planned_readings_leave_the_allowed_band_on_the_rod() -> None:
    """Hand-derived: 12.9 ft of fall fits a 13 ft rod, but not with 0.1 ft to spare at both ends."""
    elevations = np.linspace(112.9, 100.0, 20)
    assert len(plan_setups(elevations, 112.9, 13.0)) == 1
    setups = plan_setups(elevations, 112.9, 13.0, margin=0.1)
    assert len(setups) == 2
    for setup in setups:
        readings = setup.height - elevations[setup.targets]
        assert readings.min() >= 0.1 - 1e-9
        assert readings.max() <= 12.9 + 1e-9


def test_backsight_that_puts_every_target_off_the_rod() -> None:
    with pytest.raises(InputError) as caught:
        plan_setups(np.array([850.0, 846.0]), 820.0, 13.0, backsight=8.42)
    assert str(caught.value) == (
        "a backsight of 8.42 ft puts the laser at 828.42 ft and every target off the rod: readings"
        " of -21.58 to -17.58 ft on a rod of 0 to 13.00 ft; leave the backsight out and the moves"
        " of the laser are planned"
    )
    with pytest.raises(InputError) as caught:
        plan_setups(np.array([103.0, 102.0]), 100.0, 4.0, backsight=1.5, unit=Unit.METRE)
    assert str(caught.value) == (
        "a backsight of 1.500 m puts the laser at 101.500 m and every target off the rod: readings"
        " of -1.500 to -0.500 m on a rod of 0 to 4.000 m; give a backsight of 2.000 to 4.000 m, or"
        " leave the backsight out and the moves of the laser are planned"
    )
