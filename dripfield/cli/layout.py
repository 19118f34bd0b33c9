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
    from dripfield.cli.summary import print_summary
    from dripfield.core.output import check_output
    from dripfield.outputs.expect import expect
    from dripfield.rules import check_rules, chosen_rules, facts_of

    check_output(out)
    with working("Laying out"):
        site = dripfield.read_site(site_folder)
        rules = site.file.rules
        chosen_rules(rules.check, rules.off)  # a name that is not known is refused before the work
        design = dripfield.lay_out(site, method=method, compare=True)
        findings = check_rules(facts_of(site, design))
    with working("Simulating crews"):
        laid = expect(design) if design.layout.laterals else None
    with working("Drawing"):
        files = dripfield.write(design, out, None if laid is None else laid.plan)
    print_summary(design, findings, files, laid=laid)
    if strict and design.missed:
        leave(MISSED_TOLERANCE)
