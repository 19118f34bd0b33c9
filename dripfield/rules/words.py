"""Findings in words, alike on the terminal and on every sheet."""

from __future__ import annotations

from collections.abc import Sequence

from dripfield.rules.findings import Finding
from dripfield.rules.model.book import Rule

_HEARD = {
    "confirmed": "",
    "secondary": ", secondary copy",
    "memory": ", from memory and not confirmed",
}
_LEADS = {"fail": "NOT MET", "not proven": "not proven"}


def source(rule: Rule) -> str:
    """The citation, and how its text was read where that was not on the official text."""
    return f"{rule.citation}{_HEARD[rule.status]}"


def finding_line(finding: Finding) -> str:
    """One finding in one line: ``NOT MET Spacing of lines: … (citation)``."""
    rule = finding.rule
    if finding.verdict == "pass":
        return f"met: {rule.title}: {finding.message} ({source(rule)})"
    return f"{_LEADS[finding.verdict]}: {rule.title}: {finding.message} ({source(rule)})"


def rule_lines(findings: Sequence[Finding]) -> list[str]:
    """What is not met, what is not proven, what is met, and the scope and date of each set's text.

    Parameters
    ----------
    findings : sequence of Finding

    Returns
    -------
    list of str
        A line each; empty where no rule was checked.
    """
    if not findings:
        return []
    lines = [finding_line(one) for verdict in _LEADS for one in findings if one.verdict == verdict]
    met = [one.rule for one in findings if one.verdict == "pass"]
    if met:
        lines.append("met: " + "; ".join(f"{rule.title} ({source(rule)})" for rule in met))
    lines.append(
        f"{len(met)} of {len(findings)} rules met, "
        f"{sum(one.verdict == 'fail' for one in findings)} not met, "
        f"{sum(one.verdict == 'not proven' for one in findings)} not proven; "
        "the code itself and its office decide"
    )
    said = dict.fromkeys(
        f"{one.rule.set}: {one.rule.jurisdiction}; scope: {one.rule.scope}; text read: "
        f"{one.rule.read}"
        for one in findings
    )
    return [*lines, *said]
