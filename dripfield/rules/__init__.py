"""Published rules, kept as data with their citations, that a layout can be held against.

None is checked unless the site file names its set, and none changes the layout: a rule warns.
"""

from __future__ import annotations

from dripfield.rules.book import Rule, chosen_rules, rule_book
from dripfield.rules.findings import Finding, check_rules

__all__ = ["Finding", "Rule", "check_rules", "chosen_rules", "rule_book"]
