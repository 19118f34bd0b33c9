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
from dripfield.site.schema.crew import Paper


@subcommand(example="dripfield layout sample_sites/nose --out out")
@site_argument
@click.option(
    "--method",
    type=click.Choice(["balanced", "contour", "offset", "straight"]),
    help="In place of the site's own method.",
)
@click.option(
    "--what-if",
    "what_if",
    is_flag=True,
    help="Also lay out anew with wider tolerances and other spacings: what each would give.",
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "tabloid", "A4", "A3"], case_sensitive=False),
    help="Of plan and drawing, in place of the smaller of two on which laterals can be told apart.",
)
@click.option(
    "--scale",
    type=float,
    metavar="N",
    help="Plan and drawing at 1 in = N ft, or 1:N for metres, in place of the largest that fits.",
)
@click.option("--shapefile", is_flag=True, help="Write laterals and stakes as a shapefile too.")
@out_option
@strict_option
def command(
    site_folder: Path,
    method: str | None,
    paper: Paper | None,
    scale: float | None,
    what_if: bool,
    shapefile: bool,
    out: Path,
    strict: bool,
) -> None:
    """Lay out the site in folder SITE.

    Writes FILES.

    Prints a summary. A tolerance that is missed is shown, not hidden.
    """
    import dripfield
    from dripfield.cli.summary import print_summary
    from dripfield.core.output import check_output
    from dripfield.design.what_if import laid_anew, same_lines
    from dripfield.outputs.expect import expect
    from dripfield.rules import check_rules, chosen_rules, facts_of

    check_output(out)
    with working("Laying out") as say:
        site = dripfield.read_site(site_folder)
        rules = site.file.rules
        chosen_rules(rules.check, rules.off)  # a name that is not known is refused before the work
        design = dripfield.lay_out(site, method=method, compare=True, say=say)
        others = same_lines(design) if design.missed or what_if else ()
        if what_if:
            others += laid_anew(design, say)
        findings = check_rules(facts_of(site, design))
    with working("Simulating crews"):
        laid = expect(design) if design.layout.laterals else None
    with working("Drawing"):
        files = dripfield.write(
            design,
            out,
            None if laid is None else laid.plan,
            paper=paper,
            scale=scale,
            shapefile=shapefile,
        )
    print_summary(design, findings, files, others, laid=laid)
    if strict and design.missed:
        leave(MISSED_TOLERANCE)
