"""``dripfield record``: what was staked or laid against the design, with a record drawing."""

from __future__ import annotations

from pathlib import Path

import click

from dripfield.cli.review_answer import print_answer
from dripfield.cli.shared import (
    SAYS_NO,
    NamedPath,
    leave,
    out_option,
    output_for,
    site_argument,
    subcommand,
    working,
)


@subcommand(example="dripfield record sample_sites/nose --shots laid.csv --out record")
@site_argument
@click.option(
    "--shots",
    "shots_file",
    metavar="FILE",
    required=True,
    type=NamedPath(),
    help="Shots along the tubing; a description that begins with a lateral's name gives it.",
)
@out_option
def command(site_folder: Path, shots_file: Path, out: Path) -> None:
    """Compare shots of staked or laid tubing with the layout of SITE and draw the record.

    Writes FILES.

    Ties are measured from the points under [[review.references]] in site.toml.

    With zones, pump and supply in site.toml, dose and flush are solved for what was laid.

    The answer is pass, fail or not proven (too few shots to say); exits with 4 unless it is pass.
    """
    from dripfield.core.output import check_output
    from dripfield.review.jobs import review_shots
    from dripfield.review.laid.water import record_water
    from dripfield.sheets.review.content import file_hashes
    from dripfield.sheets.review.record_sheet import record_sheet
    from dripfield.sheets.review.write import write_record

    check_output(out)
    with working("Laying out and comparing"):
        design, limits, record = review_shots(site_folder, shots_file)
    with working("Solving what was laid"):
        water, said = record_water(design, record, limits)
    with working("Drawing"):
        site = design.site
        files = file_hashes(site, shots_file)
        sheet = record_sheet(design, record, limits, files, water, said)
        with output_for(site, out) as stage:
            write_record(stage, design, record, sheet, water)
    print_answer(sheet, out)
    if not record.verdict.passed:
        leave(SAYS_NO)
