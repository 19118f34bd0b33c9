"""What the bed's section says: its fill, and the sand that was tested."""

from __future__ import annotations

from dripfield.bed.sieves import faults, read_sieves, untested
from dripfield.rules.checks.answer import Answer, judged, under
from dripfield.rules.model.book import Rule
from dripfield.rules.model.facts import Facts, Missing


def fill_extent(rule: Rule, facts: Facts) -> Answer:
    """The section's shoulder is wide enough and its side slope gentle enough."""
    section = facts.site.file.bed.section
    shoulder, run = rule.parameters["shoulder_ft"], rule.parameters["run"]
    wanted = (
        f"at least {facts.show_feet(shoulder)} beyond the tubing, then no steeper than "
        f"{run:g} to 1, is required"
    )
    if section is None or section.shoulder is None:
        raise Missing(f"give [bed.section] shoulder; {wanted}")
    narrow = under(section.shoulder, facts.unit.from_feet(shoulder))
    steep = under(section.side_slope, run)
    line = (
        f"shoulder {facts.show(section.shoulder)} wide, side slope {section.side_slope:g} to 1; "
        f"{wanted}"
    )
    return judged(narrow or steep, line)


def sand_grading(rule: Rule, facts: Facts) -> Answer:
    """The sieve test of the sand keeps within a gradation; what it left out proves nothing."""
    section = facts.site.file.bed.section
    limits = rule.gradation
    assert limits is not None  # the book is held to it by a test
    if section is None or not section.sieve:
        raise Missing("give the sieve test of the sand as [bed.section] sieve")
    passing = read_sieves(section.sieve)
    wrong, left_out = faults(passing, limits), untested(passing, limits)
    line = "; ".join(wrong) or "within the limits on the sieves tested"
    if left_out:
        line += f"; not tested: {', '.join(left_out)}"
    if wrong or not left_out:
        return judged(bool(wrong), line)
    return "not proven", line
