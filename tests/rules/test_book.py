"""The rules as data, and choosing among them."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from dripfield.core.errors import InputError
from dripfield.rules import chosen_rules, rule_book, rule_sets
from dripfield.rules.checks import CHECKS
from dripfield.rules.checks.between import QUANTITIES
from dripfield.rules.checks.statements import STATEMENTS
from dripfield.rules.model.book import GONE_RULES, GONE_SETS

SAYS_ITS_AGE = re.compile(r"\b20\d\d\b|age unknown|^none: ")


def test_every_rule_says_where_it_is_from_and_what_it_is_for():
    book = rule_book()
    assert len({rule.id for rule in book}) == len(book)
    assert {rule.check for rule in book} == set(CHECKS)
    for rule in book:
        assert rule.citation
        assert SAYS_ITS_AGE.search(rule.read), rule.id
        assert 0 < len(rule.scope) < 100, rule.id
        assert "\n" not in rule.scope
        assert rule.text.endswith(".")
        assert rule.id.startswith(rule.set.removesuffix("-il") + "-")
        assert (rule.status == "memory") == rule.read.startswith("none: ")


def test_data_of_a_rule_fit_its_check():
    for rule in rule_book():
        assert (rule.gradation is not None) == (rule.check == "sand_grading"), rule.id
        if rule.check in ("between", "about"):
            inches = QUANTITIES[rule.of].measure == "in"
            ends = {"least_in", "greatest_in"} if inches else {"least", "greatest", "figure"}
            assert rule.parameters.keys() <= ends, rule.id
            assert rule.parameters
        elif rule.check == "stated":
            assert rule.of in STATEMENTS
        else:
            assert rule.of == ""
    used = {rule.of for rule in rule_book()} - {""}
    assert used == {*QUANTITIES, *STATEMENTS}


def test_figures_as_read():
    """Figures as read on the copies that each rule names; those from memory are marked so."""
    values = {rule.id: rule.parameters for rule in rule_book()}
    assert values["alabama-spacing"] == {"standard_in": 24.0, "steep": 0.20}
    assert values["alabama-steep-spacing"]["least_in"] == 36.0
    assert values["alabama-cover"] == {"least_in": 6.0, "greatest_in": 12.0}
    assert values["alabama-zone-height"] == {"greatest_ft": 8.0}
    assert values["texas-222-grade"]["greatest"] == 0.01  # over 25 ft: our own reading
    assert values["texas-222-line-centres"] == {"least_in": 12.0, "greatest_in": 36.0}
    assert values["texas-222-depth"] == {"least_in": 6.0, "greatest_in": 48.0}
    assert values["virginia-length"] == {"per_ft": 0.5}
    assert values["virginia-emitters"] == {"least_in": 6.0, "greatest_in": 24.0}
    assert values["virginia-emitter-pair"] == {"greatest": 0.10}
    assert values["mississippi-emitter-pair"] == {"greatest": 0.10}
    assert values["mississippi-pump-chamber"] == {"least": 1.5}
    assert values["lake-county-loading"] == {"greatest": 0.75}
    assert values["lake-county-shape"] == {"least": 2.0}
    assert values["nevada-dose"] == {"figure": 10.0}
    unconfirmed = {rule.set for rule in rule_book() if rule.status != "confirmed"}
    assert unconfirmed == {"astm-c33", "massachusetts-sand"}


def test_nothing_is_checked_unless_named():
    assert chosen_rules([]) == ()


def test_a_set_and_its_rules_switched_off():
    every = [rule.id for rule in chosen_rules(["virginia"])]
    assert every == [
        "virginia-length", "virginia-contour", "virginia-cover", "virginia-emitter-pair",
        "virginia-emitters",
    ]  # fmt: skip
    some = chosen_rules(["virginia"], ["virginia-cover", "virginia-emitters"])
    assert [rule.id for rule in some] == [*every[:2], every[3]]


def test_a_set_named_twice_is_checked_once():
    assert chosen_rules(["texas-222", "texas-222"]) == chosen_rules(["texas-222"])


def test_an_unknown_set_names_the_closest():
    with pytest.raises(InputError) as caught:
        chosen_rules(["Alabamma"])
    assert str(caught.value) == (
        "site.toml, [rules] check: unknown rule set 'Alabamma'; the closest known is 'alabama'"
    )


def test_an_unknown_rule_to_switch_off_names_the_closest():
    with pytest.raises(InputError) as caught:
        chosen_rules(["texas-222"], ["texas-222-grades"])
    assert str(caught.value) == (
        "site.toml, [rules] off: unknown rule 'texas-222-grades'; the closest known is "
        "'texas-222-grade'"
    )


@pytest.mark.parametrize(
    ("check", "off", "words"),
    [
        (
            ["texas"],
            [],
            "[rules] check: there is no rule set 'texas' any more; it is now 'texas-222': chapter "
            "222 is for permitted systems, not for homes",
        ),
        (
            ["arkansas"],
            [],
            "[rules] check: there is no rule set 'arkansas' any more; take it out: the paragraph "
            "is a purpose clause and limits nothing",
        ),
        (
            ["texas-222"],
            ["texas-depth"],
            "[rules] off: there is no rule 'texas-depth' any more; it is now 'texas-222-depth'",
        ),
    ],
)
def test_what_was_renamed_or_taken_out_says_what_to_write(check, off, words):
    with pytest.raises(InputError) as caught:
        chosen_rules(check, off)
    assert str(caught.value) == f"site.toml, {words}"


def test_what_is_gone_is_not_in_the_book():
    assert not {*GONE_SETS}.intersection(rule_sets())
    assert not {*GONE_RULES}.intersection(rule.id for rule in rule_book())


def test_the_starter_lists_every_set():
    text = (files("dripfield.site") / "starter_files" / "site.toml").read_text(encoding="utf-8")
    listed = text.split("# Published rules;")[1].split("[rules]")[0]
    assert tuple(re.findall(r'"([a-z0-9-]+)"', listed)) == tuple(sorted(rule_sets()))
