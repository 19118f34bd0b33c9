"""What crews lay of whole layouts, and the way of working that is chosen for them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from marking_sites import made, planned, ways

from dripfield.core.errors import InputError
from dripfield.core.units import Unit
from dripfield.crew.choose import CrewTimes, choose_method
from dripfield.crew.errors import CrewErrors
from dripfield.crew.reserve import reserve_cost
from dripfield.crew.simulate import CREWS, LEAST_CREWS, SURE, simulate
from dripfield.design.lay_out import lay_out
from dripfield.design.reserve import reserved_settings
from dripfield.measures.field import measure_layout
from dripfield.staking.method import field_method

NONE = CrewErrors(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def test_a_crew_without_errors_lays_what_was_designed() -> None:
    design = made("nose")
    plan = planned("nose")
    got = simulate(plan, design, errors=NONE, crews=2)
    assert (
        got.merit_designed
        == measure_layout(
            design.layout, design.surface, design.site.settings, design.site.bed
        ).merit
    )
    assert got.kept > 0.97
    assert got.merits[0] == got.merits[1]
    assert got.again == 0.0


def test_worse_tools_lay_worse_lines() -> None:
    design = made("nose")
    plan = planned("nose")
    kept = [
        simulate(plan, design, errors=CrewErrors(gauge=gauge), crews=3).kept
        for gauge in (0.0, 0.03, 0.08)
    ]
    assert kept[0] > kept[1] > kept[2]


def test_the_same_seed_gives_the_same_figures_and_another_does_not() -> None:
    design = made("rock")
    plan = planned("rock")
    one, same, other = (simulate(plan, design, crews=2, seed=seed).merits for seed in (1, 1, 2))
    assert (one == same).all()
    assert (one != other).any()


def test_crews_that_lay_alike_are_asked_no_longer_than_it_takes() -> None:
    design, plan = made("rock"), planned("rock")
    alike = simulate(plan, design, errors=NONE)
    assert alike.crews == len(alike.merits) == LEAST_CREWS
    few = simulate(plan, design, errors=CrewErrors(gauge=0.05), crews=CREWS)
    sure = np.std(few.merits, ddof=1) / np.sqrt(few.crews) <= SURE * few.merit_designed
    assert few.crews == len(few.merits) == CREWS or (sure and few.crews > LEAST_CREWS)
    first = simulate(plan, design, errors=CrewErrors(gauge=0.05), crews=2)
    assert first.crews == 2


def test_shares_of_laterals_add_up_to_the_whole() -> None:
    design = made("rock")
    got = simulate(planned("rock"), design, crews=3)
    assert [one.name for one in got.laterals] == [one.name for one in design.layout.laterals]
    lengths = np.array(
        [np.hypot(*np.diff(one.xy, axis=0).T).sum() for one in design.layout.laterals]
    )
    designed = np.array([one.share_designed for one in got.laterals])
    assert (designed * lengths).sum() / lengths.sum() == pytest.approx(got.share_designed, abs=1e-3)
    assert got.kept == pytest.approx(got.merit / got.merit_designed)


def test_guide_lines_and_gauge_keep_more_than_tapes_everywhere_and_are_chosen() -> None:
    design = made("nose")
    plans = ways("nose")
    choice = choose_method(plans, design, crews=3)
    kept = {way.name: way.as_laid.kept for way in choice.ways}
    assert kept["instrument and gauge"] > kept["tape"] + 0.05
    assert kept["tape and gauge"] > kept["tape"] + 0.05
    assert "gauge" in choice.chosen.name
    assert choice.holds == (choice.chosen.as_laid.kept >= 0.94)
    for way in choice.ways:
        assert f"{way.name} {way.as_laid.kept:.2f}" in choice.reason


def test_the_quickest_that_keeps_enough_is_chosen() -> None:
    design = made("plane")
    plans = ways("plane")
    slow_tape = choose_method(plans, design, crews=2, kept=0.0)
    assert slow_tape.chosen.minutes == min(way.minutes for way in slow_tape.ways)
    times = CrewTimes(instrument_setup=0.0, instrument=0.1, tape=9.0, gauge=9.0)
    quick = choose_method(plans, design, crews=2, kept=0.0, times=times)
    assert quick.chosen.name == "instrument"
    never = choose_method(plans, design, crews=2, kept=1.5)
    assert not never.holds
    assert never.reason.split(": ")[1].startswith("none keeps 1.50")


def test_a_reserve_costs_design_merit_and_is_judged_by_the_whole_tolerances() -> None:
    design = made("nose")
    got = reserve_cost(
        0.2,
        design,
        lay_out,
        field_method,
        crews=3,
    )
    site = design.site
    tight = replace(site, settings=reserved_settings(site.settings, 0.2))
    layout = lay_out(tight, design.ground).layout
    direct = measure_layout(layout, design.surface, site.settings, site.bed).merit
    assert got.reserved.merit_designed == direct
    assert got.cost == got.whole.merit_designed - direct
    assert got.reserved.kept > got.whole.kept
    assert f"{got.cost:+.3f}" in got.sentence


@pytest.mark.parametrize("reserve", [-0.1, 1.0])
def test_a_reserve_that_leaves_nothing_is_refused(reserve: float) -> None:
    design = made("nose")
    with pytest.raises(InputError) as caught:
        reserved_settings(design.site.settings, reserve)
    assert str(caught.value) == (
        f"site.toml, [layout] reserve: reserve is {reserve:g}; give the share of the tolerances "
        "kept back for laying, from 0 to under 1"
    )


def test_defaults_are_round_in_either_system() -> None:
    assert CrewErrors.of(Unit.FOOT) == CrewErrors()
    metric = CrewErrors.of(Unit.METRE)
    assert metric.gauge == pytest.approx(0.02 * 0.3048, rel=0.05)
    assert metric.square == 3.0
