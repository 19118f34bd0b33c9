"""``dripfield bed``: what comes out of a bed, what goes in, its section and its grade stakes."""

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

if TYPE_CHECKING:
    from rich.console import RenderableType

    from dripfield.bed.balance import BalanceRow
    from dripfield.core.units import Unit
    from dripfield.sheets.bed.write import BedReport


@subcommand(example="dripfield bed sample_sites/sand_bed --out out")
@site_argument
@out_option
@strict_option
def command(site_folder: Path, out: Path, strict: bool) -> None:
    """Work out volumes, section and grade stakes of the bed in folder SITE.

    SITE says how the bed is built in [bed.section]. Writes FILES, and prints the volumes.
    Rules of the sets that the site names, and what it asks of its own bed, are held against the
    design; with --strict any that is not met, or not proven, ends the command with 3.
    """
    from dripfield.core.output import check_output
    from dripfield.ground.ground import build_ground
    from dripfield.sheets.bed.write import bed_report, write_bed
    from dripfield.site.reader import read_site

    check_output(out)
    with working("Designing the bed"):
        site = read_site(site_folder)
        report = bed_report(site, build_ground(site).surface)
    with working("Drawing"), output_for(site, out) as stage:
        files = write_bed(report, stage)
    show(_summary(report, out, files))
    kept = all(one.verdict == "pass" for one in report.findings)
    if strict and not (kept and all(note.met for note in report.notes)):
        leave(MISSED_TOLERANCE)


def _summary(report: BedReport, out: Path, files: Sequence[Path]) -> Iterator[RenderableType]:
    """Volumes by material, notes, rules and cautions, and where the files are."""
    from rich.table import Table
    from rich.text import Text

    from dripfield.bed.materials import cubic_yards
    from dripfield.bed.notes import note_lines
    from dripfield.rules import rule_lines
    from dripfield.sheets.bed.write import bed_cautions

    site = report.design.site
    yield Text(f"{site.name}: the bed, lengths in {site.unit.label}", style="bold")
    table = Table(box=None, header_style="dim", padding=(0, 1, 0, 1))
    for heading in ("material", f"cut {site.unit.short}3", f"fill {site.unit.short}3"):
        table.add_column(heading, justify="left" if heading == "material" else "right")
    in_feet = not site.unit.is_metric
    for heading in (*(("cut yd3", "fill yd3") if in_feet else ()), "loads", "t"):
        table.add_column(heading, justify="right")
    for row in report.rows:
        cut, fill = row.volume.cut, row.volume.fill
        yards = [f"{cubic_yards(volume, site.unit):,.1f}" for volume in (cut, fill) if in_feet]
        table.add_row(
            row.material if row.layer in ("all", "dig", "bed") else f"{row.material} ({row.layer})",
            f"{cut:,.0f}",
            f"{fill:,.0f}",
            *yards,
            "" if row.loads is None else f"{row.loads}",
            "" if row.tonnes is None else f"{row.tonnes:,.0f}",
        )
    yield table
    for one in report.balance:
        if one.from_site:
            yield Text(f"- {_reused(one, site.unit)}")
    for line in report.remarks:
        yield Text(f"- {line}")
    for line in (*note_lines(report.notes), *rule_lines(report.findings)):
        yield Text(f"- {line}")
    for line in bed_cautions(report.design):
        yield Text(f"- caution: {line}")
    if report.readings is None:
        yield Text("- no rod readings: the site has no [benchmark]")
    yield Text(f"\nWritten into {out}: {', '.join(path.name for path in files)}")


def _reused(row: BalanceRow, unit: Unit) -> str:
    """What of a material the site itself gives."""
    from dripfield.bed.materials import STRIPPED

    short = f"{unit.short}3"
    if row.material == STRIPPED:
        return (
            f"stripped soil: {row.from_site:,.0f} of {row.wanted:,.0f} {short} in the bank is used "
            f"again, {row.rest:,.0f} to take away"
        )
    return (
        f"{row.material}: {row.from_site:,.0f} of {row.wanted:,.0f} {short} from what is stripped, "
        f"{row.rest:,.0f} to bring"
    )
