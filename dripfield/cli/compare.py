"""``dripfield compare``: an approved plan against the layout, or one layout against another."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from dripfield.cli.review_answer import print_answer
from dripfield.cli.shared import (
    SAYS_NO,
    NamedPath,
    leave,
    out_option,
    output_for,
    subcommand,
    working,
)

if TYPE_CHECKING:
    from dripfield.review.model.plan import PlanOptions

_FILE = NamedPath()


@subcommand(example="dripfield compare sample_sites/nose --plan approved.dxf --out review")
@click.argument("site_folder", metavar="SITE", type=_FILE)
@click.argument("other", metavar="[OTHER]", required=False, type=_FILE)
@click.option(
    "--plan",
    "plan_file",
    metavar="FILE",
    type=_FILE,
    help="The approved plan: .dxf, .geojson, a page of a .pdf, a table of runs, .csv or .xlsx, "
    "or a scan, .png, .jpg or .tif, which is shown and not read.",
)
@out_option
@click.option("--layer", metavar="NAME", help="Layer of the laterals, where it is not found.")
@click.option("--page", type=click.IntRange(1), default=1, help="Page of a PDF.")
@click.option("--scale", metavar="SCALE", help='Of a PDF\'s page, as "1 in = 20 ft" or 1:200.')
@click.option("--boundary-layer", metavar="NAME", help="Layer of the bed's outline.")
@click.option(
    "--plan-units",
    type=click.Choice(["ft", "ftUS", "in", "m", "cm", "mm"]),
    help="The plan's unit, where it is not the site's.",
)
@click.option(
    "--common",
    "common_file",
    metavar="FILE",
    type=_FILE,
    help="Common points: name,plan_x,plan_y,northing,easting.",
)
@click.option("--allow-mirrored", is_flag=True, help="Accept a plan drawn as its mirror image.")
@click.option("--any-scale", is_flag=True, help="Accept a plan at no usual scale.")
@click.option(
    "--shots",
    "shots_file",
    metavar="FILE",
    type=_FILE,
    help="Shots of what was laid, for the third line of the overlay.",
)
def command(
    site_folder: Path,
    other: Path | None,
    plan_file: Path | None,
    out: Path,
    layer: str | None,
    page: int,
    scale: str | None,
    boundary_layer: str | None,
    plan_units: str | None,
    common_file: Path | None,
    allow_mirrored: bool,
    any_scale: bool,
    shots_file: Path | None,
) -> None:
    """Compare an approved plan with the layout of SITE, or the layout of SITE with OTHER.

    Writes FILES.

    The plan is judged on the surveyed ground by itself, then against the layout. OTHER is a
    second site folder, or a folder that dripfield layout wrote into: what
    changed from the first to the second, in the same files.

    The answer is pass, fail or not proven; exits with 4 unless it is pass.
    """
    from dripfield.core.output import check_output
    from dripfield.review.model.plan import PlanOptions

    if plan_file is not None and other is not None:
        raise click.UsageError(
            "both --plan and a second folder were given; give the one to compare with"
        )
    plan_options = {
        "--layer": layer,
        "--boundary-layer": boundary_layer,
        "--plan-units": plan_units,
        "--common": common_file,
        "--allow-mirrored": allow_mirrored,
        "--any-scale": any_scale,
        "--shots": shots_file,
        "--page": page != 1,
        "--scale": scale,
    }
    if other is not None:
        given = [name for name, value in plan_options.items() if value]
        if given:
            raise click.UsageError(f"{given[0]} goes with --plan; leave it out between two folders")
        check_output(out)
        passed = _compare_folders(site_folder, other, out)
    elif plan_file is not None:
        check_output(out)
        options = PlanOptions(
            layer, boundary_layer, plan_units, allow_mirrored, any_scale, page, stated_scale=scale
        )
        passed = _compare_plan(site_folder, plan_file, options, common_file, shots_file, out)
    else:
        raise click.UsageError(
            "there is nothing to compare with; give --plan FILE, or a second folder"
        )
    if not passed:
        leave(SAYS_NO)


def _compare_plan(
    folder: Path,
    plan_file: Path,
    options: PlanOptions,
    common_file: Path | None,
    shots_file: Path | None,
    out: Path,
) -> bool:
    """Compare with a plan and write; True when the answer is pass."""
    from dripfield.review.jobs import review_plan
    from dripfield.sheets.review.comparison_sheet import comparison_sheet
    from dripfield.sheets.review.content import file_hashes
    from dripfield.sheets.review.write import write_comparison

    with working("Laying out and comparing"):
        review = review_plan(
            folder, plan_file, options, common_file=common_file, shots_file=shots_file
        )
    with working("Drawing"):
        design = review.design
        more = [path for path in (plan_file, common_file, shots_file) if path is not None]
        sheet = comparison_sheet(
            design,
            review.comparison,
            review.limits,
            file_hashes(design.site, *more),
            record=review.record,
        )
        with output_for(design.site, out) as stage:
            write_comparison(stage, design.site, review.comparison, sheet, review.record)
    print_answer(sheet, out)
    return sheet.verdict.passed


def _compare_folders(first: Path, second: Path, out: Path) -> bool:
    """Compare two layouts and write; True when they are the same within the limits."""
    from dripfield.review.jobs import review_revision
    from dripfield.sheets.review.content import revision_hashes
    from dripfield.sheets.review.revision_sheet import revision_sheet
    from dripfield.sheets.review.write import write_comparison

    with working("Laying out and comparing"):
        review = review_revision(first, second)
    with working("Drawing"):
        site = review.after.design.site
        sheet = revision_sheet(
            review.before,
            review.after,
            review.comparison,
            review.limits,
            revision_hashes(review.before, review.after),
        )
        with output_for(site, out) as stage:
            write_comparison(stage, site, review.comparison, sheet)
    print_answer(sheet, out)
    return sheet.verdict.passed
