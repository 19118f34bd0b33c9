"""``dripfield check-bed``: is the bed raked as designed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from dripfield.cli.shared import (
    SAYS_NO,
    NamedPath,
    leave,
    out_option,
    show,
    site_argument,
    subcommand,
    working,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from dripfield.bed.check import BedCheck
    from dripfield.core.verdict import Verdict
    from dripfield.ground.ground import Ground
    from dripfield.layout.model import Layout
    from dripfield.site.model import Site

_MOST_SHOWN = 8  # places to shoot, in the summary


@subcommand(
    example="dripfield check-bed sample_sites/sand_bed --shots sample_sites/sand_bed/raked.csv "
    "--out out"
)
@site_argument
@click.option(
    "--shots",
    metavar="FILE",
    required=True,
    type=NamedPath(),
    help="Shots on the finished work: any survey file, in the site's unit and coordinates.",
)
@click.option(
    "--surface",
    "level",
    type=click.Choice(["stripped", "sand", "finished"]),
    default="sand",
    show_default=True,
    help="What was shot: the stripped ground, the top of sand or the finished grade.",
)
@out_option
def command(
    site_folder: Path, shots: Path, level: Literal["stripped", "sand", "finished"], out: Path
) -> None:
    """Check shots on the bed in folder SITE against its design.

    Writes FILES.

    The answer is pass, fail or not proven (too little was shot to say, and where to shoot more).

    Exits with 4 unless the answer is pass.
    """
    from dripfield.bed.check import check_bed, read_shots, with_laterals
    from dripfield.bed.check_verdict import judge
    from dripfield.core.output import check_output, staged_output
    from dripfield.ground.ground import build_ground
    from dripfield.sheets.bed.write import write_check
    from dripfield.site.reader import input_files, read_site

    check_output(out)
    with working("Checking the bed"):
        site = read_site(site_folder)
        built = read_shots(site, shots)
        ground = build_ground(site)
        check = check_bed(site, ground.surface, built, level)
        layout = _layout(site, ground) if level == "sand" else None
        if layout is not None:
            check = with_laterals(check, layout, site.settings.level_tolerance)
        verdict = judge(check, site.unit)
    with working("Drawing"), staged_output(out, protect=[*input_files(site), shots]) as stage:
        files = write_check(check, verdict, site, layout, stage)
    show(_summary(check, verdict, site, out, files))
    if not verdict.passed:
        leave(SAYS_NO)


def _layout(site: Site, ground: Ground) -> Layout | None:
    """The site's layout on the bed as designed; None where nothing can be laid."""
    from dripfield.core.errors import InputError
    from dripfield.design.lay_out import lay_out

    try:
        return lay_out(site, ground).layout
    except InputError:
        return None


def _summary(
    check: BedCheck, verdict: Verdict, site: Site, out: Path, files: Sequence[Path]
) -> Iterator[RenderableType]:
    """The verdict and why, the figures, the laterals, and where the files are."""
    from rich.table import Table
    from rich.text import Text

    from dripfield.sheets.bed.check_map import figures, laterals_in_words, zones_in_words

    first, *others = verdict.reasons
    yield Text(f"{site.name}: {verdict.word}: {first}", style="bold")
    for reason in others:
        yield Text(f"- {reason}")
    for place in verdict.measure_more[:_MOST_SHOWN]:
        yield Text(f"- shoot N {place.northing:.1f}, E {place.easting:.1f}: {place.why}")
    if len(verdict.measure_more) > _MOST_SHOWN:
        rest = len(verdict.measure_more) - _MOST_SHOWN
        yield Text(f"- and {rest} more places, in verdict.json")
    for head, lines in (
        ("", figures(check, site.unit)),
        ("Where to rake", zones_in_words(check, site.unit)),
        ("Laterals as raked", laterals_in_words(check, site)),
    ):
        if head:
            yield Text(f"\n{head}", style="bold")
        table = Table(box=None, show_header=False, padding=(0, 1, 0, 1))
        for line in lines:
            if isinstance(line, tuple):
                table.add_row(*line)
        if table.row_count:
            yield table
        for line in lines:
            if isinstance(line, str):
                yield Text(f"- {line}")
    yield Text(f"\nWritten into {out}: {', '.join(path.name for path in files)}")
