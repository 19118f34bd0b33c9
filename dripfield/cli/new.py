"""``dripfield new``: a commented starter site."""

from __future__ import annotations

from pathlib import Path

import click

from dripfield.cli.shared import NamedPath, subcommand


def _show_keys(context: click.Context, _: click.Parameter, wanted: bool) -> None:
    """Print the page of keys and leave."""
    if wanted:
        from dripfield.site.starter import page_of_keys

        click.echo(page_of_keys(), nl=False)
        context.exit()


@subcommand(example="dripfield new my-site")
@click.option(
    "--keys",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_keys,
    help="Show every key of site.toml with its unit, default and bounds, and write nothing.",
)
@click.argument("folder", metavar="DIR", type=NamedPath())
def command(folder: Path) -> None:
    """Write a commented starter site into DIR: settings, survey, bed, keepout and well.

    With site.schema.json beside it an editor completes and checks the keys of site.toml. DIR must
    be new or empty. The site can be laid out as it is.
    """
    from dripfield.site.starter import write_starter

    names = write_starter(folder)
    click.echo(f"{folder}: {', '.join(names)}")
    click.echo(f"Next: dripfield layout {folder} --out {folder}-layout")
