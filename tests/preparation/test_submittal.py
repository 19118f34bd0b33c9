"""Lists of what a plan must show."""

from __future__ import annotations

from pathlib import Path

import pytest

from dripfield.core.errors import InputError
from dripfield.files.preparation import write_submittal
from dripfield.preparation.submittal import FACTS, submittal_sets, submittals


def test_nothing_applies_unless_named() -> None:
    assert submittals([], {}) == ()
    assert submittals(["alabama"], {"plan": "plan.pdf"}) == ()
    assert submittal_sets() == ("texas-222", "washington-272b")


def test_texas_asks_for_eleven_things() -> None:
    """Published: 30 TAC 222.121(d): line layout, main sizes and lengths, each line length, flushing
    flow, static head, flow a day, total emitter pipe, emitter spacing, line spacing, number of
    lines, lines per flush."""
    (texas,) = submittals(["texas-222"], {"plan": "plan.pdf", "main_sizes": "1-1/2 in"})
    assert len(texas.shown) == 11
    assert {one.citation for one in texas.shown} == {"30 TAC 222.121(d)"}
    assert [one.complete for one in texas.shown] == [True] + [False] * 10
    assert texas.shown[1].found == "1-1/2 in"
    assert texas.shown[1].gaps == (FACTS["main_lengths"],)
    assert "homes are on-site sewage facilities under chapter 285" in texas.scope
    assert texas.copy.endswith("stored copy, age unknown")


def test_washington_is_complete_with_every_fact(tmp_path: Path) -> None:
    lists = submittals(["washington-272b"], dict.fromkeys(FACTS, "given"))
    assert lists[0].gaps == ()
    assert {one.citation for one in lists[0].shown} == {
        "WAC 246-272B-04400(3)",
        "WAC 246-272B-04400(4)",
    }
    write_submittal(tmp_path / "submittal.csv", lists)
    assert len((tmp_path / "submittal.csv").read_text().splitlines()) == 1 + len(lists[0].shown)


def test_every_fact_that_a_list_asks_for_is_known_and_the_other_way_round() -> None:
    asked = {
        gap for one in submittals(submittal_sets(), {}) for shown in one.shown for gap in shown.gaps
    }
    assert asked == set(FACTS.values())


def test_an_empty_fact_is_a_gap_and_an_unknown_one_an_error() -> None:
    (texas,) = submittals(["texas-222"], {"plan": " "})
    assert not texas.shown[0].complete
    with pytest.raises(InputError, match=r"^unknown fact 'plann'; the closest known is 'plan'$"):
        submittals(["texas-222"], {"plann": "x"})
