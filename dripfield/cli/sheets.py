"""``dripfield sheets``: what the crew takes along, on paper, on the phone and for instruments."""

from __future__ import annotations

from pathlib import Path

import click

from dripfield.cli.shared import (
    MISSED_TOLERANCE,
    leave,
    out_option,
    output_for,
    site_argument,
    strict_option,
    subcommand,
    working,
)
from dripfield.site.schema.crew import Language, Paper


@subcommand(example="dripfield sheets sample_sites/nose --out sheets --backsight 5.36")
@site_argument
@click.option(
    "--method",
    type=click.Choice(["balanced", "contour", "offset", "straight"]),
    help="In place of the site's own method.",
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "tabloid", "A4", "A3"], case_sensitive=False),
    help="In place of the site's own: letter for feet and A4 for metres unless set there.",
)
@click.option(
    "--scale",
    type=float,
    metavar="N",
    help="Plan at 1 in = N ft, or 1:N for metres, in place of the one chosen to fit.",
)
@click.option(
    "--backsight",
    metavar="READING",
    help="Rod read on the benchmark, in place of a planned one: 5.36, 5.36 ft or 5' 4 3/8\".",
)
@click.option(
    "--language",
    type=click.Choice(["en", "es"]),
    help="Of the sheets, in place of the site's own.",
)
@click.option("--large-print", is_flag=True, default=None, help="Larger type, on more pages.")
@out_option
@strict_option
def command(
    site_folder: Path,
    method: str | None,
    paper: Paper | None,
    scale: float | None,
    backsight: str | None,
    language: Language | None,
    large_print: bool | None,
    out: Path,
    strict: bool,
) -> None:
    """Write the crew's sheets for the site in folder SITE.

    Writes FILES.
    """
    import dripfield
    from dripfield.core.output import check_output
    from dripfield.outputs.expect import cost_of_reserve
    from dripfield.sheets.crew.write import write_sheets
    from dripfield.staking.settings import crew_settings

    check_output(out)
    with working("Laying out") as say:
        site = dripfield.read_site(site_folder)
        settings = crew_settings(
            site,
            paper=paper,
            scale=scale,
            backsight=backsight,
            language=language,
            large_print=large_print,
        )
        design = dripfield.lay_out(site, method=method, say=say)
    with working("Drawing"), output_for(site, out) as folder:
        written = write_sheets(folder, design, settings)
        reserve = cost_of_reserve(design)
    for line in written.summary:
        click.echo(line)
    if reserve is not None:
        click.echo(reserve.sentence)
    click.echo("written:")
    for name in written.files:
        click.echo(f"  {out / name}")
    if strict and design.missed:
        leave(MISSED_TOLERANCE)
