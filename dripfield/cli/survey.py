"""``dripfield survey``: check a site's survey and say how far to trust it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dripfield.cli.shared import (
    MISSED_TOLERANCE,
    leave,
    out_option,
    output_for,
    show,
    site_argument,
    strict_option,
    subcommand,
    working,
)
from dripfield.core.words import counted
from dripfield.files.register import Writer, write_outputs

if TYPE_CHECKING:
    from rich.console import RenderableType

    from dripfield.sheets.survey.survey_report import SurveyReport


@subcommand(example="dripfield survey sample_sites/nose --out out")
@site_argument
@out_option
@strict_option
def command(site_folder: Path, out: Path, strict: bool) -> None:
    """Say how far the survey of the site in folder SITE can be trusted.

    Writes FILES.

    Prints the figures: spacing, slope, leave-one-out error, suspect shots, gaps, what level lines
    hold and where to take more shots.
    """
    from dripfield.core.output import check_output
    from dripfield.ground.ground import build_ground
    from dripfield.sheets.survey.survey_report import survey_report, write_report
    from dripfield.site.reader import read_site

    check_output(out)
    with working("Checking the survey"):
        site = read_site(site_folder)
        report = survey_report(build_ground(site))
    with working("Drawing"), output_for(site, out) as stage:
        from dripfield.sheets.survey.survey_sheet import survey_figure, write_survey_sheet

        writers: dict[str, Writer] = {
            "survey.json": lambda path: write_report(report, path),
            "survey.png": lambda path: write_survey_sheet(survey_figure(report), path),
        }
        files = list(write_outputs("survey", stage, writers))
    show(_summary(report, out, files))
    if strict and not report.trust.holds:
        leave(MISSED_TOLERANCE)


def _summary(report: SurveyReport, out: Path, files: Sequence[Path]) -> Iterator[RenderableType]:
    """The verdict, the figures, the suspects, and where the files are."""
    from rich.table import Table
    from rich.text import Text

    from dripfield.sheets.kit.suspects import doubts
    from dripfield.sheets.survey.survey_report import figures, more_shots, verdict

    yield Text(f"{report.site.name}: survey, lengths in {report.site.unit.label}", style="bold")
    yield Text(verdict(report))
    table = Table(box=None, show_header=False, padding=(0, 1, 0, 1))
    table.add_column()
    table.add_column(justify="right")
    for name, value in figures(report):
        table.add_row(name, value)
    yield table
    if report.ground.suspects:
        yield Text("\nSuspect shots, kept unless the site file excludes them", style="bold")
        for points, reason in doubts(report.ground.suspects):
            yield Text(f"- {points}: {reason}")
    wanted = len(more_shots(report))
    if wanted:
        yield Text(f"\nMore shots would help at {counted(wanted, 'place')}: see survey.png")
    for note in report.ground.notes:
        yield Text(f"- {note}")
    yield Text(f"\nWritten into {out}: {', '.join(path.name for path in files)}")
