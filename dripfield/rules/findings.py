"""Holding a measured layout against the rules that its site names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from dripfield.design.model import Design
from dripfield.rules.book import chosen_rules
from dripfield.rules.checks import CHECKS
from dripfield.rules.facts import Facts


@dataclass(frozen=True)
class Finding:
    """What one rule says of one layout.

    Attributes
    ----------
    rule : str
        The rule's id, which ``[rules] off`` switches off.
    jurisdiction, title : str
    level : {"warning", "ok", "not checked"}
        ``not checked``: the site does not say what the rule needs; the message says what.
    message : str
        One line with the numbers.
    citation : str
        The paragraph.
    status : {"confirmed", "secondary", "memory"}
        How the rule's text was read.
    copy : str
        Which copy of the text was read, and how recent it is.
    """

    rule: str
    jurisdiction: str
    title: str
    level: Literal["warning", "ok", "not checked"]
    message: str
    citation: str
    status: Literal["confirmed", "secondary", "memory"]
    copy: str


def check_rules(names: Sequence[str], design: Design) -> list[Finding]:
    """Check a layout against the named sets of rules.

    Parameters
    ----------
    names : sequence of str
        Rule sets, usually ``site.file.rules.check``; empty checks nothing. The rules named in
        ``site.file.rules.off`` are left out.
    design : Design

    Returns
    -------
    list of Finding
        One for each rule, in the order of the built-in list.

    Raises
    ------
    InputError
        A name that is not known, with the closest one that is.
    """
    facts = Facts(design)
    findings = []
    for rule in chosen_rules(names, design.site.file.rules.off):
        level, message = CHECKS[rule.check](rule.parameters, facts)
        findings.append(
            Finding(
                rule=rule.id,
                jurisdiction=rule.jurisdiction,
                title=rule.title,
                level=level,
                message=message,
                citation=rule.citation,
                status=rule.status,
                copy=rule.copy,
            )
        )
    return findings
