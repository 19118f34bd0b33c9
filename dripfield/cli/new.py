"""``dripfield new``: a commented starter site."""

from __future__ import annotations

from pathlib import Path

import click

from dripfield.cli.shared import NamedPath, subcommand


@subcommand(example="dripfield new my-site")
@click.argument("folder", metavar="DIR", type=NamedPath())
def command(folder: Path) -> None:
    """Write a commented starter site into DIR: settings, survey, bed, keepout and well.

    DIR must be new or empty. The site can be laid out as it is.
    """
    from dripfield.site.starter import write_starter

    names = write_starter(folder)
    click.echo(f"{folder}: {', '.join(names)}")
    click.echo(f"Next: dripfield layout {folder} --out {folder}-layout")
