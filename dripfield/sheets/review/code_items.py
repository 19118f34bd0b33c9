"""What the named rule sets say of the layout, item by item."""

from __future__ import annotations

from dripfield.core.table import Table, text
from dripfield.design.model import Design
from dripfield.rules import About, check_rules, facts_of
from dripfield.rules.words import source

_ABOUT: tuple[About, ...] = ("layout",)


def code_items(design: Design) -> Table:
    """The code items of a review sheet: figure and limit, verdict, citation, text read.

    Parameters
    ----------
    design : Design

    Returns
    -------
    Table
        Without rows where the site names no rule set; failed items are marked.
    """
    findings = check_rules(facts_of(design.site, design), _ABOUT)
    columns = (
        *(text("item"), text("verdict"), text("citation"), text("text read")),
        text("figure and limit", wide=True),
    )
    rows = [
        (one.rule.title, one.verdict, source(one.rule), one.rule.read, one.message)
        for one in findings
    ]
    failed = frozenset(i for i, one in enumerate(findings) if one.verdict == "fail")
    title = "Code items of the layout, from the rule sets that the site names"
    return Table(columns, rows, title, marked=failed)
