"""What the named rule sets say of the layout, item by item."""

from __future__ import annotations

from dripfield.design.model import Design
from dripfield.rules.findings import check_rules
from dripfield.sheets.review.content import Table, columns

_WORDS = {"ok": "pass", "warning": "fail", "not checked": "not proven"}


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
    findings = check_rules(design.site.file.rules.check, design)
    return Table(
        "Code items of the layout, from the rule sets that the site names",
        columns("item", "verdict", "citation", "text read", "figure and limit", wide=4),
        tuple(
            (one.title, _WORDS[one.level], one.citation, one.copy, one.message) for one in findings
        ),
        frozenset(i for i, one in enumerate(findings) if one.level == "warning"),
    )
