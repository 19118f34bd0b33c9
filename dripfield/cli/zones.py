"""``dripfield zones``: joined laterals, zones, pipes and what the water does in them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dripfield.cli.shared import (
    SAYS_NO,
    leave,
    out_option,
    show,
    site_argument,
    subcommand,
    working,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

    from dripfield.distribution.system import FieldSystem

_SHOWN = {
    "zones.csv": {
        "zone": "zone",
        "joined": "joined",
        "tubing": "tubing",
        "emitters": "emitters",
        "area": "area",
        "dose_flow": "dose",
        "flush_flow": "flush from",
        "share": "share",
    },
    "duty.csv": {
        "zone": "zone",
        "state": "state",
        "flow": "flow",
        "head": "head",
        "other_loss": "filter, valve",
        "throttle": "throttle",
    },
}


@subcommand(example="dripfield zones sample_sites/nose --out out")
@site_argument
@out_option
def command(site_folder: Path, out: Path) -> None:
    """Join the laterals of SITE, divide them into zones and solve dose and flush.

    Writes FILES.

    What the site does not say is not proven, and its key is named. Exits with 4 when a check fails.
    """
    import dripfield
    from dripfield.core.output import check_output
    from dripfield.distribution.system import field_system
    from dripfield.outputs.zones import write_zones
    from dripfield.rules import chosen_rules

    check_output(out)
    with working("Laying out"):
        site = dripfield.read_site(site_folder)
        chosen_rules(site.file.rules.check, site.file.rules.off)
        design = dripfield.lay_out(site)
    with working("Joining and solving"):
        system = field_system(design)
    with working("Drawing"):
        files = write_zones(system, out)
    show(_summary(system, out, files))
    if system.failed:
        leave(SAYS_NO)


def _summary(system: FieldSystem, out: Path, files: Sequence[Path]) -> Iterator[RenderableType]:
    """The verdict, zones, how they were chosen, what fails or is not proven, and the files."""
    from rich.table import Table
    from rich.text import Text

    from dripfield.core.cautions import cautions
    from dripfield.core.words import counted
    from dripfield.distribution.tables import tables
    from dripfield.rules import rule_lines
    from dripfield.sheets.zones.columns import picked

    site = system.design.site
    word = "fail" if system.failed else "not proven" if system.not_proven else "pass"
    passed = len(system.checks) - len(system.failed) - len(system.not_proven)
    yield Text(
        f"{site.name}: {word}: {counted(passed, 'check')} passed, {len(system.failed)} failed, "
        f"{len(system.not_proven)} not proven",
        style="bold",
    )
    made = tables(system, readings=False)
    for name, heads in _SHOWN.items():
        found = picked(made[name], "", heads)
        if not found.rows:
            continue
        table = Table(box=None, header_style="dim", padding=(0, 1, 0, 1))
        for column in found.columns:
            table.add_column(f"{column.heading}\n{column.unit}".rstrip(), justify=column.side)
        for row in found.texts():
            table.add_row(*row)
        yield Text("")
        yield table
    yield Text("")
    for note in system.plan.notes:
        yield Text(f"- {note}")
    for day in system.days:
        one = day.dosing
        yield Text(
            f"- {day.zone}: {counted(one.doses, 'dose')} a day, {one.run:.1f} min each with "
            f"{one.rest:.0f} min of rest, {one.multiple:.1f} times the content of its tubing; "
            f"lowest "
            f"over mean {day.drained.lowest_over_mean:.2f} with what drains after a dose"
        )
    if system.load is not None:
        linear = system.load.linear
        q = system.simulation.figures.q if system.simulation else None
        if q is not None:
            more = (
                f"; along the lower edge {linear.mean:.2f}, at most {linear.worst:.2f} "
                f"{q.volume}/day/{q.length}"
                if linear is not None
                else ""
            )
            yield Text(
                f"- loading {system.load.surface.mean:.3f} {q.loading}, coefficient of variation "
                f"{system.load.surface.variation:.2f}{more}"
            )
    for lead, checks in (("FAILS", system.failed), ("not proven", system.not_proven)):
        for check in checks:
            said = "; ".join(
                filter(None, (f"{check.value} {check.unit}".strip(), check.limit, check.where))
            )
            yield Text(f"- {lead}: {check.requirement}: {said} ({check.source})")
    for line in rule_lines(list(system.findings)):
        yield Text(f"- {line}")
    for line in cautions("electricity", "tanks", "frost"):
        yield Text(f"- caution: {line}")
    names = [path.relative_to(out).as_posix() for path in files]
    yield Text(f"\nWritten into {out}: {', '.join(names)}")
