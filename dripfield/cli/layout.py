"""``dripfield layout``: lay out a site and write table, stakes, drawing and plan."""

from __future__ import annotations

from pathlib import Path

import click

from dripfield.cli.shared import (
    MISSED_TOLERANCE,
    leave,
    out_option,
    site_argument,
    strict_option,
    subcommand,
    working,
)


@subcommand(example="dripfield layout sample_sites/nose --out out")
@site_argument
@click.option(
    "--method",
    type=click.Choice(["balanced", "contour", "offset", "straight"]),
    help="In place of the site's own method.",
)
@out_option
@strict_option
def command(site_folder: Path, method: str | None, out: Path, strict: bool) -> None:
    """Lay out the site in folder SITE.

    Writes FILES.

    Prints a summary. A tolerance that is missed is shown, not hidden.
    """
    import dripfield
    from dripfield.cli.summary import Outcome, print_summary
    from dripfield.core.output import check_output
    from dripfield.ground.build import shots_used
    from dripfield.ground.coverage import coverage
    from dripfield.rules import check_rules, chosen_rules
    from dripfield.survey.doubt.blunders import suspects

    check_output(out)
    with working("Laying out"):
        site = dripfield.read_site(site_folder)
        rules = site.file.rules
        chosen_rules(rules.check, rules.off)  # a name that is not known is refused before the work
        surface = dripfield.build_surface(site)
        layout = dripfield.lay_out(site, surface, method, compare=True)
        measured = dripfield.measure(site, layout, surface)
        findings = check_rules(rules.check, site, layout, measured, surface)
        covered = coverage(surface, site.bed.boundary, site.rules.coverage_multiple)
        doubted = suspects(shots_used(site), site.unit)
    with working("Drawing"):
        files = dripfield.write_layout(site, surface, layout, measured, out)
    print_summary(Outcome(site, layout, measured, covered, findings, files, doubted))
    if strict and (measured.missed_level or measured.missed_spacing):
        leave(MISSED_TOLERANCE)
