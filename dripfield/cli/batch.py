"""``dripfield batch``: lay out every site below a folder."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable
from pathlib import Path

import click

from dripfield.cli.shared import SAYS_NO, NamedPath, leave, out_option, subcommand


@subcommand(example="dripfield batch sample_sites --out out")
@click.argument("folder", metavar="FOLDER", type=NamedPath())
@click.option(
    "--jobs",
    type=click.IntRange(1, 256),
    help="Sites laid out at once; one for each core unless given.",
)
@out_option
def command(folder: Path, jobs: int | None, out: Path) -> None:
    """Lay out every site below FOLDER, over the cores.

    Writes FILES, and the files of `layout` for each site into a folder of its name there. A site
    that fails gets its line in the table and stops no other; the exit code is then 4. Sites whose
    files have not changed since an earlier run are not laid out again.
    """
    from dripfield.core.output import staged_output
    from dripfield.core.words import counted
    from dripfield.files.csv import write_csv
    from dripfield.files.register import write_outputs
    from dripfield.outputs.batch import SiteResult, batch_table, run_batch, sites_below

    names = sites_below(folder, out)
    workers = min(jobs or os.cpu_count() or 1, len(names))
    results: list[SiteResult] = []
    start = time.monotonic()
    for result in run_batch(folder, names, out, workers):
        results.append(result)
        _say(result.site, result.status, len(results), len(names), time.monotonic() - start)
    with staged_output(out) as stage:
        table = batch_table(results)
        write_outputs("batch", stage, {"batch.csv": lambda path: write_csv(path, table)})
    failed = [one for one in sorted(results, key=lambda one: one.site) if one.status == "failed"]
    _print(f"{counted(len(results), 'site')}, {len(failed)} failed; table in {out / 'batch.csv'}")
    _print(*(f"{one.site}: {one.message}" for one in failed))
    if failed:
        leave(SAYS_NO)


def _say(site: str, status: str, done: int, count: int, seconds: float) -> None:
    """The line of progress, on standard error."""
    left = seconds / done * (count - done)
    sys.stderr.write(f"{done} of {count}: {site} {status}, about {left:.0f} s left\n")


def _print(*lines: str) -> None:
    from dripfield.cli.shared import show

    show(_texts(lines))


def _texts(lines: Iterable[str]) -> list[str]:
    from dripfield.core.errors import clean_line

    return [clean_line(line) for line in lines]
