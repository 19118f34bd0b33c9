"""Holding a design against the rules that its site names."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from dripfield.rules.checks import CHECKS
from dripfield.rules.checks.answer import Verdict
from dripfield.rules.model.book import About, Rule, chosen_rules
from dripfield.rules.model.facts import Facts, Missing


@dataclass(frozen=True)
class Finding:
    """What one rule says of one design.

    Attributes
    ----------
    rule : Rule
        With its citation, scope, and how and when its text was read. ``[rules] off`` switches it
        off by its ``id``.
    verdict : {"pass", "fail", "not proven"}
        ``not proven``: something that the rule needs is not known; the message says what.
    message : str
        One line with the numbers.
    """

    rule: Rule
    verdict: Verdict
    message: str


def check_rules(facts: Facts, about: Collection[About] | None = None) -> list[Finding]:
    """Hold a design against the rule sets that its site names under ``[rules] check``.

    A site that names none is held against none.

    Parameters
    ----------
    facts : Facts
        By :func:`dripfield.rules.model.facts.facts_of`.
    about : collection of {"layout", "bed", "zones", "preparation"}, optional
        Only rules on these topics; every topic when left out.

    Returns
    -------
    list of Finding
        One for each rule, in the book's order, less those that ``[rules] off`` names.

    Raises
    ------
    InputError
        A name that is not known, with the closest one that is.
    """
    named = facts.site.file.rules
    findings = []
    for rule in chosen_rules(named.check, named.off):
        if about is not None and rule.about not in about:
            continue
        try:
            verdict, message = CHECKS[rule.check](rule, facts)
        except Missing as missing:
            verdict, message = "not proven", str(missing)
        findings.append(Finding(rule, verdict, message))
    return findings
