"""Published rules, kept as data with their citations, that a design can be held against.

None is checked unless the site file names its set, and none changes a design: a rule only tells.
"""

from __future__ import annotations

from dripfield.rules.findings import Finding, check_rules
from dripfield.rules.model.book import About, Rule, chosen_rules, rule_book, rule_sets
from dripfield.rules.model.facts import Facts, SystemFacts, facts_of
from dripfield.rules.words import rule_lines

__all__ = [
    "About",
    "Facts",
    "Finding",
    "Rule",
    "SystemFacts",
    "check_rules",
    "chosen_rules",
    "facts_of",
    "rule_book",
    "rule_lines",
    "rule_sets",
]
