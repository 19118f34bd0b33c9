"""The rules as data, and choosing among them."""

from __future__ import annotations

import pytest

from dripfield.core.errors import InputError
from dripfield.rules import chosen_rules, rule_book
from dripfield.rules.checks import CHECKS


def test_every_rule_has_a_citation_a_copy_and_a_check_of_its_own():
    book = rule_book()
    assert len({rule.id for rule in book}) == len(book)
    assert {rule.check for rule in book} == set(CHECKS)
    for rule in book:
        assert rule.citation
        assert rule.copy
        assert rule.text.endswith(".")
        assert rule.id.startswith(rule.jurisdiction.split(",")[0].lower().replace(" ", "-"))


def test_figures_as_published():
    """Values read on copies of the official texts (each rule names its own)."""
    values = {rule.id: rule.parameters for rule in rule_book()}
    assert values["alabama-spacing"] == {"standard_in": 24.0, "steep": 0.20}
    assert values["alabama-steep-spacing"]["least_in"] == 36.0
    assert values["alabama-cover"] == {"least_in": 6.0, "greatest_in": 12.0}
    assert values["alabama-zone-height"] == {"greatest_ft": 8.0}
    assert values["texas-grade"]["greatest"] == 0.01
    assert values["texas-line-centres"] == {"least_in": 12.0, "greatest_in": 36.0}
    assert values["texas-depth"] == {"least_in": 6.0, "greatest_in": 48.0}
    assert values["virginia-length"] == {"per_ft": 0.5}
    assert values["virginia-emitters"] == {"least_in": 6.0, "greatest_in": 24.0}
    assert values["arkansas-cover"] == {"least_in": 4.0, "greatest_in": 6.0}
    assert values["washington-emitter-rate"] == {"greatest_gph": 1.3}


def test_nothing_is_checked_unless_named():
    assert chosen_rules([]) == ()


def test_a_set_and_its_rules_switched_off():
    every = [rule.id for rule in chosen_rules(["virginia"])]
    assert every == ["virginia-length", "virginia-contour", "virginia-cover", "virginia-emitters"]
    some = chosen_rules(["virginia"], ["virginia-cover", "virginia-emitters"])
    assert [rule.id for rule in some] == every[:2]


def test_a_set_named_twice_is_checked_once():
    assert chosen_rules(["texas", "texas"]) == chosen_rules(["texas"])


def test_an_unknown_set_names_the_closest():
    with pytest.raises(InputError) as caught:
        chosen_rules(["Alabamma"])
    assert str(caught.value) == (
        "site.toml, [rules] check: unknown rule set 'Alabamma'; the closest known is 'alabama'"
    )


def test_an_unknown_rule_to_switch_off_names_the_closest():
    with pytest.raises(InputError) as caught:
        chosen_rules(["texas"], ["texas-grades"])
    assert str(caught.value) == (
        "site.toml, [rules] off: unknown rule 'texas-grades'; the closest known is 'texas-grade'"
    )
