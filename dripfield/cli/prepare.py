"""``dripfield prepare``: take-off, heights, readiness list and plan of the day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dripfield.cli.shared import (
    MISSED_TOLERANCE,
    leave,
    out_option,
    show,
    site_argument,
    strict_option,
    subcommand,
    working,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from dripfield.preparation.prepared import Prepared


@subcommand(example="dripfield prepare sample_sites/sand_bed --out ready")
@site_argument
@click.option(
    "--method",
    type=click.Choice(["balanced", "contour", "offset", "straight"]),
    help="In place of the site's own method.",
)
@click.option("--status", is_flag=True, help="Say what is open, the first due first.")
@click.option(
    "--ticked",
    metavar="FILE",
    multiple=True,
    type=click.Path(path_type=Path),
    help="A readiness list ticked elsewhere, as the phone page saves it; may be given again.",
)
@click.option(
    "--since",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="An older takeoff.csv to compare with, in place of the one in DIR.",
)
@out_option
@strict_option
def command(
    site_folder: Path,
    method: str | None,
    status: bool,
    ticked: tuple[Path, ...],
    since: Path | None,
    out: Path,
    strict: bool,
) -> None:
    """Work out what must be there and what must be ready for the site in folder SITE.

    Writes FILES. What is not given in SITE is left out, and said so.

    Ticks in the readiness.csv that DIR holds are kept. With --strict a height that does not
    hold ends the command with 3.
    """
    import dripfield
    from dripfield.core.output import check_output
    from dripfield.outputs.preparation import write_preparation

    check_output(out)
    with working("Laying out"):
        design = dripfield.lay_out(dripfield.read_site(site_folder), method=method)
    with working("Preparing"):
        found, files = write_preparation(design, out, older=since, ticked=ticked)
    show(_status(found) if status else _summary(found, out, files))
    if strict and any(one.verdict == "fail" for one in found.findings):
        leave(MISSED_TOLERANCE)


def _status(found: Prepared) -> Iterator[RenderableType]:
    from rich.text import Text

    from dripfield.preparation.readiness_file import status

    yield Text(status(found.readiness))
    for note in found.readiness.notes:
        yield Text(f"- {note}")


def _summary(found: Prepared, out: Path, files: Sequence[Path]) -> Iterator[RenderableType]:
    """What to buy, what does not hold, what the day looks like, what is left out."""
    from rich.table import Table
    from rich.text import Text

    made, site = found.preparation, found.design.site
    yield Text(f"{site.name}: ready for the day, lengths in {site.unit.label}", style="bold")
    table = Table(box=None, header_style="dim", padding=(0, 1, 0, 1))
    for heading in ("to buy", "sold as", "item"):
        table.add_column(heading, justify="right" if heading == "to buy" else "left")
    for item in made.takeoff.items:
        table.add_row(str(item.to_buy), item.sold_as, item.item)
    yield table
    if made.prices is not None:
        without = f"; {len(made.prices.without)} items without a price"
        yield Text(
            f"total {made.prices.total:,.2f} {made.prices.currency}"
            f"{without if made.prices.without else ''}"
        )
    for one in found.changes or ():
        was, now = ("none" if n is None else str(n) for n in (one.was, one.now))
        yield Text(f"- changed: {one.item}, {was} to {now}: {one.why}")
    for finding in found.findings:
        yield Text(f"- {finding.verdict}: {finding.what}: {finding.text}")
    day = made.day
    yield Text(
        f"- the day: {day.clock(0.0)} to {day.clock(day.schedule.end)}; critical:"
        f" {', '.join(day.schedule.critical_path)}"
    )
    for effect in day.effects:
        yield Text(f"- {effect.case}: {effect.text}")
    for one_set in found.submittals:
        yield Text(f"- {one_set.title}: {len(one_set.gaps)} gaps")
    for note in found.notes:
        yield Text(f"- {note}")
    count = len(found.readiness.open)
    yield Text(f"- readiness: {count} of {len(found.readiness.rows)} open (--status lists them)")
    yield Text(f"\nWritten into {out}: {', '.join(path.name for path in files)}")
