"""The group of commands: loads them lazily and turns every refusal into one line."""

from __future__ import annotations

import importlib
import importlib.util
import sys
from collections.abc import Mapping, Sequence
from typing import Any

import click

from dripfield.core.errors import InputError

BAD_INPUT = 2
INTERRUPTED = 130


class CommandTable(click.Group):
    """Commands by name with their one-line help; each lives in ``dripfield.cli.<name>``.

    A command module has a click command named ``command``. A name whose module is not there is not
    listed and not known.
    """

    def __init__(self, name: str, help: str, commands: Mapping[str, str]) -> None:
        super().__init__(
            name=name,
            help=help,
            epilog="Start with: dripfield new my-site, then dripfield layout my-site --out out",
            invoke_without_command=True,
            callback=_show_help,
            params=[_version_option()],
            context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
        )
        self.one_liners = dict(commands)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands whose modules are there, in the order of the table."""
        return [name for name in self.one_liners if importlib.util.find_spec(_module(name))]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command."""
        if cmd_name not in self.list_commands(ctx):
            return None
        command: click.Command = importlib.import_module(_module(cmd_name)).command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        rows = [(name, self.one_liners[name]) for name in self.list_commands(ctx)]
        with formatter.section("Commands"):
            formatter.write_dl(rows)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find a command, or refuse with those there are."""
        name = args[0]
        if self.get_command(ctx, name) is None and not name.startswith("-"):
            known = ", ".join(self.list_commands(ctx))
            raise click.UsageError(f"there is no command {name!r}; give one of {known}")
        return super().resolve_command(ctx, args)

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **extra: Any,
    ) -> Any:
        """Run a command line and exit: 0, 2 with one ``error:`` line, or what the command says."""
        for stream in (sys.stdout, sys.stderr):
            if hasattr(stream, "reconfigure"):
                stream.reconfigure(errors="replace")  # a terminal that is not UTF-8
        try:
            code = super().main(
                args,
                prog_name or self.name,
                complete_var,
                standalone_mode=False,
                windows_expand_args=windows_expand_args,
                **extra,
            )
        except InputError as problem:
            _refuse(str(problem))
        except click.ClickException as problem:
            _refuse(_in_words(problem))
        except click.Abort:
            sys.exit(INTERRUPTED)
        sys.exit(code if isinstance(code, int) else 0)


def _module(name: str) -> str:
    return f"dripfield.cli.{name.replace('-', '_')}"


def _refuse(message: str) -> None:
    print(f"error: {' '.join(message.split())}", file=sys.stderr)
    sys.exit(BAD_INPUT)


def _in_words(problem: click.ClickException) -> str:
    """A usage error of click as problem; remedy."""
    message = problem.format_message().strip().rstrip(".")
    message = message[:1].lower() + message[1:]
    if isinstance(problem, click.UsageError) and problem.ctx is not None and ";" not in message:
        message += f"; see {problem.ctx.command_path} --help"
    return message


@click.pass_context
def _show_help(ctx: click.Context) -> None:
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


def _version_option() -> click.Option:
    def show(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
        if wanted and not ctx.resilient_parsing:
            from dripfield.core.version import __version__

            click.echo(f"dripfield {__version__}")
            ctx.exit()

    return click.Option(
        ["--version"],
        is_flag=True,
        expose_value=False,
        is_eager=True,
        callback=show,
        help="Show the version and exit.",
    )
